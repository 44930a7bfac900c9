"""Pitzer parameters against the values other papers of the school print at 25 C."""

import pytest

from kinetics.data import load_shelf

SHELF = load_shelf()


@pytest.mark.parametrize(
    ("salt", "beta0", "beta1", "tolerance0", "tolerance1"),
    [  # last two: half a unit of the last printed figure, plus what separates the fits where two papers meet
        (
            "sodium_hydroxide",
            0.0864,
            0.253,
            5e-5,
            5e-4,
        ),  # Pitzer & Mayorga 1973, fixed point of Pabalan & Pitzer
        ("sodium_bicarbonate", 0.028, 0.044, 5e-4, 5e-4),  # Peiper & Pitzer 1982
        ("sodium_carbonate", 0.0362, 1.51, 5e-5, 5e-3),  # Peiper & Pitzer 1982
    ],
)
def test_values_at_25_C(salt: str, beta0: float, beta1: float, tolerance0: float, tolerance1: float) -> None:
    assert SHELF[f"pitzer.{salt}.beta0"](298.15) == pytest.approx(beta0, abs=tolerance0)
    assert SHELF[f"pitzer.{salt}.beta1"](298.15) == pytest.approx(beta1, abs=tolerance1)


def test_third_coefficient_of_sodium_hydroxide_at_25_C() -> None:
    """Pitzer & Mayorga 1973 print 0.0044; within the shelf's own uncertainty."""
    record = SHELF["pitzer.sodium_hydroxide.Cphi"]
    assert abs(record(298.15) - 0.0044) < record.sigma


@pytest.mark.parametrize(
    ("name", "slope"),
    [  # Peiper & Pitzer, J. Chem. Thermodyn. 14 (1982) 613: d/dT at 25 C [kg/mol/K]
        ("pitzer.sodium_bicarbonate.beta0", 1.00e-3),
        ("pitzer.sodium_bicarbonate.beta1", 1.10e-3),
        ("pitzer.sodium_carbonate.beta0", 1.79e-3),
    ],
)
def test_slopes_at_25_C(name: str, slope: float) -> None:
    """He & Morse start from Peiper & Pitzer: half a unit of the last printed figure."""
    record, h = SHELF[name], 0.05
    assert (record(298.15 + h) - record(298.15 - h)) / (2 * h) == pytest.approx(slope, abs=5.1e-6)


def test_curvature_of_sodium_carbonate_beta1_at_25_C() -> None:
    """Peiper & Pitzer: -16.8e-5 per K2, three figures."""
    record, h = SHELF["pitzer.sodium_carbonate.beta1"], 1.0
    bend = (record(298.15 + h) - 2 * record(298.15) + record(298.15 - h)) / h**2
    assert bend == pytest.approx(-16.8e-5, abs=0.06e-5)


def test_slope_missing_from_sodium_carbonate_beta1_stays_within_its_sigma() -> None:
    """He & Morse as printed keep value and curvature of Peiper & Pitzer but not their slope, 2.05e-3 per K.

    By 100 C the two stand 75 K times the difference apart: about the sigma on the shelf.
    """
    record, h = SHELF["pitzer.sodium_carbonate.beta1"], 0.05
    slope = (record(298.15 + h) - record(298.15 - h)) / (2 * h)
    assert abs(slope) < 1e-5
    assert 0.9 * record.sigma < 75 * (2.05e-3 - slope) < 1.1 * record.sigma


@pytest.mark.parametrize(("beta", "slope"), [("beta0", 0.996e-3), ("beta1", 1.104e-3)])
def test_potassium_bicarbonate_slopes_at_25_C_are_those_from_memory(beta: str, slope: float) -> None:
    """The slopes noted on the shelf (from memory) lie within 1 % of sodium's, which lends its course."""
    record, h = SHELF[f"pitzer.potassium_bicarbonate.{beta}"], 0.05
    assert (record(298.15 + h) - record(298.15 - h)) / (2 * h) == pytest.approx(slope, rel=0.01)


def test_potassium_keeps_its_value_at_25_C() -> None:
    assert SHELF["pitzer.potassium_carbonate.beta0"](298.15) == pytest.approx(0.1488, rel=1e-12)
