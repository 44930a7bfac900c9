"""The what-if grid: interpolation that is exact where it must be, and an error that is what it says."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from math import exp
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kinetics.analysis.runs import Outcome
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.report import grid as module
from kinetics.report.findings import Lots, attempt, findings_of, what_if
from kinetics.report.grid import (
    ML_PER_MIN,
    NODES,
    QUANTITIES,
    Setting,
    charge_at,
    compute_grid,
    held_out_points,
    nodes_around,
    settings_of,
    with_settings,
)
from kinetics.run.integrate import NumericalFailure
from kinetics.run.simulation import simulate

LOGARITHMIC = Setting("base", "Base", "g", (0.5, 1.5, 4.0, 16.0), 4.0, 0.0)


@given(st.floats(0.5, 16.0), st.lists(st.floats(-5.0, 5.0), min_size=4, max_size=4))
def test_a_cubic_in_the_logarithm_is_met_exactly(value, coefficients):
    """Lagrange's interpolation through n nodes is exact for polynomials up to degree n - 1."""
    cubic = np.polynomial.Polynomial(coefficients)
    at_nodes = cubic(np.log(LOGARITHMIC.nodes))
    assert LOGARITHMIC.weights(value) @ at_nodes == pytest.approx(cubic(np.log(value)), abs=1e-9)


@given(st.floats(0.0, 50.0), st.floats(-10.0, 0.0), st.floats(1.0, 60.0), st.integers(2, 6))
def test_the_own_value_is_a_node_and_the_range_holds_it(own, low, high, count):
    nodes = nodes_around(own, low, high, count)
    step = (max(high, own) - min(low, own)) / (count - 1)
    assert own in nodes and len(nodes) in (count, count + 1)
    assert min(nodes) <= low + 0.25 * step and max(nodes) >= high - 0.25 * step
    assert all(b - a >= 0.24 * step for a, b in pairwise(nodes))


def test_stops_are_round_within_the_range_and_hold_the_own_value():
    stops = replace(LOGARITHMIC, nodes=(0.5, 1.5, 4.123, 16.0), own=4.123).stops
    assert stops[0] == 0.5 and stops[-1] == 16.0 and 4.123 in stops
    assert stops == sorted(set(stops))
    assert all(float(f"{stop:.2g}") == stop for stop in stops if stop != 4.123)


def test_settings_of_an_open_batch_change_what_they_say(batch):
    scenario = batch({"water": "300 mL", "cinnamaldehyde": "1 g", "sodium carbonate": "2 g"}, condenser={"sweep": "5 mL/min"})
    settings = {setting.key: setting for setting in settings_of(scenario, 373.0, NODES)}
    assert list(settings) == ["base", "coolant", "sweep"]
    assert settings["base"].own == pytest.approx(2.0, rel=1e-9)
    assert settings["coolant"].own == pytest.approx(15.0)
    assert settings["sweep"].own == pytest.approx(5.0, rel=1e-9)
    assert settings["sweep"].nodes[0] == 0.0
    changed = with_settings(scenario, 3.0, {"base": 4.0, "coolant": 30.0, "sweep": 20.0})
    expected = scenario.with_changes(
        {"charge.sodium carbonate": "4 g", "condenser.coolant": "30 degC", "condenser.sweep": "20 mL/min", "heating.hold": "3 h"}
    )
    assert changed.charges[2].components_mol == pytest.approx(expected.charges[2].components_mol, rel=1e-9)
    assert changed.condenser.coolant_K == expected.condenser.coolant_K == 30.0 + CELSIUS_ZERO_K
    assert changed.condenser.sweep_mol_per_s == pytest.approx(expected.condenser.sweep_mol_per_s, rel=1e-12)
    assert changed.heating == replace(expected.heating, cooling_s=0.0)


def test_a_flow_of_gas_is_counted_at_20_degrees_and_one_atmosphere():
    """1 mL at 20 C and 101325 Pa is pV/RT = 101325 x 1e-6/(8.314463 x 293.15) = 41.571 micromoles."""
    assert pytest.approx(41.571e-6 / 60.0, rel=1e-4) == ML_PER_MIN


def test_a_closed_vessel_and_one_without_base_have_no_such_slider(batch):
    closed = batch({"water": "300 mL", "cinnamaldehyde": "1 g"}, vessel={"closed": True}, heating={"temperature": "95 degC"})
    assert settings_of(closed, 373.0, NODES) == ()
    grid = compute_grid(closed, 373.0, NODES)
    assert grid.runs == 2
    assert grid.at(1.0, {})["escaped"] == 0.0


