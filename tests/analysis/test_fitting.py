"""The fitting core against closed forms: linear problems, profiles, bounds, robust loss, and the tests of fit."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
from scipy.optimize import brentq, minimize

from kinetics.analysis.fitting import Problem, chi_square_p, fit, runs_test
from kinetics.analysis.profiles import profile_intervals

X = np.linspace(0.0, 3.0, 9)
SD = np.linspace(0.1, 0.3, 9)
DESIGN = np.array([np.ones(9), X, X**2, np.zeros(9)]).T  # the last parameter moves nothing
DATA = 1.0 + 0.5 * X - 0.2 * X**2 + 0.2 * np.cos(7.0 * X)
CHI2_90 = 2.705543454095404  # quantile of chi-square with one degree of freedom
MISRA_X = np.array(
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
)
MISRA_Y = np.array(
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
)


@pytest.fixture(scope="module")
def linear() -> Problem:
    return Problem(
        lambda p: DESIGN @ p, DATA, SD, np.array([0.3, 0.0, 0.1, 0.7]), np.array([1.0, 2.0, 0.5, 1.5])
    )


def test_linear_gaussian_posterior_is_its_closed_form(linear: Problem) -> None:
    """Mean and covariance from the normal equations (A'WA + P)^-1."""
    assert linear.prior_mean is not None and linear.prior_sd is not None
    precision = DESIGN.T @ np.diag(SD**-2) @ DESIGN + np.diag(linear.prior_sd**-2)
    mean = np.linalg.solve(precision, DESIGN.T @ (DATA / SD**2) + linear.prior_mean / linear.prior_sd**2)
    best = fit(linear, [np.zeros(4), np.full(4, 3.0)])
    np.testing.assert_allclose(best.x, mean, rtol=1e-8)
    np.testing.assert_allclose(best.covariance, np.linalg.inv(precision), rtol=1e-7, atol=1e-12)
    assert best.agreeing_starts() == 2 and best.converged


def test_uninformed_parameter_returns_its_prior(linear: Problem) -> None:
    best = fit(linear, [np.zeros(4)])
    assert best.x[3] == pytest.approx(0.7, abs=1e-12)
    assert best.sd[3] == pytest.approx(1.5, rel=1e-12)
    np.testing.assert_allclose(best.correlation[3, :3], 0.0, atol=1e-12)


def test_profile_of_a_linear_problem_is_symmetric_and_exact(linear: Problem) -> None:
    best = fit(linear, [np.zeros(4)])
    found = profile_intervals(linear, best, 0.90)
    low, high = found.low, found.high
    assert found.low_settled.all() and found.high_settled.all()
    np.testing.assert_allclose(high - best.x, np.sqrt(CHI2_90) * best.sd, rtol=1e-6)
    np.testing.assert_allclose(best.x - low, np.sqrt(CHI2_90) * best.sd, rtol=1e-6)


def test_profile_of_a_nonlinear_problem_against_minimisation_by_brute_force() -> None:
    """Misra1a's model (NIST StRD) with noise so large that the intervals are lopsided."""
    sd = np.full(14, 2.0)
    problem = Problem(lambda b: b[0] * (1.0 - np.exp(-b[1] * MISRA_X[:, None])), MISRA_Y, sd)
    best = fit(problem, [np.array([250.0, 5e-4])])

    def objective(b0: float, b1: float) -> float:
        return float((((MISRA_Y - b0 * (1.0 - np.exp(-b1 * MISRA_X))) / sd) ** 2).sum())

    def profile(j: int, c: float) -> float:
        def free(u: np.ndarray) -> float:
            other = best.x[1 - j] * np.exp(u[0])
            return objective(*((c, other) if j == 0 else (other, c)))

        found = minimize(free, [0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-10})
        return float(found.fun) - best.objective - CHI2_90

    found = profile_intervals(problem, best, 0.90)
    low, high = found.low, found.high
    for j in range(2):
        below = brentq(lambda c, j=j: profile(j, c), 0.3 * best.x[j], best.x[j])
        above = brentq(lambda c, j=j: profile(j, c), best.x[j], 6.0 * best.x[j])
        assert low[j] == pytest.approx(below, abs=0.03 * best.sd[j])
        assert high[j] == pytest.approx(above, abs=0.03 * best.sd[j])
    assert (high[0] - best.x[0]) > 1.3 * (best.x[0] - low[0]), "the case should be lopsided"


def test_profile_with_robust_loss_is_its_closed_form() -> None:
    """One measurement met exactly: 2 (sqrt(1 + z^2) - 1) = q at z = sqrt((1 + q/2)^2 - 1), where the plain one has sqrt(q)."""
    problem = Problem(lambda p: p[:1], np.array([3.0]), np.array([0.1]), robust=True)
    found = profile_intervals(problem, fit(problem, [np.array([3.2])]), 0.90)
    reach = 0.1 * np.sqrt((1.0 + CHI2_90 / 2.0) ** 2 - 1.0)
    assert found.low_settled.all() and found.high_settled.all()
    assert (found.low[0], found.high[0]) == pytest.approx((3.0 - reach, 3.0 + reach), abs=1e-4)


def test_bound_is_kept_told_and_ends_the_profile() -> None:
    data, sd = np.array([2.0]), np.array([0.1])
    problem = Problem(lambda p: p[:1], data, sd, np.zeros(1), np.ones(1), np.array([-1.0]), np.array([1.5]))
    best = fit(problem, [np.zeros(1)])
    assert best.x[0] == pytest.approx(1.5, abs=1e-6) and best.at_bound[0]
    assert profile_intervals(problem, best).high[0] == pytest.approx(1.5, abs=1e-6)


def test_robust_loss_lets_an_outlier_go() -> None:
    """The mean of ten values with one far off: soft L1 solves sum r/sqrt(1 + r^2) = 0."""
    data = np.array([0.9, 1.1, 1.0, 0.95, 1.05, 1.02, 0.98, 1.0, 1.0, 9.0])
    sd = np.full(10, 0.1)
    plain = fit(Problem(lambda p: np.repeat(p, 10, axis=0), data, sd), [np.zeros(1)])
    robust = fit(Problem(lambda p: np.repeat(p, 10, axis=0), data, sd, robust=True), [np.zeros(1)])
    expected = brentq(lambda c: float(((data - c) / np.hypot(sd, data - c)).sum()), 0.0, 9.0)
    assert plain.x[0] == pytest.approx(data.mean(), rel=1e-9)
    assert robust.x[0] == pytest.approx(expected, rel=1e-6)
    assert robust.weights[-1] < 0.02 < 0.6 < robust.weights[:-1].min()


def test_the_better_of_two_minima_is_found_from_several_starts() -> None:
    """(p^2 - 1)^2 with a slope: minima near -1 (deeper) and 1."""
    problem = Problem(lambda p: np.vstack([p**2, p]), np.array([1.0, -1.0]), np.array([0.1, 2.0]))
    alone, both = fit(problem, [np.array([1.2])]), fit(problem, [np.array([1.2]), np.array([-0.5])])
    assert alone.x[0] > 0.9 and both.x[0] == pytest.approx(-1.0, abs=1e-6)
    assert both.agreeing_starts() == 1


def test_a_model_that_fails_on_one_side_still_has_a_slope() -> None:
    def model(p: np.ndarray) -> np.ndarray:
        return np.where(p > 1.0, np.nan, 2.0 * p)

    _, slopes = Problem(model, np.zeros(1), np.ones(1), step=0.2).linearised(np.array([[0.9]]))
    assert slopes[0, 0, 0] == pytest.approx(2.0, rel=1e-12)


@pytest.mark.parametrize("signs", ["++-+--+", "+++---", "+-+-+", "++++-", "--+++++-", "+++++"])
def test_runs_test_against_all_arrangements(signs: str) -> None:
    """The exact probability by writing down every order of the signs."""

    def runs(order: tuple[str, ...]) -> int:
        return 1 + sum(a != b for a, b in pairwise(order))

    orders = set(permutations(signs))
    few = sum(runs(order) <= runs(tuple(signs)) for order in orders)
    count, expected, p = runs_test([1.0 if sign == "+" else -1.0 for sign in signs])
    assert count == runs(tuple(signs))
    if len(set(signs)) == 1:
        assert p == 2.0 / 2 ** len(signs)
    else:
        assert p == pytest.approx(few / len(orders), rel=1e-12)
        assert expected == pytest.approx(np.mean([runs(order) for order in orders]), rel=1e-12)


def test_chi_square_against_tables() -> None:
    """Upper 5 % points of the chi-square distribution, NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4."""
    for degrees, point in ((1, 3.841), (5, 11.070), (10, 18.307), (30, 43.773)):
        assert chi_square_p(point, degrees) == pytest.approx(0.05, rel=2e-3)


def test_another_answer_that_is_nearly_as_good_is_told() -> None:
    """(p^2 - 1)^2 with a slight slope: S at the shallower minimum, near 1, is (1 + 1)^2/2^2 = 1."""
    problem = Problem(lambda p: np.vstack([p**2, p]), np.array([1.0, -1.0]), np.array([0.01, 2.0]))
    best = fit(problem, [np.array([1.2]), np.array([-0.5])])
    assert best.rivals(10.0) == [pytest.approx(1.0, abs=1e-3)] and best.rivals(0.5) == []
