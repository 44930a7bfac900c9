"""What matters: which uncertain constant makes how much of the spread of the answer (Sobol indices).

First-order index: the share of the variance that would go if the constant were known; total index: the share that would
be left if all the others were. I. M. Sobol, Math. Comput. Simul. 55 (2001) 271; estimators of A. Saltelli et al., Comput.
Phys. Commun. 181 (2010) 259, as in scipy.stats.sobol_indices. Of some seventy uncertain numbers the most influential are
found first by rank correlation in a small ensemble; the indices are computed for those, the others held at their centres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np

from kinetics.analysis.ensemble import (
    ENSEMBLE_RTOL,
    SETTINGS,
    Ensemble,
    Prior,
    Task,
    draw,
    prior_of,
    propagate,
    time_grid,
)
from kinetics.analysis.executors import Progress
from kinetics.analysis.runs import onward
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.integrate import NumericalFailure
from kinetics.run.scenario import Scenario

Array = np.ndarray
SCREENING = 192  # samples of the first, small ensemble
RESAMPLES = 200  # of the bootstrap
FOREMOST = 8  # constants whose indices are computed
TOLERATED = 0.05  # share of failed samples beyond which nothing is said
SETTING_WORDS = {
    SETTINGS[0]: "the air exchange of the condenser",
    SETTINGS[1]: "how far above the coolant the vapour meets the air",
    SETTINGS[2]: "the transfer between oil and water (stirring)",
}


@dataclass(frozen=True)
class Influence:
    """Indices of one uncertain number for one answer, with bootstrap 90 % intervals half-widths."""

    name: str
    words: str
    measurable: bool  # by the user: apparatus or charge
    first: float
    first_error: float
    total: float
    total_error: float


@dataclass(frozen=True)
class Sensitivity:
    """For each answer its influences, largest total first, and the share of its variance they make together."""

    answers: Mapping[str, tuple[Influence, ...]]
    covered: Mapping[str, float]
    spread: Mapping[str, tuple[float, float, float]]  # 5, 50, 95 % of the screening ensemble
    samples: int
    failed: int
    seed: int
    target: float | None

    def to_json(self) -> dict[str, Any]:
        return {
            "answers": {
                answer: {
                    "indices": [
                        {k: None if isinstance(v, float) and not np.isfinite(v) else v for k, v in vars(i).items()}
                        for i in influences
                    ],
                    "covered": self.covered[answer],
                    "p5_p50_p95": list(self.spread[answer]),
                }
                for answer, influences in self.answers.items()
            },
            "samples": self.samples,
            "samples_failed": self.failed,
            "seed": self.seed,
            "target": self.target,
        }


def hours_to(course: Array, times: Array, target: float, hold_start: float, hold: float) -> Array:
    """Hours of hold until a course (times, samples) first passes the target; the length of the hold if it never does."""
    inside = (times >= hold_start) & (times <= hold_start + hold)
    t, values = (times[inside] - hold_start) / 3600.0, course[inside]
    above = values >= target
    first = np.argmax(above, axis=0)
    columns = np.arange(values.shape[1])
    before = np.maximum(first - 1, 0)
    low, high = values[before, columns], values[first, columns]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(first > 0, (target - low) / (high - low), 0.0)
    result: Array = np.where(above.any(axis=0), t[before] + part * (t[first] - t[before]), hold / 3600.0)
    return np.where(np.isnan(values).any(axis=0), np.nan, result)


def answers_of(
    courses: Mapping[str, Array], final: Mapping[str, Array], times: Array, scenario: Scenario, target: float | None
) -> dict[str, Array]:
    """The answers whose spread is explained, each (samples,)."""
    found = {name: final[name] for name in ("conversion", "yield") if name in final}
    if target is not None and "conversion" in courses:
        heating = scenario.heating
        found["target_h"] = hours_to(courses["conversion"], times, target, heating.ramp_s, heating.hold_s)
    return found


def foremost(ensemble: Ensemble, answers: Mapping[str, Array], count: int) -> list[int]:
    """Positions of the uncertain numbers with the largest rank correlation with any answer."""
    strength = np.zeros(len(ensemble.prior.names))
    for values in answers.values():
        known = ~np.isnan(values)
        if not known.any() or np.ptp(values[known]) == 0.0:
            continue
        ranks = np.argsort(np.argsort(values[known])).astype(float)
        for k, z in enumerate(ensemble.z[:, known]):
            order = np.argsort(np.argsort(z)).astype(float)
            strength[k] = max(strength[k], abs(np.corrcoef(ranks, order)[0, 1]))
    return sorted(np.argsort(-strength)[:count].tolist())


def indices(f_A: Array, f_B: Array, f_AB: Array, seed: int) -> tuple[Array, Array, Array, Array]:
    """First-order and total indices (answers, inputs) and half-widths of their 90 % bootstrap intervals.

    f_A, f_B (answers, n) and f_AB (inputs, answers, n): the answers at two independent designs, and at the first with
    one input taken from the second. n is a power of two.
    """
    from scipy.stats import sobol_indices

    n, rng = f_A.shape[1], np.random.default_rng(seed)

    def estimate(chosen: Any) -> Array:
        parts = {"f_A": f_A[:, chosen], "f_B": f_B[:, chosen], "f_AB": f_AB[:, :, chosen]}
        with np.errstate(all="ignore"):  # an answer that does not vary has no indices
            found = sobol_indices(func=parts, n=n)
        return np.array([np.atleast_2d(found.first_order), np.atleast_2d(found.total_order)])

    first, total = estimate(slice(None))
    again = np.array([estimate(rng.integers(n, size=n)) for _ in range(RESAMPLES)])
    low, high = np.nanquantile(again, [0.05, 0.95], axis=0)
    first_error, total_error = 0.5 * (high - low)
    return first, first_error, total, total_error


def sensitivity(
    scenario: Scenario,
    base: int = 64,
    seed: int = 0,
    *,
    target: float | None = None,
    count: int = FOREMOST,
    prior: Prior | None = None,
    mechanisms: Mechanisms | None = None,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Sensitivity:
    """Sobol indices from `base` (a power of two) times `count` + 2 samples, after a screening ensemble."""
    mechanisms = mechanisms or Mechanisms()
    shelf = load_shelf().including(scenario.substrate)
    prior = prior or prior_of(scenario, shelf, mechanisms)
    count = min(count, len(prior.names))
    whole = SCREENING + base * (count + 2)
    times = time_grid(scenario)

    def run(z: Array, done: int) -> tuple[dict[str, Array], int]:
        task = Task(scenario, prior.names, z, times, mechanisms, ENSEMBLE_RTOL)
        courses, final, failures = propagate(task, workers, executor, onward(progress, done, whole))
        return answers_of(courses, final, times, scenario, target), len(failures)

    z = draw(prior, SCREENING, seed)
    screened, lost = run(z, 0)
    if not screened:
        raise NumericalFailure("there is no conversion to explain: no substrate is charged", 0.0)
    chosen = foremost(Ensemble(prior, z, times, {}, {}, {}, seed), screened, count)
    designs = design(prior, chosen, base, seed)
    answers, failed = run(designs, SCREENING)
    if failed + lost > TOLERATED * whole:
        raise NumericalFailure(f"{failed + lost} of {whole} samples failed: too many to apportion the spread", 0.0)
    table = np.array([np.where(np.isnan(v), np.nanmean(v), v) for v in answers.values()])
    f_A, f_B, *f_AB = np.split(table, count + 2, axis=1)
    first, first_error, total, total_error = indices(f_A, f_B, np.array(f_AB), seed)
    result, covered, spread = {}, {}, {}
    for a, answer in enumerate(answers):
        influences = [
            Influence(
                prior.names[k],
                words_of(prior.names[k], shelf),
                can_be_measured(prior.names[k]),
                *(float(x[a, i]) for x in (first, first_error, total, total_error)),
            )
            for i, k in enumerate(chosen)
        ]
        result[answer] = tuple(sorted(influences, key=lambda i: -i.total))
        both = np.concatenate([f_A[a], f_B[a]])
        covered[answer] = float(min(np.var(both) / np.nanvar(screened[answer]), 1.0))
        low, middle, high = np.nanquantile(screened[answer], [0.05, 0.5, 0.95]).tolist()
        spread[answer] = (low, middle, high)
    return Sensitivity(result, covered, spread, whole, failed + lost, seed, target)


def design(prior: Prior, chosen: Sequence[int], base: int, seed: int) -> Array:
    """z (names, samples) of the designs A, B and A with one chosen input of B, side by side; the others at the centre."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    count = len(chosen)
    points = qmc.Sobol(2 * count, rng=np.random.default_rng([seed, 1])).random(base).T
    A, B = np.split(ndtri(np.clip(points, 1e-12, 1.0 - 1e-12)), 2)
    mixed = []
    for i in range(count):
        AB = A.copy()
        AB[i] = B[i]
        mixed.append(AB)
    inputs = np.hstack([A, B, *mixed])
    normals = np.zeros((len(prior.names), inputs.shape[1]))
    normals[list(chosen)] = inputs
    z: Array = prior.mean[:, None] + prior.root @ normals
    return z


def words_of(name: str, shelf: Shelf) -> str:
    """What an uncertain number is, in words."""
    if name in SETTING_WORDS:
        return SETTING_WORDS[name]
    if name.startswith("charge."):
        return f"how much {name.removeprefix('charge.')} is really charged"
    quantity = shelf[name].quantity.replace(" at 298.15 K", "").replace(" at the reference temperature", "")
    parts = name.split(".")
    of = parts[-2] if parts[0] == "reaction" else parts[0]
    return f"the {quantity} of the {of}" if parts[0] == "reaction" else f"the {quantity} ({of})"


def can_be_measured(name: str) -> bool:
    """Whether it belongs to the user's own apparatus or charge, and not to chemistry."""
    return name in SETTING_WORDS or name.startswith("charge.")
