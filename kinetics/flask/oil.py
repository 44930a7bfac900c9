"""Two liquids: how much of each sparingly soluble substance is oil when oil and water are in equilibrium.

Ideal oil: c_i = z_i S_i, z_i its mole fraction there. With V litres of water, n_i = S_i V z_i + O z_i and sum z_i = 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kinetics.data.namespace import FLOATS, Namespace


def equilibrium_oil(amounts: Sequence[Any], capacities: Sequence[Any], m: Namespace = FLOATS) -> list[Any]:
    """Amounts [mol] in the oil from the amounts in both liquids [mol] and what the water can hold of each alone [mol].

    Newton's method on sum n_i/(S_i V + O) = 1, which is convex and falling: from O = 0 it converges from below.
    Two moles of one substance over a water that holds half a mole leave 1.5.
    """
    oil: Any = 0.0
    for _ in range(200):
        excess: Any = -1.0
        steepness: Any = 1e-300
        for n, capacity in zip(amounts, capacities):
            share = n / (capacity + oil)
            excess = excess + share
            steepness = steepness + share / (capacity + oil)
        before, oil = oil, m.maximum(oil + excess / steepness, 0.0)
        if m.largest(abs(oil - before) - 1e-15 * oil) <= 0.0:
            break
    return [oil * n / (capacity + oil) for n, capacity in zip(amounts, capacities)]
