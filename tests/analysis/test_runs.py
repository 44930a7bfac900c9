"""Many runs through one seam: the same numbers as one by one, in order, whatever fails and whoever computes."""

from __future__ import annotations

import pickle
import threading
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from short_boil import SHORT, same

import kinetics
from kinetics.analysis import runs
from kinetics.analysis.executors import default_workers
from kinetics.analysis.runs import Job, compute, run_jobs
from kinetics.run.integrate import NumericalFailure
from kinetics.run.reading import parse_scenario

ARRAYS = (
    "time_s",
    "temperature_K",
    "pH",
    "hydroxide_mol_per_L",
    "water_L",
    "oil_mol",
    "conversion",
    "yield_",
)


@pytest.fixture(scope="module")
def scenario():
    return parse_scenario(SHORT)


def test_an_outcome_is_the_run_that_simulate_gives(scenario):
    run, outcome = kinetics.simulate(scenario), compute(Job(scenario, key="mine"))
    assert (outcome.key, outcome.failure, outcome.run) == ("mine", None, None)
    assert outcome.summary == run.summary
    for name in ARRAYS:
        assert np.array_equal(getattr(outcome, name), getattr(run.series, name)), name
    assert np.array_equal(outcome.byproduct_left_mol, run.series.left_mol["acetaldehyde"])
    assert np.array_equal(outcome.byproduct_in_flask_mol, run.series.flask_mol["acetaldehyde"])
    assert outcome.flask_end_mol["benzaldehyde"] == run.series.flask_mol["benzaldehyde"][-1]
    assert outcome.left_end_mol["acetaldehyde"] == run.series.left_mol["acetaldehyde"][-1]
    assert (outcome.notices, outcome.cautions) == (run.notices, run.cautions)


def test_shifts_mechanisms_times_and_tolerance_reach_the_run(scenario):
    shifts = (("reaction.cinnamaldehyde.equilibrium.cleavage.K", 2.0),)
    mechanisms, times = kinetics.Mechanisms(crossed_aldol=False), (600.0, 900.0)
    job = Job(scenario, mechanisms, shifts, times, rtol=1e-5)
    shelf = kinetics.load_shelf().shifted(dict(shifts))
    run = kinetics.simulate(scenario, shelf=shelf, mechanisms=mechanisms, times=times, rtol=1e-5)
    outcome = compute(job)
    assert outcome.summary == run.summary
    assert np.array_equal(outcome.time_s, run.series.time_s)
    for other in (replace(job, shifts=()), replace(job, mechanisms=kinetics.Mechanisms())):
        assert compute(other).summary.conversion != run.summary.conversion


def test_a_job_and_its_outcome_travel_between_processes(scenario):
    job = Job(scenario, key=("a", 1), whole=True)
    outcome = compute(job)
    assert pickle.loads(pickle.dumps(job)) == job
    back = pickle.loads(pickle.dumps(outcome))
    assert back.summary == outcome.summary and back.run.summary == outcome.summary
    assert back.run.trajectory is None
    assert len(pickle.dumps(compute(replace(job, whole=False)))) < 100_000


def test_a_numerical_failure_travels_whole():
    back = pickle.loads(pickle.dumps(NumericalFailure("the flask is dry", 3600.0)))
    assert (str(back), back.reached_s) == ("the flask is dry", 3600.0)


def test_two_processes_give_what_one_gives_in_the_same_order(scenario):
    jobs = [
        Job(scenario.with_changes({"charge.sodium carbonate": f"{grams} g"}), key=grams)
        for grams in (4, 1, 3, 2)
    ]
    alone, together = run_jobs(jobs, workers=1), run_jobs(jobs, workers=2)
    assert [outcome.key for outcome in together] == [4, 1, 3, 2]
    assert all(same(one, other) for one, other in zip(alone, together, strict=True))


class Backwards(Executor):
    """Finishes what came last first."""

    def __init__(self) -> None:
        self.waiting: list = []

    def submit(self, function, /, *arguments):
        self.waiting.append((future := Future(), function, arguments))
        if len(self.waiting) == 3:
            for future_, function_, arguments_ in reversed(self.waiting):
                future_.set_result(function_(*arguments_))
        return future


