"""Between water, oil and vapour: Henry's law, volatility, the hydrate beside the aldehyde, salting out."""

from __future__ import annotations

import pytest

from kinetics.chemistry.solubility import setschenow_factor
from kinetics.chemistry.volatility import free_fraction, henry_of_oil, volatility, water_concentration
from kinetics.data.namespace import FLOATS


def test_concentration_of_water() -> None:
    """997.05 g/L over 18.0153 g/mol."""
    assert water_concentration(997.05) == pytest.approx(997.05 / 18.0153, rel=1e-5)


def test_volatility_is_the_ratio_of_mole_fractions() -> None:
    """1e-3 mol/L over water of 958.35 g/L: p = c/H, y = p/P, x = c/(c of water), each by hand."""
    H, c, P = 5e-6, 1e-3, 101325.0
    y, x = c / H / P, c / (958.35 / 18.015268)
    assert volatility(H, 958.35, P) == pytest.approx(y / x, rel=1e-12)


def test_volatility_of_acetaldehyde_with_its_hydrate_at_100_C() -> None:
    """Effective Henry constant 5.43e-3 mol/m3/Pa gives 96.6: a second evaluation of the same facts, three
    figures."""
    assert volatility(5.43e-6, 958.35, 101325.0) == pytest.approx(96.6, abs=0.2)


def test_henry_of_benzaldehyde_from_oil_and_water() -> None:
    """6.95 g/L and 167 Pa at 25 C; Sander 2015 lists 0.38 mol/m3/Pa, two figures."""
    assert 1000 * henry_of_oil(6.95 / 106.12, 167.0) == pytest.approx(0.38, abs=0.02)


def test_free_fraction() -> None:
    """K = [diol]/[free] = 1.06: of 206 there are 100 free."""
    assert free_fraction(1.06) == pytest.approx(100 / 206, rel=1e-12)


def test_setschenow() -> None:
    """log10 = 0.45 x 0.1 + 0.20 x 0.5 = 0.145."""
    assert setschenow_factor(0.45, 0.20, 0.1, 0.5, FLOATS) == pytest.approx(10**0.145, rel=1e-12)
    assert setschenow_factor(0.45, 0.20, 0.0, 0.0, FLOATS) == 1.0
