"""Davies' equation, kept as a cross-check of the Pitzer activities below an ionic strength of 0.1 mol/kg."""

from __future__ import annotations

from typing import Any

from kinetics.chemistry.pitzer import Activities
from kinetics.data.namespace import Namespace


def davies_activities(
    alkali: Any,
    calcium: Any,
    hydroxide: Any,
    bicarbonate: Any,
    carbonate: Any,
    chloride: Any,
    organic: Any,
    debye_huckel: Any,
    m: Namespace,
) -> Activities:
    """Activity coefficients from molalities [mol/kg]: log10 g = -A z^2 (I^1/2/(1 + I^1/2) - 0.3 I), A = 3 A_phi / ln 10.

    Valid below about 0.1 mol/kg (3 % there). Source: C. W. Davies, Ion Association, Butterworths 1962.
    The osmotic coefficient is taken as 1.
    """
    I = 0.5 * (alkali + 4.0 * calcium + hydroxide + bicarbonate + 4.0 * carbonate + chloride + organic)
    root = m.sqrt(I)
    ln_1 = -3.0 * debye_huckel * (root / (1.0 + root) - 0.3 * I)
    osmoles = alkali + calcium + hydroxide + bicarbonate + carbonate + chloride + organic
    return Activities(ln_1, ln_1, 4.0 * ln_1, ln_1, 4.0 * ln_1, -0.0180153 * osmoles)
