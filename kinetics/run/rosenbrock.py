"""Integrate many independent samples of one small stiff system at once, each with its own time and step.

Method: Rodas4P2, a linearly implicit (Rosenbrock-Wanner) method of order 4 with an embedded order 3, six
stages, L-stable, stiffly accurate, of order 2 even if J is inexact. With M = 1/(gamma h) - J, J = df/dy,

    M u_i = f(t + alpha_i h, y + sum_j a_ij u_j) + sum_j c_ij u_j / h + gamma_i h df/dt,   i = 1 ... 6, j < i,
    y_new = y + sum_j a_6j u_j + u_6,   local error estimate u_6.

Source: G. Steinebach, Improvement of Rosenbrock-Wanner method RODASP, in: Progress in Differential-Algebraic
Equations II, Springer 2020, pp. 165-184; frame: E. Hairer and G. Wanner, Solving Ordinary Differential
Equations II, 2nd ed., Springer 1996, sections IV.7-8. All arithmetic runs elementwise over the samples.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

GAMMA = 0.25
ALPHA = (0.0, 0.75, 0.321448134013046, 0.519745732277726, 1.0, 1.0)
GAMMA_SUM = (0.25, -0.5, -0.189532918363016, 0.085612108792769, 0.0, 0.0)
A: tuple[tuple[float, ...], ...] = (  # rows 2 ... 5; the sixth is the fifth with a_65 = 1
    (3.0,),
    (0.906377755268814, -0.189707390391685),
    (3.758617027739064, 1.161741776019525, -0.849258085312803),
    (7.089566927282776, 4.573591406461604, -8.423496976860259, -0.959280113459775),
)
C: tuple[tuple[float, ...], ...] = (  # rows 2 ... 6
    (-12.0,),
    (-6.354581592719008, 0.338972550544623),
    (-8.575016317114033, -7.606483992117508, 12.224997650124820),
    (-5.888975457523102, -8.157396617841821, 24.805546872612922, 12.790401512796979),
    (-4.408651676063871, -6.692003137674639, 24.625568527593117, 16.627521966636085, -5.714285714285718),
)
D = (  # order 3 in between: y(t + theta h) = (1 - theta) y + theta (y_new + (1 - theta) (D_0 + theta D_1) u)
    (-5.323528268423303, -10.042123754867493, 17.175254928256965, -5.079931171878093, -0.016185991706112),
    (6.984505741529879, 6.914061169603662, -0.849178943070653, 18.104410789349338, -3.516963011559032),
)
INCREMENT = 3e-5  # relative, of one-sided differences; the method forgives truncation more than noise
LINEAR_ERROR = 1e-8  # largest backward error of a step's linear equations
SAFETY, SHRINK, GROW, SET_BACK = 0.9, 0.2, 6.0, 0.1  # of step lengths; SET_BACK if a step was not computable
RESOLUTION, VANISHING = 1e-15, 1e-30  # smallest step, relative to the time and to the time to go


class Status(IntEnum):
    """How the integration of one sample ended: at its end time, or why not (an earlier reason outranks)."""

    DONE, RATES_NOT_FINITE, LINEAR_EQUATIONS_SINGULAR, STEP_UNDERFLOW, TOO_MANY_STEPS = range(5)


class BatchSystem(Protocol):
    """A system dy/dt = f(t, y) of n states for a batch of samples; every array runs over the samples."""

    def rhs(self, t: Array, y: Sequence[Array]) -> Sequence[ArrayLike]:
        """The n derivatives at times t (samples,) and states y (n arrays (samples,), not to be changed)."""

    def take(self, keep: Index) -> BatchSystem:
        """The same system for the samples at the positions `keep` of this one."""


@runtime_checkable
class DifferentiableSystem(BatchSystem, Protocol):
    """A batch system that knows its own Jacobian; that of others is differenced."""

    def jacobian(self, t: Array, y: Sequence[Array]) -> Sequence[Sequence[ArrayLike]]:
        """Element [i][j] is df_i/dy_j, one array (samples,) or number; read only inside the pattern."""


@dataclass(frozen=True)
class BatchResult:
    """Last accepted states of the samples, their times, what became of them, and counters."""

    y: Array  # (n, samples)
    t_reached: Array  # this and the following: (samples,)
    status: Index  # a Status each
    step: Array  # length to restart with
    steps: Index  # attempted
    rejected: Index  # of those
    evaluations: Index  # of the right-hand side
    outputs: Array  # (k, n, samples), NaN where a sample did not get there; k = 0 if handed over

    def failures(self) -> dict[int, str]:
        """Reason by sample number, for the samples that did not reach their end time."""
        reasons = [Status(code).name.replace("_", " ").lower() for code in self.status]
        return {sample: reasons[sample] for sample in np.flatnonzero(self.status).tolist()}


class _LinearAlgebra:
    """Jacobians and LU factors in one static sparsity pattern, each matrix element an array over the samples.

    Pivots stay on the diagonal, where 1/(gamma h) stands, in the order of least fill (H. M. Markowitz,
    Management Science 3 (1957) 255); the backward error tells whether that was accurate enough.
    """

    def __init__(self, pattern: NDArray[np.bool_]) -> None:
        n, filled = len(pattern), pattern | np.eye(len(pattern), dtype=bool)
        self.elements = [(int(i), int(j)) for i, j in np.argwhere(filled)]
        self.columns = [[(s, i) for s, (i, c) in enumerate(self.elements) if c == j] for j in range(n)]
        self.groups: list[list[int]] = []  # columns that share no row: one difference serves them all
        for j in range(n):
            apart = (g for g in self.groups if not (filled[:, g].any(axis=1) & filled[:, j]).any())
            if (group := next(apart, None)) is None:
                self.groups.append(group := [])
            group.append(j)
        order, left = list[int](), list(range(n))
        while left:
            order.append(k := min(left, key=lambda k: int(filled[left, k].sum() * filled[k, left].sum())))
            left.remove(k)
            filled[np.ix_(left, left)] |= np.outer(filled[left, k], filled[k, left])
        fill = {(int(i), int(j)) for i, j in np.argwhere(filled)}.difference(self.elements)
        slot = {place: s for s, place in enumerate([*self.elements, *sorted(fill)])}
        self.size, self.diagonal = len(slot), [slot[i, i] for i in range(n)]
        below = {k: [i for i in order[q + 1:] if filled[i, k]] for q, k in enumerate(order)}
        right = {k: [j for j in order[q + 1:] if filled[k, j]] for q, k in enumerate(order)}
        updates = {(i, k): [(slot[k, j], slot[i, j]) for j in right[k]] for k in order for i in below[k]}
        self.elimination = [(slot[k, k], [(slot[i, k], updates[i, k]) for i in below[k]]) for k in order]
        self.forward = [(i, slot[i, k], k) for k in order for i in below[k]]
        self.backward = [(k, slot[k, k], [(slot[k, j], j) for j in right[k]]) for k in reversed(order)]

    def jacobian(self, system: BatchSystem, t: Array, y: Array, f: Array, size: Array) -> Array:
        """Elements of df/dy: the system's own, or differences with increments relative to max(|y|, size)."""
        values = np.empty((len(self.elements), t.size))
        if isinstance(system, DifferentiableSystem):
            given = system.jacobian(t, list(y))
            for s, (i, j) in enumerate(self.elements):
                values[s] = given[i][j]
            return values
        for group in self.groups:
            shifted = list(y)
            for j in group:
                shifted[j] = y[j] + INCREMENT * np.maximum(np.abs(y[j]), size[j])
            moved = system.rhs(t, shifted)
            for j in group:
                per_unit = 1.0 / (shifted[j] - y[j])
                for s, i in self.columns[j]:
                    np.subtract(moved[i], f[i], out=values[s])
                    values[s] *= per_unit
        return values

    def factor(self, jacobian: Array, shift: Array) -> list[Array]:
        """LU factors of M = shift - J, the pivots as reciprocals."""
        values, work = np.zeros((self.size, shift.size)), np.empty_like(shift)
        np.negative(jacobian, out=values[: len(jacobian)])
        values[self.diagonal] += shift
        lu = list(values)
        for pivot, rows in self.elimination:
            np.reciprocal(lu[pivot], out=lu[pivot])
            for first, updates in rows:
                np.multiply(lu[first], lu[pivot], out=lu[first])
                for above, target in updates:
                    np.multiply(lu[first], lu[above], out=work)
                    np.subtract(lu[target], work, out=lu[target])
        return lu

    def solve(self, lu: list[Array], x: Array) -> None:
        """Replace the right-hand sides x (n, samples) by the solutions u of M u = x."""
        rows, work = list(x), np.empty_like(x[0])
        for i, s, k in self.forward:
            np.multiply(lu[s], rows[k], out=work)
            np.subtract(rows[i], work, out=rows[i])
        for k, pivot, terms in self.backward:
            for s, j in terms:
                np.multiply(lu[s], rows[j], out=work)
                np.subtract(rows[k], work, out=rows[k])
            np.multiply(rows[k], lu[pivot], out=rows[k])

    def backward_error(self, jacobian: Array, shift: Array, x: Array, u: Array) -> Array:
        """Largest |x - M u|_i / (|x| + |shift u| + |J| |u|)_i over the rows of each sample."""
        difference, work = shift * u, np.empty_like(shift)
        size = np.abs(x) + np.abs(difference)
        np.subtract(x, difference, out=difference)
        for s, (i, j) in enumerate(self.elements):
            np.multiply(jacobian[s], u[j], out=work)
            difference[i] += work
            size[i] += np.abs(work, out=work)
        return np.max(np.abs(difference) / np.maximum(size, np.finfo(float).tiny), axis=0)


