"""Bands for several scenarios from the same draws, so that what they share does not blur what differs between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from kinetics.analysis.ensemble import Ensemble, Prior, prior_of, run_ensemble
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
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[Ensemble]:
    """An ensemble for each scenario, sample k of every one with the same constants."""
    prior = prior or common_prior(scenarios)
    found = []
    for done, scenario in enumerate(scenarios):
        told = None if progress is None else _after(progress, done * count, len(scenarios) * count)
        found.append(run_ensemble(scenario, count, seed, prior=prior, workers=workers, progress=told))
    return found


def _after(progress: Callable[[int, int], None], done: int, whole: int) -> Callable[[int, int], None]:
    return lambda part, _: progress(done + part, whole)


def probability_of_more(one: Ensemble, other: Ensemble, name: str) -> float | None:
    """In what share of the samples a final number is larger than in another ensemble of the same draws; None if unknown."""
    if name not in one.final or name not in other.final:
        return None
    difference = one.final[name] - other.final[name]
    known = ~np.isnan(difference)
    return float(np.mean(difference[known] > 0.0)) if known.any() else None
