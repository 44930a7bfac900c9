"""Heat-up, hold, cool-down, and additions: when they come, how much they bring, in which order they are
written."""

from __future__ import annotations

import numpy as np
import pytest

import kinetics

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"
CLOSED = {"closed": True}
WARM = {"start": "25 degC", "temperature": "60 degC", "ramp": "30 min", "hold": "2 h", "cooling": "1 h"}
NO_OIL = kinetics.Mechanisms(oil_phase=False)
SLOW = {"start": "25 degC", "temperature": "25 degC", "hold": "2 h"}


def test_temperature_of_a_closed_vessel(batch, only) -> None:
    """25 to 60 in 30 min, 2 h of it, back in an hour: by hand at eight moments."""
    points = {0: 25, 900: 42.5, 1800: 60, 5000: 60, 9000: 60, 9900: 51.25, 10800: 42.5, 12600: 25}
    scenario = batch({"water": "1 L", "sodium carbonate": "4 g"}, heating=WARM, vessel=CLOSED)
    series = kinetics.simulate(scenario, mechanisms=only(), times=list(map(float, points))).series
    found = dict(zip(series.time_s.tolist(), series.temperature_K.tolist()))
    for t, degC in points.items():
        assert found[float(t)] == pytest.approx(degC + 273.15, abs=1e-9)
    assert series.time_s[-1] == 12600.0
    assert series.stage[0] == "heating" and set(series.stage) == {"heating", "hold", "cooling"}


def test_only_the_hold_boils(batch, only) -> None:
    """What leaves, leaves between the end of the ramp and the end of the hold."""
    heating = {"ramp": "30 min", "hold": "1 h", "cooling": "30 min"}
    scenario = batch({"water": "1 L", A: "1 g"}, heating=heating)
    series = kinetics.simulate(scenario, mechanisms=only("venting")).series
    left, t = series.left_mol[A], series.time_s
    assert (left[t <= 1800.0] == 0.0).all()
    assert (np.diff(left[(t >= 1800.0) & (t <= 5400.0)]) > 0.0).all()
    assert (left[t >= 5400.0] == left[-1]).all()
    assert series.temperature_K[t == 1800.0] == pytest.approx(373.124, abs=0.001)


ADDED = [
    {"at": "30 min", "water": "10 mol", P: "3 mmol"},
    {"at": "1 h", "over": "30 min", A: "6 mmol", "water": "1 mol"},
    {"at": "75 min", "over": "45 min", A: "4 mmol", "sodium hydroxide": "2 mmol"},
    {"at": "1 h", "sodium carbonate": "5 mmol"},
]


def test_amounts_added(batch, only) -> None:
    """Before, at once and while they come: each amount by hand in neutral water, where nothing reacts to
    speak of."""
    charge = {"water": "50 mol", A: "1 mmol"}
    times = [1799.0, 1801.0, 3600.0 + 900.0, 3600.0 + 1800.0]
    scenario = batch(charge, heating=SLOW, vessel=CLOSED, addition=ADDED)
    run = kinetics.simulate(scenario, mechanisms=only(), rtol=1e-9, times=times)
    flask_mol, t = run.series.flask_mol, run.series.time_s.tolist()

    def at(name: str, time: float) -> float:
        return float(flask_mol[name][t.index(time)])

    # 2 mmol of lye brings a mmol of water
    expected_water = {1799.0: 50, 1801.0: 60, 4500.0: 60.5, 5400.0: 61 + 1e-3 * 900 / 2700, 7200.0: 61.001}
    expected_A = {1799.0: 1e-3, 1801.0: 1e-3, 4500.0: 4e-3, 5400.0: 7e-3 + 4e-3 * 900 / 2700, 7200.0: 11e-3}
    expected_sodium = {1799.0: 0.0, 4500.0: 10e-3, 5400.0: 10e-3 + 2e-3 / 3, 7200.0: 12e-3}
    for time, amount in expected_water.items():
        assert at("water", time) == pytest.approx(amount, rel=1e-7)
    for time, amount in expected_A.items():
        assert at(A, time) == pytest.approx(amount, rel=1e-3)  # a thousandth goes into the aldol's reverse
    for time, amount in expected_sodium.items():
        assert at("sodium", time) == pytest.approx(amount, rel=1e-12)
    assert at("inorganic carbon", 4500.0) == pytest.approx(5e-3, rel=1e-12)
    assert at(P, 1799.0) == pytest.approx(0.0, abs=1e-9) and at(P, 1801.0) == pytest.approx(3e-3, rel=1e-3)


def test_what_is_added_at_once_jumps(batch, only) -> None:
    """The state at the end of one stretch and just after the addition differ by the addition."""
    scenario = batch(
        {"water": "50 mol", A: "1 mmol"}, heating=SLOW, vessel=CLOSED, addition=[{"at": "1 h", A: "2 mmol"}]
    )
    series = kinetics.simulate(scenario, mechanisms=only(), times=[3600.0, 3600.001]).series
    t = series.time_s.tolist()
    jump = series.flask_mol[A][t.index(3600.001)] - series.flask_mol[A][t.index(3600.0)]
    assert jump == pytest.approx(2e-3, rel=1e-9)


