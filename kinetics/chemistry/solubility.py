"""What dissolves: saturation of the water beside an ideal oil, lowered by salt (Setschenow)."""

from __future__ import annotations

from typing import Any

from kinetics.data.namespace import Namespace

LN10 = 2.302585092994046


def setschenow_factor(
    carbonate_constant: Any, salt_constant: Any, carbonate: Any, univalent_salt: Any, m: Namespace
) -> Any:
    """Activity coefficient [1] of a dissolved neutral: 10^(k_carbonate c_carbonate + k_salt c_salt).

    Constants [L/mol], concentrations [mol/L] of alkali carbonate and of 1:1 salt (bicarbonate, hydroxide, chloride).
    J. Setschenow, Z. phys. Chem. 4 (1889) 117. Solubility is divided, volatility multiplied by it. k = 0.45, 0.1 mol/L: 1.11.
    """
    return m.exp(LN10 * (carbonate_constant * carbonate + salt_constant * univalent_salt))
