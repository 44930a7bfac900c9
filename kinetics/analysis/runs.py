"""Many single runs: jobs in, outcomes out in their order, from one process or more."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass, field, replace

import numpy as np

from kinetics.analysis.executors import Progress, default_workers, pool, silent
from kinetics.data.faults import RefusedInput
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.integrate import RTOL
from kinetics.run.result import Run, Summary
from kinetics.run.scenario import Scenario
from kinetics.run.simulation import simulate

HOUR_S = 3600.0


@dataclass(frozen=True)
class Job:
    """One run to be computed.

    mechanisms: what acts; shifts: (name of a constant or setting, z) pairs, each moved by z standard uncertainties;
    times: output times [s from the start of the ramp], None for the standard ones; rtol: relative tolerance
    of the integration; key: what the caller knows it by; whole: keep the Run (without trajectory) as well.
    """

    scenario: Scenario
    mechanisms: Mechanisms = field(default_factory=Mechanisms)
    shifts: tuple[tuple[str, float], ...] = ()
    times: tuple[float, ...] | None = None
    rtol: float = RTOL
    key: Hashable = None
    whole: bool = False


def _nothing() -> np.ndarray:
    return np.empty(0)


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of a job, light enough to be sent between processes.

    failure: None, or why the run stopped short; what was computed until then is kept. summary: None where
    nothing was computed. Arrays are of one length, empty where nothing was computed; conversion and yield_
    are None where no substrate was charged. flask_end_mol and left_end_mol: each species at the end.
    hold_start_s and hold_s tell where in time_s the hold is; boil_K is the boil point at the start [K].
    """

    key: Hashable
    failure: str | None
    summary: Summary | None = None
    time_s: np.ndarray = field(default_factory=_nothing)
    temperature_K: np.ndarray = field(default_factory=_nothing)
    pH: np.ndarray = field(default_factory=_nothing)
    hydroxide_mol_per_L: np.ndarray = field(default_factory=_nothing)
    water_L: np.ndarray = field(default_factory=_nothing)
    oil_mol: np.ndarray = field(default_factory=_nothing)
    conversion: np.ndarray | None = None
    yield_: np.ndarray | None = None
    byproduct_in_flask_mol: np.ndarray = field(default_factory=_nothing)
    byproduct_left_mol: np.ndarray = field(default_factory=_nothing)
    flask_end_mol: Mapping[str, float] = field(default_factory=dict)
    left_end_mol: Mapping[str, float] = field(default_factory=dict)
    hold_start_s: float = 0.0
    hold_s: float = 0.0
    boil_K: float | None = None
    notices: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    run: Run | None = None

    def at_hold(self, hours: float, course: str = "conversion") -> float | None:
        """The value of a course, such as "yield_", after so many hours of the hold; None beyond its end."""
        values, time_s = getattr(self, course), self.hold_start_s + hours * HOUR_S
        if values is None or not len(values):
            return None
        last_s = min(self.hold_start_s + self.hold_s * (1.0 + 1e-9), float(self.time_s[-1]))
        if not self.time_s[0] <= time_s <= last_s:
            return None
        value = float(np.interp(time_s, self.time_s, values))
        return value if np.isfinite(value) else None


def compute(job: Job) -> Outcome:
    """The outcome of one job, whatever happens: what goes wrong is told in `failure`. Runs in any process."""
    try:
        scenario, shelf = moved(job)
        run = simulate(scenario, shelf=shelf, mechanisms=job.mechanisms, rtol=job.rtol, times=job.times)
        return outcome_of(run, job)
    except RefusedInput as error:
        return Outcome(job.key, f"refused: {error}")
    except Exception as error:
        return Outcome(job.key, f"a fault of the program stopped it: {type(error).__name__}: {error}")


def moved_run(scenario: Scenario, shifts: tuple[tuple[str, float], ...]) -> Run:
    """One whole run with constants and settings moved."""
    scenario, shelf = moved(Job(scenario, shifts=shifts))
    return simulate(scenario, shelf=shelf)