def _derivatives(system: BatchSystem, t: Array, y: Array) -> Array:
    f = np.empty_like(y)
    for i, value in enumerate(system.rhs(t, list(y))):
        f[i] = value
    return f


def _combine(weights: Sequence[float], u: Array) -> Array:
    total: Array = weights[0] * u[0]
    for weight, stage in zip(weights[1:], u[1:], strict=False):
        total += weight * stage
    return total


def _attempt(system: BatchSystem, algebra: _LinearAlgebra, t: Array, y: Array, h: Array, size: Array,
             autonomous: bool) -> tuple[Array, Array, Array]:
    """One step of every sample: y_new, the stages u (6, n, samples), the backward error of the first."""
    f = _derivatives(system, t, y)
    jacobian = algebra.jacobian(system, t, y, f, size)
    lu = algebra.factor(jacobian, shift := 1.0 / (GAMMA * h))
    later = t + INCREMENT * np.maximum(h, 1e-6 * np.abs(t))
    drift = None if autonomous else (_derivatives(system, later, y) - f) * (h / (later - t))  # h df/dt
    u, point, backward_error = np.empty((6, *y.shape)), y, h
    for i in range(6):
        if i:
            point = point + u[4] if i == 5 else y + _combine(A[i - 1], u)
            f = _derivatives(system, t + ALPHA[i] * h, point)
            f += _combine(C[i - 1], u) / h
        u[i] = x = f if drift is None or not GAMMA_SUM[i] else f + GAMMA_SUM[i] * drift
        algebra.solve(lu, u[i])
        if i == 0:
            backward_error = algebra.backward_error(jacobian, shift, x, u[0])
    return point + u[5], u, backward_error


