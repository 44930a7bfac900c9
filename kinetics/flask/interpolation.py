"""Conditions along a temperature ramp: computed once at Chebyshev points, then interpolated to ten digits.

A ramp asks for some seventy temperature-dependent numbers at every evaluation. Their logarithms (or themselves, where
a sign can change) are smooth in temperature, so a polynomial through 18 Chebyshev points over a hundred kelvin is as
good as the correlations themselves (J.-P. Berrut, L. N. Trefethen, SIAM Rev. 46 (2004) 501: barycentric form).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from kinetics.flask.conditions import Conditions

POINTS = 18


def leaves(value: Any) -> Iterator[Any]:
    """All numbers of nested tuples and lists, in order."""
    if isinstance(value, tuple | list):
        for part in value:
            yield from leaves(part)
    else:
        yield value


def builder(template: Any) -> Callable[[list[Any]], Any]:
    """A function that makes the nested structure of `template` from its numbers in a list (compiled: it is called often)."""
    kinds: dict[str, type] = {}
    count = 0

    def expression(value: Any) -> str:
        nonlocal count
        if isinstance(value, tuple | list):
            kind = type(value)
            parts = "".join(expression(part) + ", " for part in value)
            if hasattr(kind, "_fields"):
                kinds[kind.__name__] = kind
                return f"{kind.__name__}({parts})"
            return f"[{parts}]" if kind is list else f"({parts})"
        count += 1
        return f"x[{count - 1}]"

    source = f"lambda x: {expression(template)}"
    made: Callable[[list[Any]], Any] = eval(source, kinds)  # of the template's own types and positions, nothing else
    return made


class ConditionsAlong:
    """`Conditions` at any temperature between `low` and `high` [K], from values at Chebyshev points between them."""

    def __init__(self, at: Callable[[float], Conditions], low: float, high: float) -> None:
        angles = (2 * np.arange(POINTS) + 1) * np.pi / (2 * POINTS)
        self.nodes = 0.5 * (low + high) - 0.5 * (high - low) * np.cos(angles)
        self.weights = np.sin(angles) * (-1.0) ** np.arange(POINTS)
        exact = [at(float(T)) for T in self.nodes]
        self.build = builder(exact[0])
        table = np.array([list(leaves(conditions)) for conditions in exact])
        self.logarithmic = (table > 0.0).all(axis=0)
        table[:, self.logarithmic] = np.log(table[:, self.logarithmic])
        self.table = table

    def __call__(self, T: float) -> Conditions:
        """Conditions at T [K]."""
        distance = T - self.nodes
        nearest = np.abs(distance).argmin()
        if distance[nearest] == 0.0:
            row = self.table[nearest].copy()
        else:
            share = self.weights / distance
            row = share @ self.table / share.sum()
        row[self.logarithmic] = np.exp(row[self.logarithmic])
        conditions: Conditions = self.build(row.tolist())
        return conditions
