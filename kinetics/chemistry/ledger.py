"""The free-energy ledger: one set of independent equilibria from which every equilibrium constant of the network follows.

A reversible step is a sum of the ledger's reactions, so ln K(step) = sum_j a_j ln K_j(T), and its reverse constant is
k_forward / K. The constant of any loop of steps is then 1 by construction, at every temperature.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from kinetics.data.namespace import Namespace
from kinetics.data.units import GAS_CONSTANT_J_PER_MOL_K as GAS_CONSTANT

REFERENCE_K = 298.15


class LedgerError(ValueError):
    """A reversible step that the ledger's equilibria do not reach."""


def van_t_hoff(K_25: Any, enthalpy: Any, heat_capacity: Any, temperature: Any, m: Namespace) -> Any:
    """Equilibrium constant K(T) from K at 25 C, its enthalpy [J/mol] and heat-capacity change [J/(mol K)].

    ln K = ln K0 - (dH/R)(1/T - 1/T0) + (dCp/R)(ln(T/T0) + T0/T - 1). K_25 = 1, dH = 29 kJ/mol, 373.15 K: 10.5.
    """
    T, T0 = temperature, REFERENCE_K
    ln_ratio = -(enthalpy / GAS_CONSTANT) * (1.0 / T - 1.0 / T0)
    ln_ratio = ln_ratio + (heat_capacity / GAS_CONSTANT) * (m.log(T / T0) + T0 / T - 1.0)
    return K_25 * m.exp(ln_ratio)


def combination(
    step: Mapping[str, float], equilibria: Sequence[Mapping[str, float]], name: str = "step"
) -> tuple[float, ...]:
    """How often each equilibrium of the ledger enters a step; raises LedgerError where they cannot make it."""
    species = sorted({s for reaction in (step, *equilibria) for s in reaction})
    matrix = np.array([[reaction.get(s, 0.0) for reaction in equilibria] for s in species])
    target = np.array([step.get(s, 0.0) for s in species])
    weights, *_ = np.linalg.lstsq(matrix, target, rcond=None)
    if np.abs(matrix @ weights - target).max() > 1e-9:
        raise LedgerError(f"{name}: its equilibrium constant does not follow from the equilibria given")
    return tuple(float(round(w, 9)) for w in weights)


def step_constant(weights: Sequence[float], constants: Sequence[Any]) -> Any:
    """K of a step as the product of the ledger's constants to their powers (weights from `combination`)."""
    K: Any = 1.0
    for weight, constant in zip(weights, constants):
        if weight == 1.0:
            K = K * constant
        elif weight != 0.0:
            K = K * constant**weight
    return K
