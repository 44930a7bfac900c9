"""Profile-likelihood intervals: all ends of all parameters sought side by side, so that each round costs one call."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kinetics.analysis.fitting import Fit, Problem, inverse_of_squares, soft_l1, stacked_jacobian

Array = np.ndarray
ROUNDS = 15  # of the search for the ends of the intervals
STRAIGHT = 3  # of them along the straight line of the normal approximation
FARTHEST = 3.0  # rises of S above the end: beyond, a step is taken back
SHORTER = 0.5  # a step after one that went astray, of its length
SETTLED = 0.03  # of a standard deviation, and of the rise of S, where that search ends


@dataclass(frozen=True)
class Intervals:
    """Ends of an interval for each parameter, and whether the search for each end settled."""

    low: Array
    high: Array
    low_settled: Array
    high_settled: Array


def profile_intervals(problem: Problem, best: Fit, level: float = 0.90) -> Intervals:
    """Profile-likelihood interval of each parameter at that level.

    At an end, S is chi2_1(level) above its least and least over all other parameters (D. J. Venzon, S. H. Moolgavkar,
    Applied Statistics 37 (1988) 87). All ends are sought side by side; the slopes follow by Broyden's rule. Any point
    met with so small an S lies within the intervals of all parameters: where a search does not settle, the farthest
    of them stands, and the interval is at least that wide. A bound that is met first is the end. Needs sd_known.
    """
    from scipy.special import chdtri

    count, data = len(best.x), len(problem.data)
    rise = float(chdtri(1.0, 1.0 - level))
    target = best.objective + rise
    lower, upper = problem.limits(count)
    slopes = stacked_jacobian(problem, best.jacobian)
    start = np.concatenate([best.residuals, problem.prior_residuals(best.x)])
    ends = [
        End(j, sign, slopes.copy(), best.x, start, best.objective)
        for sign in (-1.0, 1.0)
        for j in range(count)
    ]
    low, high = best.x.copy(), best.x.copy()
    for turn in range(ROUNDS):
        searching = [end for end in ends if not end.settled]
        if not searching:
            break
        new = np.array([
            end.guess(best, rise, lower, upper) if turn < STRAIGHT else end.x + end.step(problem, best, target, lower, upper)
            for end in searching
        ]).T  # fmt: skip
        new = np.clip(new.T, lower, upper).T
        r = np.concatenate([problem.residuals(problem.model(new)), problem.prior_residuals(new)])
        squares = r**2
        if problem.robust:
            squares[:data] = soft_l1(squares[:data])[0]
        s = squares.sum(axis=0)
        within = new[:, s < target + SETTLED * rise]
        low, high = (
            np.minimum(low, within.min(axis=1, initial=np.inf)),
            np.maximum(high, within.max(axis=1, initial=-np.inf)),
        )
        for k, end in enumerate(searching):
            end.learn(new[:, k], r[:, k], float(s[k]), target, rise, best.sd, data, turn < STRAIGHT)
            at_limit = new[end.j, k] <= lower[end.j] if end.sign < 0.0 else new[end.j, k] >= upper[end.j]
            there = abs(s[k] - target) < SETTLED * rise or (at_limit and s[k] < target)
            end.settled = there and end.length < SETTLED
    settled = np.array([end.settled for end in ends]).reshape(2, count)
    return Intervals(low, high, *settled)


@dataclass
class End:
    """The search for one end of the interval of parameter j: where it is, and what it knows of the slopes there."""

    j: int
    sign: float
    slopes: Array  # of the residuals of data and prior
    x: Array
    r: Array
    s: float
    radius: float = 0.5  # of a step, in standard deviations
    length: float = np.inf  # of the last step
    settled: bool = False

    def guess(self, best: Fit, rise: float, lower: Array, upper: Array) -> Array:
        """A point on the straight line of the normal approximation, where S should have risen as wanted."""
        j, sd = self.j, best.sd[self.j]
        risen = self.s - best.objective
        reach = abs(self.x[j] - best.x[j]) * float(np.clip((rise / risen) ** 0.5, 0.3, 2.0)) if risen > 0.0 else (
            rise**0.5 * sd
        )  # fmt: skip
        room = best.x[j] - lower[j] if self.sign < 0.0 else upper[j] - best.x[j]
        result: Array = best.x + best.covariance[:, j] / sd**2 * self.sign * min(reach, room)
        return result

    def step(self, problem: Problem, best: Fit, target: float, lower: Array, upper: Array) -> Array:
        """The next step, no longer than the radius."""
        room = (lower[self.j] if self.sign < 0.0 else upper[self.j]) - self.x[self.j]
        room = self.sign * abs(room)
        step = towards_end(
            self.slopes, self.r, self.s, self.j, room, target, problem.robust, len(problem.data)
        )
        result: Array = step * min(1.0, self.radius / max(float(np.max(np.abs(step) / best.sd)), 1e-300))
        return result

    def learn(
        self, x: Array, r: Array, s: float, target: float, rise: float, sd: Array, data: int, straight: bool
    ) -> None:
        """Correct the slopes by what the step found, and go there unless it was much too far."""
        moved = x - self.x
        self.length = float(np.max(np.abs(moved) / sd))
        d = moved / sd**2
        if d @ moved > 1e-12:
            missed = r - self.r - self.slopes @ moved
            self.slopes[:data] += np.outer(missed[:data], d) / (d @ moved)
        worse = abs(s - target) > abs(self.s - target)
        if not straight:
            self.radius = SHORTER * self.length if worse else 2.0 * self.radius
        if straight or s <= max(target + FARTHEST * rise, self.s):
            self.x, self.r, self.s = x, r, s


def towards_end(
    slopes: Array, r: Array, s: float, j: int, room: float, target: float, robust: bool, data: int
) -> Array:
    """The step to where the linearised problem has the end of the interval of parameter j, or its bound.

    room: how far the bound is, with the sign of the side that is sought.
    """
    weights = np.ones(len(r))
    if robust:
        weights[:data] = soft_l1(r[:data] ** 2)[1]
    rows = slopes * np.sqrt(weights)[:, None]
    variance = inverse_of_squares(rows)
    gradient = rows.T @ (r * np.sqrt(weights))
    step = -variance @ gradient
    least = s - gradient @ variance @ gradient
    reach = np.copysign(np.sqrt(max(target - least, 1e-12) * variance[j, j]), room)
    if abs(step[j] + reach) > abs(room):
        reach = room - step[j]
    result: Array = step + variance[:, j] / variance[j, j] * reach
    return result
