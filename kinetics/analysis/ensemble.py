"""Uncertainty bands: all uncertain constants, settings and charges drawn together and propagated through the model.

Propagation of distributions after JCGM 101:2008 (GUM Supplement 1): a factor is a log-normal, a sigma a normal
distribution. The constants drawn are the shelf's independent ones (equilibria of the free-energy ledger, parents of
derived numbers), so every loop stays closed in every sample. The samples are independent Latin hypercubes (M. D. McKay,
R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239); the scatter of each quantile between them is its standard
error.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from contextlib import closing
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from kinetics.analysis.executors import Progress, default_workers, silent, spread
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import STRONG_IONS, build_network
from kinetics.run.batch import BatchTrajectory, Samples, integrate_batch
from kinetics.run.notices import is_exact, records_used
from kinetics.run.plan import sum_of_components
from kinetics.run.result import plain
from kinetics.run.scenario import Scenario

Array = np.ndarray
Part = tuple[dict[str, Array], dict[str, Array], dict[int, str]]  # courses, final numbers, failures
HYPERCUBES = 8  # independent ones, for the standard error
CHUNK = 1250  # samples integrated at a time, at the most: memory
LEAST_CHUNK = 512  # and at the least: before its first sample a chunk costs as much as some 900 samples
CHUNKS_PER_PROCESS = 1  # a chunk takes seconds
ENSEMBLE_RTOL = 1e-5  # of the integration: a thousandth of what the constants leave open
SETTINGS = ("apparatus.air_exchange", "apparatus.approach", "apparatus.k_La.gentle")
QUANTILES = {"p5": 0.05, "p50": 0.50, "p95": 0.95}
ERRORS = {key: f"se_{key}" for key in QUANTILES}
TIMES = 49


@dataclass(frozen=True)
class Prior:
    """What is uncertain of a scenario, each in units of its standard uncertainty: a joint normal distribution of z."""

    names: tuple[str, ...]
    mean: Array
    root: Array  # lower triangular: z = mean + root @ n, n independent standard normals


@dataclass(frozen=True)
class Ensemble:
    """Courses and final numbers of all samples; NaN where a sample failed."""

    prior: Prior
    z: Array  # (names, samples)
    times: Array
    courses: Mapping[str, Array]  # conversion, yield: (times, samples)
    final: Mapping[str, Array]  # by summary name: (samples,)
    failures: Mapping[int, str]
    seed: int

    @property
    def count(self) -> int:
        return int(self.z.shape[1])


def uncertain_names(scenario: Scenario, shelf: Shelf, mechanisms: Mechanisms) -> tuple[str, ...]:
    """The shelf's constants this scenario leans on that are not exact, its settings, and charges given as uncertain."""
    network = build_network(shelf.substrate(scenario.substrate), shelf, mechanisms)
    components = sum_of_components([*scenario.charges, *(c for a in scenario.additions for c in a.charges)])
    absent = [ion for ion in STRONG_IONS if not components.get(ion, 0.0)]
    records = records_used(network, shelf, absent)
    names = [r.name for r in records if not is_exact(r) and r.name.split(".")[0] not in ("element", "physics")]
    names += [] if scenario.vessel.closed else list(SETTINGS[:2])
    names.append(SETTINGS[2])
    names += sorted({f"charge.{c.substance}" for c in scenario.charges if c.uncertainty > 0.0})
    return tuple(names)


def prior_of(scenario: Scenario, shelf: Shelf, mechanisms: Mechanisms) -> Prior:
    """The shelf's own uncertainties: independent standard normals."""
    names = uncertain_names(scenario, shelf, mechanisms)
    return Prior(names, np.zeros(len(names)), np.eye(len(names)))


def draw(prior: Prior, count: int, seed: int) -> Array:
    """z of all uncertain numbers (names, samples): several independent Latin hypercubes side by side."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    streams = np.random.SeedSequence(seed).spawn(HYPERCUBES)
    sizes = [len(part) for part in np.array_split(np.arange(count), HYPERCUBES)]
    normals = [
        ndtri(qmc.LatinHypercube(len(prior.names), rng=np.random.default_rng(stream)).random(size)).T
        for stream, size in zip(streams, sizes)
        if size
    ]
    z: Array = prior.mean[:, None] + prior.root @ np.hstack(normals)
    return z


def samples_of(scenario: Scenario, shelf: Shelf, names: Sequence[str], z: Array) -> Samples:
    """The samples as the batch integration takes them. The condenser's approach is never negative."""
    by_name = dict(zip(names, z))  # a name that this scenario does not know acts in another one
    spread = {c.substance: c.uncertainty for c in scenario.charges}
    amounts = {
        substance: np.exp(np.log1p(sigma) * by_name[f"charge.{substance}"])
        for substance, sigma in spread.items()
        if f"charge.{substance}" in by_name
    }
    settings: dict[str, Any] = {}
    for key, name in (("air_exchange", SETTINGS[0]), ("k_La", SETTINGS[2])):
        if name in by_name:
            settings[key] = shelf[name].factor ** by_name[name]
    if SETTINGS[1] in by_name:
        approach = scenario.condenser.approach_K
        settings["approach_K"] = np.maximum(shelf[SETTINGS[1]].sigma * by_name[SETTINGS[1]], -approach)
    shifts = {name: values for name, values in by_name.items() if name in shelf and name not in SETTINGS}
    return Samples(z.shape[1], shifts, amounts, **settings)


