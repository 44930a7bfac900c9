"""`hours` against closed forms (base-limited, vent-limited), against single runs, and what it says and refuses."""

from __future__ import annotations

import json
from dataclasses import replace
from math import log, sqrt
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from short_boil import COLD

import kinetics
from kinetics.analysis.ceiling import plateau_job
from kinetics.analysis.hours import Course, hours, verdict_of, why_of
from kinetics.analysis.runs import compute
from kinetics.command_line.main import main
from kinetics.data.faults import ScenarioError
from kinetics.run.reading import parse_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
ONLY_CLEAVAGE = {
    "self_aldol": False, "crossed_aldol": False, "cannizzaro": False, "oxidation": False, "oil_phase": False,
    "salting_out": False, "product_venting": False, "carbon_dioxide_loss": False,
}  # fmt: skip
VENTED = """
title = "Fast chemistry, slow vent"
substrate = "cinnamaldehyde"
[charge]
water = "500 mL"
cinnamaldehyde = "50 mmol"
"sodium hydroxide" = "5 mmol"
[heating]
hold = "4 h"
boil_up = "20 mL/min"
[condenser]
sweep = "500 mL/min"
"""


@pytest.fixture(scope="module")
def practice():
    scenario = kinetics.read_scenario(SCENARIOS / "common_practice.toml")
    return scenario, hours(scenario, 0.8)


def test_base_limited_half_lives():
    """25 C, dilute, no reverse: E <-> H -> P is linear, and its slow eigenvalue is the rate of Guthrie et al. 1984.

    lambda/[OH-] = (s - sqrt(s^2 - 4 k12 k23))/2 with s = k12 + k21 + k23: k12 k23/(k21 + k23) within 0.4 %.
    """
    scenario = parse_scenario(COLD)
    mechanisms = kinetics.Mechanisms(reverse_cleavage=False, venting=False, **ONLY_CLEAVAGE)
    k12, k23 = 2.02e-3, 9.08e-2
    total = k12 + k12 / kinetics.load_shelf()["reaction.cinnamaldehyde.equilibrium.hydration.K"].value + k23
    k = 0.5 * (total - sqrt(total**2 - 4.0 * k12 * k23))
    hydroxide = kinetics.simulate(scenario).series.hydroxide_mol_per_L[-1]
    reached = [hours(scenario, target, mechanisms=mechanisms).target_h for target in (0.5, 0.75, 0.875)]
    half_life_h = log(2.0) / (hydroxide * k) / 3600.0
    assert np.diff(reached) == pytest.approx([half_life_h, half_life_h], rel=2e-4)
    assert reached[0] == pytest.approx(half_life_h, rel=0.02)  # the first sees the aldol become steady


def test_vent_limited_closed_form():
    """K k_v t/C0 = -x - ln(1 - x): K from a closed flask, k_v from acetaldehyde alone in the same open one."""
    scenario = parse_scenario(VENTED)
    mechanisms = kinetics.Mechanisms(hydroxide_shortage=False, **ONLY_CLEAVAGE)
    shifts = (("reaction.cinnamaldehyde.equilibrium.cleavage.K", -6.0),)  # far below C0: little acetaldehyde at a time
    shut = compute(replace(plateau_job(scenario, 373.2, mechanisms, "shut"), shifts=shifts))
    ends = shut.flask_end_mol
    K = ends["benzaldehyde"] * ends["acetaldehyde"] / ends["cinnamaldehyde"]  # mol, over the flask
    alone = scenario.with_changes(
        {"charge.cinnamaldehyde": "0 g", "charge.acetaldehyde": "0.1 mmol", "heating.hold": "20 min"}
    )
    series = kinetics.simulate(alone, mechanisms=mechanisms).series
    hold = np.array(series.stage) == "hold"
    k_v = -np.polyfit(series.time_s[hold], np.log(series.flask_mol["acetaldehyde"][hold]), 1)[0]

    def time_h(x):
        return (-x - log(1.0 - x)) * 50e-3 / (K * k_v) / 3600.0

    reached = [hours(scenario, x, mechanisms=mechanisms, shifts=shifts).target_h for x in (0.4, 0.6, 0.8)]
    assert np.diff(reached) == pytest.approx(np.diff([time_h(x) for x in (0.4, 0.6, 0.8)]), rel=0.03)


