"""The batch integrator: its coefficients, closed forms, published problems, and the independence of the samples.

The measured order and the published end states stand in the dossier: steinebach_2020.toml, ivp_test_set.toml.
"""

from __future__ import annotations

import numpy as np
import pytest
from networks import DifferentiatedNetwork, Network

from kinetics.analysis.checks import error_over_tolerance, exponent_of_error
from kinetics.analysis.initial_value_problems import Samples
from kinetics.run import rosenbrock
from kinetics.run.rosenbrock import Status, integrate

pytestmark = pytest.mark.filterwarnings("error")
HOLD = 3.6e4


def column(*values):
    return np.array(values, dtype=float)[:, None]


def tableau():
    """alpha_ij, gamma_ij and weights of u from the transformed coefficients (Hairer and Wanner II, IV.7)."""
    a, c = np.zeros((6, 6)), np.zeros((6, 6))
    for i, row in enumerate(rosenbrock.A, start=1):
        a[i, :i] = row
    a[5] = a[4] + np.eye(6)[4]
    for i, row in enumerate(rosenbrock.C, start=1):
        c[i, :i] = row
    gamma = np.linalg.inv(np.eye(6) / rosenbrock.GAMMA - c)
    return a @ gamma, gamma, a[5] + np.eye(6)[5]


def order_residuals(b, alpha, gamma, theta=1.0):
    """Left minus right sides of the conditions for orders 1 to 4 at the fraction theta of a step (ibid.)."""
    beta, abscissa = alpha + gamma, alpha.sum(axis=1)
    slopes = beta.sum(axis=1)
    third = [b @ abscissa**2 - theta**3 / 3, b @ beta @ slopes - theta**3 / 6]
    fourth = [
        b @ abscissa**3 - theta**4 / 4,
        (b * abscissa) @ alpha @ slopes - theta**4 / 8,
        b @ beta @ abscissa**2 - theta**4 / 12,
        b @ beta @ beta @ slopes - theta**4 / 24,
    ]
    return np.array([b.sum() - theta, b @ slopes - theta**2 / 2, *third]), np.array(fourth)


def test_coefficients_meet_the_order_conditions():
    alpha, gamma, weights = tableau()
    assert alpha.sum(axis=1) == pytest.approx(rosenbrock.ALPHA, abs=1e-13)
    assert gamma.sum(axis=1) == pytest.approx(rosenbrock.GAMMA_SUM, abs=1e-13)
    for residuals in order_residuals(weights @ gamma, alpha, gamma):
        assert residuals == pytest.approx(0.0, abs=1e-13)
    embedded, missed = order_residuals((weights - np.eye(6)[5]) @ gamma, alpha, gamma)
    assert embedded == pytest.approx(0.0, abs=1e-13)
    assert np.abs(missed).max() > 1e-3  # else it could not estimate an error


def test_solution_and_embedded_solution_are_damped_to_zero_at_infinite_stiffness():
    alpha, gamma, weights = tableau()
    for row in (weights, weights - np.eye(6)[5]):
        assert 1.0 - row @ gamma @ np.linalg.solve(alpha + gamma, np.ones(6)) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("theta", [0.1, 0.5, 0.9])
def test_continuous_extension_is_of_order_three(theta):
    alpha, gamma, weights = tableau()
    first, second = (np.append(row, 0.0) for row in rosenbrock.D)
    between = theta * (weights + (1.0 - theta) * (first + theta * second))
    assert order_residuals(between @ gamma, alpha, gamma, theta)[0] == pytest.approx(0.0, abs=1e-12)


def follow_a_sine(rtol, **arguments):
    """y' = -k (y - sin t) + cos t, y = sin t (A. Prothero, A. Robinson, Math. Comput. 28 (1974) 145)."""
    k = 10.0 ** np.arange(0.0, 9.0)
    system = Samples(lambda t, y, k: [-k * (y[0] - np.sin(t)) + np.cos(t)], (k,))
    result = integrate(system, np.zeros((1, k.size)), 0.0, 10.0, rtol=rtol, atol=rtol, **arguments)
    assert not result.failures()
    return result