def time_grid(scenario: Scenario) -> Array:
    """Output times [s]: the programme's kinks among evenly spaced ones."""
    heating = scenario.heating
    kinks = np.cumsum([0.0, heating.ramp_s, heating.hold_s, heating.cooling_s])
    return np.unique(np.concatenate([kinks, np.linspace(0.0, kinks[-1], TIMES)]))


def reduce(batch: BatchTrajectory, shelf: Shelf) -> tuple[dict[str, Array], dict[str, Array]]:
    """Courses and final numbers of a batch: the same definitions as in a run's summary."""
    network, substrate = batch.network, batch.network.substrate
    count, oils, volatiles = len(network.species), list(network.oils), list(network.volatiles)
    leaving = [*volatiles, network.water]
    vent_at = count + len(oils)
    taken_at = vent_at + len(leaving)
    nothing = np.zeros_like(batch.states[:, 0])

    def flask(name: str) -> Array:
        return batch.states[:, network.position(name)]

    def column(name: str, start: int) -> Array:
        i = network.position(name)
        return batch.states[:, start + leaving.index(i)] if i in leaving else nothing

    def in_oil(name: str) -> Array:
        i = network.position(name)
        return batch.states[:, count + oils.index(i)] if i in oils else nothing

    def left(name: str) -> Array:
        return column(name, vent_at) + column(name, taken_at)

    enal, product = substrate.substrate, substrate.product
    grams = {name: shelf.substance(name).molar_mass for name in (enal, product)}
    charged = batch.put_in(enal)
    courses: dict[str, Array] = {}
    if (charged[-1] > 0.0).all():
        with np.errstate(divide="ignore", invalid="ignore"):  # before anything is added
            courses["conversion"] = (charged - flask(enal) - left(enal)) / charged
            made = flask(product) + column(product, taken_at) - batch.put_in(product)
            courses["yield"] = made / (substrate.product_per_substrate * charged)
    final = {name: values[-1] for name, values in courses.items()}
    if courses:
        final["selectivity"] = final["yield"] / final["conversion"]
    final |= {
        "byproduct_in_flask_mol": flask(substrate.by_product)[-1],
        "byproduct_left_mol": left(substrate.by_product)[-1],
        "product_in_flask_g": flask(product)[-1] * grams[product],
        "product_in_oil_g": in_oil(product)[-1] * grams[product],
        "product_taken_off_g": column(product, taken_at)[-1] * grams[product],
        "product_vented_g": column(product, vent_at)[-1] * grams[product],
        "unreacted_g": flask(enal)[-1] * grams[enal],
    }
    final |= batch.final
    return courses, {name: np.array(values) for name, values in final.items()}  # a view would keep all states


@dataclass(frozen=True)
class Task:
    """Samples to be propagated, in any process: z (names, samples), output times [s]."""

    scenario: Scenario
    names: tuple[str, ...]
    z: Array
    times: Array
    mechanisms: Mechanisms
    rtol: float


def compute_chunk(task: Task) -> Part:
    """Courses, final numbers and failures of one chunk."""
    shelf = load_shelf().including(task.scenario.substrate)
    samples = samples_of(task.scenario, shelf, task.names, task.z)
    batch = integrate_batch(task.scenario, shelf, samples, task.times.tolist(), task.mechanisms, task.rtol)
    return *reduce(batch, shelf), dict(batch.failures)