def test_the_course_is_that_of_the_run_itself(practice):
    scenario, found = practice
    run = kinetics.simulate(scenario)
    last = max(k for k, stage in enumerate(run.series.stage) if stage == "hold")
    planned = list(found.hold_h).index(10.0)
    assert found.conversion[planned] == pytest.approx(run.series.conversion[last], abs=1e-5)
    assert found.yield_[planned] == pytest.approx(run.series.yield_[last], abs=1e-5)
    assert found.cooling_loss == pytest.approx(run.series.conversion[last] - run.summary.conversion, abs=1e-5)
    assert found.product_vented_g[planned] == pytest.approx(
        run.series.left_mol["benzaldehyde"][last] * 106.124, rel=1e-3
    )


def test_target_and_worth_hold_in_runs_of_that_length(practice):
    scenario, found = practice

    def after(hold_h):
        held = replace(scenario, heating=replace(scenario.heating, hold_s=3600.0 * hold_h, cooling_s=0.0))
        return kinetics.simulate(held).summary.conversion

    assert after(found.target_h) == pytest.approx(0.8, abs=1e-5)
    assert after(found.worth_stop_h + 1.0) - after(found.worth_stop_h) == pytest.approx(0.01, abs=2e-5)
    later = found.gain_per_h[found.hold_h > found.worth_stop_h]
    assert (later < 0.01).all() and found.gain_per_h[0] > 0.01


def test_nothing_passes_the_ceiling(practice):
    _, found = practice
    assert max(found.conversion) <= found.ceiling <= 1.0
    assert max(found.yield_) <= found.yield_ceiling < found.ceiling
    assert found.equilibrium < found.conversion[-1]  # what leaks lifts it past the equilibrium of a closed flask
    assert "acetaldehyde gets out" in found.why


def test_a_closed_vessel_stops_at_its_equilibrium():
    scenario = kinetics.read_scenario(SCENARIOS / "closed_limit.toml")
    mechanisms = kinetics.Mechanisms(cannizzaro=False, oxidation=False)
    found = hours(scenario, 0.9, mechanisms=mechanisms)
    assert found.ceiling == pytest.approx(found.equilibrium, abs=1e-4)
    assert found.target_h is None
    assert "cannot be reached" in found.verdict
    assert found.boil_energy_kJ[-1] == 0.0


def test_a_take_off_without_make_up_ends_the_search_before_the_flask_is_dry():
    scenario = kinetics.read_scenario(SCENARIOS / "common_practice.toml")
    found = hours(scenario.with_changes({"condenser.take_off": "0.4 mL/min"}))
    assert 10.0 < found.searched_h < 350.0 / 0.4 / 60.0
    assert np.isfinite(found.conversion).all()


@pytest.mark.parametrize("target, worth", [(1.2, 0.01), (0.0, 0.01), (-0.1, 0.01), (float("nan"), 0.01), (0.5, 0.0)])
def test_a_target_or_worth_that_is_no_part_of_the_charge_is_refused(target, worth):
    scenario = kinetics.read_scenario(SCENARIOS / "common_practice.toml")
    with pytest.raises(ScenarioError, match="a part of the charge"):
        hours(scenario, target, worth)


def test_no_substrate_no_hours():
    with pytest.raises(ScenarioError, match="some cinnamaldehyde"):
        hours(kinetics.read_scenario(SCENARIOS / "reverse.toml"))


