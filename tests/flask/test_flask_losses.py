"""What leaves the flask: boil, sweep below the boil, carbon dioxide, take-off; each by hand, and nothing
when closed."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

import kinetics

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"
R = 8.314462618
RHO_100 = 958.349  # kg/m3, IAPWS-95
M_WATER = 0.018015268
NO_AIR = {"air_exchange": "0 mL/min"}
ALL_COMES_OVER = {"boil_up": "1.08 mL/min"}


def henry(T: float) -> float:
    """Free acetaldehyde [mol/m3/Pa]: 0.0631 at 25 C, 4537 K (Sander 2015 less the hydrate); dCp 150 J/mol/K,
    estimate."""
    return 0.0631 * exp(4537.0 * (1 / T - 1 / 298.15) + 150.0 / R * (np.log(T / 298.15) + 298.15 / T - 1))


def effective_henry(T: float) -> float:
    """With the hydrate: K 1.06 at 25 C (PNAS 98 (2001) 2194), -20.4 kJ/mol (Nakazawa & Takahashi 1999)."""
    return henry(T) * (1.0 + 1.06 * exp(20400.0 / R * (1 / T - 1 / 298.15)))


def per_minute(mL: float) -> float:
    """mL/min of dry gas at 20 C and 101325 Pa as mol/s."""
    return mL * 1e-6 / 60 * 101325 / (R * 293.15)


def water_pressure(t_C: float) -> float:
    """[Pa], IAPWS-95."""
    return {20: 2339.3, 40: 7384.9, 60: 19946.4}[t_C]


@pytest.mark.parametrize("make_up", [False, True])
def test_distilling_a_volatile_by_rayleigh(batch, only, make_up: bool) -> None:
    """All vapour condensed and taken: n/n0 = (W/W0)^K, K = (rho/M)/(H P); with make-up n/n0 = exp(-K D/W).

    Pure water at 101325 Pa boils at 373.124 K. 1e-5 on n/n0: the density table, raised K-fold, by 85.
    """
    scenario = batch(
        {"water": "55 mol", A: "1 mmol"},
        heating=ALL_COMES_OVER | {"hold": "30 min"},
        condenser=NO_AIR | {"take_off": "1.08 mL/min", "make_up": make_up},
    )
    series = kinetics.simulate(scenario, mechanisms=only("venting", "take_off"), rtol=1e-9).series
    D = scenario.condenser.take_off_mol_per_s * 1800.0
    assert D == pytest.approx(1.08 * 30 * 0.99816 / 18.0153, rel=1e-4)  # mL at 20 C
    K = RHO_100 / M_WATER / (effective_henry(373.124) * 101325.0)
    expected = exp(-K * D / 55.0) if make_up else (1.0 - D / 55.0) ** K
    assert 0.01 < expected < 0.1
    assert series.flask_mol[A][-1] / 1e-3 == pytest.approx(expected, rel=3e-4)
    assert series.taken_off_mol[A][-1] == pytest.approx(1e-3 - series.flask_mol[A][-1], rel=1e-8)
    assert series.taken_off_mol["water"][-1] == pytest.approx(D, rel=1e-8)
    assert series.flask_mol["water"][-1] == pytest.approx(55.0 if make_up else 55.0 - D, rel=1e-10)


def test_exponent_of_rayleigh_follows_from_the_run_itself(batch, only) -> None:
    """The same K at every moment: ln n against ln W is a straight line, to the tolerance asked for."""
    scenario = batch(
        {"water": "55 mol", A: "1 mmol"},
        heating=ALL_COMES_OVER | {"hold": "30 min"}, condenser=NO_AIR | {"take_off": "1.08 mL/min"},
    )  # fmt: skip
    flask_mol = kinetics.simulate(
        scenario, mechanisms=only("venting", "take_off"), rtol=1e-9
    ).series.flask_mol
    slope = np.log(flask_mol[A][1:] / 1e-3) / np.log(flask_mol["water"][1:] / 55.0)
    assert slope == pytest.approx(np.full_like(slope, slope[-1]), rel=1e-6)


def test_part_of_the_condensate_taken(flask, batch, only) -> None:
    """A quarter of the condensate taken holds a quarter of what condensed; all of it is what boiled less the
    vent."""
    scenario = batch(
        {"water": "55 mol", A: "1 mmol"}, heating=ALL_COMES_OVER, condenser={"take_off": "0.27 mL/min"}
    )
    one = flask(scenario, only("venting", "take_off"))
    got = one.rates(one.state())
    boiled = scenario.heating.boil_up_mol_per_s
    in_vapour = 1e-3 / 55.0 * RHO_100 / M_WATER / (effective_henry(373.124) * 101325.0) * boiled
    condensed = boiled - got["vent"]["water"]
    assert got["taken"]["water"] == pytest.approx(0.25 * boiled, rel=1e-9)
    part = 0.25 * boiled / condensed
    assert got["taken"][A] == pytest.approx(part * (in_vapour - got["vent"][A]), rel=1e-4)
    assert got["flask"][A] == pytest.approx(-got["taken"][A] - got["vent"][A], rel=1e-6)


def test_loss_at_the_boil_through_the_condenser(flask, batch, only) -> None:
    """dn/dt = -phi B y by hand: y = K_100 x, phi = K_20 G/(L + K_20 G), G the 10 mL/min of air saturated
    with water."""
    scenario = batch({"water": "55 mol", A: "1e-6 mol"}, heating=ALL_COMES_OVER)
    one = flask(scenario, only("venting"))
    got = one.rates(one.state())
    B = 1.08 / 60 * 0.99816 / 18.0153
    G = per_minute(10.0) / (1.0 - water_pressure(20) / 101325.0)
    L = B - G * water_pressure(20) / 101325.0
    K_20 = 998.162 / M_WATER / (effective_henry(293.15) * 101325.0)
    K_100 = RHO_100 / M_WATER / (effective_henry(373.124) * 101325.0)
    loss = K_20 * G / (L + K_20 * G) * B * K_100 * 1e-6 / 55.0
    assert got["vent"][A] == pytest.approx(loss, rel=2e-4)  # of the tables of water
    assert got["vent"]["water"] == pytest.approx(G - per_minute(10.0), rel=2e-4)
    assert got["flask"][A] == pytest.approx(-loss, rel=2e-4)


@pytest.mark.parametrize("t_C", [40, 60])
def test_sweep_below_the_boil_carries_equilibrium_vapour(flask, batch, only, t_C: int) -> None:
    """Loss of A = gas flow x p_A/(P - p_w); what meets no colder condenser leaves, water with it."""
    scenario = batch(
        {"water": "55 mol", A: "1e-6 mol"},
        heating={"start": f"{t_C} degC", "temperature": f"{t_C} degC"},
        condenser=NO_AIR | {"sweep": "20 mL/min", "coolant": f"{t_C} degC", "approach": "1 K"},
    )
    one = flask(scenario, only("venting"))
    got = one.rates(one.state())
    rho = {40: 992.175, 60: 983.160}[t_C]
    p_A = 1e-6 / (55.0 * M_WATER / rho) / effective_henry(t_C + 273.15)
    pw, S = water_pressure(t_C), per_minute(20.0)
    assert got["vent"][A] == pytest.approx(S * p_A / (101325.0 - pw), rel=2e-4)
    assert got["vent"]["water"] == pytest.approx(S * pw / (101325.0 - pw), rel=2e-4)


def test_a_colder_condenser_holds_back_what_the_sweep_carried(flask, batch, only) -> None:
    """The same at 60 C through a condenser at 20 C: the condensed water holds back its share of A."""
    scenario = batch(
        {"water": "55 mol", A: "1e-6 mol"},
        heating={"start": "60 degC", "temperature": "60 degC"}, condenser=NO_AIR | {"sweep": "20 mL/min"},
    )  # fmt: skip
    one = flask(scenario, only("venting"))
    got = one.rates(one.state())
    pw, S, y20 = water_pressure(60), per_minute(20.0), water_pressure(20) / 101325.0
    carried = S * pw / (101325.0 - pw)
    G = S / (1 - y20)
    L = carried - G * y20
    K = 998.162 / M_WATER / (effective_henry(293.15) * 101325.0)
    brought = S * 1e-6 / (55.0 * M_WATER / 983.160) / effective_henry(333.15) / (101325.0 - pw)
    assert got["vent"][A] == pytest.approx(brought * K * G / (L + K * G), rel=2e-4)
    assert got["vent"]["water"] == pytest.approx(G * y20, rel=2e-4)


def test_below_the_boil_without_a_sweep_nothing_leaves(batch) -> None:
    charge = {"water": "300 mL", E: "1 g", A: "1 g", "sodium bicarbonate": "2 g"}
    run = kinetics.simulate(batch(charge, heating={"temperature": "95 degC", "hold": "5 h"}))
    assert all((amount == 0.0).all() for amount in run.series.left_mol.values())


def test_salt_drives_acetaldehyde_out(flask, batch, only) -> None:
    """Its vapour rises by 10^(0.03 c) with c of sodium chloride (0.03 L/mol, estimate from sea water)."""
    charge = {"water": "56 mol", A: "1e-6 mol", "sodium chloride": "1 mol"}
    rate = []
    for mechanisms in (only("venting"), only("venting", "salting_out")):
        one = flask(batch(charge, heating=ALL_COMES_OVER), mechanisms)
        rate.append(one.rates(one.state())["vent"][A])
    V = 55.5 * M_WATER / (RHO_100 * 1e-3)
    assert rate[1] / rate[0] == pytest.approx(10 ** (0.03 / V), rel=1e-5)


SODA = {"water": "400 mL", "sodium bicarbonate": "0.1 mol"}


def test_bicarbonate_liquor_drifts_to_carbonate_at_the_boil(batch, only) -> None:
    """2 HCO3- -> CO3-- + CO2 + H2O: swept, the carbon falls from one per sodium towards a half, the pH rises
    throughout.

    Each mol of CO2 gone is one mol of carbonate more: at fixed alkali, HCO3- + 2 CO3-- = Na and the sum is
    the carbon.
    """
    scenario = batch(
        SODA,
        heating={"hold": "2 h", "boil_up": "5 mL/min"},
        condenser={"coolant": "60 degC", "sweep": "1 L/min"},
    )
    series = kinetics.simulate(scenario, mechanisms=only("carbon_dioxide_loss")).series
    carbon = series.flask_mol["inorganic carbon"]
    assert carbon[0] == pytest.approx(0.1, rel=1e-12)
    assert (np.diff(carbon) < 0.0).all() and (np.diff(series.pH) > 0.0).all()
    assert 0.05 < carbon[-1] < 0.051
    assert series.left_mol["inorganic carbon"] + carbon == pytest.approx(np.full_like(carbon, 0.1), rel=1e-9)
    carbonate = batch({"water": "400 mL", "sodium carbonate": "0.05 mol"}, heating={"boil_up": "5 mL/min"})
    limit = kinetics.simulate(carbonate, mechanisms=only()).series.pH[0]
    assert series.pH[0] < limit - 2.0
    assert series.pH[-1] == pytest.approx(limit, abs=0.05)


def test_carbon_dioxide_at_the_boil_by_hand(flask, batch, only) -> None:
    """n' = B y with y = x k_H/P, k_H(100 C) = 507.69 MPa (IAPWS G7-04), x from the speciation; the swept
    condenser takes all.

    Salting out of CO2 as in the speciation: 2 x 0.100 kg/mol of sodium (Harvie, Moller & Weare 1984, from
    memory).
    """
    scenario = batch(
        SODA, heating={"boil_up": "1.08 mL/min"}, condenser={"coolant": "85 degC", "sweep": "20 L/min"}
    )
    one = flask(scenario, only("carbon_dioxide_loss"))
    y = one.state()
    s = one.balance.state(0.0, y).speciation
    kg = y[one.network.water] * M_WATER
    x = s.carbon_dioxide * M_WATER * exp(0.2 * 0.1 / kg)
    expected = scenario.heating.boil_up_mol_per_s * x * 507.69e6 / 101325.0
    assert one.rates(y)["vent"]["inorganic carbon"] == pytest.approx(
        expected, rel=5e-3
    )  # boils at 99.97 C; K is large


def test_carbon_dioxide_stays_when_switched_off(batch, without) -> None:
    off = kinetics.simulate(batch(SODA), mechanisms=without("carbon_dioxide_loss")).series
    assert (off.flask_mol["inorganic carbon"] == off.flask_mol["inorganic carbon"][0]).all()
    assert "inorganic carbon" not in off.left_mol


def test_take_off_switched_off(batch, without) -> None:
    scenario = batch({"water": "300 mL", E: "1 g"}, condenser={"take_off": "1 mL/min"})
    off = kinetics.simulate(scenario, mechanisms=without("take_off")).series
    assert all((amount == 0.0).all() for amount in off.taken_off_mol.values())
    on = kinetics.simulate(scenario).series
    assert on.taken_off_mol["water"][-1] == pytest.approx(60 * 0.99816 / 18.0153, rel=1e-4)


def test_nothing_leaves_a_closed_vessel(batch) -> None:
    """Exactly nothing, at a temperature far above the boil of acetaldehyde."""
    charge = {"water": "300 mL", E: "1 g", A: "1 g", "sodium bicarbonate": "2 g"}
    series = kinetics.simulate(
        batch(charge, heating={"temperature": "120 degC"}, vessel={"closed": True})
    ).series
    assert all(
        (amount == 0.0).all() for amount in (*series.left_mol.values(), *series.taken_off_mol.values())
    )
    assert (series.oxygen_drawn_mol == 0.0).all()
    assert (series.flask_mol["inorganic carbon"] == series.flask_mol["inorganic carbon"][0]).all()