@pytest.mark.parametrize("rtol", [1e-4, 1e-6, 1e-8])
def test_forced_relaxation_follows_its_closed_form_at_every_stiffness(rtol):
    assert np.abs(follow_a_sine(rtol).y[0] - np.sin(10.0)).max() < rtol


def test_max_step_bounds_the_error_between_steps_where_a_state_merely_follows():
    times = np.linspace(0.5, 10.0, 40)
    errors = [
        np.abs(follow_a_sine(1e-4, outputs=times, max_step=h).outputs[:, 0] - np.sin(times)[:, None]).max()
        for h in (0.4, 0.2, 0.1)
    ]
    assert errors[0] < 1e-4 and (-np.diff(np.log2(errors)) > 3.5).all()


def test_reversible_first_order_reaction_follows_its_closed_form():
    k, back = np.array([1e-4, 1e-2, 1.0, 1e3]), np.array([1e-3, 1e-3, 2.0, 10.0])
    system = Samples(lambda t, y, k, back: [back * y[1] - k * y[0], k * y[0] - back * y[1]], (k, back))
    times = np.array([0.0, 0.3, 5.0, 70.0, 1000.0])
    result = integrate(
        system, np.repeat(column(1.0, 0.0), 4, axis=1), 0.0, 1000.0, rtol=1e-7, atol=1e-9, outputs=times
    )
    exact = (back + k * np.exp(-(k + back) * times[:, None])) / (k + back)
    assert np.abs(result.outputs[:, 0] / exact - 1.0).max() < 2e-6  # continuous extension, one order lower
    assert np.abs(result.y[0] / exact[-1] - 1.0).max() < 5e-7
    assert np.abs(result.y.sum(axis=0) - 1.0).max() < 1e-12


def test_consecutive_reactions_follow_their_closed_form():
    k1, k2 = np.array([1.0, 1e-3, 5.0]), np.array([1e4, 1.0, 2.0])
    system = Samples(lambda t, y, k1, k2: [-k1 * y[0], k1 * y[0] - k2 * y[1], k2 * y[1]], (k1, k2))
    start = np.repeat(column(1.0, 0.0, 0.0), 3, axis=1)
    result = integrate(system, start, 0.0, 2.0, rtol=1e-8, atol=1e-12)
    first, second = np.exp(-2.0 * k1), np.exp(-2.0 * k2)
    middle = k1 / (k2 - k1) * (first - second)
    assert np.abs(result.y / np.stack([first, middle, 1.0 - first - middle]) - 1.0).max() < 1e-7


@pytest.mark.parametrize("rtol", [1e-4, 1e-6, 1e-8])
@pytest.mark.parametrize(
    ("name", "multiple"), [("Robertson", 1.0), ("HIRES", 1.0), ("OREGO", 4.0), ("E5", 15.0)]
)
def test_published_end_states_are_met_within_a_multiple_of_the_tolerance(name, multiple, rtol):
    assert error_over_tolerance(name, "Rosenbrock", rtol) < multiple


def test_global_error_is_proportional_to_the_tolerance():
    """Below what the dossier lists too: from 1e-6 to 1e-8."""
    assert exponent_of_error("OREGO", "Rosenbrock", 1e-6) == pytest.approx(1.0, abs=0.1)


@pytest.fixture(scope="module")
def network_run():
    samples = 2000
    return samples, integrate(
        Network.drawn(samples), Network.start(samples), 0.0, HOLD,
        rtol=1e-6, atol=1e-10, pattern=Network.pattern(), autonomous=True,
    )


def test_two_thousand_samples_finish_each_after_its_own_number_of_steps(network_run):
    _, run = network_run
    assert not run.failures() and (run.t_reached == HOLD).all()
    assert run.steps.max() > 1.1 * run.steps.mean() and run.steps.min() < 0.95 * run.steps.mean()


