"""Initial value problems with published or exact solutions, along the two integration paths of the program.

Stiff ones: F. Mazzia and C. Magherini, Test Set for Initial Value Problem Solvers, release 2.4, University of Bari 2008:
problems ROBER, HIRES, OREGO and E5. Their end states stand in kinetics/data/checks/ivp_test_set.toml.

E5 needs care. Its equations give y2 = y3 + y4 at all times, and y4 vanishes, so y2 = y3 at the end; the published
8.8677e-23 and 8.8548e-23 differ by 0.15 %, because double precision holds that sum only to the rounding of earlier, larger
values. Their geometric mean 8.861233e-23 feels the difference only in second order (1e-7). E5 is therefore integrated with
y2 eliminated by that sum: its components here are y1, y3 and y4, and y3 is compared with that mean.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import inf
from types import SimpleNamespace
from typing import Any

import numpy as np

from kinetics.run import rosenbrock
from kinetics.run.integrate import RTOL, advance

Array = np.ndarray
Rates = Callable[..., Sequence[Any]]
INCREMENT = 1e-7  # relative, of the differences of a Jacobian


@dataclass(frozen=True)
class Samples:
    """The system `rates(t, y, *parameters)` with one array of parameters (samples,) per parameter."""

    rates: Rates
    parameters: tuple[Array, ...] = ()

    def rhs(self, t: Array, y: Sequence[Array]) -> Sequence[Array]:
        return self.rates(t, y, *self.parameters)

    def take(self, keep: Any) -> Samples:
        return type(self)(self.rates, tuple(p[keep] for p in self.parameters))


@dataclass(frozen=True)
class Problem:
    """One initial value problem from t = 0. atol: per unit of rtol, the size below which a component no longer counts."""

    rates: Rates
    start: tuple[float, ...]
    end_time: float
    atol: tuple[float, ...]


def robertson(t: Any, y: Sequence[Any], k1: Any = 0.04, k2: Any = 3e7, k3: Any = 1e4) -> list[Any]:
    first, second, third = k1 * y[0], k2 * y[1] ** 2, k3 * y[1] * y[2]
    return [third - first, first - second - third, second]


def hires(t: Any, y: Sequence[Any]) -> list[Any]:
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


def oregonator(t: Any, y: Sequence[Any]) -> list[Any]:
    s, w, q = 77.27, 0.161, 8.375e-6
    first = s * (y[1] - y[0] * y[1] + y[0] - q * y[0] ** 2)
    return [first, (-y[1] - y[0] * y[1] + y[2]) / s, w * (y[0] - y[2])]


def e5(t: Any, y: Sequence[Any]) -> list[Any]:
    a, b, m, c = 7.89e-10, 1.1e7, 1.13e9, 1.13e3
    y1, y3, y4 = y
    split, attack, meet, decay = a * y1, b * y1 * y3, m * (y3 + y4) * y3, c * y4
    return [-split - attack, (split - meet) - (attack - decay), attack - decay]


PROBLEMS: Mapping[str, Problem] = {
    "Robertson": Problem(robertson, (1.0, 0.0, 0.0), 1e11, (1e-8, 1e-14, 1e-3)),
    "HIRES": Problem(hires, (1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0057), 321.8122, (1e-4,) * 8),
    "OREGO": Problem(oregonator, (1.0, 2.0, 3.0), 360.0, (1e-3,) * 3),
    "E5": Problem(e5, (1.76e-3, 0.0, 0.0), 1e13, (1e-20,) * 3),
}


def end_by_bdf(problem: Problem, rtol: float) -> Array:
    """End state by the path of a single run: kinetics.run.integrate.advance with these equations for those of a flask."""
    atol = rtol * np.array(problem.atol)

    def jacobian(t: float, y: Sequence[float]) -> Array:
        steps = INCREMENT * np.abs(y) + atol
        columns = np.array(problem.rates(t, np.array(y)[:, None] + np.diag(steps)))
        return (columns - np.array(problem.rates(t, y))[:, None]) / steps

    segment = SimpleNamespace(start_s=0.0, end_s=problem.end_time, stage="hold")
    nothing_dries: Any = SimpleNamespace(
        initial={"water": -inf}, evaluations=0, times=[], states=[], balances=[], failure=None
    )
    equations: Any = SimpleNamespace(
        segment=segment, rhs=problem.rates, jacobian=jacobian, network=SimpleNamespace(water=0)
    )
    end = advance(nothing_dries, equations, list(problem.start), [problem.end_time], rtol, atol)
    if nothing_dries.failure is not None:
        raise nothing_dries.failure
    return np.array(end)


def end_by_rosenbrock(problem: Problem, rtol: float) -> Array:
    """End state by the path of an ensemble: kinetics.run.rosenbrock.integrate, one sample."""
    start, atol = np.array(problem.start)[:, None], rtol * np.array(problem.atol)
    result = rosenbrock.integrate(
        Samples(problem.rates), start, 0.0, problem.end_time, rtol=rtol, atol=atol, autonomous=True
    )
    if result.failures():
        raise ArithmeticError(f"the integration stopped: {result.failures()[0]}")
    return result.y[:, 0]


PATHS: Mapping[str, Callable[[Problem, float], Array]] = {"BDF": end_by_bdf, "Rosenbrock": end_by_rosenbrock}


@cache
def end_state(problem: str, path: str, rtol: float = RTOL) -> Array:
    """End state of one of PROBLEMS along one of PATHS."""
    return PATHS[path](PROBLEMS[problem], rtol)


class Logistic(Samples):
    """y' = y (1 - y), y = 1/(1 + 9 exp(-t)), dy/dt known."""

    def jacobian(self, t: Array, y: Sequence[Array]) -> list[list[Array]]:
        return [[1.0 - 2.0 * y[0]]]


class Fading(Samples):
    """y' = -2 t y^2, y = 1/(1 + t^2), dy/dt known."""

    def jacobian(self, t: Array, y: Sequence[Array]) -> list[list[Array]]:
        return [[-4.0 * t * y[0]]]


EXACT: Mapping[str, tuple[Samples, bool, Callable[[float], float]]] = {  # the system, whether free of t, its solution
    "logistic growth": (Logistic(lambda t, y: [y[0] * (1.0 - y[0])]), True, lambda t: 1.0 / (1.0 + 9.0 * np.exp(-t))),
    "y' = -2 t y^2": (Fading(lambda t, y: [-2.0 * t * y[0] ** 2]), False, lambda t: 1.0 / (1.0 + t * t)),
}


def fixed_step_error(name: str, steps: int) -> float:
    """Error at t = 4 of the ensemble's path in that many equal steps, any error of a step being allowed."""
    system, autonomous, exact = EXACT[name]
    h = 4.0 / steps
    result = rosenbrock.integrate(
        system, np.array([[exact(0.0)]]), 0.0, 4.0, rtol=1e9, atol=1e9, autonomous=autonomous, first_step=h, max_step=h
    )
    assert result.steps[0] == steps, "the steps are not of one length"
    return float(abs(result.y[0, 0] - exact(4.0)))


def order_of_convergence(name: str, steps: int) -> float:
    """From the errors with that many steps and with twice as many."""
    return float(np.log2(fixed_step_error(name, steps) / fixed_step_error(name, 2 * steps)))
