"""When it boils: pure water under many pressures, salt against the ebullioscopic constant and the activity
of water."""

from __future__ import annotations

from math import exp

import pytest
from scipy.optimize import brentq

import kinetics
from kinetics.flask.boil import saturation_temperature

TB, HVAP, M_WATER, R = 373.124, 40657.0, 0.0180153, 8.314462618  # K, J/mol, kg/mol (IAPWS-95), J/mol/K
EBULLIOSCOPIC = R * TB**2 * M_WATER / HVAP  # 0.513 K kg/mol


def boil_C(batch, mechanisms, charge, heating=None) -> float:
    return kinetics.simulate(
        batch(charge, heating=heating), mechanisms=mechanisms, times=[]
    ).summary.boil_point_degC


def test_ebullioscopic_constant_of_water() -> None:
    """R Tb^2 M/dH comes to the 0.513 K kg/mol of the textbooks."""
    assert EBULLIOSCOPIC == pytest.approx(0.513, abs=5e-4)


@pytest.mark.parametrize(
    ("height_m", "kPa", "Tb_C"),  # ISO 2533 pressures with IAPWS-95 saturation; 0.001 K
    [
        (0, 101.325, 99.974),
        (500, 95.461, 98.313),
        (1609, 83.435, 94.621),
        (2500, 74.692, 91.648),
        (4000, 61.660, 86.628),
    ],
)
def test_boil_point_of_water_at_altitude(batch, only, shelf, height_m: int, kPa: float, Tb_C: float) -> None:
    """The last digit of the table's pressure is worth 0.0003 K; geometric and geopotential height differ by
    0.03 %."""
    found = boil_C(batch, only("boiling_point_elevation"), {"water": "1 L"}, {"altitude": f"{height_m} m"})
    assert found == pytest.approx(Tb_C, abs=0.002 + 0.0003 * height_m * 0.0035)
    assert saturation_temperature(kPa * 1000, shelf) - 273.15 == pytest.approx(Tb_C, abs=0.002)


DEBYE_HUCKEL = (
    0.460  # kg^1/2 mol^-1/2 at 100 C: ln 10/3 of the 0.5990 made from the permittivity and density of IAPWS
)
RISE = (
    0.2765 * 101.325 * M_WATER
)  # K per mol/kg of particles: dT/dp of the saturation line (IAPWS-95) times p M


@pytest.mark.parametrize("m", [0.01, 0.03])
def test_a_little_salt_raises_it_by_the_ebullioscopic_constant(batch, only, m: float) -> None:
    """dT = 2 m phi Kb for a 1-1 salt; phi = 1 - A I^1/2/(1 + 1.2 I^1/2) + (beta0 + beta1 e^-2 sqrt I) m,
    A(100 C) = 0.460.

    Steam is taken as ideal, so the slope of the saturation line stands for Kb: 0.505 in place of 0.513 K
    kg/mol. 5e-3: the half mole of water that sodium chloride takes out of the count, and the curvature.
    """
    root = m**0.5
    phi = 1.0 - DEBYE_HUCKEL * root / (1.0 + 1.2 * root) + (0.0765 + 0.2664 * exp(-2.0 * root)) * m
    charge = {"water": "1 kg", "sodium chloride": f"{m} mol"}
    pure, salted = (boil_C(batch, only(*on), charge) for on in ((), ("boiling_point_elevation",)))
    assert pure == pytest.approx(99.974, abs=0.001)
    assert salted - pure == pytest.approx(2 * m * phi * RISE, rel=5e-3)
    assert salted - pure == pytest.approx(2 * m * phi * EBULLIOSCOPIC, rel=0.02)


def test_davies_takes_the_osmotic_coefficient_as_one(batch, only) -> None:
    charge = {"water": "1 kg", "sodium chloride": "0.01 mol"}
    salted = boil_C(batch, only("boiling_point_elevation", activity="davies"), charge)
    assert salted - boil_C(batch, only(), charge) == pytest.approx(0.02 * RISE, rel=2e-3)


@pytest.mark.parametrize(
    "salt", ["sodium carbonate", "potassium carbonate", "sodium hydroxide", "sodium chloride"]
)
def test_strong_liquor_boils_where_its_water_presses_as_the_air(flask, batch, only, shelf, salt: str) -> None:
    """a_w p_water(T) = P: the root found here by bisection on the pressure, a_w from the flask's own boiling
    liquor.

    The Wagner-Pruss equation is that of the shelf; a_w is checked against Gibbs energies in tests/chemistry.
    """
    scenario = batch({"water": "1 kg", salt: "1 mol"})
    one = flask(scenario, only("boiling_point_elevation"))
    state = one.balance.state(0.0, one.state())
    a_w = exp(state.speciation.activities.ln_water)
    assert a_w < 0.975
    T = brentq(
        lambda t: a_w * float(shelf["water.saturation_pressure"](t)) - 101325.0, 373.0, 380.0, xtol=1e-10
    )
    assert state.conditions.temperature == pytest.approx(T, abs=1e-6)
    assert 0.7 < T - TB < 1.8
    assert boil_C(batch, only("boiling_point_elevation"), {"water": "1 kg", salt: "1 mol"}) == pytest.approx(
        T - 273.15, abs=1e-6
    )


def test_boil_point_rises_as_distillate_is_drawn(batch, only) -> None:
    """Half the water gone, the salt is twice as strong: the end is where the strong liquor would start."""
    scenario = batch(
        {"water": "40 mol", "sodium carbonate": "0.4 mol"},
        heating={"boil_up": "20 mL/min", "hold": "20 min"},
        condenser={"take_off": "18 mL/min", "air_exchange": "0 mL/min"},
    )
    series = kinetics.simulate(scenario, mechanisms=only("boiling_point_elevation", "take_off")).series
    water = series.flask_mol["water"]
    assert water[-1] < 0.55 * water[0]
    start, end = (
        boil_C(batch, only("boiling_point_elevation"), {"water": f"{w} mol", "sodium carbonate": "0.4 mol"})
        for w in (40.0, water[-1])
    )
    assert series.temperature_K[0] - 273.15 == pytest.approx(start, abs=1e-6)
    assert series.temperature_K[-1] - 273.15 == pytest.approx(end, abs=1e-4)
    middle = len(water) // 2
    between = boil_C(
        batch,
        only("boiling_point_elevation"),
        {"water": f"{water[middle]} mol", "sodium carbonate": "0.4 mol"},
    )
    assert series.temperature_K[middle] - 273.15 == pytest.approx(
        between, abs=0.02
    )  # straight in the molality


def test_hold_at_or_above_the_boil_is_a_boil(batch, only) -> None:
    """110 degC asked of an open vessel is the boil; just below the boil is not: nothing leaves."""
    charge = {"water": "1 L", "acetaldehyde": "1 g"}
    boiling = kinetics.simulate(
        batch(charge, heating={"temperature": "110 degC"}), mechanisms=only("venting")
    ).series
    below = kinetics.simulate(
        batch(charge, heating={"temperature": "99.9 degC"}), mechanisms=only("venting")
    ).series
    assert boiling.temperature_K[-1] == pytest.approx(TB, abs=0.001)
    assert boiling.left_mol["acetaldehyde"][-1] > 0.0
    assert below.temperature_K[-1] == pytest.approx(373.05, abs=1e-9)
    assert (below.left_mol["acetaldehyde"] == 0.0).all()
