"""What a diagnosis says, from shares and levers written by hand: the cause, the limits, what of it is no product."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kinetics.analysis.diagnosis import Findings, diagnosis_of, reversibility_of
from kinetics.analysis.explain import Gain
from kinetics.analysis.idealisation import BY_PRODUCT, CROSSED, HYDROXIDE, LOST, OIL, OWN_ALDOLS, SWITCHES, TIME, Shares
from kinetics.analysis.levers import LONGER, MORE_BASE
from kinetics.analysis.runs import Outcome
from kinetics.data.shelf import Shelf

HOT = Outcome(
    "hot", None, hold_s=10800.0, pH=np.array([10.12]), hydroxide_mol_per_L=np.array([0.012]), oil_mol=np.array([0.0007]),
    flask_end_mol={"acetaldehyde": 0.0031}, left_end_mol={"acetaldehyde": 0.0024},
)  # fmt: skip
AGAIN = Gain("twice the base, 4 g", {}, 0.0, 0.0, 0.0, "")


@pytest.fixture
def findings(shelf: Shelf) -> Callable[..., Findings]:
    """findings(BY_PRODUCT, levers={...}): 0.7 converted, 0.69 product, all of what is missing for that reason."""

    def write(main: str, conversion: float = 0.7, yield_: float = 0.69, **changes: Any) -> Findings:
        shares = dict.fromkeys((*SWITCHES, "other"), 0.0) | {main: 1.0 - conversion}
        parts = Shares(conversion, yield_, shares, shares, HOT)
        end = {"conversion": conversion, "yield_": yield_, "conversion_led_back": 0.5, "closed": False, "levers": {}}
        return Findings(shelf.substrate("cinnamaldehyde"), HOT, HOT, parts, **end | changes)

    return write


@pytest.mark.parametrize(
    ("main", "because"),
    [
        (BY_PRODUCT, "acetaldehyde does not get out and adds back to benzaldehyde (3.1 mmol of it are still in the flask, "
                     "2.4 mmol have gone)"),
        (HYDROXIDE, "the liquor is too weak (0.012 mol/L of hydroxide at pH 10.1)"),
        (TIME, "the chemistry has not had the time to come to rest"),
        (OIL, "oil floats on the liquor and dissolves too slowly or not at all (0.7 mmol of it)"),
        (CROSSED, "cinnamaldehyde is tied up with acetaldehyde in the crossed aldol"),
        (OWN_ALDOLS, "acetaldehyde stays in the flask as its own aldols, from which it comes back"),
        (LOST, "cinnamaldehyde or benzaldehyde leaves or spoils before its turn"),
    ],
)  # fmt: skip
def test_each_cause_has_its_sentence(main: str, because: str, findings: Callable[..., Findings]) -> None:
    assert diagnosis_of(findings(main)) == (
        f"The conversion stands at 70.0 % after 3 h of hold because {because}: 30.0 points, "
        "with 30.0 points missing while hot."
    )


def test_every_mechanism_that_can_be_the_main_one_has_a_sentence(findings: Callable[..., Findings]) -> None:
    assert len({diagnosis_of(findings(main)) for main in SWITCHES}) == len(SWITCHES)


def test_more_than_is_missing_means_that_others_help(findings: Callable[..., Findings]) -> None:
    found = findings(BY_PRODUCT)
    shares = dict(found.shares.of_conversion) | {BY_PRODUCT: 0.35, OIL: -0.05}
    helped = replace(found, shares=replace(found.shares, of_conversion=shares))
    assert "35.0 points, with 30.0 points missing while hot, other mechanisms helping." in diagnosis_of(helped)


def test_a_conversion_as_good_as_complete_has_no_cause(findings: Callable[..., Findings]) -> None:
    assert diagnosis_of(findings(TIME, 0.985, 0.98)) == "The conversion is as good as complete, hot (98.5 %)."


@pytest.mark.parametrize(
    ("gain", "limit"),
    [(0.05, "The base is a limit"), (0.002, "The base is not the limit"), (-0.05, "More base does harm")],
)
def test_the_base_is_judged_by_what_more_of_it_adds(gain: float, limit: str, findings: Callable[..., Findings]) -> None:
    words = diagnosis_of(findings(BY_PRODUCT, levers={MORE_BASE: replace(AGAIN, conversion_gain=gain)}))
    assert words.endswith(f" {limit} (twice the base, 4 g, adds {100 * gain:.1f} points).")


def test_time_that_only_lets_by_product_leak_is_told_as_that(findings: Callable[..., Findings]) -> None:
    levers = {MORE_BASE: AGAIN, LONGER: Gain("2 h longer", {}, 0.04, 0.03, 0.0, "")}
    leak = ", no faster than acetaldehyde leaks past the condenser."
    words = diagnosis_of(findings(BY_PRODUCT, levers=levers))
    assert ", and 2 h more add 4.0 points of conversion and 3.0 points of yield" in words and words.endswith(leak)
    assert "leaks" not in diagnosis_of(findings(BY_PRODUCT, levers=levers, closed=True))
    assert "leaks" not in diagnosis_of(findings(TIME, levers=levers))


def test_conversion_that_is_no_product_is_told_with_its_reasons(findings: Callable[..., Findings]) -> None:
    found = findings(BY_PRODUCT, 0.7, 0.6)
    costs = dict.fromkeys((*SWITCHES, "other"), 0.0) | {BY_PRODUCT: 0.3, CROSSED: 0.08, LOST: 0.02}
    words = diagnosis_of(replace(found, shares=replace(found.shares, of_yield=costs)))
    assert words.endswith(
        "Conversion is not yield: of 70.0 % only 60.0 % is benzaldehyde (the crossed aldol costs 8.0 points of yield, "
        "product lost or degraded 2.0 points)."
    )
    assert diagnosis_of(found).endswith("only 60.0 % is benzaldehyde.")


def test_what_is_led_back_and_what_the_cool_down_takes(findings: Callable[..., Findings]) -> None:
    words = reversibility_of(findings(BY_PRODUCT))
    assert "If the 2.4 mmol of acetaldehyde that left were led back" in words
    assert "would fall from 70.0 % to 50.0 %: keep distillate" in words and "Cooling" not in words
    assert "never pass (it stands at 70.0 %) 80.0 %" in reversibility_of(findings(TIME, conversion_led_back=0.8))
    cooled = replace(findings(BY_PRODUCT), hot=replace(HOT, left_end_mol={}), conversion=0.68)
    assert "No acetaldehyde has left, so there is none to lead back" in reversibility_of(cooled)
    assert "Cooling takes 2.0 points back" in reversibility_of(cooled)
