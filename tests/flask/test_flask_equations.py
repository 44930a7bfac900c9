"""The balance equations as mathematics: their Jacobian, their interpolated constants, floats and arrays
alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.flask.balance import Balance, Memory
from kinetics.flask.conditions import Conditions, conditions_at
from kinetics.flask.interpolation import ConditionsAlong, leaves
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"
CHARGE = {"water": "20 mol", E: "20 mmol", "sodium bicarbonate": "30 mmol", "sodium hydroxide": "20 mmol"}
INSIDE = {
    "3-hydroxy-3-phenylpropanal": 3e-4, P: 8e-3, A: 3e-3, "3-hydroxybutanal": 1e-4, "crotonaldehyde": 2e-4,
    "5-phenylpenta-2,4-dienal": 1e-3, "benzyl alcohol": 2e-4, "benzoic acid": 5e-4,
}  # fmt: skip
OPEN = {"coolant": "25 degC", "sweep": "20 mL/min", "sweep_gas": "air", "take_off": "0.1 mL/min"}
SETTINGS = {
    "boiling": ({}, {}, OPEN),
    "below the boil": ({"temperature": "80 degC"}, {}, OPEN | {"take_off": "0 mL/min"}),
    "distilling": ({}, {}, {"coolant": "15 degC", "take_off": "2 mL/min", "make_up": True}),
    "closed": ({"temperature": "60 degC"}, {"closed": True}, {}),
}


@pytest.fixture
def one(flask, batch, request):
    heating, vessel, condenser = SETTINGS[request.param]
    condenser = {} if vessel else condenser
    return flask(batch(CHARGE, heating={"hold": "1 min"} | heating, vessel=vessel, condenser=condenser))


def oily(one) -> list[float]:
    return one.state({E: 8e-3, P: 2e-3, "benzyl alcohol": 1e-5, "crotonaldehyde": 1e-6}, **INSIDE)


@pytest.mark.parametrize("one", SETTINGS, indirect=True)
def test_jacobian_against_central_differences(one) -> None:
    """Every element within 1e-4 of its row's largest scaled element, written out against central differences of 1e-5."""
    y = np.array(oily(one))
    balance = one.balance
    balance.tolerance = (
        1e-13  # of the inner solutions, each from scratch: differences show what is left of them
    )
    balance.memory = Memory()
    jacobian = np.array(balance.jacobian(0.0, y.tolist()))
    active = len(one.network.species) + len(one.network.oils)
    central = np.zeros_like(jacobian)
    for j in range(active):
        h = 1e-5 * max(abs(y[j]), 1e-6)
        sides = []
        for sign in (1, -1):
            moved = y.copy()
            moved[j] += sign * h
            balance.memory = Memory()
            sides.append(np.array(balance.rhs(0.0, moved.tolist()), dtype=float))
        central[:, j] = (sides[0] - sides[1]) / (2 * h)
    scaled, expected = jacobian * np.maximum(y, 1e-6), central * np.maximum(y, 1e-6)
    rows = np.abs(expected).max(axis=1, keepdims=True)
    rows += (
        1e-7 * np.abs(np.array(balance.rhs(0.0, y.tolist()), dtype=float))[:, None] + 1e-14
    )  # of a constant rate: rounding
    assert np.abs(scaled[:, active:]).max() == 0.0
    assert np.abs(scaled - expected).max() > 0.0
    error = np.abs(scaled - expected) / rows
    assert error[:active].max() < 1e-4
    assert error[active:].max() < 1e-3  # what has left: flows of 1e-9 mol/s, to what the flash resolves


@pytest.mark.parametrize("one", SETTINGS, indirect=True)
def test_equations_on_arrays_are_those_on_floats(one) -> None:
    b = one.balance
    together = Balance(
        b.network, b.shelf, b.surroundings, b.condensing, b.segment, b.nucleus, ARRAYS
    )
    rng = np.random.default_rng(6)
    states = np.array(oily(one))[:, None] * rng.uniform(0.5, 1.5, (1, 6))
    rates = [np.broadcast_to(r, 6) for r in together.rhs(0.0, list(states))]
    scale = np.abs(np.array(rates)).max()
    for k in range(6):
        alone = b.rhs(0.0, states[:, k].tolist())
        assert [float(r[k]) for r in rates] == pytest.approx(alone, rel=1e-6, abs=1e-9 * scale)


