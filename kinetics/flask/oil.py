"""Two liquids: how much of each sparingly soluble substance is oil when oil and water are in equilibrium.

Ideal oil: c_i = z_i S_i, z_i its mole fraction there. With V litres of water, n_i = S_i V z_i + O z_i and sum z_i = 1.
"""

from __future__ import annotations

from collections.abc import Sequence


def equilibrium_oil(amounts: Sequence[float], capacities: Sequence[float]) -> list[float]:
    """Amounts [mol] in the oil from the amounts in both liquids [mol] and what the water can hold of each alone [mol].

    Newton's method on sum n_i/(S_i V + O) = 1, which is convex and falling: from O = 0 it converges from below.
    Two moles of one substance over a water that holds half a mole leave 1.5.
    """
    oil = 0.0
    for _ in range(200):
        shares = [n / (capacity + oil) for n, capacity in zip(amounts, capacities)]
        excess = sum(shares) - 1.0
        steepness = sum(s / (capacity + oil) for s, capacity in zip(shares, capacities))
        if oil == 0.0 and excess <= 0.0:
            return [0.0] * len(amounts)
        step = excess / steepness
        oil += step
        if abs(step) <= 1e-15 * oil:
            break
    return [oil * n / (capacity + oil) for n, capacity in zip(amounts, capacities)]
