"""Distillation without a column: boiling points, Rayleigh's equation, steam that carries an oil over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from kinetics.data.namespace import FLOATS, Namespace
from kinetics.data.units import STANDARD_PRESSURE_PA
from kinetics.run.integrate import NumericalFailure

Pressure = Callable[[float, Namespace], float]  # vapour pressure [Pa] at T [K]


def boiling_temperature(total: Callable[[float], float], pressure_Pa: float, low: float = 200.0, high: float = 650.0) -> float:
    """Temperature [K] at which `total` (pressure [Pa] at T [K], rising) reaches the pressure; sought from low to high.

    Benzaldehyde's vapour pressure and 1333 Pa (10 mmHg): 335 K, printed 335.
    """
    from scipy.optimize import brentq

    return brentq(lambda T: log(total(T) / pressure_Pa), low, high, xtol=1e-9)


def mixture_pressure(fractions: Sequence[float], pressures: Sequence[Pressure], T: float) -> float:
    """Vapour pressure [Pa] of an ideal mixture: sum of x_i p_i(T) (Raoult); mole fractions [1], T [K]."""
    return sum(x * p(T, FLOATS) for x, p in zip(fractions, pressures) if x > 0.0)


def heteroazeotrope(oil: Pressure, water: Pressure, pressure_Pa: float = STANDARD_PRESSURE_PA) -> tuple[float, float]:
    """Boil point [K] of two liquids that do not mix, and the mole fraction of the oil in their vapour: p_o + p_w = p."""
    T = boiling_temperature(lambda T: oil(T, FLOATS) + water(T, FLOATS), pressure_Pa, 280.0, 500.0)
    return T, oil(T, FLOATS) / pressure_Pa


def rayleigh_left(left: float, volatility: float) -> float:
    """What is left of one substance [1] once `left` [1] of another is, at constant relative volatility: n/n0 = left^alpha.

    volatility: alpha, that of the substance over that of the other [1]. Lord Rayleigh, Phil. Mag. 4 (1902) 521.
    """
    return left**volatility


@dataclass(frozen=True)
class Course:
    """A distillation: how much is over [mol, or mass as named], and what is left of each substance [mol]."""

    over: np.ndarray
    left: Mapping[str, np.ndarray]
    temperature_K: np.ndarray
    reached: bool  # whether it came to the stop that was asked for


def distil(
    amounts: Mapping[str, float],
    escape: Callable[[float, Sequence[float]], tuple[Sequence[float], float]],
    most: float,
    stop: Callable[[Sequence[float], float], float],
    points: int = 41,
) -> Course:
    """Integrate dn_i/dD = -e_i from D = 0 until `stop` falls to zero, or D comes to `most`.

    amounts: n_i [mol]; escape(D, n): (e_i [mol/mol], temperature [K]); stop(n, D): positive until the end.
    The equation of a simple distillation (Rayleigh): the vapour is in equilibrium with the pot and goes at once.
    """
    from scipy.integrate import solve_ivp

    names, start = list(amounts), np.array(list(amounts.values()))
    scale = max(float(start.max()), 1e-30)

    def slope(D: float, n: np.ndarray) -> np.ndarray:
        return -np.asarray(escape(D, np.maximum(n, 0.0).tolist())[0], float)

    def finished(D: float, n: np.ndarray) -> float:
        return stop(n.tolist(), D)

    finished.terminal = True  # type: ignore[attr-defined]
    solution = solve_ivp(
        slope, (0.0, most), start, "LSODA", events=finished, rtol=1e-9, atol=1e-12 * scale, dense_output=True
    )
    if not solution.success:
        raise NumericalFailure(f"the distillation was not followed to its end: {solution.message}", 0.0)
    over = np.linspace(0.0, float(solution.t[-1]), points)
    left = np.maximum(solution.sol(over), 0.0)
    left[:, 0], left[:, -1] = start, np.maximum(solution.y[:, -1], 0.0)
    T = np.array([escape(float(D), n.tolist())[1] for D, n in zip(over, left.T)])
    return Course(over, dict(zip(names, left)), T, bool(solution.status == 1))


def simple_distillation(
    amounts: Mapping[str, float],
    masses: Mapping[str, float],
    pressures: Mapping[str, Pressure],
    pressure_Pa: float,
    cut: float,
) -> Course:
    """An ideal mixture boiled off at one pressure without a column until the part `cut` [1] of its mass is over.

    amounts [mol]; masses: molar masses [g/mol]; pressures: vapour pressures [Pa] of those that evaporate, the others
    stay in the pot; pressure [Pa]. y_i = x_i p_i(T)/p at the pot's own boiling point.
    """
    names = list(amounts)
    volatile = [name in pressures for name in names]
    total_g = sum(masses[name] * amounts[name] for name in names)

    def escape(D: float, n: Sequence[float]) -> tuple[list[float], float]:
        total = sum(n) + 1e-300
        x = {name: amount / total for name, amount, there in zip(names, n, volatile) if there}
        T = boiling_temperature(
            lambda T: mixture_pressure(list(x.values()), [pressures[name] for name in x], T) + 1e-30, pressure_Pa
        )
        return [x[name] * pressures[name](T, FLOATS) / pressure_Pa if name in x else 0.0 for name in names], T

    def stop(n: Sequence[float], D: float) -> float:
        return sum(masses[name] * amount for name, amount in zip(names, n)) / total_g - (1.0 - cut)

    most = sum(amount for amount, there in zip(amounts.values(), volatile) if there)
    return distil(amounts, escape, 0.999 * most, stop)
