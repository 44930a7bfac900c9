"""Which test on the bench is proposed, and what each explanation predicts of it, from courses written by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from kinetics.analysis.bench_test import bench_test, with_base_again
from kinetics.analysis.explain import Gain
from kinetics.analysis.idealisation import BY_PRODUCT, CROSSED, HYDROXIDE, OIL
from kinetics.analysis.levers import BASE_G_PER_L, STIR
from kinetics.analysis.runs import Outcome
from kinetics.data.shelf import Shelf
from kinetics.run.scenario import Scenario

CHARGE = {"water": "350 mL", "cinnamaldehyde": "1 g"}
HOURS = np.linspace(0.0, 10.0, 101)


def course(key: str, conversion: np.ndarray, hydroxide: float = 0.01, failure: str | None = None) -> Outcome:
    """A course of ten hours of hold, with hydroxide and yield in step with it."""
    same = np.full_like(HOURS, hydroxide)
    end: Any = SimpleNamespace(conversion=float(conversion[-1]), yield_=float(conversion[-1]))
    return Outcome(
        key, failure, end, 3600.0 * HOURS, hydroxide_mol_per_L=same, conversion=conversion, yield_=0.9 * conversion,
        hold_s=36000.0,
    )  # fmt: skip


def findings(main: str, crossed: float = 0.0, **levers: Gain) -> Any:
    """What a test is chosen by."""
    return SimpleNamespace(main=main, shares=SimpleNamespace(of_yield={CROSSED: crossed}), levers=levers)


@pytest.fixture(scope="module")
def hot(batch: Callable[..., Scenario]) -> Scenario:
    return batch(CHARGE | {"sodium carbonate": "2 g"}, heating={"hold": "10 h"})


PLAIN = course("plain", 1.0 - np.exp(-0.2 * HOURS))
RUNS = {"plain": PLAIN, "no crossed aldol": PLAIN, "base again": replace(PLAIN, key="base again")}


def test_base_again_is_the_base_of_the_charge(hot: Scenario, batch: Callable[..., Scenario]) -> None:
    after, words = with_base_again(hot, 3.0)
    assert words == "2 g of sodium carbonate"
    (added,) = after.additions
    assert (added.at_s, added.charges) == (10800.0, tuple(c for c in hot.charges if c.substance == "sodium carbonate"))
    later = batch(CHARGE | {"sodium carbonate": "2 g"}, addition=[{"at": "50 min", "water": "1 mL"}])
    assert [a.at_s for a in with_base_again(later, 0.5)[0].additions] == [1800.0, 3000.0]


def test_a_flask_without_base_gets_carbonate_by_its_water(batch: Callable[..., Scenario], shelf: Shelf) -> None:
    """350 mL of water at 20 degC are 0.3494 kg: 3.5 g of carbonate at 10 g/L, with two sodium in each."""
    bare = batch(CHARGE)
    after, words = with_base_again(bare, 0.5)
    ((soda,),) = (addition.charges for addition in after.additions)
    assert words == "3.5 g of sodium carbonate"
    grams = soda.amount_mol * shelf.substance("sodium carbonate").molar_mass
    assert grams == pytest.approx(BASE_G_PER_L * 0.3494, rel=1e-3)
    assert soda.components_mol["sodium"] == pytest.approx(2.0 * soda.amount_mol)


def test_oil_that_waits_for_stirring_is_stirred(hot: Scenario) -> None:
    stir = Gain("vigorous stirring", {}, 0.12, 0.1, 0.1, "")
    found = bench_test(hot, findings(OIL, **{STIR: stir}), RUNS)
    assert "with vigorous stirring" in found.test
    assert (found.if_right, found.if_rival) == ("12 points more", "no change")
    assert (found.predicted, found.predicted_by_rival) == ({"gain": 0.12}, {"gain": 0.0})
    slight = bench_test(hot, findings(OIL, **{STIR: replace(stir, conversion_gain=0.04)}), RUNS)
    assert "add 2 g of sodium carbonate once more" in slight.test


def test_a_crossed_aldol_shows_in_the_shape_of_the_course(hot: Scenario) -> None:
    faster = {"no crossed aldol": course("no crossed aldol", 1.0 - np.exp(-0.4 * HOURS))}
    found = bench_test(hot, findings(BY_PRODUCT, 0.1), RUNS | faster)
    assert "Take a sample 1 h into the hold and one at 10 h" in found.test
    assert found.predicted["conversion_early"] == pytest.approx(1.0 - exp(-0.2), abs=1e-6)
    assert found.predicted_by_rival["conversion_early"] == pytest.approx(1.0 - exp(-0.4), abs=1e-6)
    assert found.if_right.startswith("at 1 h conversion 18 %, yield 16 %; at 10 h conversion 86 %, yield 78 %")
    assert "once more" in bench_test(hot, findings(BY_PRODUCT, 0.1), RUNS).test  # it makes no difference early on
    failed = {"no crossed aldol": replace(faster["no crossed aldol"], failure="it stopped")}
    assert "once more" in bench_test(hot, findings(BY_PRODUCT, 0.1), RUNS | failed).test


def test_base_again_moves_a_weak_liquor_and_no_equilibrium(hot: Scenario) -> None:
    """Twice the hydroxide for half an hour after three of a decay with k = 0.2/h: exp(-0.6)(1 - exp(-0.2)) more."""
    again = {"base again": course("base again", np.full_like(HOURS, 0.5), 0.02)}
    found = bench_test(hot, findings(BY_PRODUCT), RUNS | again)
    assert "3 h into the hold take a sample" in found.test and "another 30 min later" in found.test
    assert found.rival == "a liquor too weak or a time too short"
    assert found.predicted["jump"] == pytest.approx(0.5 - (1.0 - exp(-0.6)), abs=1e-6)
    assert found.predicted_by_rival["jump"] == pytest.approx(exp(-0.6) * (1.0 - exp(-0.2)), abs=1e-6)
    weak = bench_test(hot, findings(HYDROXIDE), RUNS | again)
    assert weak.rival == "an equilibrium held by by-product in the flask"
    assert (weak.predicted["jump"], weak.predicted_by_rival["jump"]) == (found.predicted["jump"], 0.0)
