"""How fast, how exact and how large: the engine beside a plain scipy script of the same model, in one table.

    python -m tests.benchmarks            some minutes; --quick for one round each, --full for 10,000 samples too

The last full table stands in last_table.txt.

Every time is the median of at least five, the two taken in turn on the same cores, so that a load on the machine
falls on both. The rival is `rival.py`: numpy, solve_ivp with BDF, one batch at a time, the same tolerance.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

import kinetics
from kinetics.analysis.ensemble import ENSEMBLE_RTOL, run_ensemble, time_grid
from kinetics.flask.balance import Balance
from kinetics.run.integrate import integrate
from tests.stamp import stamp

from . import rival

ROOT = Path(__file__).parents[2]
SCENARIO = ROOT / "scenarios" / "common_practice.toml"
PEAK = """
import re, sys, kinetics
from kinetics.analysis.ensemble import run_ensemble
scenario, count = kinetics.read_scenario(sys.argv[1]), int(sys.argv[2])
run_ensemble(scenario, count) if count else kinetics.simulate(scenario)
print(re.search(r"VmHWM:\\s*(\\d+)", open("/proc/self/status").read())[1])
"""  # Linux only; ru_maxrss would hold the peak of the parent too


def seconds(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def medians(rounds: int, *actions: Callable[[], object]) -> list[float]:
    """Median time [s] of each action, the actions taken in turn."""
    taken = [[seconds(action) for action in actions] for _ in range(rounds)]
    return [median(column) for column in zip(*taken)]


def row(what: str, engine: float | str, other: float | str = "", ratio: str = "") -> None:
    shown = [f"{x:.4g}" if isinstance(x, float) else x for x in (engine, other)]
    print(f"{what:58}{shown[0]:>14}{shown[1]:>14}{ratio:>10}", flush=True)


def one_run(scenario: kinetics.Scenario, rounds: int) -> None:
    """A ten-hour reflux by both, with what each misses of its own solution at 1e-10."""
    shelf = kinetics.load_shelf()
    series = kinetics.simulate(scenario).series
    times = series.time_s
    whole, engine, other = medians(
        rounds,
        lambda: kinetics.simulate(scenario),
        lambda: integrate(scenario, shelf),
        lambda: rival.solve(scenario, shelf, times),
    )
    row("one run, summary and notices too [s]", whole, other, f"{other / whole:.1f}x")
    row("one run, integration alone [s]", engine, other, f"{other / engine:.1f}x")
    exact = kinetics.simulate(scenario, rtol=1e-10).series
    course = rival.solve(scenario, shelf, times)
    exact_course = rival.solve(scenario, shelf, times, rtol=1e-10, atol=1e-15)
    own = float(np.abs(series.conversion - exact.conversion).max())
    others = float(np.abs(course.conversion - exact_course.conversion).max())
    row("  largest error of conversion against own 1e-10", own, others)
    row("  the two solutions at 1e-10 apart by", float(np.abs(exact.conversion - exact_course.conversion).max()))


def floor(scenario: kinetics.Scenario, rounds: int) -> None:
    """What the evaluations alone must cost: their number times the cost of one."""
    calls = {"rhs": 0, "jacobian": 0}
    original = {name: getattr(Balance, name) for name in calls}

    def counted(name: str) -> Callable:
        def call(*arguments: object) -> object:
            calls[name] += 1
            return original[name](*arguments)

        return call

    try:
        for name in calls:
            setattr(Balance, name, counted(name))
        trajectory = integrate(scenario)
    finally:
        for name, function in original.items():
            setattr(Balance, name, function)
    calls["rhs"] -= calls["jacobian"]  # each Jacobian is one evaluation of many columns
    middle = len(trajectory.times) // 2
    t, y, balance = trajectory.times[middle], list(trajectory.states[middle]), trajectory.balances[middle]
    model = rival.Model(scenario, kinetics.load_shelf())
    n = model.amounts(scenario.charges)
    stage = rival.stages_of(model, n)[1]
    vector = np.concatenate([n, n[model.oil_at], 0 * n, 0 * n])
    times = [0.0, scenario.heating.ramp_s + scenario.heating.hold_s + scenario.heating.cooling_s]
    evaluations = rival.solve(scenario, model.shelf, times).evaluations
    one, columns, other, whole = medians(
        rounds,
        lambda: [balance.rhs(t, y) for _ in range(200)],
        lambda: [balance.jacobian(t, y) for _ in range(20)],
        lambda: [model.rates(stage.start, vector, stage) for _ in range(20)],
        lambda: integrate(scenario),
    )
    row("right-hand sides in a run (the rival's with Jacobians)", str(calls["rhs"]), str(evaluations))
    row("  one of them [us]", one / 200 * 1e6, other / 20 * 1e6)
    row("Jacobians in a run", str(calls["jacobian"]))
    row("  one of them [us]", columns / 20 * 1e6)
    least = calls["rhs"] * one / 200 + calls["jacobian"] * columns / 20
    row("floor: all evaluations, nothing else [s]", least, evaluations * other / 20)
    row("  part of the run's time", least / whole)


def ensembles(scenario: kinetics.Scenario, counts: list[int], rounds: int) -> None:
    """Many samples at once, on one core and on two, against the rival one after another at the same tolerance."""
    shelf, end = kinetics.load_shelf(), time_grid(scenario)
    for count in counts:
        for workers in (1, 2):
            taken, each = medians(
                rounds,
                lambda: run_ensemble(scenario, count, workers=workers),  # noqa: B023
                lambda: rival.solve(scenario, shelf, end, rtol=ENSEMBLE_RTOL, atol=1e-10),
            )
            what = f"{count} samples, {workers} worker{'s' * (workers > 1)} [s]; rival x {count}"
            row(what, taken, each * count, f"{each * count / taken:.0f}x")
            row("  samples per second", count / taken, 1 / each)


def memory(counts: list[int]) -> None:
    """Peak memory of a process that computes one run (0) or so many samples."""
    for count in [0, *counts]:
        peak = subprocess.run(
            [sys.executable, "-c", PEAK, str(SCENARIO), str(count)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        row(f"peak memory, {f'{count} samples' if count else 'one run'} [MB]", int(peak.stdout) / 1024)


def stiffness(scenario: kinetics.Scenario, rounds: int) -> None:
    """Time of a run from hardly any base to the strongest, from no stirring to vigorous."""
    shelf = kinetics.load_shelf()
    found: dict[tuple[float, str], list[float]] = {}
    for base in (1e-4, 1e-2, 0.1, 2.0):
        for stirring in ("none", "gentle", "vigorous"):
            changes = {"charge.sodium carbonate": f"{base * 350:g} mmol", "vessel.stirring": stirring}
            variant = scenario.with_changes(changes)
            end = [variant.heating.ramp_s + variant.heating.hold_s + variant.heating.cooling_s]
            found[base, stirring] = medians(
                rounds,
                lambda: integrate(variant, shelf),  # noqa: B023
                lambda: rival.solve(variant, shelf, end),  # noqa: B023
            )
            row(f"carbonate {base:g} mol/kg, stirring {stirring} [s]", *found[base, stirring])
    engine, other = zip(*found.values())
    row("  slowest over fastest", max(engine) / min(engine), max(other) / min(other))


def start_up(rounds: int) -> None:
    """Commands as a user meets them, from the shell and back."""
    quiet = {"cwd": ROOT, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "check": True}
    for arguments in (["--help"], ["check", str(SCENARIO)], ["run", str(SCENARIO)]):
        command = [sys.executable, "-m", "kinetics", *arguments]
        bare, taken = medians(
            rounds,
            lambda: subprocess.run([sys.executable, "-c", "import numpy"], **quiet),
            lambda: subprocess.run(command, **quiet),  # noqa: B023
        )
        row(f"retroaldol {arguments[0]} [s]; python with numpy alone", taken, bare)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__.splitlines()[0])
    parser.add_argument(
        "--quick", action="store_true", help="one round of each and 100 samples: a test of the benchmark"
    )
    parser.add_argument("--full", action="store_true", help="10,000 samples too")
    options = parser.parse_args()
    rounds = 1 if options.quick else 5
    counts = [100] if options.quick else [100, 1000, 10000] if options.full else [100, 1000]
    scenario = kinetics.read_scenario(SCENARIO)
    print(f"{stamp()}\n{scenario.title}; medians of {rounds}; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}\n")
    row("", "engine", "rival", "ratio")
    one_run(scenario, rounds)
    floor(scenario, rounds)
    ensembles(scenario, counts, rounds)
    memory(counts)
    stiffness(scenario, rounds)
    start_up(rounds)


if __name__ == "__main__":  # processes that are started for samples import this file too
    main()
