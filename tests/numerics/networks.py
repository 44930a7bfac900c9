"""An invented network of clusters for the integrator's tests: twenty species, many samples, ten decades of rates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Network:
    """Clusters of 1 ... 20 units that meet and part by mass action, A_i + A_j <-> A_k + A_l (invented data).

    i + j = k + l, or i + j = k without A_l, so the number of units, the sum of k A_k, never changes. Rate
    constants are arrays (steps, samples) and spread over ten decades.
    """

    forward: Array
    backward: Array

    SIZE: ClassVar[int] = 20
    STEPS: ClassVar[tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]] = (
        ((1, 1), (2,)), ((1, 2), (3,)), ((2, 2), (4,)), ((1, 4), (5,)), ((2, 3), (1, 4)), ((3, 3), (6,)),
        ((1, 6), (7,)), ((2, 6), (8,)), ((4, 5), (9,)), ((3, 7), (10,)), ((5, 6), (11,)), ((2, 9), (5, 6)),
        ((6, 6), (12,)), ((1, 12), (13,)), ((7, 7), (14,)), ((5, 10), (15,)), ((8, 8), (16,)),
        ((3, 14), (17,)), ((9, 9), (18,)), ((1, 18), (19,)), ((10, 10), (20,)), ((2, 13), (15,)),
        ((4, 12), (3, 13)), ((8, 9), (1, 16)), ((1, 19), (20,)), ((4, 7), (11,)),
    )
    UNITS: ClassVar[Array] = np.arange(1.0, SIZE + 1.0)

    @classmethod
    def drawn(cls, samples: int, spread: float = 0.7) -> Network:
        """Samples whose rate constants scatter by exp(spread z) about common values."""
        random = np.random.default_rng(11)
        typical = 10.0 ** random.uniform(-6.0, 4.0, (len(cls.STEPS), 1))
        back = typical * 10.0 ** random.uniform(-4.0, 0.0, typical.shape)
        scatter = np.exp(spread * random.standard_normal((2, len(cls.STEPS), samples)))
        return cls(typical * scatter[0], back * scatter[1])

    @classmethod
    def start(cls, samples: int) -> Array:
        """Single units mostly, and a little of everything."""
        y = np.full((cls.SIZE, samples), 1e-3)
        y[:3] = [[0.2], [0.05], [0.01]]
        return y

    @classmethod
    def pattern(cls) -> NDArray[np.bool_]:
        """True where the derivative of one species depends on another."""
        pattern = np.eye(cls.SIZE, dtype=bool)
        for left, right in cls.STEPS:
            members = np.array(left + right) - 1
            pattern[np.ix_(members, members)] = True
        return pattern

    def rhs(self, t: Array, y: Sequence[Array]) -> Sequence[Array]:
        f = [np.zeros_like(y[0]) for _ in y]
        for step, (left, right) in enumerate(self.STEPS):
            rate, back = self.forward[step], self.backward[step]
            for k in left:
                rate = rate * y[k - 1]
            for k in right:
                back = back * y[k - 1]
            rate = rate - back
            for k in left:
                f[k - 1] -= rate
            for k in right:
                f[k - 1] += rate
        return f

    def take(self, keep: NDArray[np.intp]) -> Network:
        return type(self)(self.forward[:, keep], self.backward[:, keep])


class DifferentiatedNetwork(Network):
    """The network with its Jacobian."""

    def jacobian(self, t: Array, y: Sequence[Array]) -> Sequence[Sequence[Array]]:
        jacobian = [[np.zeros_like(y[0]) for _ in y] for _ in y]
        for step, (left, right) in enumerate(self.STEPS):
            for side, constant, sign in ((left, self.forward[step], 1.0), (right, self.backward[step], -1.0)):
                for position, j in enumerate(side):
                    slope = sign * constant
                    for other in side[:position] + side[position + 1:]:
                        slope = slope * y[other - 1]
                    for i in left:
                        jacobian[i - 1][j - 1] -= slope
                    for i in right:
                        jacobian[i - 1][j - 1] += slope
        return jacobian
