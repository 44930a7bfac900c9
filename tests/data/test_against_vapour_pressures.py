"""Vapour pressures and volatilities against other correlations and measured volatility.

Normal boiling points stand in the dossier: kinetics/data/checks/crc_boiling_points.toml.
"""

import numpy as np
import pytest

from kinetics.data import load_shelf

SHELF = load_shelf()


@pytest.mark.parametrize(
    ("species", "cas"),
    [
        ("acetaldehyde", "75-07-0"),
        ("acetone", "67-64-1"),
        ("benzaldehyde", "100-52-7"),
        ("benzyl alcohol", "100-51-6"),
    ],
)
def test_against_the_vdi_heat_atlas(species: str, cas: str) -> None:
    """Wagner equation (2.5-5 form) of the VDI Heat Atlas, from the chemicals library: two factors apart."""
    vapour = pytest.importorskip("chemicals.vapor_pressure")
    row = vapour.Psat_data_VDI_PPDS_3.loc[cas]
    record = SHELF[f"{species}.vapour_pressure"]
    for T in (298.15, 333.15, 373.15):
        other = vapour.Wagner(T, row["Tc"], row["Pc"], row["A"], row["B"], row["C"], row["D"])
        assert abs(np.log(record(T) / other)) < 2 * np.log(record.factor)


@pytest.mark.parametrize(
    ("species", "T", "p"),
    [
        ("benzaldehyde", 313.15, 437.3),
        ("benzaldehyde", 373.15, 8366.0),
        ("benzaldehyde", 453.15, 1.046e5),
        ("cinnamaldehyde", 333.15, 48.5),
        ("cinnamaldehyde", 373.15, 501.9),
        ("crotonaldehyde", 298.15, 5457.0),
        ("crotonaldehyde", 373.15, 9.507e4),
        ("benzyl alcohol", 373.15, 2065.0),
        ("citral", 373.15, 1101.0),
        ("6-methyl-5-hepten-2-one", 373.15, 9557.0),
        ("acetone", 373.15, 3.729e5),
        ("acetaldehyde", 313.15, 1.92e5),
    ],
)
def test_transcription_of_the_coefficients(species: str, T: float, p: float) -> None:
    """A second evaluation of the same published correlations, by a property library [Pa], four figures."""
    assert SHELF[f"{species}.vapour_pressure"](T) == pytest.approx(p, rel=5e-4)


def volatility(henry: float, T: float) -> float:
    """y/x at 101325 Pa of a dilute solute with Henry solubility [mol/m3/Pa]."""
    return SHELF["water.density"](T) / 18.015268e-3 / (henry * 101325.0)


@pytest.mark.parametrize(
    ("species", "lowest", "highest"),
    [  # volatility at 100 C from activity coefficients and Henry constants together, estimated ranges
        ("benzaldehyde", 28, 58),
        ("cinnamaldehyde", 7, 24),
        ("crotonaldehyde", 20, 42),
    ],
)
def test_volatility_of_oils_at_100_C(species: str, lowest: float, highest: float) -> None:
    T = 373.15
    henry = 1000 * SHELF[f"{species}.solubility"](T) / SHELF[f"{species}.vapour_pressure"](T)
    assert lowest < volatility(henry, T) < highest


def test_effective_henry_constant_of_acetaldehyde_at_25_C() -> None:
    """Sander 2015: 0.13 mol/m3/Pa and d ln H/d(1/T) = 5800 K for free and hydrated together.

    1 % for two printed figures of H; the slope within 2 %.
    """

    def effective(T: float) -> float:
        return SHELF["acetaldehyde.henry"](T) * (1 + SHELF["acetaldehyde.hydration"](T))

    T, h = 298.15, 0.1
    assert effective(T) == pytest.approx(0.13, rel=0.01)
    slope = np.log(effective(T + h) / effective(T - h)) / (1 / (T + h) - 1 / (T - h))
    assert slope == pytest.approx(5800, rel=0.02)


def test_heat_capacity_term_makes_acetaldehyde_less_volatile_at_the_boil() -> None:
    """A constant slope overstates the volatility at 100 C by 1.5: exp(dCp/R (ln 1.2516 + 0.7990 - 1))."""
    T, T0 = 373.15, 298.15
    straight = 0.0631 * np.exp(4537 * (1 / T - 1 / T0))
    assert SHELF["acetaldehyde.henry"](T) / straight == pytest.approx(1.525, abs=0.002)


@pytest.mark.parametrize(
    ("t_C", "published"),
    [(0, 1.89), (20, 1.73), (60, 1.21), (100, 0.76)],
)
def test_calcium_hydroxide_table(t_C: float, published: float) -> None:
    """The handbook table is rough: the cubic stays within its stated 5 % of each entry [g/kg]."""
    solubility = SHELF["calcium hydroxide.solubility"](t_C + 273.15) * 74.09
    assert solubility == pytest.approx(published, rel=0.05)


def test_sodium_carbonate_is_most_soluble_at_its_transition() -> None:
    T = np.linspace(273.15, 373.15, 1001)
    S = SHELF["sodium carbonate.salt_solubility"](T)
    assert T[np.argmax(S)] == pytest.approx(273.15 + 35.4, abs=0.1)
    assert S.max() == pytest.approx(49.7, abs=0.1)
    assert SHELF["sodium carbonate.salt_solubility"](363.15) == pytest.approx(100 * 0.3050 / 0.6950, rel=0.01)