def test_the_command(capsys):
    path = str(SCENARIOS / "diacetone_alcohol.toml")
    assert main(["hours", path, "--target", "0.9", "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    keys = {"hold_h", "conversion", "yield", "gain_per_h", "worth_stop_h", "target", "target_h", "ceiling"}
    assert keys <= set(result)
    assert len(result["hold_h"]) == len(result["conversion"]) == len(result["yield"]) == len(result["gain_per_h"])
    assert main(["hours", path]) == 0
    out = capsys.readouterr().out
    assert out.startswith("After ") and max(map(len, out.splitlines())) <= 80
    assert main(["hours", path, "--target", "80"]) == 2
    assert "80 % is 0.8" in capsys.readouterr().err


def course_of(hold_h, conversion):
    """A course with a conversion that is known at these hours, straight in between."""
    course = Course.__new__(Course)
    course.hold_h, course.end_h = np.asarray(hold_h, float), float(hold_h[-1])
    course.conversion = lambda t: np.interp(t, hold_h, conversion)
    return course


def test_the_last_hour_worth_it_by_hand():
    """0.30, 0.10, 0.02, 0.01 in the hours from 0, 1, 2, 3: below 0.05 past 1 + (0.10 - 0.05)/0.08 h."""
    hours_told = [0.0, 1.0, 2.0, 3.0, 4.0]
    assert course_of(hours_told, [0.0, 0.30, 0.40, 0.42, 0.43]).last_worth(0.05) == pytest.approx(1.625)
    assert course_of(hours_told, [0.0, 0.2, 0.4, 0.6, 0.8]).last_worth(0.05) is None
    assert course_of(hours_told, [0.5] * 5).last_worth(0.05) == 0.0


def test_of_a_course_shorter_than_an_hour_no_hour_is_judged():
    assert course_of([0.0, 0.4, 0.8], [0.0, 0.3, 0.6]).last_worth(0.05) is None


def told(**changes):
    """What a verdict and its reason are made from."""
    numbers = dict(
        target=0.8, target_h=None, gain_per_h=np.array([0.0]), ceiling=0.75, ceiling_h=40.0, searched_h=300.0,
        cooling_loss=0.0, equilibrium=0.7, by_product="acetaldehyde", product="benzaldehyde", yield_ceiling=0.75,
        yield_ceiling_h=300.0,
    )  # fmt: skip
    return SimpleNamespace(**numbers | changes)


def test_a_target_is_reached_before_the_hold_late_or_never():
    assert verdict_of(told(target=None)) == ""
    assert verdict_of(told(target_h=0.0)) == "80 % is reached before the hold begins."
    late = verdict_of(told(target_h=14.0, cooling_loss=0.02))
    assert late == (
        "80 % is reached, hot, after 14 h of hold. The cool-down takes 2.0 points back. That is longer than a working day."
    )
    assert "never passes 75.00 % in 300 h of hold and stands still by then" in verdict_of(told())
    assert "stands still" not in verdict_of(told(gain_per_h=np.array([0.01])))


def test_a_closed_vessel_is_drawn_on_only_by_what_spoils_the_product():
    assert why_of(told(ceiling=0.7), True, False, (0.01, 0.01)).endswith("at 70.0 %, and no time passes that.")
    drawn = why_of(told(), True, False, (0.01, 0.01))
    assert drawn.endswith("draws it on, to 75.0 % after 40 h, and the yield down.")


@pytest.mark.parametrize(
    ("changes", "rising", "left", "said"),
    [
        ({}, True, 0.01, "gets out past the condenser: it is still rising at 75.0 % after 40 h."),
        ({}, False, 0.01, "gets out past the condenser: it levels off at 75.0 % after 40 h."),
        ({"ceiling": 0.7}, True, 0.01, "comes to 70.0 % after 40 h and still rises: the base is weak, or the liquor cool."),
        ({"ceiling": 0.7}, False, 0.01, "It comes to 70.0 % after 40 h."),
        ({"ceiling": 0.5}, False, 1e-5, "stands still, the base being spent: 1e-05 mol/L of hydroxide are left of 0.01,"),
        ({"yield_ceiling": 0.6, "yield_ceiling_h": 9.0}, False, 0.01, "The yield never passes 60.0 %, after 9 h: from then on"),
    ],
)
def test_why_time_alone_does_not_pass_a_ceiling(changes, rising, left, said):
    assert said in why_of(told(**changes), False, rising, (0.01, left))
