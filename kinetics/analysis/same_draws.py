"""Bands for several scenarios from the same draws, so that what they share does not blur what differs between them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from kinetics.analysis.ensemble import ENSEMBLE_RTOL, Ensemble, Prior, Task, draw, prior_of, propagate_all, time_grid
from kinetics.analysis.executors import Progress
from kinetics.data.shelf import load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.scenario import Scenario


def common_prior(scenarios: Sequence[Scenario], mechanisms: Mechanisms | None = None) -> Prior:
    """The uncertain numbers of all scenarios together, each once: a constant has one value in all of them."""
    names: dict[str, None] = {}
    for scenario in scenarios:
        shelf = load_shelf().including(scenario.substrate)
        names |= dict.fromkeys(prior_of(scenario, shelf, mechanisms or Mechanisms()).names)
    return Prior(tuple(names), np.zeros(len(names)), np.eye(len(names)))


def ensembles(
    scenarios: Sequence[Scenario],
    count: int,
    seed: int = 0,
    *,
    prior: Prior | None = None,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> list[Ensemble]:
    """An ensemble for each scenario, sample k of every one with the same constants."""
    prior = prior or common_prior(scenarios)
    z = draw(prior, count, seed)
    tasks = [Task(one, prior.names, z, time_grid(one), Mechanisms(), ENSEMBLE_RTOL) for one in scenarios]
    found = propagate_all(tasks, workers, executor, progress)
    return [Ensemble(prior, z, task.times, *result, seed) for task, result in zip(tasks, found)]


def probability_of_more(one: Ensemble, other: Ensemble, name: str) -> float | None:
    """In what share of the samples a final number is larger than in another ensemble of the same draws; None if unknown."""
    if name not in one.final or name not in other.final:
        return None
    difference = one.final[name] - other.final[name]
    known = ~np.isnan(difference)
    return float(np.mean(difference[known] > 0.0)) if known.any() else None
