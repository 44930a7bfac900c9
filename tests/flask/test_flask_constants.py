"""The constants a balance is given: the condenser's, those of a stretch without a ramp, the table of one with it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kinetics.data.namespace import FLOATS
from kinetics.flask.balance import Balance, condensing_at
from kinetics.flask.conditions import conditions_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"
CHARGE = {"water": "20 mol", E: "20 mmol", "sodium carbonate": "20 mmol"}
M_WATER = 0.018015268


@pytest.mark.parametrize("oil", [True, False])
def test_condenser_by_henry_and_raoult(shelf, oil: bool) -> None:
    """20 C, 95 kPa: y/x is p c_w/(H P) for what mixes, vapour pressure over x_sat P for an oil; x_sat = S/c_w."""
    T, pressure = 293.15, 95e3
    network = build_network(shelf.substrate(E), shelf, Mechanisms(condensate_oil=oil))
    found = condensing_at(network, shelf, T, pressure, FLOATS)
    water = 998.2 / M_WATER / 1000.0  # mol/L
    free = 1.0 / (1.0 + float(shelf[f"{A}.hydration"](T)))
    at = {network.species[i]: k for k, i in enumerate(network.volatiles)}
    H = float(shelf[f"{A}.henry"](T)) / 1000.0  # mol/(L Pa)
    assert found.K[at[A]] == pytest.approx(free * water / (H * pressure), rel=1e-4)
    for name in (E, P):
        x_sat = float(shelf[f"{name}.solubility"](T)) / water
        vapour = float(shelf[f"{name}.vapour_pressure"](T))
        assert found.K[at[name]] == pytest.approx(vapour / (x_sat * pressure), rel=1e-4)
        assert found.inverse_saturation[at[name]] == (pytest.approx(1.0 / x_sat, rel=1e-4) if oil else 0.0)
    assert found.inverse_saturation[at[A]] == found.inverse_saturation[at["inorganic carbon"]] == 0.0
    assert found.water_fraction == pytest.approx(2339.3 / pressure, rel=1e-4)  # IAPWS-95


def test_any_temperature_may_be_asked_of_a_stretch_without_a_ramp(flask, batch) -> None:
    b = flask(batch(CHARGE, heating={"start": "60 degC", "temperature": "60 degC"})).balance
    assert b.constant is not None and b.constant.temperature == pytest.approx(333.15)
    assert b.conditions_at(350.0) == conditions_at(b.network, b.shelf, 350.0, 0.0, FLOATS)


def test_a_ramp_asks_its_table_and_not_the_correlations(flask, batch, monkeypatch) -> None:
    """Once the table is made, temperatures on the ramp cost no correlation: this is what it is there for."""
    b = flask(batch(CHARGE, heating={"ramp": "25 min", "start": "20 degC"})).balance
    expected = b.exact_conditions(330.0)

    def refuse(self, T):
        raise AssertionError("a correlation was asked")

    monkeypatch.setattr(Balance, "exact_conditions", refuse)
    found = b.conditions_at(330.0)
    assert found.density == pytest.approx(expected.density, rel=1e-10)
    assert [type(x) for x in found] == [type(x) for x in expected]
    assert [type(x) for x in found.pitzer] == [type(x) for x in expected.pitzer]


@pytest.mark.parametrize("boiling", [True, False])
@pytest.mark.parametrize("switch", [True, False])
@pytest.mark.parametrize("closed", [True, False])
def test_distillate_is_taken_only_at_the_boil_of_an_open_flask(flask, batch, shelf, boiling, switch, closed) -> None:
    b = flask(batch(CHARGE, condenser={"take_off": "0.3 mL/min"}), Mechanisms(take_off=switch)).balance
    surroundings, segment = b.surroundings._replace(closed=closed), replace(b.segment, boiling=boiling)
    other = Balance(b.network, shelf, surroundings, b.condensing, segment, b.nucleus, FLOATS)
    assert surroundings.take_off > 0.0
    assert other.take_off == (surroundings.take_off if boiling and switch and not closed else 0.0)
    assert other.vapour == (boiling and not closed)
    assert other.air_fraction == (0.0 if closed else pytest.approx(1.0))


def test_no_more_is_taken_off_than_condenses(flask, batch) -> None:
    """Three times what boils asked for: all that falls back is taken, and no more."""
    one = flask(batch(CHARGE | {A: "1 mmol"}, condenser={"take_off": "0.3 mL/min"}))
    one.balance.take_off = 3.0 * one.balance.surroundings.boil_up
    got = one.rates(one.state())
    boiled = one.balance.surroundings.boil_up
    assert got["taken"]["water"] == pytest.approx(boiled - got["vent"]["water"], rel=1e-12)


def test_what_has_no_setschenow_constant_is_not_salted_out(flask, batch, shelf) -> None:
    b = flask(batch(CHARGE)).balance
    records = {k: v for k, v in shelf.records.items() if not k.startswith(f"{P}.setschenow")}
    poorer = replace(shelf, records=records)
    assert len(records) < len(shelf.records)
    other = Balance(b.network, poorer, b.surroundings, b.condensing, b.segment, b.nucleus, FLOATS)
    y = flask(batch(CHARGE)).state()
    factors, before = other.salting_factors(other.state(0.0, y)), b.salting_factors(b.state(0.0, y))
    i = b.network.position(P)
    assert factors[i] == 1.0 < before[i]
    assert factors[b.network.position(E)] == pytest.approx(before[b.network.position(E)], rel=1e-9)


@pytest.mark.parametrize("order", [0.0, 0.5, 1.0, 2.0])
def test_steps_of_any_order_in_hydroxide(flask, batch, order: float) -> None:
    """Against the same step at 1 mol/L of hydroxide: [OH-] to the power of its order."""
    one = flask(batch(CHARGE, vessel={"closed": True}))
    b, y = one.balance, one.state()
    b.tolerance = 1e-13
    oh = b.state(0.0, y).hydroxide
    got = {}
    for power in (0.0, order):
        b.network = replace(one.network, steps=tuple(s._replace(hydroxide_order=power) for s in one.network.steps))
        got[power] = b.rhs(0.0, y)[b.network.position(E)]
        slopes = b.jacobian(0.0, y)[b.network.position(E)]
        assert slopes[b.network.position(E)] == pytest.approx(got[power] / y[b.network.position(E)], rel=1e-9)
    assert got[0.0] < 0.0 and oh < 0.1
    assert got[order] == pytest.approx(got[0.0] * oh**order, rel=1e-9)


def test_every_univalent_ion_salts_out(flask, batch) -> None:
    """Setschenow by hand from the ions themselves: carbonate by its constant; bicarbonate, hydroxide, benzoate and
    chloride by the salt's."""
    charge = CHARGE | {"benzoic acid": "10 mmol", "sodium chloride": "15 mmol", "sodium bicarbonate": "5 mmol"}
    one = flask(batch(charge, heating={"temperature": "60 degC"}))
    b = one.balance
    state = b.state(0.0, one.state())
    s, per_litre = state.speciation, state.water_kg / state.volume
    assert min(s.bicarbonate, s.organic, state.totals.chloride) > 1e-3
    univalent = (s.bicarbonate + s.hydroxide + s.organic + state.totals.chloride) * per_litre
    i = b.network.position(E)
    exponent = b.salting_carbonate[i] * s.carbonate * per_litre + b.salting_salt[i] * univalent
    assert b.salting_factors(state)[i] == pytest.approx(10.0**exponent, rel=1e-12)


