"""Some of many samples taken out of an array balance: each keeps its own constants, surroundings and state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kinetics.data.namespace import ARRAYS
from kinetics.flask.balance import Balance, condensing_at, taken
from kinetics.flask.interpolation import leaves

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"
CHARGE = {
    "water": "20 mol", E: "20 mmol", P: "5 mmol", A: "3 mmol", "sodium bicarbonate": "30 mmol",
    "sodium hydroxide": "20 mmol", "sodium chloride": "5 mmol",
}  # fmt: skip
SWEPT = {"sweep": "20 mL/min", "sweep_gas": "air", "take_off": "0.1 mL/min"}
COUNT = 5
KEEP = np.array([3, 0])
SPREAD = np.linspace(0.8, 1.2, COUNT)
STAGES = {
    "heat-up": ({"ramp": "25 min", "start": "20 degC", "hold": "1 min"}, 700.0),
    "boil": ({"hold": "1 min"}, 0.0),
    "at 80 C": ({"start": "80 degC", "temperature": "80 degC", "hold": "1 min"}, 0.0),
}


def many(one, shelf) -> tuple[Balance, np.ndarray]:
    """The flask's balance for five samples that differ in whatever may differ, and a state for each."""
    b, network = one.balance, one.network
    s, segment = b.surroundings, b.segment
    surroundings = s._replace(
        boil_up=s.boil_up * SPREAD, k_La=s.k_La * SPREAD, air_exchange=s.air_exchange * SPREAD[::-1],
        take_off=s.take_off * SPREAD, sweep=s.sweep * SPREAD, condenser_K=s.condenser_K + 10.0 * (SPREAD - 1.0),
    )  # fmt: skip
    start = segment.start_K + 3.0 * (SPREAD - 1.0)
    segment = replace(
        segment,
        start_K=start,
        end_K=start if b.segment.isothermal else segment.end_K + 2.0 * (SPREAD - 1.0),
        strong={ion: amount * SPREAD for ion, amount in segment.strong.items()},
        feed={E: 1e-6 * SPREAD},
    )
    condensing = condensing_at(network, shelf, surroundings.condenser_K, s.pressure, ARRAYS)
    balance = Balance(network, shelf, surroundings, condensing, segment, 1e-8 * SPREAD, ARRAYS)
    y = np.array(one.state({E: 8e-3, P: 2e-3}))[:, None] * np.linspace(0.9, 1.1, COUNT)
    return balance, y


@pytest.mark.parametrize("stage", STAGES)
def test_samples_taken_out_have_the_rates_they_had_among_all(flask, batch, shelf, stage: str) -> None:
    """Rates and Jacobian of samples 3 and 0 alone against theirs among five, and every sample has its own."""
    heating, t = STAGES[stage]
    condenser = SWEPT | ({"take_off": "0 mL/min"} if stage == "at 80 C" else {})
    balance, y = many(flask(batch(CHARGE, heating=heating, condenser=condenser)), shelf)
    together = np.array([np.broadcast_to(r, COUNT) for r in balance.rhs(t, list(y))])
    some = balance.take(KEEP)
    assert some.segment.isothermal == balance.segment.isothermal == (stage == "at 80 C")
    assert (some.memory.speciation.pH == balance.memory.speciation.pH[KEEP]).all()  # where the next solution starts
    assert (some.memory.flash.gas == balance.memory.flash.gas[KEEP]).all()
    apart = np.array([np.broadcast_to(r, len(KEEP)) for r in some.rhs(t, list(y[:, KEEP]))])
    scale = np.abs(together).max(axis=1, keepdims=True)
    assert (np.abs(apart - together[:, KEEP]) <= 1e-9 * scale).all()
    assert np.abs(together - together[:, :1]).max() > 1e-3 * scale.max()
    whole, part = (
        np.array([[np.broadcast_to(x, n) for x in row] for row in b.jacobian(t, list(states))])
        for b, states, n in ((balance, y, COUNT), (some, y[:, KEEP], len(KEEP)))
    )
    rows = np.abs(whole).max(axis=(1, 2), keepdims=True)
    assert (np.abs(part - whole[..., KEEP]) <= 1e-4 * rows).all()


def test_taking_samples_leaves_the_others_where_they_were(flask, batch, shelf) -> None:
    balance, y = many(flask(batch(CHARGE, heating=STAGES["heat-up"][0], condenser=SWEPT)), shelf)
    before = np.array([np.broadcast_to(r, COUNT) for r in balance.rhs(700.0, list(y))])
    balance.take(KEEP).rhs(700.0, list(y[:, KEEP]))
    after = np.array([np.broadcast_to(r, COUNT) for r in balance.rhs(700.0, list(y))])
    assert (np.abs(after - before) <= 1e-9 * np.abs(before).max(axis=1, keepdims=True)).all()


def test_the_table_of_a_ramp_is_cut_with_the_samples(flask, batch, shelf) -> None:
    balance, _ = many(flask(batch(CHARGE, heating=STAGES["heat-up"][0], condenser=SWEPT)), shelf)
    T = 330.0 + SPREAD
    whole, part = balance.conditions_at(T), balance.take(KEEP).along(T[KEEP])
    assert part.density == pytest.approx(whole.density[KEEP], rel=1e-13)
    assert part.forward[0] == pytest.approx(whole.forward[0][KEEP], rel=1e-13)


def test_the_table_serves_the_ramps_of_all_samples(flask, batch, shelf) -> None:
    """Starts from 0 to 40 C, ends from 70 to 100 C, sodium beside potassium in other shares: every constant to 1e-8 of
    the correlations (of Pitzer's, which may pass zero, 1e-8 of the largest), and at a node of the table itself."""
    balance, _ = many(flask(batch(CHARGE, heating=STAGES["heat-up"][0], condenser=SWEPT)), shelf)
    spread = replace(
        balance.segment,
        start_K=np.linspace(313.15, 273.15, COUNT),
        end_K=np.linspace(343.15, 373.15, COUNT),
        strong={"sodium": 0.05 * SPREAD, "potassium": np.linspace(0.01, 0.1, COUNT)},
    )
    cooling = replace(spread, start_K=spread.end_K, end_K=spread.start_K)
    for b in (Balance(balance.network, shelf, balance.surroundings, balance.condensing, segment, 1e-8, ARRAYS)
              for segment in (spread, cooling)):  # fmt: skip
        pairs = [
            pair
            for T in (spread.start_K, spread.end_K, np.full(COUNT, b.along.nodes[3]))
            for pair in zip(leaves(b.conditions_at(T)), leaves(b.exact_conditions(T)), strict=True)
        ]
        assert len(pairs) > 180
        for found, exact in pairs:
            assert found == pytest.approx(exact, rel=1e-8, abs=1e-8 * np.abs(exact).max())


def test_taken_of_a_structure() -> None:
    """Every array is cut along its last axis, whatever holds it; the kinds of the containers stay."""
    rows = np.arange(10.0).reshape(2, 5)
    found = taken({"a": [rows, 1.5], "b": (np.array(7.0), "text")}, KEEP)
    assert found["a"][0].tolist() == [[3.0, 0.0], [8.0, 5.0]]
    assert isinstance(found["a"], list) and found["a"][1] == 1.5
    assert isinstance(found["b"], tuple) and found["b"][0].shape == () and found["b"][1] == "text"
