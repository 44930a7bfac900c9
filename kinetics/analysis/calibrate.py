"""Calibration: the uncertain constants of the shelf fitted to measurements, with the shelf's uncertainties as priors.

Maximum a posteriori by nonlinear least squares in z, the standard uncertainties of the shelf: log space for factors.
Every prior is then a standard normal, and a constant that the data do not reach keeps it.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np

from kinetics.analysis.calibration_report import Calibrated, report_of
from kinetics.analysis.ensemble import SETTINGS, uncertain_names
from kinetics.analysis.executors import Progress, default_workers, pool
from kinetics.analysis.fitting import Problem, fit
from kinetics.analysis.measurements import Measurements
from kinetics.analysis.predictions import Predictor
from kinetics.analysis.profiles import profile_intervals
from kinetics.data.faults import Fault, RefusedInput, nearest, quoted
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.integrate import NumericalFailure
from kinetics.run.scenario import Scenario

Array = np.ndarray
STEP = 0.25  # of z, for differences: far above the noise of the integration, far below a standard uncertainty
REACHED = 0.5  # standard deviations of all measurements together that one of z must move them
MOST = 24  # constants fitted at once where they are chosen automatically
BOUND = 5.0  # z: where the shelf itself is contradicted
TOLERANCE = 1e-3  # of the fit, relative; the noise of the integration is not far below
TRIALS, STARTS = 32, 3  # drawn from the prior to start from, and how many of the best are followed
ROUNDS = {"reach": 1, "starts": 1, "fit": 10, "intervals": 10}  # calls of the model, about, for telling progress
SEED = 20
LEVEL = 0.90


class ConstantsError(RefusedInput):
    """Constants that cannot be fitted."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(self.faults)


def all_uncertain(scenarios: Sequence[Scenario], shelf: Shelf, mechanisms: Mechanisms) -> tuple[str, ...]:
    """What is uncertain of any of the scenarios."""
    names: dict[str, None] = {}
    for scenario in scenarios:
        names |= dict.fromkeys(uncertain_names(scenario, shelf.including(scenario.substrate), mechanisms))
    return tuple(names)


def check_constants(chosen: Sequence[str], known: Sequence[str]) -> None:
    """Refuse names that are not uncertain constants of the scenarios. Raises ConstantsError."""
    faults = []
    for name in chosen:
        if name not in known:
            near = nearest(name, known)
            hint = f'Did you mean "{near}"?' if near else ""
            faults.append(
                Fault("--constants", "uncertain constants that these runs lean on", quoted(name), hint)
            )
    if faults:
        raise ConstantsError(faults)


def problem_of(predictor: Predictor, measurements: Measurements, robust: bool = False) -> Problem:
    """Measurements against predictions, standard normal priors, bounds."""
    count = len(predictor.names)
    lower = np.full(count, -BOUND)
    if SETTINGS[1] in predictor.names:  # the vapour meets the air no colder than the coolant
        room = min(s.condenser.approach_K for s in predictor.scenarios) / (
            predictor.shelf[SETTINGS[1]].sigma or 1.0
        )
        lower[predictor.names.index(SETTINGS[1])] = -min(BOUND, max(room, 1e-3))
    return Problem(
        predictor,
        np.array([item.value for item in measurements.items]),
        np.array([item.sd for item in measurements.items]),
        np.zeros(count),
        np.ones(count),
        lower,
        np.full(count, BOUND),
        robust,
        STEP,
    )


def reachable(problem: Problem, names: Sequence[str]) -> tuple[tuple[str, ...], Array]:
    """The constants that the data reach, the strongest first, and the predictions with the shelf's own values.

    One standard uncertainty of such a constant moves the predictions by REACHED of their standard deviations, all
    measurements together; of a constant that does less, the data could remove less than a tenth of its uncertainty.
    """
    values, jacobian = (part[0] for part in problem.linearised(np.zeros((1, len(names)))))
    if not np.isfinite(values).all():
        raise NumericalFailure("the runs cannot be computed with the shelf's own constants", 0.0)
    reach = np.linalg.norm(jacobian / problem.sd[:, None], axis=0)
    order = [int(k) for k in np.argsort(-reach, kind="stable") if reach[k] >= REACHED]
    return tuple(names[k] for k in order[:MOST]), values


def starting_points(problem: Problem, count: int) -> list[Array]:
    """The shelf's own values, and the best of some drawn from the prior."""
    draws = np.random.default_rng(SEED).standard_normal((count, TRIALS))
    lower, upper = problem.limits(count)
    draws = np.clip(draws.T, lower, upper).T
    squares = (problem.residuals(problem.model(draws)) ** 2).sum(axis=0) + (draws**2).sum(axis=0)
    best = np.argsort(squares, kind="stable")[: STARTS - 1]
    return [np.zeros(count), *(draws[:, k] for k in best)]


def telling(problem: Problem, stage: str, progress: Progress | None) -> Problem:
    """The problem, each call of its model told as a round of a stage, which never counts as more than is usual."""
    if progress is None:
        return problem
    stages = list(ROUNDS)
    before, rounds = sum(ROUNDS[name] for name in stages[: stages.index(stage)]), 0

    def model(x: Array) -> Array:
        nonlocal rounds
        values = problem.model(x)
        rounds = min(rounds + 1, ROUNDS[stage])
        progress(before + rounds, sum(ROUNDS.values()))
        return values

    return replace(problem, model=model)


def calibrate(
    measurements: Measurements,
    constants: Sequence[str] | None = None,
    *,
    robust: bool = False,
    shelf: Shelf | None = None,
    mechanisms: Mechanisms | None = None,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Calibrated:
    """Fit constants to measurements; those that the data reach, unless `constants` names them.

    robust: outliers count by their size, not its square. workers and executor: see run_jobs; progress: told
    (done, total) of the rounds, each of which asks the model for many points at once; the total is a guess.
    Raises ConstantsError for names that are not uncertain here, NumericalFailure where the runs cannot be computed.
    """
    shelf, mechanisms = shelf or load_shelf(), mechanisms or Mechanisms()
    scenarios = measurements.scenarios
    for scenario in scenarios:
        shelf = shelf.including(scenario.substrate)
    known = all_uncertain(scenarios, shelf, mechanisms)
    check_constants(constants or (), known)
    workers = default_workers(len(scenarios), 1) if workers is None else workers
    with pool(workers, executor) as doing:
        everything = Predictor(scenarios, measurements.asked, known, shelf, mechanisms, executor=doing)
        reached, before = reachable(telling(problem_of(everything, measurements), "reach", progress), known)
        names = tuple(dict.fromkeys(constants)) if constants else reached
        if not names:
            raise ConstantsError([Fault("--data", "measurements that some constant of the model reaches", "none")])
        problem = problem_of(everything.naming(names), measurements, robust)
        starts = starting_points(telling(problem, "starts", progress), len(names))
        best = fit(telling(problem, "fit", progress), starts, TOLERANCE, 60)
        intervals = profile_intervals(telling(problem, "intervals", progress), best, LEVEL)
    return report_of(measurements, shelf, known, names, reached, before, robust, best, intervals)
