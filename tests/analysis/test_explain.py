"""`explain`: shares that add up, a closed form for two mechanisms, levers that are real runs, and what is said."""

from __future__ import annotations

import json
from dataclasses import replace
from math import exp
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from short_boil import COLD

import kinetics
from kinetics.analysis.ceiling import REST_S, come_to_rest
from kinetics.analysis.explain import COOL_DOWN, Refused, explain, gains_of
from kinetics.analysis.idealisation import (
    BY_PRODUCT,
    CROSSED,
    HYDROXIDE,
    LOST,
    OIL,
    OWN_ALDOLS,
    SWITCHES,
    TIME,
    completed,
)
from kinetics.analysis.levers import Lever, levers_of, scaled
from kinetics.analysis.runs import Outcome
from kinetics.command_line.explain_text import explanation_lines
from kinetics.command_line.main import main
from kinetics.data.faults import ScenarioError
from kinetics.run.integrate import NumericalFailure
from kinetics.run.reading import parse_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
FEW = kinetics.Mechanisms(
    crossed_aldol=False, self_aldol=False, oil_phase=False, product_venting=False, cannizzaro=False, oxidation=False
)


@pytest.fixture(scope="module")
def practice():
    scenario = kinetics.read_scenario(SCENARIOS / "common_practice.toml")
    return scenario, explain(scenario, workers=None)


@pytest.fixture(scope="module")
def plain():
    scenario = kinetics.read_scenario(SCENARIOS / "common_practice.toml")
    return scenario, explain(scenario, mechanisms=FEW)


def assert_shares_add_up(found):
    assert sum(found.shares.values()) == pytest.approx(1.0 - found.conversion, abs=1e-9)
    assert sum(found.shares_yield.values()) == pytest.approx(1.0 - found.yield_, abs=1e-9)
    assert abs(found.shares["other"]) < 1e-3 and abs(found.shares_yield["other"]) < 1e-3


@pytest.mark.slow
def test_shares_add_up_to_the_shortfall_of_the_run(practice):
    scenario, found = practice
    assert set(found.shares) == {*SWITCHES, "other", COOL_DOWN}
    assert_shares_add_up(found)
    run = kinetics.simulate(scenario)
    assert found.conversion == run.summary.conversion
    assert found.yield_ == run.summary.yield_


@pytest.mark.slow
def test_common_practice_is_held_by_its_by_product(practice):
    _, found = practice
    assert max(found.shares, key=found.shares.get) == BY_PRODUCT
    assert abs(found.shares[HYDROXIDE]) < 0.01 and abs(found.shares[TIME]) < 0.01
    assert found.shares_yield[CROSSED] > 0.01 > found.shares[CROSSED]
    assert "the base is not the limit" in found.diagnosis.lower()
    assert found.conversion_led_back < found.conversion_hot
    assert (
        found.bench_test.predicted["conversion_early"] - found.bench_test.predicted_by_rival["conversion_early"] > 0.1
    )


@pytest.mark.slow
def test_text_fits_the_terminal(practice):
    _, found = practice
    lines = explanation_lines(found)
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    for lever in found.levers:
        assert lever.change in text and lever.caution
    assert "It is reversible" in text and "One test on the bench" in text


def test_mechanisms_that_are_off_have_no_share(plain):
    _, found = plain
    for name in (CROSSED, OWN_ALDOLS, OIL, LOST):
        assert found.shares[name] == 0.0
        assert found.shares_yield[name] == 0.0
    assert found.shares[BY_PRODUCT] > 0.2
    assert_shares_add_up(found)


def test_base_and_time_share_by_the_closed_form():
    """First order, no reverse: v = 1 - exp(-k [OH-] t) with t longer by the rest, or [OH-] = 1 mol/L, or both."""
    scenario = parse_scenario(COLD.replace('"10 h"', '"5 h"'))
    mechanisms = kinetics.Mechanisms(
        reverse_cleavage=False, crossed_aldol=False, self_aldol=False, oil_phase=False, product_venting=False,
        cannizzaro=False, oxidation=False,
    )  # fmt: skip
    found = explain(scenario, mechanisms=mechanisms)
    k12, k23 = 2.02e-3, 9.08e-2  # Guthrie et al. 1984
    k = k12 * k23 / (k12 / kinetics.load_shelf()["reaction.cinnamaldehyde.equilibrium.hydration.K"].value + k23)
    hydroxide, t = kinetics.simulate(scenario).series.hydroxide_mol_per_L[-1], 5.0 * 3600.0
    none, time = (1.0 - exp(-k * hydroxide * s) for s in (t, t + REST_S))
    base = 1.0 - exp(-k * t)
    assert found.conversion == pytest.approx(none, abs=2e-3)
    assert found.shares[HYDROXIDE] == pytest.approx(0.5 * ((base - none) + (1.0 - time)), abs=2e-3)
    assert found.shares[TIME] == pytest.approx(0.5 * ((time - none) + (1.0 - base)), abs=2e-3)
    assert found.shares[BY_PRODUCT] == 0.0
    assert_shares_add_up(found)
    assert "the base is a limit" in found.diagnosis.lower()
    assert found.bench_test.predicted["jump"] > found.bench_test.predicted_by_rival["jump"] == 0.0


