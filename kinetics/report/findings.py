"""Everything a page tells, computed: the run and its bands, the hours, the options, the stall explained, the what-if."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from kinetics.analysis.ceiling import charged_mol, substrate_of
from kinetics.analysis.compare import Compared, compare
from kinetics.analysis.ensemble import SETTINGS, Bands, Prior, bands_of, run_ensemble
from kinetics.analysis.executors import default_workers, pool
from kinetics.analysis.explain import Explanation, explain
from kinetics.analysis.feed import FeedReport, feed_report
from kinetics.analysis.hazard import HazardReport, hazard_report
from kinetics.analysis.hours import Hours, hours
from kinetics.analysis.ledger import WORKUP_RECORDS, Ledger, ledger_of, with_band
from kinetics.analysis.runs import Job, Progress, moved, moved_run
from kinetics.data.records import Record
from kinetics.data.shelf import load_shelf
from kinetics.data.substrate import Substrate
from kinetics.flask.network import STRONG_IONS
from kinetics.report.grid import NODES, Grid, Shifts, compute_grid
from kinetics.run.integrate import NumericalFailure
from kinetics.run.notices import is_exact, records_used
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

if TYPE_CHECKING:
    from typing import TypeVar

    T = TypeVar("T")

WORK = {"explain": 150, "hours": 12, "option": 1, "grid": 92, "samples": 20, "band": 24}  # in runs, about, for telling progress
AROUND = (*WORKUP_RECORDS, "ventilation.mixing_factor", "trap.")  # records that ledger and hazards lean on


@dataclass(frozen=True)
class Findings:
    """What was computed of a scenario. None: not computed, for the reason in `missing` (section: why)."""

    scenario: Scenario
    substrate: Substrate
    run: Run
    bands: Bands | None
    samples: int
    seed: int
    hours: Hours | None
    compared: tuple[Compared, ...]
    explanation: Explanation | None
    hazard: HazardReport
    ledger: Ledger | None
    feed: FeedReport | None
    shifts: Shifts
    grid: Grid | None
    records: tuple[Record, ...]
    missing: Mapping[str, str]


class Lots:
    """Progress of several lots of work, told as progress of one."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self.progress, self.total, self.done = progress, total, 0

    def lot(self, size: int) -> Progress:
        """Progress of the next lot, which counts as much as `size` runs."""
        start, self.done = self.done, self.done + size

        def tell(done: int, total: int) -> None:
            if self.progress is not None:
                self.progress(start + size * done // max(total, 1), self.total)

        return tell


def findings_of(
    scenario: Scenario,
    samples: int = 0,
    seed: int = 0,
    *,
    nodes: Mapping[str, int] | None = NODES,
    shifts: Shifts = (),
    prior: Prior | None = None,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Compute all of it. nodes: of the what-if grid along each setting, None for no what-if; shifts and prior: what a calibration
    moves and what samples are drawn from, the shelf's own where there is none; workers, executor: see run_jobs.

    Raises NumericalFailure where the run itself stops short; what else fails is told in `missing`.
    """
    run = moved_run(scenario, shifts)
    if run.failure is not None:
        raise run.failure
    trajectory = run.trajectory
    assert trajectory is not None
    substrate, options = substrate_of(scenario), len(scenario.options)
    total = WORK["explain"] + WORK["hours"] + options + WORK["grid"] * (nodes is not None)
    total += (WORK["samples"] + WORK["band"]) * bool(samples)
    lots = Lots(progress, total)
    converts = charged_mol(scenario, substrate.substrate) > 0.0
    missing: dict[str, str] = {}
    workers = default_workers(total) if workers is None else workers
    with pool(workers, executor) as executor:
        grid = what_if(scenario, trajectory.boil_K, nodes, shifts, converts, executor, lots, missing)
        why = when = None
        if converts:
            why = attempt(
                lambda: explain(scenario, shifts=shifts, executor=executor, progress=lots.lot(WORK["explain"])), "explanation", missing
            )
            when = attempt(lambda: hours(scenario, shifts=shifts, executor=executor, progress=lots.lot(WORK["hours"])), "hours", missing)
        else:
            missing |= dict.fromkeys(("explanation", "hours"), f"no {substrate.substrate} is charged to be converted")
        compared = []
        if options:
            compared = compare([scenario], shifts=shifts, executor=executor, progress=lots.lot(options), whole=True)
        bands = None
        if samples:
            times, tell = run.series.time_s, lots.lot(WORK["samples"])
            drawn = run_ensemble(scenario, samples, seed, prior=prior, times=times, executor=executor, progress=tell)
            bands = bands_of(drawn)
        moved_scenario, moved_shelf = moved(Job(scenario, shifts=shifts))
        ledger = attempt(lambda: ledger_of(run, moved_scenario, moved_shelf), "ledger", missing)
        if samples and ledger is not None:
            tell = lots.lot(WORK["band"])
            ledger = attempt(partial(with_band, ledger, run, scenario, shifts, prior, executor), "band", missing) or ledger
            tell(1, 1)
    shelf = load_shelf().including(scenario.substrate)
    last = trajectory.segments[-1]
    absent = [ion for ion, amount in zip(STRONG_IONS, last.strong_ions(last.end_s)) if amount == 0.0]
    used = [r for r in records_used(trajectory.network, shelf, absent) if not is_exact(r)]
    used += [shelf[name] for name in SETTINGS[2 if scenario.vessel.closed else 0 :]]
    used += [shelf[name] for name in shelf.names() if name.startswith(AROUND) and not is_exact(shelf[name])]
    return Findings(
        scenario,
        substrate,
        run,
        bands,
        samples,
        seed,
        when,
        tuple(compared),
        why,
        hazard_report(run, moved_scenario, moved_shelf),
        ledger,
        feed_report(moved_scenario, moved_shelf),
        shifts,
        grid,
        tuple(used),
        missing,
    )


def what_if(
    scenario: Scenario,
    boil_K: float,
    nodes: Mapping[str, int] | None,
    shifts: Shifts,
    converts: bool,
    executor: Executor | None,
    lots: Lots,
    missing: dict[str, str],
) -> Grid | None:
    """The grid of the what-if panel, where one is asked for and can be had."""
    if nodes is None:
        missing["what-if"] = "they were not asked for"
    elif not converts:
        missing["what-if"] = "there is no conversion to show"
    else:
        grid = compute_grid(scenario, boil_K, nodes, shifts, executor, lots.lot(WORK["grid"]))
        if isinstance(grid, Grid):
            return grid
        missing["what-if"] = grid
    return None


def attempt(work: Callable[[], T], section: str, missing: dict[str, str]) -> T | None:
    """What the work gives; where a computation fails, nothing, and the reason under the section's name."""
    try:
        return work()
    except NumericalFailure as failure:
        missing[section] = f"a run that it needs failed: {failure}"
        return None
