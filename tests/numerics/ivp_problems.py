"""Stiff problems for the integrator's tests: published ones with their end states, and an invented network.

Source of equations, intervals and end states: F. Mazzia and C. Magherini, Test Set for Initial Value Problem
Solvers, release 2.4, University of Bari 2008: problems ROBER, HIRES, OREGO and E5, whose end states were
computed there with RADAU or RADAU5. Recomputed with an independent code (Radau IIA of order 5, rtol 1e-12),
Robertson, HIRES and OREGO agree to 1e-12 relative.

E5 needs care. Its equations give y2 = y3 + y4 at all times, and y4 vanishes, so y2 = y3 at the end; the
published 8.8677e-23 and 8.8548e-23 differ by 0.15 %, because double precision holds that sum only to the
rounding of earlier, larger values. Their geometric mean 8.861233e-23 feels the difference only in second
order (1e-7). E5 is therefore integrated with y2 eliminated by that sum, and y3 compared with that mean.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rates = Callable[..., Sequence[Array]]


@dataclass(frozen=True)
class Samples:
    """The system `rates(t, y, *parameters)` with one array of parameters (samples,) per parameter."""

    rates: Rates
    parameters: tuple[Array, ...] = ()

    def rhs(self, t: Array, y: Sequence[Array]) -> Sequence[Array]:
        return self.rates(t, y, *self.parameters)

    def take(self, keep: NDArray[np.intp]) -> Samples:
        return Samples(self.rates, tuple(p[keep] for p in self.parameters))


@dataclass(frozen=True)
class Problem:
    """One initial value problem from t = 0 with its published end state."""

    rates: Rates
    start: tuple[float, ...]
    end_time: float
    end_state: tuple[float, ...]
    atol: tuple[float, ...]  # per unit of rtol: the size below which a component no longer counts


def robertson(t, y, k1=0.04, k2=3e7, k3=1e4):  # type: ignore[no-untyped-def]
    first, second, third = k1 * y[0], k2 * y[1] ** 2, k3 * y[1] * y[2]
    return [third - first, first - second - third, second]


def hires(t, y):  # type: ignore[no-untyped-def]
    y1, y2, y3, y4, y5, y6, y7, y8 = y
    binding = 280.0 * y6 * y8
    f7 = binding - 1.81 * y7
    return [
        -1.71 * y1 + 0.43 * y2 + 8.32 * y3 + 0.0007,
        1.71 * y1 - 8.75 * y2,
        -10.03 * y3 + 0.43 * y4 + 0.035 * y5,
        8.32 * y2 + 1.71 * y3 - 1.12 * y4,
        -1.745 * y5 + 0.43 * y6 + 0.43 * y7,
        -binding + 0.69 * y4 + 1.71 * y5 - 0.43 * y6 + 0.69 * y7,
        f7,
        -f7,
    ]


def oregonator(t, y):  # type: ignore[no-untyped-def]
    s, w, q = 77.27, 0.161, 8.375e-6
    first = s * (y[1] - y[0] * y[1] + y[0] - q * y[0] ** 2)
    return [first, (-y[1] - y[0] * y[1] + y[2]) / s, w * (y[0] - y[2])]


def e5(t, y):  # type: ignore[no-untyped-def]
    a, b, m, c = 7.89e-10, 1.1e7, 1.13e9, 1.13e3
    y1, y3, y4 = y
    split, attack, meet, decay = a * y1, b * y1 * y3, m * (y3 + y4) * y3, c * y4
    return [-split - attack, (split - meet) - (attack - decay), attack - decay]


PROBLEMS = {
    "Robertson": Problem(
        robertson, (1.0, 0.0, 0.0), 1e11,
        (0.2083340149701255e-07, 0.8333360770334713e-13, 0.9999999791665050),
        (1e-8, 1e-14, 1e-3),
    ),
    "HIRES": Problem(
        hires, (1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0057), 321.8122,
        (0.7371312573325668e-3, 0.1442485726316185e-3, 0.5888729740967575e-4, 0.1175651343283149e-2,
         0.2386356198831331e-2, 0.6238968252742796e-2, 0.2849998395185769e-2, 0.2850001604814231e-2),
        (1e-4,) * 8,
    ),
    "OREGO": Problem(
        oregonator, (1.0, 2.0, 3.0), 360.0,
        (0.1000814870318523e1, 0.1228178521549917e4, 0.1320554942846706e3),
        (1e-3,) * 3,
    ),
    "E5": Problem(
        e5, (1.76e-3, 0.0, 0.0), 1e13,
        (0.1152903278711829e-290, (0.8867655517642120e-22 * 0.8854814626268838e-22) ** 0.5, 0.0),
        (1e-20,) * 3,
    ),
}


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
