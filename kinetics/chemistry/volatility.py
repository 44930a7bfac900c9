"""How volatile a dissolved substance is over hot water: Henry's law, and the ratio K = y/x that the boil works with."""

from __future__ import annotations

from typing import Any

MOLAR_MASS_WATER = 0.018015268  # kg/mol, IAPWS


def water_concentration(density: Any) -> Any:
    """Concentration of pure water [mol/L] from its density [kg/m3]: 55.3 at 25 C, 53.2 at 100 C."""
    return density / MOLAR_MASS_WATER / 1000.0


def henry_of_oil(solubility: Any, vapour_pressure: Any) -> Any:
    """Henry's solubility [mol/(L Pa)] of a sparingly soluble oil: what the saturated water and the oil breathe is the same.

    H = S / p. Benzaldehyde at 25 C: 6.95 g/L and 167 Pa give 3.9e-4 (3.8e-4 in R. Sander, Atmos. Chem. Phys. 15 (2015) 4399).
    """
    return solubility / vapour_pressure


def volatility(henry: Any, density: Any, pressure: Any) -> Any:
    """K = y/x [1] at infinite dilution, from Henry's solubility [mol/(L Pa)], water density [kg/m3] and pressure [Pa].

    K = (rho/M)_water / (H P). Acetaldehyde (with its hydrate) at 100 C and 101325 Pa: 97.
    """
    return water_concentration(density) / (henry * pressure)


def free_fraction(hydration_constant: Any) -> Any:
    """Part of an aldehyde present as such, the rest being its gem-diol: 1/(1 + K). K = 1.06 gives 0.485."""
    return 1.0 / (1.0 + hydration_constant)