def moved(job: Job) -> tuple[Scenario, Shelf]:
    """The scenario and the shelf of a job with its shifts: settings move the scenario, constants the shelf."""
    shelf = load_shelf().including(job.scenario.substrate)
    if not job.shifts:
        return job.scenario, shelf
    from kinetics.analysis.calibration_file import at_best
    from kinetics.analysis.ensemble import SETTINGS

    shifts = dict(job.shifts)
    settings = {name: shifts.pop(name) for name in SETTINGS if name in shifts}
    return at_best(job.scenario, shelf, settings), shelf.shifted(shifts)


def outcome_of(run: Run, job: Job) -> Outcome:
    """What of a run goes back."""
    trajectory, series = run.trajectory, run.series
    assert trajectory is not None
    by_product, nothing = trajectory.network.substrate.by_product, np.zeros_like(series.time_s)
    return Outcome(
        key=job.key,
        failure=None if run.failure is None else str(run.failure),
        summary=run.summary,
        time_s=series.time_s,
        temperature_K=series.temperature_K,
        pH=series.pH,
        hydroxide_mol_per_L=series.hydroxide_mol_per_L,
        water_L=series.water_L,
        oil_mol=series.oil_mol,
        conversion=series.conversion,
        yield_=series.yield_,
        byproduct_in_flask_mol=series.flask_mol.get(by_product, nothing),
        byproduct_left_mol=series.left_mol.get(by_product, nothing),
        flask_end_mol={name: float(amounts[-1]) for name, amounts in series.flask_mol.items()},
        left_end_mol={name: float(amounts[-1]) for name, amounts in series.left_mol.items()},
        hold_start_s=job.scenario.heating.ramp_s,
        hold_s=job.scenario.heating.hold_s,
        boil_K=trajectory.boil_K,
        notices=run.notices,
        cautions=run.cautions,
        run=replace(run, trajectory=None) if job.whole else None,
    )


def run_jobs(
    jobs: Iterable[Job],
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> list[Outcome]:
    """The outcomes of the jobs, in their order, whatever the order of finishing.

    workers: processes to use, 1 for this one alone, None for as many as the lot is worth; executor: any
    concurrent.futures executor, used in their place and left open; progress: told (done, total) now and then.
    The numbers do not depend on any of them. A job that fails spoils no other. A script that asks for more
    than one worker keeps its own work under `if __name__ == "__main__":`, as always with processes.
    """
    jobs = list(jobs)
    workers = default_workers(len(jobs)) if workers is None else workers
    if workers < 1:
        raise ValueError(f"workers: expected 1 or more, came {workers}")
    tell = progress or silent
    tell(0, len(jobs))
    with pool(min(workers, max(len(jobs), 1)), executor) as doing:
        if doing is not None:
            return _spread(jobs, doing, tell)
        outcomes = []
        for done, job in enumerate(jobs, 1):
            outcomes.append(compute(job))
            tell(done, len(jobs))
        return outcomes


def onward(progress: Progress | None, done_before: int, total: int) -> Progress | None:
    """Progress of one of several lots, told as progress of them all."""
    return None if progress is None else lambda done, _: progress(done_before + done, total)


def _spread(jobs: Sequence[Job], executor: Executor, tell: Progress) -> list[Outcome]:
    """Send the jobs out one by one, as each takes far longer than its sending, and put them in order."""
    futures: dict[Future[Outcome], int] = {}
    outcomes: dict[int, Outcome] = {}
    try:
        for position, job in enumerate(jobs):
            futures[executor.submit(compute, job)] = position
        for future in as_completed(futures):
            position = futures[future]
            outcomes[position] = _received(future, jobs[position])
            tell(len(outcomes), len(jobs))
    except BaseException:
        for future in futures:
            future.cancel()
        raise
    return [outcomes[position] for position in range(len(jobs))]


def _received(future: Future[Outcome], job: Job) -> Outcome:
    """What a worker sent back; where it died instead, a failure."""
    try:
        return future.result()
    except RefusedInput:  # by the executor itself, such as a file of progress that cannot be written
        raise
    except Exception as error:
        said = f"the process that computed it ended before its time ({type(error).__name__}: {error})"
        return Outcome(job.key, said)
