"""Elements, alkali and charge close to 1e-9 at every output time, with what left counted: every scenario
that ships."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import kinetics

FOLDER = Path(__file__).parents[2] / "scenarios"
FORMULAS = {
    "cinnamaldehyde": "C9H8O", "3-hydroxy-3-phenylpropanal": "C9H10O2", "benzaldehyde": "C7H6O", "acetaldehyde": "C2H4O",
    "3-hydroxybutanal": "C4H8O2", "crotonaldehyde": "C4H6O", "5-phenylpenta-2,4-dienal": "C11H10O",
    "benzyl alcohol": "C7H8O", "benzoic acid": "C7H6O2", "cinnamic acid": "C9H8O2", "citral": "C10H16O",
    "6-methyl-5-hepten-2-one": "C8H14O", "3-methyl-2-butenal": "C5H8O", "3-hydroxy-3-methylbutanal": "C5H10O2",
    "acetone": "C3H6O", "diacetone alcohol": "C6H12O2", "water": "H2O", "inorganic carbon": "CO2",
}  # fmt: skip
RINGS = {
    "cinnamaldehyde", "3-hydroxy-3-phenylpropanal", "benzaldehyde", "5-phenylpenta-2,4-dienal", "benzyl alcohol",
    "benzoic acid", "cinnamic acid",
}  # fmt: skip


def shipped() -> list[tuple[str, str]]:
    cases = []
    for path in sorted(FOLDER.glob("*.toml")):
        scenario = kinetics.read_scenario(path)
        cases += [(path.stem, name) for name in ("", *(option.name for option in scenario.options))]
    return cases


def count(formula: str, element: str) -> int:
    return sum(int(n or 1) for e, n in re.findall(r"([A-Z])(\d*)", formula) if e == element)


@cache
def run_of(stem: str, option: str):
    scenario = kinetics.read_scenario(FOLDER / f"{stem}.toml")
    scenario = scenario.option(option) if option else scenario
    return scenario, kinetics.simulate(scenario)


def brought_in(scenario, name: str, times: np.ndarray) -> np.ndarray:
    """Charged and added up to each time, from the charges themselves."""
    start = scenario.heating.ramp_s
    total = np.full_like(times, sum(c.components_mol.get(name, 0.0) for c in scenario.charges))
    for addition in scenario.additions:
        amount = sum(c.components_mol.get(name, 0.0) for c in addition.charges)
        share = np.clip((times - start - addition.at_s) / max(addition.over_s, 1e-9), 0.0, 1.0)
        total = total + amount * share
    return total


def assert_closed(scenario, run, relative: float = 1e-9) -> None:
    """C, H, O of organics and carbon dioxide apart from the water; rings; alkali; charge."""
    series, t = run.series, run.series.time_s
    names = [n for n in series.flask_mol if n in FORMULAS]
    assert set(series.flask_mol) - set(names) <= {"sodium", "potassium", "calcium", "chloride"}

    def total(weight, only=names):
        flask = sum(weight(n) * series.flask_mol[n] for n in only)
        gone = sum(weight(n) * series.left_mol[n] for n in only if n in series.left_mol)
        came = sum(weight(n) * brought_in(scenario, n, t) for n in only)
        return flask + gone, came

    for element in "CHO":
        present, came = total(lambda n, element=element: count(FORMULAS[n], element))
        if element == "O":
            came = came + 2.0 * series.oxygen_drawn_mol
        if scenario.condenser.make_up and element in "HO":
            came = came + {"H": 2, "O": 1}[element] * series.taken_off_mol["water"]
        assert np.abs(present - came).max() <= relative * np.abs(came).max(), element
    organic = [n for n in names if n not in ("water", "inorganic carbon")]
    present, came = total(lambda n: count(FORMULAS[n], "C"), organic)
    assert np.abs(present - came).max() <= relative * max(came.max(), 1e-12)
    if "cinnamaldehyde" in names:
        present, came = total(lambda n: 1, [n for n in organic if n in RINGS])
        assert np.abs(present - came).max() <= relative * max(came.max(), 1e-12)
    present, came = total(lambda n: 1, ["inorganic carbon"])
    assert np.abs(present - came).max() <= relative * max(came.max(), 1e-12)
    for ion in ("sodium", "potassium", "calcium", "chloride"):
        if ion in series.flask_mol:
            assert series.flask_mol[ion] == pytest.approx(brought_in(scenario, ion, t), rel=relative)
    assert max(run.closure.carbon, run.closure.hydrogen, run.closure.oxygen, run.closure.charge) <= relative


@pytest.mark.parametrize(("stem", "option"), shipped())
def test_shipped_scenario(stem: str, option: str) -> None:
    """1e-9 relative at every output time; nothing negative beyond the absolute tolerance; gone amounts only
    grow."""
    scenario, run = run_of(stem, option)
    assert run.failure is None
    assert_closed(scenario, run)
    charged = sum(
        c.amount_mol for c in scenario.charges if c.substance in FORMULAS and c.substance != "water"
    )
    states = np.array(run.trajectory.states)
    assert states.min() >= -1e-12 * max(charged, 1e-3)
    for amount in (*run.series.left_mol.values(), run.series.oxygen_drawn_mol):
        assert np.diff(amount).min() >= -1e-9 * max(charged, 1e-3)


def test_charge_and_composition_at_some_times() -> None:
    """The charge of the flask struck anew from the ions of the speciation, at a dozen output times of the
    demonstration."""
    _, run = run_of("perfume_school", "")
    trajectory = run.trajectory
    for k in range(0, len(trajectory.times), 20):
        balance, y = trajectory.balances[k], trajectory.states[k]
        state = balance.state(trajectory.times[k], y, 1e-12)
        s, kg = state.speciation, y[trajectory.network.water] * 0.018015268
        positive = run.series.flask_mol["sodium"][k] + s.hydrogen * kg
        negative = (s.hydroxide + s.bicarbonate + 2 * s.carbonate + s.organic) * kg
        assert negative == pytest.approx(positive, rel=1e-9)
        assert s.organic * kg == pytest.approx(run.series.flask_mol["benzoic acid"][k], rel=1e-3, abs=1e-12)
        carbon = (s.bicarbonate + s.carbonate + s.carbon_dioxide) * kg
        assert carbon == pytest.approx(run.series.flask_mol["inorganic carbon"][k], rel=1e-12)


ADDED = [
    {"at": "20 min", "cinnamaldehyde": "3 g"},
    {"at": "30 min", "over": "20 min", "water": "50 mL", "sodium hydroxide": "1 g"},
    {"at": "0 h", "potassium carbonate": "1 g"},
]


@pytest.mark.parametrize("make_up", [False, True])
def test_balances_across_additions_and_take_off(batch, make_up: bool) -> None:
    """Sudden and spread additions into a batch that is distilled; also just before and at the moment of
    each."""
    scenario = batch(
        {"water": "300 mL", "cinnamaldehyde": "2 g", "sodium bicarbonate": "4 g", "calcium hydroxide": "0.1 g",
         "sodium chloride": "1 g"},
        heating={"ramp": "10 min", "cooling": "10 min"},
        condenser={"take_off": "0.5 mL/min", "make_up": make_up, "sweep": "20 mL/min", "sweep_gas": "air"},
        addition=ADDED,
    )  # fmt: skip
    moments = [1799.999, 1800.0, 1800.001, 2399.0, 2400.0, 3000.0, 3600.0]
    for times in (None, moments):
        run = kinetics.simulate(scenario, times=times)
        assert run.failure is None
        # at the very moment of a sudden addition the state kept is the one before it
        keep = np.abs(run.series.time_s - 1800.0) > 1e-9
        assert_closed_where(scenario, run, keep)


def assert_closed_where(scenario, run, keep: np.ndarray) -> None:
    """Organic carbon and closure at the times kept."""
    t = run.series.time_s[keep]
    names = [n for n in run.series.flask_mol if n in FORMULAS and n not in ("water", "inorganic carbon")]
    present = sum(
        count(FORMULAS[n], "C") * (run.series.flask_mol[n] + run.series.left_mol.get(n, 0.0))[keep]
        for n in names
    )
    came = sum(count(FORMULAS[n], "C") * brought_in(scenario, n, t) for n in names)
    assert present == pytest.approx(came, rel=1e-9)
    assert max(run.closure.carbon, run.closure.hydrogen, run.closure.oxygen, run.closure.charge) <= 1e-9


def test_the_state_before_an_addition_stays_what_it_was(batch) -> None:
    """Two output times a millisecond apart, one on each side: what was kept first is not touched by what
    came then."""
    scenario = batch(
        {"water": "300 mL", "cinnamaldehyde": "1 g"}, vessel={"closed": True}, addition=[ADDED[0]]
    )
    series = kinetics.simulate(scenario, times=[1199.999, 1200.001]).series
    total = {t: 0.0 for t in series.time_s.tolist()}
    for name in RINGS & set(series.flask_mol):
        for t, amount in zip(series.time_s.tolist(), series.flask_mol[name].tolist()):
            total[t] += amount
    grams = dict.fromkeys((1199.999, 1200.0), 1.0) | {1200.001: 4.0}
    for t, mass in grams.items():
        assert total[t] == pytest.approx(mass / 132.162, rel=1e-4)
    assert all(a <= b for a, b in pairwise(series.time_s.tolist()))