def final(run) -> np.ndarray:
    return np.array(run.trajectory.states[-1])


def test_order_of_writing_does_not_matter(batch, without) -> None:
    """Any order of the entries gives the same numbers, bit for bit; and of entries that fall together."""
    charge = {"water": "50 mol", E: "2 mmol", "sodium carbonate": "20 mmol"}
    runs = [
        kinetics.simulate(
            batch(charge, heating=WARM, vessel=CLOSED, addition=[ADDED[k] for k in order]), times=[]
        )
        for order in ((0, 1, 2, 3), (3, 2, 1, 0), (2, 0, 3, 1))
    ]
    for other in runs[1:]:
        assert final(other) == pytest.approx(final(runs[0]), rel=1e-6, abs=1e-12)


def test_one_addition_is_as_good_as_its_parts(batch) -> None:
    charge = {"water": "50 mol", E: "2 mmol", "sodium carbonate": "20 mmol"}
    whole = [{"at": "30 min", E: "2 mmol", "water": "2 mol"}]
    parts = [{"at": "30 min", E: "2 mmol"}, {"at": "30 min", "water": "2 mol"}]
    runs = [
        kinetics.simulate(batch(charge, heating=WARM, vessel=CLOSED, addition=a), times=[])
        for a in (whole, parts)
    ]
    assert final(runs[0]) == pytest.approx(final(runs[1]), rel=1e-12)


def test_addition_at_the_start_of_the_hold_is_as_good_as_charging(batch) -> None:
    """Without a ramp, what is added at time zero was there from the start (no oil phase: all of it dissolves
    at once)."""
    charge, late = {"water": "50 mol", "sodium carbonate": "20 mmol"}, {E: "1 mmol"}
    heating = {"start": "60 degC", "temperature": "60 degC"}
    runs = [
        kinetics.simulate(scenario, times=[], rtol=1e-8, mechanisms=NO_OIL).series.flask_mol
        for scenario in (
            batch(charge | late, heating=heating, vessel=CLOSED),
            batch(charge, heating=heating, vessel=CLOSED, addition=[{"at": "0 h"} | late]),
        )
    ]
    for name in (E, P, A):
        assert runs[1][name][-1] == pytest.approx(runs[0][name][-1], rel=1e-6)


def test_spread_ever_shorter_tends_to_sudden(batch) -> None:
    """The difference to a sudden addition falls in proportion to the time it is spread over (no oil phase: what is
    added dissolves at once in both)."""
    charge = {"water": "50 mol", E: "1 mmol", "sodium carbonate": "20 mmol"}

    def conversion_end(**over: str) -> float:
        scenario = batch(charge, heating=WARM, vessel=CLOSED, addition=[{"at": "10 min", E: "1 mmol"} | over])
        return kinetics.simulate(scenario, times=[], rtol=1e-9, mechanisms=NO_OIL).series.flask_mol[P][-1]

    sudden = conversion_end()
    gaps = [abs(conversion_end(over=f"{s} s") - sudden) for s in (900, 90, 9)]
    assert gaps[0] > 1e-4 * sudden
    assert gaps[1] == pytest.approx(gaps[0] / 10, rel=0.2)
    assert gaps[2] == pytest.approx(gaps[1] / 10, rel=0.2)


def test_output_times_do_not_change_the_answer(batch) -> None:
    scenario = batch({"water": "350 mL", E: "1.2 g", "sodium carbonate": "3 g"}, heating={"ramp": "25 min"})
    few, many = (
        kinetics.simulate(scenario, times=t, rtol=1e-7) for t in ([], np.linspace(0, 5000, 200).tolist())
    )
    assert final(many) == pytest.approx(final(few), rel=1e-9)
    usual = kinetics.simulate(scenario, rtol=1e-7)
    assert final(usual) == pytest.approx(final(few), rel=1e-9)


def test_tighter_tolerance_changes_the_answer_by_the_tolerance(batch) -> None:
    """Conversion at the default 1e-6 against 1e-9: errors of some tens of the tolerance asked."""
    scenario = batch(
        {"water": "350 mL", E: "1.2 g", "sodium carbonate": "3 g"}, heating={"ramp": "25 min", "hold": "3 h"}
    )
    loose, tight = (kinetics.simulate(scenario, times=[], rtol=r).summary.conversion for r in (1e-6, 1e-9))
    assert loose == pytest.approx(tight, abs=5e-5)


def test_substrate_that_is_only_added_is_converted_too(batch) -> None:
    """Conversion is of what was charged and added: without a number before the addition, and a number after it."""
    scenario = batch(
        {"water": "50 mol", "sodium carbonate": "20 mmol"},
        heating=WARM,
        vessel=CLOSED,
        addition=[{"at": "10 min", E: "1 mmol"}],
    )
    run = kinetics.simulate(scenario)
    t, x = run.series.time_s, run.series.conversion
    assert x is not None and run.summary.conversion == x[-1]
    assert not np.isfinite(x[t < 2400.0]).any() and np.isfinite(x[t > 2401.0]).all()
    assert x[-1] == pytest.approx(1.0 - run.series.flask_mol[E][-1] / 1e-3, rel=1e-12)
    assert 0.1 < x[-1] < 1.0
