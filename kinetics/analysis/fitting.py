"""Nonlinear least squares with prior knowledge: best values, covariance, tests of fit.

The objective is S(x) = sum rho(r_i^2) + sum ((x_j - mu_j)/s_j)^2 with r = (data - model(x))/sd, minus twice the log of
the posterior for normal errors (rho the identity) and a normal prior. The model takes many points at once, so that all
differences of a Jacobian, from all starts, cost one call.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import comb
from typing import Any

import numpy as np

Array = np.ndarray
Model = Callable[[Array], Array]  # points (parameters, n) to values (data, n)
LOST = 1e3  # standardised residual where the model has no value: far from anything worth keeping
RELATIVE_STEP = 6e-6  # cube root of the rounding, for central differences
ROUGHER = 10.0  # times the tolerance, while several starts are followed


@dataclass(frozen=True)
class Problem:
    """Data with their standard deviations, the model that should explain them, and what is known beforehand.

    prior_mean and prior_sd: independent normal distributions of the parameters, None where nothing is known;
    lower and upper: bounds; robust: outliers count by their size, not its square; step: of the differences, None
    for one relative to each parameter; sd_known: otherwise sd is known up to a factor that the misfit tells.
    """

    model: Model
    data: Array
    sd: Array
    prior_mean: Array | None = None
    prior_sd: Array | None = None
    lower: Array | None = None
    upper: Array | None = None
    robust: bool = False
    step: float | None = None
    sd_known: bool = True

    def residuals(self, values: Array) -> Array:
        """Standardised residuals of the data; LOST where the model failed."""
        shape = (len(self.data), *(1,) * (values.ndim - 1))
        r = (self.data.reshape(shape) - values) / self.sd.reshape(shape)
        return np.where(np.isfinite(r), r, LOST)

    def prior_residuals(self, x: Array) -> Array:
        """Distance from the prior in its standard deviations; empty without a prior."""
        if self.prior_mean is None or self.prior_sd is None:
            return np.empty((0, *x.shape[1:]))
        return ((x.T - self.prior_mean) / self.prior_sd).T

    def limits(self, count: int) -> tuple[Array, Array]:
        lower = np.full(count, -np.inf) if self.lower is None else self.lower
        upper = np.full(count, np.inf) if self.upper is None else self.upper
        return lower, upper

    def linearised(self, x: Array) -> tuple[Array, Array]:
        """Values of the model (n, data) and Jacobians (n, data, parameters) at the points x (n, parameters).

        Central differences within the bounds; one-sided where the model fails on one side.
        """
        starts, count = x.shape
        lower, upper = self.limits(count)
        h = np.full(x.shape, self.step) if self.step else RELATIVE_STEP * np.maximum(np.abs(x), 1e-30)
        steps = np.array([np.maximum(x - h, lower), np.minimum(x + h, upper)])  # (2, n, parameters)
        points = np.broadcast_to(x, (2 * count + 1, starts, count)).copy()
        each = np.arange(count)
        points[1 + each, :, each], points[1 + count + each, :, each] = steps[0].T, steps[1].T
        values = self.model(points.reshape(-1, count).T).reshape(len(self.data), 2 * count + 1, starts)
        centre, low, high = values[:, :1], values[:, 1 : 1 + count], values[:, 1 + count :]
        start = np.where(np.isfinite(low), steps[0].T, x.T)
        end = np.where(np.isfinite(high), steps[1].T, x.T)
        rise = np.where(np.isfinite(high), high, centre) - np.where(np.isfinite(low), low, centre)
        slopes = rise / np.where(end > start, end - start, np.inf)
        return centre[:, 0].T, np.where(np.isfinite(slopes), slopes, 0.0).transpose(2, 0, 1)


def soft_l1(squares: Array) -> Array:
    """Robust loss rho(z) = 2 (sqrt(1 + z) - 1) with its first two derivatives, (3, data)."""
    root = np.sqrt(1.0 + squares)
    return np.array([2.0 * (root - 1.0), 1.0 / root, -0.5 / root**3])


@dataclass(frozen=True)
class Fit:
    """The best point and what is known of its surroundings.

    objective: S at the best point; chi_square: sum of the squared residuals of the data alone; jacobian: of the
    model; weights: of the data, 1 unless robust; ends: (objective, x) of each start; at_bound: which parameters.
    """

    x: Array
    covariance: Array
    objective: float
    chi_square: float
    residuals: Array
    values: Array
    jacobian: Array
    weights: Array
    at_bound: Array
    converged: bool
    evaluations: int
    message: str
    ends: tuple[tuple[float, Array], ...] = field(default=())

    @property
    def sd(self) -> Array:
        """Standard deviation of each parameter."""
        result: Array = np.sqrt(np.diag(self.covariance))
        return result

    @property
    def correlation(self) -> Array:
        result: Array = self.covariance / np.outer(self.sd, self.sd)
        return result

    def agrees(self, x: Array) -> bool:
        """Whether a start that ended at x ended where the best did: within half a standard deviation."""
        return bool((np.abs(x - self.x) < 0.5 * self.sd).all())

    def agreeing_starts(self) -> int:
        """How many starts ended where the best did."""
        return sum(self.agrees(x) for _, x in self.ends)

    def rivals(self, within: float) -> list[float]:
        """How much worse in S the other ends are that come within so much of the best."""
        worse = [s - self.objective for s, x in self.ends if not self.agrees(x)]
        return sorted(rise for rise in worse if rise <= within)


def fit(
    problem: Problem, starts: Sequence[Array], tolerance: float = 1e-15, most_evaluations: int = 2000
) -> Fit:
    """The point of the least objective, from several starts (scipy's trust-region reflective least squares).

    The starts are followed side by side and the best of them to the end. tolerance: relative, of objective and parameters. The covariance is the inverse of the Gauss-Newton Hessian.
    """
    lower, upper = problem.limits(len(starts[0]))
    options: dict[str, Any] = {"x_scale": 1.0 if problem.prior_sd is not None else "jac"}
    options |= {"ftol": tolerance, "xtol": tolerance, "gtol": tolerance, "max_nfev": most_evaluations}
    begun = np.array([np.clip(start, lower, upper) for start in starts])
    together = Blocks(problem, *begun.shape)
    if len(starts) > 1:
        rougher = options | dict.fromkeys(("ftol", "xtol", "gtol"), ROUGHER * tolerance)
        begun = together.solve(begun.ravel(), rougher).x.reshape(begun.shape)
    costs = together.objectives(begun.ravel())
    alone = Blocks(problem, 1, begun.shape[1])
    best = alone.solve(begun[np.argmin(costs)], options)
    values, slopes = (part[0] for part in alone.linearised(best.x))
    count, data = len(best.x), len(problem.data)
    r = problem.residuals(values)
    weights = soft_l1(r**2)[1] if problem.robust else np.ones(data)
    rows = stacked_jacobian(problem, slopes)
    rows[:data] *= np.sqrt(weights)[:, None]
    covariance = inverse_of_squares(rows)
    if not problem.sd_known:
        covariance = covariance * (r @ r) / max(data - count, 1)
    with np.errstate(invalid="ignore"):
        width = 1e-3 * np.where(np.isfinite(upper - lower), upper - lower, 0.0)
    at_bound = (best.x <= lower + width) | (best.x >= upper - width)
    return Fit(
        best.x, covariance, 2.0 * float(best.cost), float(r @ r), r, values, slopes, weights, at_bound,
        bool(best.success), together.evaluations + alone.evaluations, str(best.message),
        tuple(zip(costs.tolist(), begun)),
    )  # fmt: skip


class Blocks:
    """Several starts of one problem as one problem, a block of unknowns for each: a call of the model serves all."""

    def __init__(self, problem: Problem, starts: int, count: int) -> None:
        self.problem, self.shape = problem, (starts, count)
        self.evaluations = 0
        self.known: dict[bytes, tuple[Array, Array]] = {}

    def linearised(self, x: Array) -> tuple[Array, Array]:
        """Values (starts, data) and Jacobians (starts, data, parameters), computed once for each x."""
        if x.tobytes() not in self.known:
            self.evaluations += 1
            self.known = {x.tobytes(): self.problem.linearised(x.reshape(self.shape))}
        return self.known[x.tobytes()]

    def residuals(self, x: Array) -> Array:
        """Those of the data for every start, then those of the prior."""
        data = self.problem.residuals(self.linearised(x)[0].T).T
        prior = self.problem.prior_residuals(x.reshape(self.shape).T).T
        return np.concatenate([data.ravel(), prior.ravel()])

    def jacobian(self, x: Array) -> Array:
        from scipy.linalg import block_diag

        blocks = [stacked_jacobian(self.problem, slopes) for slopes in self.linearised(x)[1]]
        data = len(self.problem.data)
        return np.vstack([block_diag(*(b[:data] for b in blocks)), block_diag(*(b[data:] for b in blocks))])

    def loss(self, squares: Array) -> Array:
        """Robust for the data, plain for the prior."""
        result = np.array([squares, np.ones_like(squares), np.zeros_like(squares)])
        data = self.shape[0] * len(self.problem.data)
        result[:, :data] = soft_l1(squares[:data])
        return result

    def objectives(self, x: Array) -> Array:
        """S of each start."""
        squares = self.residuals(x) ** 2
        costs = self.loss(squares)[0] if self.problem.robust else squares
        data = self.shape[0] * len(self.problem.data)
        result: Array = sum(
            part.reshape(self.shape[0], -1).sum(axis=1) for part in (costs[:data], costs[data:])
        )
        return result

    def solve(self, x: Array, options: Mapping[str, Any]) -> Any:
        """scipy's least squares from x."""
        from scipy.optimize import least_squares

        lower, upper = (np.tile(limit, self.shape[0]) for limit in self.problem.limits(self.shape[1]))
        loss = self.loss if self.problem.robust else "linear"
        return least_squares(self.residuals, x, self.jacobian, (lower, upper), loss=loss, **options)


def stacked_jacobian(problem: Problem, slopes: Array) -> Array:
    """Jacobian of the standardised residuals of data and prior together."""
    rows = -slopes / problem.sd[:, None]
    if problem.prior_sd is None:
        return rows
    return np.vstack([rows, np.diag(1.0 / problem.prior_sd)])


def inverse_of_squares(rows: Array) -> Array:
    """(A^T A)^-1 for the rows A, by singular values of the columns brought to one length."""
    lengths = np.linalg.norm(rows, axis=0)
    lengths = np.where(lengths > 0.0, lengths, 1.0)
    _, s, vt = np.linalg.svd(rows / lengths, full_matrices=False)
    root = vt.T / np.maximum(s, 1e-14 * s[0]) / lengths[:, None]
    return root @ root.T


def runs_test(residuals: Sequence[float]) -> tuple[int, float, float]:
    """Number of runs of equal sign, its expectation, and the probability of so few or fewer by chance.

    The exact distribution of A. Wald and J. Wolfowitz, Ann. Math. Stat. 11 (1940) 147, for residuals in order.
    + + - - + has three runs. Residuals of exactly zero are left out;
    where all are of one sign, the probability is that of n such tosses of a coin.
    """
    signs = [r > 0.0 for r in residuals if r != 0.0]
    n1, n2 = sum(signs), len(signs) - sum(signs)
    runs = sum(a != b for a, b in pairwise(signs)) + bool(signs)
    if n1 == 0 or n2 == 0:
        return runs, float(runs), min(1.0, 2.0 * 0.5 ** len(signs))
    ways = 0
    for k in range(2, runs + 1):
        half = k // 2
        if k % 2 == 0:
            ways += 2 * comb(n1 - 1, half - 1) * comb(n2 - 1, half - 1)
        else:
            ways += comb(n1 - 1, half) * comb(n2 - 1, half - 1) + comb(n1 - 1, half - 1) * comb(n2 - 1, half)
    return runs, 1.0 + 2.0 * n1 * n2 / (n1 + n2), ways / comb(n1 + n2, n1)


def chi_square_p(chi_square: float, degrees: float) -> float:
    """Probability of a chi-square so large or larger with these degrees of freedom."""
    from scipy.special import chdtrc

    return float(chdtrc(degrees, chi_square)) if degrees > 0.0 else 1.0
