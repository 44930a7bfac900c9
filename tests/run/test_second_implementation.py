"""The engine against a second implementation, written from the physics alone: each holds the other to account.

Both read the same constants; the equations and their solution are written twice (tests/benchmarks/rival.py). They
share the choices the model makes, so agreement says that the equations are what was meant, and not that they are true.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from benchmarks import rival

import kinetics
from kinetics.data.shelf import Shelf
from kinetics.run.result import Series

SCENARIOS = Path(__file__).parents[2] / "scenarios"
PH = 0.002  # a tenth of what a good meter reads
OF_CHARGED = 1e-4  # of what was charged: a hundred times the tolerance both integrate at
OF_OIL = 3e-4  # of what was charged: where oil returns, the traces it grows from are not the same in both


def compare(scenario: kinetics.Scenario, shelf: Shelf) -> tuple[Series, rival.Course]:
    """Both courses at the engine's own output times; the amounts of every species must agree at each of them."""
    series = kinetics.simulate(scenario).series
    course = rival.solve(scenario, shelf, series.time_s)
    organics = [name for name in series.flask_mol if name not in rival.SALTS]
    assert {"acetaldehyde", "acetone"} & set(organics)
    charged = sum(series.flask_mol[name][0] for name in organics)
    tolerance, oil = OF_CHARGED * charged, OF_OIL * charged
    for name in organics:
        np.testing.assert_allclose(series.flask_mol[name], course.flask[name], rtol=0, atol=tolerance, err_msg=name)
    for name, amount in series.left_mol.items():
        for way, gone, expected in (
            ("vented", amount - series.taken_off_mol[name], course.vented[name]),
            ("taken off", series.taken_off_mol[name], course.taken[name]),
        ):
            np.testing.assert_allclose(gone, expected, rtol=2e-3, atol=1e-6 * charged, err_msg=f"{name} {way}")
    for name, amount in series.oil_by_species_mol.items():
        np.testing.assert_allclose(amount, course.oil[name], rtol=0, atol=oil, err_msg=f"{name} in the oil")
    np.testing.assert_allclose(series.pH, course.pH, rtol=0, atol=PH)
    return series, course


def test_diacetone_alcohol_in_lye(shelf: Shelf) -> None:
    """One step in lye, no oil and no boil: what is left is activity and rate."""
    series, course = compare(kinetics.read_scenario(SCENARIOS / "diacetone_alcohol.toml"), shelf)
    np.testing.assert_allclose(series.conversion, course.conversion, rtol=0, atol=OF_CHARGED)
    np.testing.assert_allclose(series.yield_, course.yield_, rtol=0, atol=OF_CHARGED)


def test_condensation_with_slow_feed(shelf: Shelf) -> None:
    """The network backwards, closed, with acetaldehyde fed for hours through three kinks."""
    scenario = kinetics.read_scenario(SCENARIOS / "reverse.toml")
    compare(scenario.option("acetaldehyde fed slowly"), shelf)


def test_open_reflux_with_oil_and_take_off(batch: Callable, shelf: Shelf) -> None:
    """All at once for half an hour: ramps, oil of three species, boil, condenser with oil in it, air, take-off and mixed salt."""
    scenario = batch(
        {
            "water": "300 mL",
            "cinnamaldehyde": "3 g",
            "benzaldehyde": "4 g",
            "acetaldehyde": "0.2 g",
            "potassium carbonate": "6 g",
            "sodium carbonate": "3 g",
            "sodium chloride": "5 g",
        },
        heating={"ramp": "20 min", "hold": "30 min", "cooling": "20 min", "altitude": "500 m", "boil_up": "4 mL/min"},
        vessel={"stirring": "gentle"},
        condenser={"coolant": "30 degC", "take_off": "0.5 mL/min", "make_up": True},
    )
    series, course = compare(scenario, shelf)
    assert course.oil["benzaldehyde"].max() > 0.01
    np.testing.assert_allclose(series.conversion, course.conversion, rtol=0, atol=OF_CHARGED)
    np.testing.assert_allclose(series.temperature_K, course.temperature_K, rtol=0, atol=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("option", [None, "slow take-off, water made up", "coolant at 45 degC"])
def test_perfume_school(option: str | None, shelf: Shelf) -> None:
    """The demonstration itself, as written and with two of its options."""
    scenario = kinetics.read_scenario(SCENARIOS / "perfume_school.toml")
    series, course = compare(scenario.option(option) if option else scenario, shelf)
    np.testing.assert_allclose(series.conversion, course.conversion, rtol=0, atol=OF_CHARGED)
    np.testing.assert_allclose(series.yield_, course.yield_, rtol=0, atol=OF_CHARGED)
    np.testing.assert_allclose(series.temperature_K, course.temperature_K, rtol=0, atol=0.01)