def test_a_sample_in_a_batch_equals_the_sample_alone_bit_for_bit(network_run):
    samples, run = network_run
    for sample in (7, int(np.argmax(run.steps))):
        alone = integrate(
            Network.drawn(samples).take(np.array([sample])), Network.start(1), 0.0, HOLD,
            rtol=1e-6, atol=1e-10, pattern=Network.pattern(), autonomous=True,
        )
        assert (alone.y[:, 0] == run.y[:, sample]).all()
        assert alone.steps[0] == run.steps[sample] and alone.step[0] == run.step[sample]


def test_order_of_samples_does_not_matter():
    samples, shuffled = 300, np.random.default_rng(3).permutation(300)
    system, start = Network.drawn(samples), Network.start(samples) * np.linspace(0.5, 1.5, samples)
    arguments = dict(rtol=1e-6, atol=1e-10, pattern=Network.pattern())
    run = integrate(system, start, 0.0, 100.0, **arguments)
    again = integrate(system.take(shuffled), start[:, shuffled], 0.0, 100.0, **arguments)
    assert (again.y == run.y[:, shuffled]).all() and (again.steps == run.steps[shuffled]).all()
    assert len(set(run.steps.tolist())) > 5


def test_the_network_agrees_with_an_independent_integrator(network_run):
    from scipy.integrate import solve_ivp

    samples, run = network_run
    one = Network.drawn(samples).take(np.array([5]))
    reference = solve_ivp(
        lambda t, y: np.concatenate(one.rhs(t, list(y[:, None]))), (0.0, HOLD), Network.start(1)[:, 0],
        method="Radau", rtol=1e-9, atol=1e-13,
    ).y[:, -1]
    assert np.max(np.abs(run.y[:, 5] - reference) / (1e-10 + 1e-6 * reference)) < 5.0


@pytest.mark.parametrize("kind", [Network, DifferentiatedNetwork])
def test_linear_invariants_are_kept_to_rounding(kind):
    run = integrate(
        kind.drawn(50), kind.start(50), 0.0, HOLD,
        rtol=1e-5, atol=1e-8, pattern=kind.pattern(), autonomous=True,
    )
    units = kind.UNITS @ kind.start(50)
    assert np.abs(kind.UNITS @ run.y / units - 1.0).max() < 1e-14


def test_sparsity_and_own_jacobian_change_the_cost_but_not_the_answer():
    results = {
        (kind, sparse): integrate(
            kind.drawn(5), kind.start(5), 0.0, 100.0, rtol=1e-6, atol=1e-10,
            pattern=kind.pattern() if sparse else None, autonomous=True,
        )
        for kind in (Network, DifferentiatedNetwork) for sparse in (False, True)
    }
    full = results[Network, False]
    for (kind, sparse), run in results.items():
        assert np.max(np.abs(run.y - full.y) / (1e-10 + 1e-6 * full.y)) < 5.0
        per_step = 6 if kind is DifferentiatedNetwork else 6 + (15 if sparse else 20)
        assert (run.evaluations == per_step * run.steps + 1).all()


def test_evaluations_are_those_made():
    calls = []

    def rates(t, y):
        calls.append(t.size)
        return [-y[0] * y[1], y[0] * y[1]]

    result = integrate(Samples(rates), np.array([[0.9, 0.5], [0.1, 0.5]]), 0.0, 5.0, rtol=1e-5, atol=1e-8)
    assert sum(calls) == result.evaluations.sum()


def test_elimination_solves_sparse_systems_like_a_dense_solver():
    random = np.random.default_rng(2)
    pattern = random.random((12, 12)) < 0.25
    algebra = rosenbrock._LinearAlgebra(pattern)
    jacobian = np.where(pattern | np.eye(12, dtype=bool), random.standard_normal((5, 12, 12)), 0.0)
    values = np.array([jacobian[:, i, j] for i, j in algebra.elements])
    shift, right = np.full(5, 20.0), random.standard_normal((12, 5))
    u = right.copy()
    algebra.solve(algebra.factor(values, shift), u)
    dense = np.linalg.solve(20.0 * np.eye(12) - jacobian, right.T[:, :, None])[:, :, 0].T
    assert u == pytest.approx(dense, rel=1e-12, abs=1e-14)
    assert algebra.backward_error(values, shift, right, u).max() < 1e-14
    u[3, 2] += 1e-3
    spoiled = algebra.backward_error(values, shift, right, u)
    assert spoiled[2] > 1e-5 and np.delete(spoiled, 2).max() < 1e-14