def _change_of_step(error: Array, h: Array, last_step: Array, last_error: Array, failed: Array) -> Array:
    """Factor to the next step: error^(-1/4), Gustafsson's trend (Hairer and Wanner, section IV.8), limits."""
    floored = np.maximum(error, 1e-12)
    factor = SAFETY / np.sqrt(np.sqrt(floored))
    trend = factor * (h / last_step) * np.sqrt(np.sqrt(last_error / floored))
    factor = np.where((error <= 1.0) & (last_step > 0.0), np.minimum(factor, trend), factor)
    return np.where(np.isinf(error), SET_BACK, np.clip(factor, SHRINK, np.where(failed > 0.0, 1.0, GROW)))


def integrate(
    system: BatchSystem, y0: Array, t0: ArrayLike, t1: ArrayLike, *, rtol: float, atol: ArrayLike,
    outputs: Sequence[float] | Array = (), on_output: Callable[[Index, Index, Array], None] | None = None,
    pattern: NDArray[np.bool_] | None = None, autonomous: bool = False, max_steps: int = 10_000,
    first_step: ArrayLike | None = None, max_step: float = np.inf,
) -> BatchResult:
    """Integrate dy/dt = f(t, y) from y0 (n, samples) at t0 to t1 >= t0, both numbers or (samples,).

    A step is accepted when the estimated error of each component is below atol_i + rtol |y_i|; rtol > 0,
    atol > 0 is a number, (n,) or (n, samples). At the ascending times `outputs` (k,) between t0 and t1 the
    states go to `on_output(k, sample, states)`, states (n, m) for m pairs of k and sample, or else into the
    result; they come from the continuous extension of the method (order 3) and do not change the steps.
    max_step is needed where a fast state merely follows a function of time: the steps, right at their ends,
    then outgrow that extension. pattern (n, n) is True where f_i may depend on y_j (default: everywhere).
    autonomous promises that f does not depend on t. first_step > 0: a number or (samples,), such as `step` of
    an earlier result. A sample that fails says so in its status and disturbs no other.
    """
    n, samples = np.shape(y0)
    y, t, end, step = np.array(y0, dtype=float), *np.empty((3, samples))
    t[:], end[:], times, tolerance = t0, t1, np.append(outputs, np.inf), np.asarray(atol, dtype=float)
    tolerance = np.broadcast_to(tolerance[:, None] if tolerance.ndim == 1 else tolerance, (n, samples))
    step[:] = 1.0 if first_step is None else first_step
    if not (rtol > 0.0 and (tolerance > 0.0).all() and (step > 0.0).all()):
        raise ValueError("rtol, atol and first_step must be above 0")
    if not ((end >= t).all() and (np.diff(times) >= 0.0).all()):
        raise ValueError("t1 must not lie before t0, and the outputs must ascend")
    algebra = _LinearAlgebra(np.broadcast_to(True if pattern is None else pattern, (n, n)))
    dense = np.full((times.size - 1 if on_output is None else 0, n, samples), np.nan)
    status, steps, rejected = np.zeros((3, samples), dtype=int)
    last_step, last_error, failed = np.zeros((3, samples))
    due, who = np.searchsorted(times, t), np.arange(samples)
    differences = 0 if isinstance(system, DifferentiableSystem) else len(algebra.groups)
    with np.errstate(all="ignore"):
        if first_step is None:  # a hundredth of the time in which the states change by their own size
            scale, f = tolerance + rtol * np.abs(y), _derivatives(system, t, y)
            step = 0.01 * np.max(np.abs(y) / scale, axis=0) / np.max(np.abs(f) / scale, axis=0)
            step = np.where(np.isfinite(step) & (step > 0.0), step, 1e-6 * (end - t))
        while (going := (t[who] < end[who]) & (status[who] == Status.DONE)).any():
            if not going.all():
                who, system = who[going], system.take(np.flatnonzero(going))
            start, stop, y_old, planned = t[who], end[who], y[:, who], np.minimum(step[who], max_step)
            atol, last = tolerance[:, who], start + 1.0001 * planned >= stop
            h = np.where(last, stop - start, planned)
            y_new, u, linear_error = _attempt(system, algebra, start, y_old, h, atol / rtol, autonomous)
            finite, solved = np.isfinite(y_new).all(axis=0), linear_error <= LINEAR_ERROR
            relative = np.abs(u[5]) / (atol + rtol * np.maximum(np.abs(y_old), np.abs(y_new)))
            error = np.where(finite & solved, np.max(relative, axis=0), np.inf)
            accepted, reached = error <= 1.0, np.where(last, stop, start + h)
            while (at := np.flatnonzero(accepted & (times[due[who]] <= reached))).size:
                index, stages = due[who[at]], u[:, :, at]
                theta = (times[index] - start[at]) / h[at]
                bend = _combine(D[0], stages) + theta * _combine(D[1], stages)
                states = (1.0 - theta) * (y_old[:, at] + theta * bend) + theta * y_new[:, at]
                if on_output is None:
                    dense[index, :, who[at]] = states.T
                else:
                    on_output(index, who[at], states)
                due[who[at]] += 1
            proposed = h * _change_of_step(error, h, last_step[who], last_error[who], failed[who])
            step[who] = np.where(accepted & last, np.maximum(planned, proposed), proposed)
            moved = who[accepted]
            y[:, moved], t[moved] = y_new[:, accepted], reached[accepted]
            last_step[moved], last_error[moved] = h[accepted], np.maximum(error[accepted], 0.01)
            failed[who], rejected[who], steps[who] = ~accepted, rejected[who] + ~accepted, steps[who] + 1
            stuck = ~accepted & (proposed < RESOLUTION * np.abs(start) + VANISHING * (stop - start))
            reasons = (accepted & last, stuck & ~finite, stuck & ~solved, stuck, steps[who] >= max_steps)
            status[who] = np.select(reasons, list(Status), default=Status.DONE)
    evaluations = steps * (6 + differences + (not autonomous)) + (first_step is None)
    return BatchResult(y, t, status, step, steps, rejected, evaluations, dense)