def test_every_lever_gains_what_the_changed_scenario_gives(plain):
    scenario, found = plain
    before = kinetics.simulate(scenario, mechanisms=FEW).summary
    assert len(found.levers) >= 10
    for lever in found.levers:
        after = kinetics.simulate(scenario.with_changes(lever.changes), mechanisms=FEW).summary
        assert lever.conversion_gain == pytest.approx(after.conversion - before.conversion, abs=1e-9)
        gain_g = after.product_in_flask_g + after.product_taken_off_g
        gain_g -= before.product_in_flask_g + before.product_taken_off_g
        assert lever.product_gain_g == pytest.approx(gain_g, abs=1e-9)
    gains = [lever.conversion_gain for lever in found.levers]
    assert gains == sorted(gains, reverse=True)


def test_one_process_or_two_give_the_same():
    scenario = kinetics.read_scenario(SCENARIOS / "diacetone_alcohol.toml")
    one, two = (explain(scenario, mechanisms=FEW, workers=workers).to_json() for workers in (1, 2))
    assert one == two


def test_a_moment_of_the_hold(plain):
    scenario, whole = plain
    found = explain(scenario, 3.0, mechanisms=FEW)
    times = [scenario.heating.ramp_s + 3.0 * 3600.0]
    run = kinetics.simulate(scenario, mechanisms=FEW, times=times)
    assert found.conversion == pytest.approx(run.series.conversion[list(run.series.time_s).index(times[0])], abs=1e-5)
    assert found.shares[COOL_DOWN] == pytest.approx(0.0, abs=1e-6) != whole.shares[COOL_DOWN]
    assert_shares_add_up(found)


@pytest.mark.parametrize("at_h", [-1.0, 0.0, 10.5, float("nan")])
def test_a_moment_outside_the_hold_is_refused(at_h):
    with pytest.raises(ScenarioError, match="a time of the hold"):
        explain(kinetics.read_scenario(SCENARIOS / "common_practice.toml"), at_h)


def test_no_substrate_nothing_to_explain():
    with pytest.raises(ScenarioError, match="some cinnamaldehyde"):
        explain(kinetics.read_scenario(SCENARIOS / "reverse.toml"))


def test_levers_of_every_scenario_apply_or_say_why_not():
    for path in sorted(SCENARIOS.glob("*.toml")):
        for lever in levers_of(kinetics.read_scenario(path)):
            assert (lever.scenario is None) == bool(lever.refused), f"{path.name}: {lever}"
    closed = {lever.name: lever for lever in levers_of(kinetics.read_scenario(SCENARIOS / "closed_limit.toml"))}
    assert closed["sweep"].refused == "the vessel is closed"
    assert closed["at the boil"].scenario.vessel.closed is False


def test_a_quantity_scaled_keeps_its_unit():
    assert scaled("3 g", 2.0) == "6 g"
    assert scaled(" 1.5e2mL", 0.5) == "75mL"


def test_the_command(capsys):
    path = str(SCENARIOS / "diacetone_alcohol.toml")
    assert main(["explain", path, "--json", "--workers", "1"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert {"conversion", "shortfall", "shares", "diagnosis", "levers"} <= set(result)
    assert all({"change", "conversion_gain", "product_gain_g", "caution"} <= set(lever) for lever in result["levers"])
    assert result["shortfall"] == 1.0 - result["conversion"]
    assert main(["explain", path, "--at", "4 h"]) == 2
    assert "--at: expected a time of the hold, above 0 h and up to 3 h; came 4 h" in capsys.readouterr().err
    assert main(["explain", path, "--at", "4 g"]) == 2
    assert "--at: expected a time" in capsys.readouterr().err


def test_a_lever_whose_run_stops_short_is_refused_with_the_reason():
    lever = Lever("stir", "vigorous stirring", {}, "splashes")
    before = SimpleNamespace(conversion=0.6, yield_=0.5, product_in_flask_g=0.3, product_taken_off_g=0.0)
    after = SimpleNamespace(conversion=0.7, yield_=0.55, product_in_flask_g=0.2, product_taken_off_g=0.3)
    ((_, gain),), refused = gains_of([(lever, Outcome("stir", None, after))], before)
    assert (gain.change, gain.caution, refused) == ("vigorous stirring", "splashes", [])
    assert (gain.conversion_gain, gain.yield_gain, gain.product_gain_g) == pytest.approx((0.1, 0.05, 0.2))
    gains, refused = gains_of([(lever, Outcome("stir", "the flask is dry", after))], before)
    assert (gains, refused) == ([], [Refused("vigorous stirring", "the flask is dry")])


def test_a_flask_that_stands_still_counts_as_at_rest_though_its_run_stopped():
    still = Outcome("rest", "no step found", conversion=np.array([0.5, 0.7, 0.7]))
    assert come_to_rest(still).failure is None
    moving = Outcome("rest", "no step found", conversion=np.array([0.5, 0.6, 0.7]))
    assert come_to_rest(moving).failure == "no step found"
    with pytest.raises(NumericalFailure, match="shut in: no step found") as caught:
        completed(replace(moving, time_s=np.array([0.0, 1.0, 2.0])), "shut in")
    assert caught.value.reached_s == 2.0


def test_without_base_more_base_is_carbonate_by_the_water():
    """350 mL, 10 g/L: 3.5 g."""
    scenario = parse_scenario(COLD.replace('"sodium hydroxide" = "100 mmol"\n', "").replace('"1 L"', '"350 mL"'))
    levers = {lever.name: lever for lever in levers_of(scenario)}
    assert levers["more base"].change == "3.49 g of sodium carbonate, where no base is charged"
    assert levers["more base"].scenario is not None and "less base" not in levers