class Growing(Samples):
    """y1' = 4 y1 + y2, y2' = y1: a step of length 1 makes 1/(gamma h) - 4, the first pivot, zero."""

    def jacobian(self, t, y):
        return [[4.0, 1.0], [1.0, 0.0]]


@pytest.mark.parametrize("first_step", [1.0, 1.0 + 1e-14])
def test_a_vanishing_pivot_costs_one_step_and_not_the_accuracy(first_step):
    system = Growing(lambda t, y: [4.0 * y[0] + y[1], y[0]])
    values, vectors = np.linalg.eigh([[4.0, 1.0], [1.0, 0.0]])
    exact = vectors @ (np.exp(2.0 * values) * (vectors.T @ [1.0, 1.0]))
    result = integrate(system, column(1.0, 1.0), 0.0, 2.0, rtol=1e-8, atol=1e-10, first_step=first_step)
    assert not result.failures() and np.abs(result.y[:, 0] / exact - 1.0).max() < 1e-6
    permissive = integrate(system, column(1.0, 1.0), 0.0, 2.0, rtol=1e9, atol=1e9, first_step=first_step)
    assert permissive.rejected[0] == 1  # though any error would have been allowed


@pytest.mark.parametrize("late", [False, True])
def test_a_poisoned_sample_fails_alone(late):
    def rates(t, y, k):
        return [-k * y[0] if not late else np.where((t > 0.5) & (k == 3.0), np.nan, -k * y[0])]

    k = np.array([1.0, 3.0 if late else np.nan, 10.0, 1e4])
    times = np.array([0.25, 0.75])
    result = integrate(Samples(rates, (k,)), np.ones((1, 4)), 0.0, 1.0, rtol=1e-6, atol=1e-9, outputs=times)
    healthy = np.array([0, 2, 3])
    clean = integrate(
        Samples(rates, (k[healthy],)), np.ones((1, 3)), 0.0, 1.0, rtol=1e-6, atol=1e-9, outputs=times
    )
    assert result.failures() == {1: "rates not finite"}
    assert (result.y[:, healthy] == clean.y).all() and (result.outputs[:, :, healthy] == clean.outputs).all()
    if late:
        assert result.t_reached[1] == pytest.approx(0.5, abs=1e-9)
        assert result.y[0, 1] == pytest.approx(np.exp(-1.5), rel=1e-5)
        assert np.isfinite(result.outputs[0, 0, 1]) and np.isnan(result.outputs[1, 0, 1])
    else:
        assert result.t_reached[1] == 0.0 and result.y[0, 1] == 1.0


def test_blow_up_and_step_limit_are_reported_with_the_last_good_state():
    system = Samples(lambda t, y, p: [y[0] ** p], (np.array([2.0, 1.0]),))
    result = integrate(system, np.ones((1, 2)), 0.0, 2.0, rtol=1e-6, atol=1e-9)
    assert list(result.failures()) == [0] and result.t_reached[0] == pytest.approx(1.0, abs=1e-6)
    assert np.isfinite(result.y).all() and result.y[0, 1] == pytest.approx(np.exp(2.0), rel=1e-5)

    k = np.array([0.01, 1e3])
    wave = Samples(lambda t, y, k: [np.cos(k * t)], (k,))
    limited = integrate(wave, np.zeros((1, 2)), 0.0, 10.0, rtol=1e-6, atol=1e-8, max_steps=200)
    assert list(limited.status) == [Status.DONE, Status.TOO_MANY_STEPS]
    assert limited.steps[1] == 200 and 0.0 < limited.t_reached[1] < 10.0
    assert limited.y[0, 1] == pytest.approx(np.sin(1e3 * limited.t_reached[1]) / 1e3, abs=1e-7)


