"""Rate constants at the flask's temperature: Arrhenius' law, and two consecutive steps that share one activation energy.

The measured activation energy of the cleavage belongs to the composite k12 k23 / (k21 + k23) of hydration
(E -> H, k12, back k21) and retro-aldol (H -> P + A, k23), not to either step. The composite keeps it exactly here,
whatever the split between the steps.
"""

from __future__ import annotations

from typing import Any

from kinetics.chemistry.ledger import GAS_CONSTANT
from kinetics.data.namespace import Namespace


def arrhenius(k: Any, activation_energy: Any, reference_K: float, temperature: Any, m: Namespace) -> Any:
    """Rate constant at `temperature` [K] from k at `reference_K` and the activation energy [J/mol]."""
    return k * m.exp(-(activation_energy / GAS_CONSTANT) * (1.0 / temperature - 1.0 / reference_K))


def composite_constant(k12: Any, k21: Any, k23: Any) -> Any:
    """Rate constant of E -> P once H is steady: k12 k23 / (k21 + k23). The 25 C constants of cinnamaldehyde: 3.35e-4."""
    return k12 * k23 / (k21 + k23)


def consecutive_constants(
    k12_reference: Any,
    K1_reference: Any,
    k23_reference: Any,
    K1: Any,
    activation_energy: Any,
    partition_difference: Any,
    reference_K: float,
    temperature: Any,
    m: Namespace,
) -> tuple[Any, Any]:
    """(k12, k23) at `temperature` whose composite follows Arrhenius' law with `activation_energy` [J/mol] exactly.

    The partition k21/k23 of the intermediate changes with the `partition_difference` [J/mol] of the activation
    energies, k21 less k23; then k12 = k_c (1 + k21/k23), k21 = k12/K1 and k23 = k21/(k21/k23). K1 is the hydration
    constant, `K1_reference` that at `reference_K` [K]. At the reference both constants come back as given.
    """
    k21_reference = k12_reference / K1_reference
    k_c = composite_constant(k12_reference, k21_reference, k23_reference)
    k_c = arrhenius(k_c, activation_energy, reference_K, temperature, m)
    partition = arrhenius(k21_reference / k23_reference, partition_difference, reference_K, temperature, m)
    k12 = k_c * (1.0 + partition)
    return k12, k12 / K1 / partition