def test_equations_have_a_value_at_slightly_negative_amounts(flask, batch) -> None:
    """What an integrator may try: every organic a little below zero, the oil too."""
    one = flask(batch(CHARGE, heating={"hold": "1 min"}, condenser=OPEN))
    y = oily(one)
    for i in [*range(one.network.carbon), *range(len(one.network.species), len(y))]:
        y[i] = -1e-12
    assert np.isfinite(np.array(one.balance.rhs(0.0, y), dtype=float)).all()


@pytest.mark.parametrize("high", [374.5, 377.2])
@pytest.mark.parametrize("name", ["cinnamaldehyde", "prenal", "citral", "diacetone alcohol"])
def test_interpolated_conditions(shelf, name: str, high: float) -> None:
    """All constants between 20 and 101 C at temperatures off the nodes: to 1e-9 of the correlations
    themselves.

    Of Pitzer's parameters, of either sign, 1e-9 of their largest value; that of three Na-OH passes zero at
    376.9 K.
    """
    network = build_network(shelf.substrate(name), shelf, Mechanisms())

    def exact(T):
        return conditions_at(network, shelf, T, 0.0, FLOATS)

    along = ConditionsAlong(exact, 293.15, high)
    table = np.array(
        [[list(leaves(c(T))) for T in np.linspace(293.15, high, 57).tolist()] for c in (exact, along)]
    )
    error = np.abs(table[1] - table[0])
    before = len(list(leaves(tuple(exact(300.0)[: Conditions._fields.index("pitzer")]))))
    scale = np.abs(table[0])
    parameters = slice(before, before + len(list(leaves(exact(300.0).pitzer))))
    scale[:, parameters] = scale[:, parameters].max(axis=0)
    assert table[0].shape[1] > before + 20
    assert (error / np.where(scale == 0.0, 1.0, scale)).max() < 1e-9


def test_interpolation_in_a_heat_up_equals_exact_conditions(flask, batch) -> None:
    """The rates half way up the ramp, with the constants interpolated and not."""
    one = flask(batch(CHARGE, heating={"ramp": "25 min", "start": "20 degC"}))
    y, t = oily(one), 700.0
    temperature = one.balance.segment.temperature(t)
    assert temperature == pytest.approx(293.15 + 700 / 1500 * (373.3 - 293.15), abs=0.1)
    interpolated = one.balance.rhs(t, y)
    one.balance.constant = one.balance.exact_conditions(temperature)
    assert interpolated == pytest.approx(one.balance.rhs(t, y), rel=1e-7, abs=1e-15)


def test_memory_changes_the_speed_and_not_the_answer(flask, batch) -> None:
    """The same state seen after quite another one."""
    one = flask(batch(CHARGE, heating={"hold": "1 min"}, condenser=OPEN))
    y = oily(one)
    other = [0.3 * n for n in y]
    other[one.network.carbon] *= 2.5
    first = one.balance.rhs(0.0, y)
    one.balance.rhs(0.0, other)
    assert one.balance.rhs(0.0, y) == pytest.approx(first, rel=1e-7, abs=1e-15)


def test_reactions_keep_the_elements(flask, batch) -> None:
    """Carbon, hydrogen and oxygen of the right-hand side as a whole, from formulas counted here by hand."""
    CHO = {
        E: (9, 8, 1), "3-hydroxy-3-phenylpropanal": (9, 10, 2), P: (7, 6, 1), A: (2, 4, 1), "3-hydroxybutanal": (4, 8, 2),
        "crotonaldehyde": (4, 6, 1), "5-phenylpenta-2,4-dienal": (11, 10, 1), "benzyl alcohol": (7, 8, 1),
        "benzoic acid": (7, 6, 2), "inorganic carbon": (1, 0, 2), "water": (0, 2, 1),
    }  # fmt: skip
    one = flask(batch(CHARGE, heating={"hold": "1 min"}, condenser=OPEN))
    rates = one.rates(oily(one))
    for k in range(3):
        total = sum(CHO[s][k] * r for kind in ("flask", "vent", "taken") for s, r in rates[kind].items())
        size = sum(abs(CHO[s][k] * r) for s, r in rates["flask"].items())
        drawn = 2.0 * rates["oxygen"]["drawn"] if k == 2 else 0.0
        assert size > 0.0
        assert abs(total - drawn) < 1e-12 * size


def test_frozen_switches() -> None:
    """A variant is a new object; the old one stays."""
    on = Mechanisms()
    assert replace(on, venting=False) != on and on.venting
