"""The Jacobian where the flask is at an edge: made up with water, all distillate taken, an oil a trace below nothing,
swept by more gas than the heat keeps saturated."""

from __future__ import annotations

import numpy as np
import pytest

from kinetics.data.namespace import FLOATS
from kinetics.flask.balance import Memory
from kinetics.flask.jacobian import take_off_part

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"
CHARGE = {
    "water": "20 mol", E: "20 mmol", P: "8 mmol", A: "3 mmol", "sodium bicarbonate": "30 mmol",
    "sodium hydroxide": "20 mmol",
}  # fmt: skip
OPEN = {"coolant": "25 degC", "sweep": "20 mL/min", "sweep_gas": "air", "take_off": "0.1 mL/min"}
OILS = {
    "made up": {E: 8e-3, P: 2e-3},
    "all taken off": {E: 8e-3, P: 2e-3},
    "all taken off and made up": {E: 8e-3, P: 2e-3},
    "oil below nothing": {E: 8e-3, P: -1e-9},
    "swept hard": {E: 8e-3, P: 2e-3},
}


@pytest.mark.parametrize("case", OILS)
def test_against_central_differences(flask, batch, case: str) -> None:
    """Every element within 1e-4 of its row's largest, each scaled by its amount: steps of 1e-5 either way."""
    heating, condenser = {"hold": "1 min"}, OPEN | {"make_up": "made up" in case}
    if case == "swept hard":
        heating["temperature"], condenser = "95 degC", OPEN | {"sweep": "1 L/min", "take_off": "0 mL/min"}
    one = flask(batch(CHARGE, heating=heating, condenser=condenser))
    b, y = one.balance, np.array(one.state(OILS[case]))
    if case.startswith("all taken off"):
        b.take_off = 3.0 * b.surroundings.boil_up
    b.tolerance, b.memory = 1e-13, Memory()
    found = np.array(b.jacobian(0.0, y.tolist()), dtype=float)
    active = len(one.network.species) + len(one.network.oils)
    size = np.where(y == -1e-9, 1e-10, np.maximum(np.abs(y), 1e-6))
    expected = np.zeros_like(found)
    for j in range(active):
        sides = []
        for sign in (1.0, -1.0):
            moved = y.copy()
            moved[j] += sign * 1e-5 * size[j]
            b.memory = Memory()
            sides.append(np.array(b.rhs(0.0, moved.tolist()), dtype=float))
        expected[:, j] = (sides[0] - sides[1]) / (2e-5 * size[j])
    rows = np.abs(expected * size).max(axis=1, keepdims=True) + 1e-13
    error = np.abs(found - expected) * size / rows
    assert error[:active].max() < 1e-4


def test_part_of_the_condensate_taken_and_its_slope() -> None:
    """A quarter of 4 mmol/s: -1/16 of a mmol/s per (mmol/s)^2; all of it where more is asked for: no slope."""
    assert take_off_part(1e-3, 4e-3, FLOATS) == pytest.approx((0.25, -0.0625e3), rel=1e-12)
    assert take_off_part(5e-3, 4e-3, FLOATS) == (1.0, 0.0)