def test_substrate_added_later_counts_from_then_on(batch):
    scenario = batch(
        {"water": "300 mL", "cinnamaldehyde": "1.32 g"},
        addition=[{"at": "30 min", "over": "20 min", "cinnamaldehyde": "1.32 g"}],
    )
    start, half, end = charge_at(scenario, np.array([0.0, 2.0 / 3.0, 1.0]))
    assert half == pytest.approx(1.5 * start, rel=1e-9) and end == pytest.approx(2.0 * start, rel=1e-9)


def test_at_a_node_the_grid_gives_what_a_run_gives(made):
    """The batch as read is a node, so its course is that of the run itself, to the tolerance of the integration."""
    grid, run = made.found.grid, made.found.run
    hot = made.found.scenario.heating.ramp_s + made.found.scenario.heating.hold_s
    told = grid.at(grid.own_hold_h, {})
    between = np.interp(hot, run.series.time_s, run.series.conversion)
    assert told["conversion"] == pytest.approx(between, abs=5e-4)
    assert told["yield"] == pytest.approx(np.interp(hot, run.series.time_s, run.series.yield_), abs=5e-4)


def test_errors_are_those_of_runs_that_the_grid_has_not_seen(made):
    """Run anew at the held-out settings: at the end of the hold the numbers are off by no more than was measured."""
    grid, scenario = made.found.grid, made.found.scenario
    points = held_out_points(grid.settings)
    assert len(points) == grid.held_out and grid.runs == 80 + grid.held_out
    end = float(grid.hold_h[-1])
    worst = 0.0
    for point in points:
        assert all(value not in setting.nodes for setting, value in zip(grid.settings, point.values(), strict=True))
        summary = simulate(with_settings(scenario, end, point)).summary
        told = grid.at(end, point)
        for key, truth in (("conversion", summary.conversion), ("yield", summary.yield_)):
            assert told[key] == pytest.approx(truth, abs=grid.errors[key][0] + 1e-4)
            worst = max(worst, abs(told[key] - truth))
    assert worst > 1e-3, "the comparison is of a grid with itself"
    assert all(0.0 < typical < most < 0.05 for most, typical in grid.errors.values())


def test_the_offset_of_the_sweep_is_the_air_that_passes_anyway(made):
    sweep = made.found.grid.settings[2]
    assert sweep.coordinate(0.0) == pytest.approx(np.log(10.0))
    assert sweep.value(sweep.coordinate(7.0)) == pytest.approx(7.0)
    assert exp(sweep.coordinate(7.0)) == pytest.approx(17.0)


CHARGE = {"water": "300 mL", "cinnamaldehyde": "1 g", "sodium carbonate": "2 g"}
FEW = dict.fromkeys(NODES, 2)


def test_a_grid_of_which_runs_fail_says_how_many_and_why(batch, monkeypatch):
    def run_jobs(jobs, workers, executor, progress):
        return [Outcome(job.key, "the flask is dry" if k < 3 else None) for k, job in enumerate(jobs)]

    monkeypatch.setattr(module, "run_jobs", run_jobs)
    said = compute_grid(batch(CHARGE), 373.0, FEW)
    assert re.fullmatch(r"3 of the \d+ runs it needs failed, the first: the flask is dry", said)


def test_a_grid_without_substrate_at_the_start_of_the_hold_is_none(batch, monkeypatch):
    monkeypatch.setattr(module, "run_jobs", lambda jobs, *_: [Outcome(job.key, None) for job in jobs])
    monkeypatch.setattr(module, "interpolated_from", lambda outcome, scenario, hold_h: dict.fromkeys(QUANTITIES, hold_h * np.nan))
    assert "nothing of the substrate is in the flask" in compute_grid(batch(CHARGE), 373.0, FEW)


def test_why_there_is_no_grid_is_kept(batch, monkeypatch):
    monkeypatch.setattr("kinetics.report.findings.compute_grid", lambda *_: "one run failed")
    missing = {}
    assert what_if(batch(CHARGE), 373.0, FEW, (), True, None, Lots(None, 1), missing) is None
    assert what_if(batch(CHARGE), 373.0, FEW, (), False, None, Lots(None, 1), other := {}) is None
    assert (missing, other) == ({"what-if": "one run failed"}, {"what-if": "there is no conversion to show"})


def test_a_computation_that_fails_leaves_its_reason():
    def failing():
        raise NumericalFailure("the flask is dry", 60.0)

    missing = {}
    assert attempt(failing, "ledger", missing) is None and attempt(lambda: 3, "hours", missing) == 3
    assert missing == {"ledger": "a run that it needs failed: the flask is dry"}


def test_a_run_that_stops_short_has_no_page(batch, monkeypatch):
    failure = NumericalFailure("the flask is dry", 60.0)
    monkeypatch.setattr("kinetics.report.findings.moved_run", lambda *_: SimpleNamespace(failure=failure))
    with pytest.raises(NumericalFailure, match="the flask is dry"):
        findings_of(batch(CHARGE))