def run_ensemble(
    scenario: Scenario,
    count: int,
    seed: int = 0,
    *,
    prior: Prior | None = None,
    mechanisms: Mechanisms | None = None,
    times: Sequence[float] | Array | None = None,
    rtol: float = ENSEMBLE_RTOL,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Ensemble:
    """Propagate `count` samples. The result depends on seed and count, not on workers or executor (see run_jobs).

    `prior`: the distribution to draw from (the shelf's own, or a calibration's posterior); `times` [s]: of the courses.
    """
    mechanisms = mechanisms or Mechanisms()
    shelf = load_shelf().including(scenario.substrate)
    prior = prior or prior_of(scenario, shelf, mechanisms)
    z = draw(prior, count, seed)
    grid = time_grid(scenario) if times is None else np.unique(np.asarray(times, dtype=float))
    run = Task(scenario, prior.names, z, grid, mechanisms, rtol)
    return Ensemble(prior, z, grid, *propagate(run, workers, executor, progress), seed)


def propagate(
    task: Task, workers: int | None, executor: Executor | None = None, progress: Progress | None = None
) -> Part:
    """Courses, final numbers and failures of all samples of a task, chunk by chunk."""
    return propagate_all([task], workers, executor, progress)[0]


def propagate_all(
    tasks: Sequence[Task],
    workers: int | None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> list[Part]:
    """The same for several tasks, whose chunks are computed side by side."""
    chunks = [[replace(task, z=z) for z in chunks_of(task.z)] for task in tasks]
    tell, done, whole = progress or silent, 0, sum(task.z.shape[1] for task in tasks)
    tell(done, whole)
    every = [chunk for lot in chunks for chunk in lot]
    workers = default_workers(len(every), CHUNKS_PER_PROCESS) if workers is None else workers
    found = []
    with closing(spread(compute_chunk, every, workers, executor)) as parts:
        for lot in chunks:
            computed = []
            for chunk in lot:
                computed.append(next(parts))
                done += chunk.z.shape[1]
                tell(done, whole)
            found.append(joined(computed))
    return found


def chunks_of(z: Array) -> list[Array]:
    """Samples cut into equal chunks, of half of them where the limits allow it: the number of samples alone decides."""
    count = z.shape[1]
    size = min(max(count // 2, LEAST_CHUNK), CHUNK)
    return np.array_split(z, max(-(-count // size), 1), axis=1)


def joined(parts: Sequence[Part]) -> Part:
    """Chunks of one task side by side."""
    courses, final, _ = zip(*parts)
    at, shifted = 0, dict[int, str]()
    for _, numbers, failed in parts:
        shifted |= {at + i: why for i, why in failed.items()}
        at += len(next(iter(numbers.values())))
    return side_by_side(courses), side_by_side(final), shifted


def side_by_side(parts: Sequence[dict[str, Array]]) -> dict[str, Array]:
    """Arrays of the same name joined along the samples."""
    return {name: np.concatenate([part[name] for part in parts], axis=-1) for name in parts[0]}


def quantiles(values: Array) -> dict[str, Any]:
    """5, 50 and 95 % quantiles over the samples (the last axis), each with its standard error (se_p5, se_p50, se_p95).

    The standard error of quantile q is s(q_1 ... q_8)/sqrt(8), the q_k being the same quantile of each Latin hypercube
    alone and s their standard deviation; with seven degrees of freedom it is known to about a quarter. For few samples
    the outer quantiles of a hypercube scatter too little: for normal values their errors come out 0.7 of the true ones
    with 64 samples, 0.85 with 160, 0.95 with 800; that of the median 1.0 with any. None where nothing is known: no
    sample came through, or too few for hypercubes of their own.
    """
    known = ~np.isnan(values if values.ndim == 1 else values[-1])  # of a course: those that came to its end
    if not known.any():
        return dict.fromkeys([*QUANTILES, *ERRORS.values()])
    levels = list(QUANTILES.values())
    whole = np.quantile(values[..., known], levels, axis=-1)
    cubes = [part[known[part]] for part in np.array_split(np.arange(values.shape[-1]), HYPERCUBES)]
    errors: Sequence[Any] = [None] * len(levels)
    if all(len(cube) > 1 for cube in cubes):
        each = np.array([np.quantile(values[..., cube], levels, axis=-1) for cube in cubes])
        errors = np.std(each, axis=0, ddof=1) / np.sqrt(HYPERCUBES)
    return dict(zip(QUANTILES, map(plain, whole))) | dict(zip(ERRORS.values(), map(plain, errors)))


@dataclass(frozen=True)
class Bands:
    """Quantiles of an ensemble, as JSON reports them."""

    bands: Mapping[str, Mapping[str, float | None]]
    courses: Mapping[str, Mapping[str, Any]]
    time_s: list[float]
    samples: int
    failed: int
    seed: int
    notices: tuple[str, ...] = field(default=())

    def to_json(self) -> dict[str, Any]:
        """Keys to be merged into a command's JSON."""
        return {
            "bands": dict(self.bands),
            "band_series": {"time_s": self.time_s, **self.courses},
            "samples": self.samples,
            "samples_failed": self.failed,
            "seed": self.seed,
        }


def bands_of(ensemble: Ensemble) -> Bands:
    """Bands on every final number and on the courses."""
    failed = len(ensemble.failures)
    notices = (f"{failed} of {ensemble.count} samples failed and are left out of the bands",) if failed else ()
    return Bands(
        {name: quantiles(values) for name, values in ensemble.final.items()},
        {name: quantiles(values) for name, values in ensemble.courses.items()},
        ensemble.times.tolist(),
        ensemble.count,
        failed,
        ensemble.seed,
        notices,
    )