def test_output_times_change_neither_the_steps_nor_each_other():
    samples = 10
    arguments = dict(rtol=1e-6, atol=1e-10, pattern=Network.pattern(), autonomous=True)
    coarse, fine = np.array([0.0, 100.0, 1e3]), np.unique(np.r_[100.0, np.linspace(0.0, 1e3, 300)])
    plain, few, many = (
        integrate(Network.drawn(samples), Network.start(samples), 0.0, 1e3, outputs=times, **arguments)
        for times in ((), coarse, fine)
    )
    for run in (few, many):
        assert (run.y == plain.y).all() and (run.steps == plain.steps).all()
    assert (few.outputs == many.outputs[np.searchsorted(fine, coarse)]).all()
    assert (few.outputs[0] == Network.start(samples)).all() and (few.outputs[-1] == plain.y).all()
    arguments["rtol"] = 1e-8
    exact = integrate(Network.drawn(samples), Network.start(samples), 0.0, 100.0, **arguments)
    assert np.max(np.abs(few.outputs[1] - exact.y) / (1e-10 + 1e-6 * np.abs(exact.y))) < 10.0


def test_outputs_are_handed_over_as_they_come_or_kept():
    k = np.array([0.1, 10.0])
    times = np.linspace(0.0, 1.0, 7)
    system = Samples(lambda t, y, k: [-k * y[0]], (k,))
    kept = integrate(system, np.ones((1, 2)), 0.0, 1.0, rtol=1e-6, atol=1e-9, outputs=times)
    handed, seen = np.full_like(kept.outputs, np.nan), []

    def on_output(index, sample, states):
        handed[index, :, sample] = states.T
        seen.extend(zip(index.tolist(), sample.tolist(), strict=True))

    result = integrate(
        system, np.ones((1, 2)), 0.0, 1.0, rtol=1e-6, atol=1e-9, outputs=times, on_output=on_output
    )
    assert (handed == kept.outputs).all() and len(seen) == len(set(seen)) == 14
    assert result.outputs.size == 0


def test_each_sample_may_have_its_own_interval():
    system = Samples(lambda t, y: [-2.0 * t * y[0]])
    start, end = np.array([0.0, 0.5, 1.0]), np.array([2.0, 1.5, 1.0])
    result = integrate(system, np.ones((1, 3)), start, end, rtol=1e-7, atol=1e-10, outputs=[0.25, 1.25])
    assert (result.t_reached == end).all() and result.steps[2] == 0
    assert result.y[0] == pytest.approx(np.exp(start**2 - end**2), rel=1e-6)
    assert np.isnan(result.outputs[:, 0]).tolist() == [[False, True, True], [False, False, True]]


def test_a_restart_with_the_last_step_is_cheap():
    samples = 20
    arguments = dict(rtol=1e-6, atol=1e-10, pattern=Network.pattern(), autonomous=True)
    system = Network.drawn(samples)
    whole = integrate(system, Network.start(samples), 0.0, HOLD, **arguments)
    first = integrate(system, Network.start(samples), 0.0, HOLD / 3.0, **arguments)
    second = integrate(system, first.y, HOLD / 3.0, HOLD, first_step=first.step, **arguments)
    assert (first.steps + second.steps - whole.steps).max() <= 5
    short = integrate(system, first.y, 0.0, 1e-3, first_step=first.step, **arguments)
    assert (short.steps == 1).all() and (short.step >= first.step).all()  # a cut last step is not remembered
    assert np.max(np.abs(second.y - whole.y) / (1e-10 + 1e-6 * whole.y)) < 5.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rtol": 0.0}, "must be above 0"), ({"atol": [1e-9, 0.0]}, "must be above 0"),
        ({"first_step": 0.0}, "must be above 0"), ({"first_step": np.nan}, "must be above 0"),
        ({"t1": -1.0}, "must not lie before"), ({"outputs": [1.0, 0.5]}, "must ascend"),
        ({"pattern": np.ones((3, 3), dtype=bool)}, "broadcast"),
    ],
)
def test_impossible_requests_are_refused(changes, words):
    arguments = {"t0": 0.0, "t1": 1.0, "rtol": 1e-6, "atol": 1e-9} | changes
    with pytest.raises(ValueError, match=words):
        integrate(Samples(lambda t, y: [y[1], -y[0]]), np.ones((2, 1)), **arguments)
