"""The condenser as one flash at the temperature where the vapour meets the air: what falls back, what leaves.

The vapour brings water B and volatiles V_i [mol/s]. Gas G leaves, saturated with water; condensate L and, where more
condenses than water can dissolve, oil O [mol/s] fall back:

    V_i = G y_i + L x_i + O z_i,   y_i = K_i x_i,   x_i = z_i x_i,sat        (K_i, x_sat at the condenser's temperature)
    G (1 - y_w) = dry gas + sum_i G y_i,   L = B - G y_w,   sum_i z_i = 1 where there is oil

so the fraction that escapes is phi_i = K_i G / (L + K_i G + O/x_i,sat): K_i G/(L + K_i G) where no oil forms.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from kinetics.data.namespace import Namespace

TOLERANCE = 1e-11
MAX_ITERATIONS = 80
TINY = 1e-30


class Flash(NamedTuple):
    """Flows [mol/s] at the head of the condenser."""

    gas: Any  # all that leaves: dry gas, water vapour, volatiles
    condensate: Any  # water that falls back
    oil: Any  # oil that falls back with it
    water_escaping: Any
    escaping: list[Any]  # of each volatile
    converged: bool


def flash(
    water: Any,
    volatiles: Sequence[Any],
    K: Sequence[Any],
    inverse_saturation: Sequence[Any],
    dry_gas: Any,
    water_fraction: Any,
    m: Namespace,
    start: Flash | None = None,
    tolerance: float = TOLERANCE,
) -> Flash:
    """Divide the vapour between vent and condensate.

    `water`, `volatiles`, `dry_gas` [mol/s]; K = y/x at the condenser [1]; `inverse_saturation` is 1/x_sat [1], 0 for
    what mixes with water; `water_fraction` is the vapour pressure of water there over the pressure. Newton's method on
    G (whose balance is convex: from above it converges without a miss) and on O together.
    """
    total: Any = 0.0
    for flow in volatiles:
        total = total + flow
    least = dry_gas / (1.0 - water_fraction)
    most = (dry_gas + total) / (1.0 - water_fraction) + TINY
    G, O = (most, 0.0) if start is None else (m.maximum(m.minimum(start.gas, most), least), start.oil)
    converged = False
    for _ in range(MAX_ITERATIONS):
        L = m.maximum(water - G * water_fraction, 0.0)
        balance, slope = G * (1.0 - water_fraction) - dry_gas, 1.0 - water_fraction
        saturation, steepness = -1.0, TINY
        escaping = []
        for flow, k, inverse in zip(volatiles, K, inverse_saturation):
            held = L + O * inverse
            both = held + k * G + TINY
            gone = flow * k * G / both
            escaping.append(gone)
            balance = balance - gone
            slope = slope - flow * k * held / (both * both)
            share = m.maximum(flow, 0.0) * inverse / both  # mole fraction in the oil, were there oil; a trace below zero has none
            saturation = saturation + share
            steepness = steepness + share * inverse / both
        G_next = m.where(slope > 0.0, m.maximum(G - balance / m.where(slope > 0.0, slope, 1.0), least), most)
        O_next = m.maximum(O + saturation / steepness, 0.0)
        change = m.maximum(abs(G_next - G) / (G_next + TINY), abs(O_next - O) / (O_next + L + TINY))
        if m.largest(change) < tolerance:
            converged = True
            break
        G, O = G_next, O_next
    return Flash(G, L, O, m.minimum(G * water_fraction, water), escaping, converged)


def flash_slopes(
    split: Flash,
    water: Any,
    volatiles: Sequence[Any],
    K: Sequence[Any],
    inverse_saturation: Sequence[Any],
    water_fraction: Any,
    m: Namespace,
) -> Callable[[Sequence[Any], Any], tuple[list[Any], Any]]:
    """How a solved flash answers to its vapour, as a function.

    The function takes changes of the volatiles and of the water [mol/s], and gives those of what escapes (the volatiles,
    then water) and of the condensate. From the two balances that `flash` solves, differentiated:

        dE_i = K_i G/D_i dV_i + dE_i/dG dG + dE_i/dO dO + dE_i/dL dL,   E_i = V_i K_i G/D_i,   D_i = L + K_i G + O/x_i,sat
    """
    G, O, L = split.gas, split.oil, split.condensate
    wet = m.where(water > G * water_fraction, 1.0, 0.0)  # otherwise all of the water leaves
    dried = wet * water_fraction  # -dL/dG
    by_vapour, by_gas, by_oil, by_water, in_oil = [], [], [], [], []
    oil_by_gas: Any = 0.0
    oil_by_oil: Any = 0.0
    oil_by_water: Any = 0.0
    for flow, k, inverse in zip(volatiles, K, inverse_saturation):
        per_D = 1.0 / (L + k * G + O * inverse + TINY)
        part = k * G * per_D
        slope = flow * k * per_D * per_D
        by_vapour.append(part)
        by_gas.append(slope * (L + O * inverse + dried * G))
        by_oil.append(-slope * G * inverse)
        by_water.append(-slope * G * wet)
        in_oil.append(inverse * per_D)
        share = m.maximum(flow, 0.0) * inverse * per_D * per_D
        oil_by_gas = oil_by_gas - share * (k - dried)
        oil_by_oil = oil_by_oil - share * inverse
        oil_by_water = oil_by_water - share * wet
    oily = m.where(O > 0.0, 1.0, 0.0)
    gas_by_gas = 1.0 - water_fraction - sum(by_gas)
    gas_by_oil = -sum(by_oil)
    determinant = gas_by_gas * m.where(O > 0.0, oil_by_oil, 1.0) - oily * gas_by_oil * oil_by_gas

    def answer(flows: Sequence[Any], more_water: Any) -> tuple[list[Any], Any]:
        gas_excess = sum((a * b for a, b in zip(by_vapour, flows)), sum(by_water) * more_water)
        oil_excess = oily * -sum((a * b for a, b in zip(in_oil, flows)), oil_by_water * more_water)
        dG = (gas_excess * m.where(O > 0.0, oil_by_oil, 1.0) - gas_by_oil * oil_excess) / determinant
        dO = oily * (gas_by_gas * oil_excess - oil_by_gas * gas_excess) / determinant
        gone = [
            part * flow + slope * dG + other * dO + more * more_water
            for part, flow, slope, other, more in zip(by_vapour, flows, by_gas, by_oil, by_water)
        ]
        return [*gone, wet * water_fraction * dG + (1.0 - wet) * more_water], wet * more_water - dried * dG

    return answer