def test_carbon_dioxide_is_salted_out_by_either_metal_by_its_share(flask, batch, shelf) -> None:
    """2 lambda of each metal (C. E. Harvie, N. Moller, J. H. Weare 1984), a third of the metal being potassium."""
    network = flask(batch(CHARGE)).network
    sodium, potassium = (shelf[f"pitzer.lambda.carbon dioxide_{metal}"].value for metal in ("sodium", "potassium"))
    assert sodium != potassium != 0.0
    found = conditions_at(network, shelf, 298.15, 1.0 / 3.0, FLOATS).acid_base.ln_carbon_dioxide
    assert found == pytest.approx(2.0 * (2.0 * sodium + potassium) / 3.0, rel=1e-12)


def test_pressure_of_carbon_dioxide_by_henry(flask, batch, shelf) -> None:
    """Of 1 mol/L at 25 C: Henry's pressure over the mole fraction 1 mol/L has in 997.05/18.0153 mol/L of water.

    1e-4: of the table of densities."""
    network = flask(batch(CHARGE)).network
    found = conditions_at(network, shelf, 298.15, 0.0, FLOATS).partial_pressure[network.volatiles.index(network.carbon)]
    henry = float(shelf["carbon dioxide.henry_pressure"](298.15))
    assert found == pytest.approx(henry / (997.047 / 18.015268), rel=1e-4)
