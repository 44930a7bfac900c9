"""Water and the gases in it against the releases of IAPWS, and the iapws library where installed.

Saturation pressures stand in the dossier: kinetics/data/checks/iapws_releases.toml.
"""

import numpy as np
import pytest

from kinetics.data import load_shelf
from kinetics.data.namespace import FLOATS

SHELF = load_shelf()
ZERO = 273.15
BETWEEN_NODES_C = [3.0, 15.0, 35.0, 55.0, 85.0, 97.5, 102.5, 115.0, 125.0, 145.0]


@pytest.mark.parametrize("t_C", BETWEEN_NODES_C)
def test_polynomials_between_the_nodes_of_their_tables(t_C: float) -> None:
    """Within what the shelf states of each fit; the library computes IAPWS-95 and R8-97 itself."""
    iapws = pytest.importorskip("iapws")
    from iapws._iapws import _Dielectric

    T = ZERO + t_C
    liquid, vapour = iapws.IAPWS95(T=T, x=0), iapws.IAPWS95(T=T, x=1)
    assert SHELF["water.density"](T) == pytest.approx(liquid.rho, abs=0.01)
    assert SHELF["water.permittivity"](T) == pytest.approx(_Dielectric(liquid.rho, T), abs=0.002)
    heat = (vapour.h - liquid.h) * 18.015268
    assert SHELF["water.vaporisation_enthalpy"](T) == pytest.approx(heat, abs=0.01 * 18.0 + 2e-5 * heat)


def test_pKw_of_the_release() -> None:
    """IAPWS R11-07(2019): 0 to 150 C at saturation, three decimals."""
    t_C = np.array([0.0, 25, 50, 75, 100, 150])
    published = [14.946, 13.995, 13.264, 12.696, 12.252, 11.641]
    np.testing.assert_allclose(SHELF["water.pKw_check"](t_C + ZERO), published, atol=0.0008)


def test_pKw_of_the_release_at_1_g_per_cm3() -> None:
    """The release's computer check: 13.906565 at 300 K and 1 g/cm3."""
    from kinetics.data.forms import bandura_lvov

    coefficients = SHELF["water.pKw_check"].coefficients
    pKw = bandura_lvov(300.0, coefficients, FLOATS, lambda T, m: 1000.0)
    assert pKw == pytest.approx(13.906565, abs=1e-6)


def test_both_formulations_of_pKw_agree_within_their_uncertainty() -> None:
    T = np.linspace(273.15, 423.15, 31)
    difference = SHELF["water.pKw"](T) - SHELF["water.pKw_check"](T)
    assert np.max(np.abs(difference)) < 2 * np.hypot(0.01, 0.01)


@pytest.mark.parametrize(("gas", "symbol"), [("carbon dioxide", "CO2"), ("oxygen", "O2")])
def test_henry_constants_against_the_library(gas: str, symbol: str) -> None:
    """IAPWS G7-04, in MPa there."""
    iapws = pytest.importorskip("iapws")
    published = np.array([iapws._iapws._Henry(T, symbol) for T in (300.0, 350.0, 400.0)]) * 1e6
    computed = SHELF[f"{gas}.henry_pressure"](np.array([300.0, 350.0, 400.0]))
    np.testing.assert_allclose(computed, published, rtol=1e-4)


def test_henry_constant_of_the_guideline() -> None:
    """IAPWS G7-04, check values of ln(kH/GPa) at 300 and 400 K: CO2 -1.7508, -0.5450; O2 1.5024, 1.8832.

    Values from memory of the guideline's table; four decimals.
    """
    T = np.array([300.0, 400.0])
    np.testing.assert_allclose(
        np.log(SHELF["carbon dioxide.henry_pressure"](T) / 1e9), [-1.7508, -0.5450], atol=6e-5
    )
    np.testing.assert_allclose(np.log(SHELF["oxygen.henry_pressure"](T) / 1e9), [1.5024, 1.8832], atol=6e-5)


def test_carbon_dioxide_against_carroll_1991() -> None:
    """Carroll, Slupsky & Mather, J. Phys. Chem. Ref. Data 20 (1991) 1201: independent, 0 to 160 C.

    ln(H/MPa) = -6.8346 + 1.2817e4/T - 3.7668e6/T^2 + 2.997e8/T^3. Both claim about 3 %: 5 % apart at most.
    """
    T = np.linspace(283.15, 383.15, 11)
    carroll = 1e6 * np.exp(-6.8346 + 1.2817e4 / T - 3.7668e6 / T**2 + 2.997e8 / T**3)
    np.testing.assert_allclose(SHELF["carbon dioxide.henry_pressure"](T), carroll, rtol=0.05)


def test_oxygen_solubility_in_moist_air() -> None:
    """mg/L under air at 101325 Pa, 20.95 % oxygen: 9.09 at 20 C and 8.26 at 25 C (Benson & Krause 1984).

    The Benson & Krause values are from memory, two decimals; 2 % for the two evaluations.
    """
    for t_C, published in ((20.0, 9.09), (25.0, 8.26)):
        T = ZERO + t_C
        partial = 0.2095 * (101325.0 - SHELF["water.saturation_pressure"](T))
        moles = partial / SHELF["oxygen.henry_pressure"](T) * SHELF["water.density"](T) / 18.015e-3
        assert moles * 31.998 == pytest.approx(published, rel=0.02)  # g/m3 = mg/L