def test_any_executor_will_do_and_the_order_is_that_of_the_jobs(scenario):
    jobs = [Job(scenario.with_changes({"heating.hold": f"{t} min"}), key=t) for t in (5, 6, 7)]
    expected = run_jobs(jobs)
    assert [outcome.key for outcome in run_jobs(jobs, executor=Backwards())] == [5, 6, 7]
    with ThreadPoolExecutor(2) as threads:
        found = run_jobs(jobs, executor=threads)
        assert threads.submit(int, "3").result() == 3  # it is left open
    assert all(same(one, other) for one, other in zip(expected, found, strict=True))


@pytest.mark.parametrize("workers", [1, 2])
def test_a_failing_job_is_told_in_its_own_outcome_and_spoils_no_other(scenario, workers):
    good = Job(scenario, key="good")
    jobs = [good, Job(scenario, shifts=(("no such constant", 1.0),), key="bad"), Job(None, key="worse"), good]
    found = run_jobs(jobs, workers=workers)
    assert [outcome.key for outcome in found] == ["good", "bad", "worse", "good"]
    assert "no such constant" in found[1].failure
    assert "AttributeError" in found[2].failure
    assert found[1].summary is None and found[1].at_hold(0.1) is None
    assert found[0].failure is None and same(found[0], found[3]) and same(found[0], compute(good))


def test_a_run_that_stops_short_keeps_what_was_computed(scenario, monkeypatch):
    run = replace(kinetics.simulate(scenario), failure=NumericalFailure("the flask is dry", 900.0))
    monkeypatch.setattr(runs, "simulate", lambda *_, **__: run)
    outcome = compute(Job(scenario, whole=True))
    assert outcome.failure == "the flask is dry"
    assert outcome.summary == run.summary
    assert pickle.loads(pickle.dumps(outcome)).run.failure.reached_s == 900.0


class Dying(Executor):
    """Loses every second job, as when the process that computes it is killed."""

    count = 0

    def submit(self, function, /, *arguments):
        future: Future = Future()
        self.count += 1
        if self.count % 2:
            future.set_result(function(*arguments))
        else:
            future.set_exception(ConnectionError("gone"))
        return future


def test_a_worker_that_dies_takes_only_its_own_job_along(scenario):
    found = run_jobs([Job(scenario, key=k) for k in range(3)], executor=Dying())
    assert [outcome.key for outcome in found] == [0, 1, 2]
    assert "ended before its time" in found[1].failure
    assert found[0].failure is None and found[2].failure is None


@pytest.mark.parametrize("threads", [None, 1])
def test_progress_counts_from_none_to_all(scenario, threads):
    told: list[tuple[int, int]] = []
    executor = None if threads is None else ThreadPoolExecutor(threads)
    run_jobs([Job(scenario)] * 3, executor=executor, progress=lambda *step: told.append(step))
    if executor is not None:
        executor.shutdown()
    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]


def test_an_interruption_cancels_what_has_not_begun(scenario):
    begun = threading.Event()

    class Waiting(Executor):
        futures: list[Future] = []

        def submit(self, function, /, *arguments):
            self.futures.append(future := Future())
            if len(self.futures) == 1:
                future.set_result(function(*arguments))
            begun.set()
            return future

    def stop(done: int, total: int) -> None:
        if done:
            raise KeyboardInterrupt

    waiting = Waiting()
    with pytest.raises(KeyboardInterrupt):
        run_jobs([Job(scenario)] * 3, executor=waiting, progress=stop)
    assert [future.cancelled() for future in waiting.futures] == [False, True, True]


def test_nothing_to_do_and_no_workers(scenario):
    assert run_jobs([]) == [] and run_jobs([], workers=2) == []
    with pytest.raises(ValueError, match="workers: expected 1 or more, came 0"):
        run_jobs([Job(scenario)], workers=0)


def test_few_jobs_stay_in_one_process(monkeypatch):
    monkeypatch.setattr("os.cpu_count", lambda: 4)
    assert [default_workers(count) for count in (0, 1, 10, 1000)] == [1, 1, 1, 4]


def test_the_course_is_read_at_hours_of_the_hold(scenario):
    outcome = compute(Job(scenario))
    start = next(k for k, t in enumerate(outcome.time_s) if t == pytest.approx(300.0))
    assert outcome.at_hold(0.0) == outcome.conversion[start]
    assert outcome.at_hold(1.0 / 3.0, "pH") == pytest.approx(outcome.pH[-1], abs=1e-12)
    assert outcome.at_hold(0.34) is None
    assert outcome.at_hold(0.1, "yield_") == pytest.approx(
        np.interp(660.0, outcome.time_s, outcome.yield_), abs=1e-12
    )
