"""Conditions along a temperature ramp: computed once at Chebyshev points, then interpolated to ten digits.

A ramp asks for some seventy temperature-dependent numbers at every evaluation. Their logarithms (or themselves, where
a sign can change) are smooth in temperature, so a polynomial through 18 Chebyshev points over a hundred kelvin is as
good as the correlations themselves (J.-P. Berrut, L. N. Trefethen, SIAM Rev. 46 (2004) 501: barycentric form).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy
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
    """`Conditions` at any temperature between `low` and `high` [K], from values at Chebyshev points between them.

    Where constants differ from sample to sample each has its own values at the common points, and the temperature
    asked for is an array over the samples.
    """

    def __init__(self, at: Callable[[float], Conditions], low: float, high: float) -> None:
        angles = (2 * np.arange(POINTS) + 1) * np.pi / (2 * POINTS)
        self.nodes = 0.5 * (low + high) - 0.5 * (high - low) * np.cos(angles)
        self.weights = np.sin(angles) * (-1.0) ** np.arange(POINTS)
        exact = [at(float(T)) for T in self.nodes]
        self.build = builder(exact[0])
        columns = [np.array(np.broadcast_arrays(*values)) for values in zip(*map(leaves, exact))]
        self.shared = [k for k, column in enumerate(columns) if column.ndim == 1]
        self.own = [k for k, column in enumerate(columns) if column.ndim > 1]
        before = sum(1 for _ in leaves(tuple(exact[0][: Conditions._fields.index("pitzer")])))
        signed = range(before, before + sum(1 for _ in leaves(exact[0].pitzer)))  # may pass through zero nearby
        self.logarithmic = [k not in signed and bool((column > 0.0).all()) for k, column in enumerate(columns)]
        columns = [np.log(c) if positive else c for c, positive in zip(columns, self.logarithmic)]
        self.shared_table = np.array([columns[k] for k in self.shared])
        self.shared_logarithmic = np.array([self.logarithmic[k] for k in self.shared])
        self.own_tables = [columns[k] for k in self.own]
        self.latest: tuple[float, Conditions] | None = None

    def __call__(self, T: Any) -> Conditions:
        """Conditions at T [K], a float or an array over the samples."""
        if np.ndim(T) > 0:
            return self.interpolated(T)
        if self.latest is None or self.latest[0] != T:  # an implicit step asks several times for one temperature
            self.latest = T, self.interpolated(T)
        return self.latest[1]

    def interpolated(self, T: Any) -> Conditions:
        """The same, computed."""
        column = (-1,) + (1,) * np.ndim(T)
        distance = T - self.nodes.reshape(column)
        share = self.weights.reshape(column) / np.where(distance == 0.0, 1e-300, distance)
        share = share / share.sum(axis=0)
        rows = np.tensordot(self.shared_table, share, 1)
        rows[self.shared_logarithmic] = np.exp(rows[self.shared_logarithmic])
        values: list[Any] = [0.0] * len(self.logarithmic)
        for k, row in zip(self.shared, rows.tolist() if np.ndim(T) == 0 else rows):
            values[k] = row
        for k, table in zip(self.own, self.own_tables):
            row = np.einsum("k...,k...->...", table, share)
            values[k] = np.exp(row) if self.logarithmic[k] else row
        conditions: Conditions = self.build(values)
        return conditions

    def take(self, keep: np.ndarray) -> ConditionsAlong:
        """The same for the samples at the positions `keep`."""
        result = copy(self)
        result.own_tables = [table[:, keep] for table in self.own_tables]
        return result
