"""How long to reflux: what each further hour buys, where it stops being worth it, what time alone can never pass.

One run long enough answers for every shorter one, since the course up to a moment does not depend on how long the hold
will be. Everything is told hot, at the end of a hold; what the cool-down takes back is told beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from kinetics.analysis.ceiling import ALL_ACT, come_to_rest, plateau_job, require_substrate
from kinetics.analysis.compare import boil_energy_J
from kinetics.analysis.idealisation import achieved, completed
from kinetics.analysis.runs import Job, Outcome, Progress, onward, run_jobs
from kinetics.data.faults import Fault, ScenarioError
from kinetics.data.shelf import load_shelf
from kinetics.data.substrate import Substrate
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.integrate import NumericalFailure
from kinetics.run.reading_conditions import dry_time, water_of
from kinetics.run.result import Run, plain
from kinetics.run.scenario import Scenario

HOUR_S = 3600.0
LONGEST_H = 300.0  # nobody boils for longer
SHOWN_H = 24.0
SHOWN_HOLDS = 3.0
FURTHER = 3.0
SETTLED_PER_H = 2e-4  # of the charge
SPENT = 0.1  # of the hydroxide
WORTH = 0.01  # of the charge per hour
NEARLY = 0.001  # of the charge: as good as the ceiling
ROWS = 200  # at most
STEP_H = 0.25
Array = np.ndarray


@dataclass(frozen=True)
class Hours:
    """Conversion and yield against the time of the hold, hot [parts of the charge], and what waiting costs.

    hold_h: times of the hold [h]; gain_per_h and yield_gain_per_h: what the hour after each of them adds; product_g
    and its fate so far [g]: in the flask or taken off, gone with the vent gas, degraded (oxidised, disproportionated);
    boil_energy_kJ: heat for the vapour so far. planned_h: the hold of the scenario. worth_stop_h: after it an hour
    buys less than `worth`; None where it still buys more at searched_h, the longest hold looked at. target_h: the
    earliest time at which `target` is reached, None where it never is (or none was asked for); verdict: that in
    words. ceiling: the highest conversion of any hold looked at, reached (to 0.001) after ceiling_h; yield_ceiling
    likewise; equilibrium: where the conversion would stop if nothing ever left; why: all this in words.
    cooling_loss: conversion that the cool-down of the scenario takes back.
    """

    title: str
    substrate: str
    product: str
    by_product: str
    hold_h: Array
    conversion: Array
    yield_: Array
    gain_per_h: Array
    yield_gain_per_h: Array
    product_g: Array
    product_vented_g: Array
    product_degraded_g: Array
    boil_energy_kJ: Array
    planned_h: float
    worth: float
    worth_stop_h: float | None
    target: float | None
    target_h: float | None
    verdict: str
    searched_h: float
    ceiling: float
    ceiling_h: float
    yield_ceiling: float
    yield_ceiling_h: float
    equilibrium: float
    equilibrium_yield: float
    why: str
    cooling_loss: float
    notices: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """As plain lists, numbers and text."""
        return plain(self)


class Course:
    """What a long run says of every hold within it: smooth curves over the time of the hold [h]."""

    def __init__(self, outcome: Outcome, substrate: Substrate) -> None:
        from scipy.interpolate import PchipInterpolator

        run = outcome.run
        assert run is not None and outcome.conversion is not None and outcome.yield_ is not None
        hold = (outcome.time_s - outcome.hold_start_s) / HOUR_S
        within = hold >= -1e-9
        self.hold_h: Array = np.maximum(hold[within], 0.0)
        self.end_h = float(self.hold_h[-1])
        grams = load_shelf().including(substrate.name).substance(substrate.product).molar_mass
        kept, vented, degraded = product_fates(run, substrate)

        def curve(values: Array) -> Callable[[Any], Any]:
            return PchipInterpolator(self.hold_h, values[within])

        self.conversion, self.yield_ = curve(outcome.conversion), curve(outcome.yield_)
        self.product_g, self.vented_g = curve(kept * grams), curve(vented * grams)
        self.degraded_g = curve(degraded * grams)

    def gain(self, curve: Callable[[Any], Any], hold_h: Any) -> Any:
        """What the hour after `hold_h` adds to a curve; it must lie within the run."""
        return curve(hold_h + 1.0) - curve(hold_h)

    def first_above(self, curve: Callable[[Any], Any], level: float) -> float | None:
        """The earliest time [h] at which a curve reaches `level`: 0 if at the start of the hold, None if never."""
        reached = np.flatnonzero(curve(self.hold_h) >= level)
        if not len(reached):
            return None
        k = int(reached[0])
        return 0.0 if k == 0 else crossing(lambda t: curve(t) - level, self.hold_h[k - 1], self.hold_h[k])

    def last_worth(self, worth: float) -> float | None:
        """The time [h] past which no hour adds `worth` to the conversion; None where the last does, or none was run."""
        times = self.hold_h[self.hold_h <= self.end_h - 1.0]
        enough = np.flatnonzero(self.gain(self.conversion, times) >= worth)
        if not len(times) or (len(enough) and enough[-1] == len(times) - 1):
            return None
        if not len(enough):
            return 0.0
        k = int(enough[-1])
        return crossing(lambda t: self.gain(self.conversion, t) - worth, times[k], times[k + 1])


def crossing(function: Callable[[float], Any], low: float, high: float) -> float:
    """Where a function that changes sign between `low` and `high` passes zero."""
    from scipy.optimize import brentq

    return float(brentq(lambda t: float(function(t)), low, high, xtol=1e-9))


def product_fates(run: Run, substrate: Substrate) -> tuple[Array, Array, Array]:
    """Product kept (in the flask or taken off), gone with the vent gas, and degraded [mol], at the times of the run.

    Degraded counts one product for each molecule that oxidation and disproportionation formed of it.
    """
    series, product = run.series, substrate.product
    nothing = np.zeros_like(series.time_s)
    taken = series.taken_off_mol.get(product, nothing)
    vented = series.left_mol.get(product, nothing) - taken
    spoiling = [step for step in substrate.steps if step.mechanism in ("cannizzaro", "oxidation")]
    formed = {name for step in spoiling for name, nu in step.stoichiometry.items() if nu > 0.0 and name != "water"}
    degraded = nothing
    for name in sorted(formed):
        present = series.flask_mol[name] + series.left_mol.get(name, nothing)
        degraded = degraded + present - present[0]
    return series.flask_mol[product] + taken, vented, degraded


def is_settled(outcome: Outcome) -> bool:
    """Whether neither conversion nor yield rises any more in the last hour: a longer hold could not tell more."""
    last_s = float(outcome.time_s[-1])
    return all(
        values is not None and values[-1] - np.interp(last_s - HOUR_S, outcome.time_s, values) < SETTLED_PER_H
        for values in (outcome.conversion, outcome.yield_)
    )


def longest_hold_h(scenario: Scenario) -> float:
    """How long a hold to look at [h]: LONGEST_H, less where the take-off draws the flask dry before."""
    condenser = scenario.condenser
    longest = max(LONGEST_H, scenario.heating.hold_s / HOUR_S)
    if condenser.make_up or condenser.take_off_mol_per_s == 0.0:
        return longest
    supplies = [(a.at_s, a.over_s, water_of(a.charges)) for a in scenario.additions]
    dry = dry_time(water_of(scenario.charges), supplies, condenser.take_off_mol_per_s, longest * HOUR_S)
    return longest if dry is None else max(dry / HOUR_S, scenario.heating.hold_s / HOUR_S)


def times_of(planned_h: float, longest_h: float) -> tuple[Array, Array]:
    """Times of the hold [h]: those to tell, and all those at which the long run is kept."""
    shown_h = min(max(SHOWN_H, SHOWN_HOLDS * planned_h), longest_h - 1.0 if longest_h > 2.0 else longest_h)
    step_h = STEP_H * np.ceil(shown_h / (ROWS * STEP_H))
    told = np.unique(np.append(np.arange(0.0, shown_h + 1e-9, step_h), planned_h))
    early = np.geomspace(1e-3, 1.0, 60) * min(1.0, longest_h)
    late = np.geomspace(shown_h, longest_h, 100)
    every = np.concatenate([told, told + 1.0, early, np.linspace(0.0, min(2.0 * planned_h, longest_h), 81), late])
    return told, np.unique(np.minimum(every, longest_h))


def hours(
    scenario: Scenario,
    target: float | None = None,
    worth: float = WORTH,
    *,
    mechanisms: Mechanisms = ALL_ACT,
    shifts: tuple[tuple[str, float], ...] = (),
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Hours:
    """How long to hold.

    target: conversion to reach, above 0 to 1; worth: the least gain of an hour that is worth it, above 0 to 1, both
    in parts of the charge. mechanisms and shifts: see Job; workers, executor and progress: see run_jobs. Three runs,
    or more where the first long one was not long enough. Raises ScenarioError for what cannot be asked, and NumericalFailure
    where the scenario's own hold cannot be computed.
    """
    refuse_unsound(target, worth)
    substrate = require_substrate(scenario)
    planned_h, longest_h = scenario.heating.hold_s / HOUR_S, longest_hold_h(scenario)
    ramp_s = scenario.heating.ramp_s
    planned_end = (ramp_s + scenario.heating.hold_s,)
    jobs = [Job(scenario, mechanisms, shifts, planned_end, key="as planned")]
    outcomes: list[Outcome] = []
    searched_h = min(max(SHOWN_H, SHOWN_HOLDS * planned_h) + 1.0, longest_h)
    while True:
        told, every = times_of(planned_h, searched_h)
        heating = replace(scenario.heating, hold_s=searched_h * HOUR_S, cooling_s=0.0)
        times = tuple(ramp_s + every * HOUR_S)
        still = replace(scenario, heating=heating, options=())
        jobs.append(Job(still, mechanisms, shifts, times, key="a longer hold", whole=True))
        tell = onward(progress, len(outcomes), len(jobs) + 1)
        outcomes += run_jobs(jobs[len(outcomes) :], workers, executor, tell)
        long = outcomes[-1]
        if searched_h >= longest_h or long.failure is not None or is_settled(long):
            break
        searched_h = min(FURTHER * searched_h, longest_h)
    as_planned = completed(outcomes[0], "the run as planned")
    temperature_K = float(np.interp(ramp_s + scenario.heating.hold_s, long.time_s, long.temperature_K))
    shut_in = replace(plateau_job(scenario, temperature_K, mechanisms, "plateau"), shifts=shifts)
    (shut,) = run_jobs([shut_in], 1, executor, onward(progress, len(jobs), len(jobs) + 1))
    equilibrium, equilibrium_yield = achieved(completed(come_to_rest(shut), "the flask shut in"))
    course = Course(long, substrate)
    if course.end_h < planned_h:
        raise NumericalFailure(f"a longer hold: {long.failure}", float(long.time_s[-1]))
    told = told[told <= max(course.end_h - 1.0, planned_h)]
    ahead = np.minimum(told, course.end_h - 1.0) if course.end_h > 1.0 else told
    conversions, yields = course.conversion(course.hold_h), course.yield_(course.hold_h)
    ceiling, yield_ceiling = float(np.max(conversions)), float(np.max(yields))
    energy = boil_energy_J(scenario, long.boil_K, load_shelf()) / planned_h / 1e3 if long.boil_K else 0.0
    target_h = None if target is None else course.first_above(course.conversion, target)
    hot = float(course.conversion(planned_h))
    assert as_planned.summary is not None and as_planned.summary.conversion is not None
    result = Hours(
        scenario.title,
        substrate.substrate,
        substrate.product,
        substrate.by_product,
        told,
        course.conversion(told),
        course.yield_(told),
        course.gain(course.conversion, ahead),
        course.gain(course.yield_, ahead),
        course.product_g(told),
        course.vented_g(told),
        course.degraded_g(told),
        energy * told,
        planned_h,
        worth,
        course.last_worth(worth),
        target,
        target_h,
        "",
        course.end_h,
        ceiling,
        course.first_above(course.conversion, ceiling - NEARLY) or 0.0,
        yield_ceiling,
        course.first_above(course.yield_, yield_ceiling - NEARLY) or 0.0,
        equilibrium,
        equilibrium_yield,
        "",
        hot - as_planned.summary.conversion,
        as_planned.notices if long.failure is None else (*as_planned.notices, f"a longer hold: {long.failure}"),
        as_planned.cautions,
    )
    strengths = long.hydroxide_mol_per_L[long.time_s >= ramp_s - 1e-6]
    still_rising = float(conversions[-1]) >= ceiling - 1e-9 and float(np.diff(conversions)[-1]) > 1e-5
    return replace(
        result,
        verdict=verdict_of(result),
        why=why_of(result, scenario.vessel.closed, still_rising, (float(strengths[0]), float(strengths[-1]))),
    )


def refuse_unsound(target: float | None, worth: float) -> None:
    """Raise ScenarioError for a target or a worth that is no part of the charge."""
    faults = []
    for name, value in (("target", target), ("worth", worth)):
        if value is not None and not 0.0 < value <= 1.0:
            hint = f"{value:g} % is {value / 100.0:g}." if 5.0 <= value <= 100.0 else ""
            expected = "a part of the charge, above 0 and up to 1, such as 0.75"
            faults.append(Fault(f"--{name}", expected, f"{value:g}", hint))
    if faults:
        raise ScenarioError(faults, "hours")


def verdict_of(found: Hours) -> str:
    """Whether and when the target is reached."""
    if found.target is None:
        return ""
    wanted = f"{100.0 * found.target:.4g} %"
    if found.target_h is None:
        settled = " and stands still by then" if abs(found.gain_per_h[-1]) < SETTLED_PER_H else ""
        return (
            f"{wanted} cannot be reached by waiting: the conversion never passes {100.0 * found.ceiling:.2f} % in "
            f"{found.searched_h:.4g} h of hold{settled}. Something other than time must change; see `explain`."
        )
    if found.target_h == 0.0:
        return f"{wanted} is reached before the hold begins."
    late = " That is longer than a working day." if found.target_h > 12.0 else ""
    cooled = f" The cool-down takes {100.0 * found.cooling_loss:.1f} points back." if found.cooling_loss > 5e-4 else ""
    return f"{wanted} is reached, hot, after {found.target_h:.3g} h of hold.{cooled}{late}"


def why_of(found: Hours, closed: bool, still_rising: bool, hydroxide: tuple[float, float]) -> str:
    """What time alone cannot pass, and why; hydroxide: at the start of the hold and of the longest [mol/L]."""
    at_rest, highest = f"{100.0 * found.equilibrium:.1f} %", f"{100.0 * found.ceiling:.1f} %"
    if closed:
        text = f"Nothing leaves a closed vessel: {found.by_product} adds back as fast as it is set free at {at_rest}"
        if found.ceiling > found.equilibrium + NEARLY:
            text += f". Only {found.product} that turns to alcohol and acid draws it on, to {highest} after "
            return f"{text}{found.ceiling_h:.3g} h, and the yield down."
        return f"{text}, and no time passes that."
    text = f"If nothing left, {found.by_product} would add back as fast as it is set free at {at_rest}. "
    if found.ceiling > found.equilibrium + NEARLY:
        text += (
            f"The conversion passes that only as {found.by_product} gets out past the condenser: "
            f"{'it is still rising at' if still_rising else 'it levels off at'} {highest} after {found.ceiling_h:.3g} h"
        )
    else:
        text += f"It comes to {highest} after {found.ceiling_h:.3g} h"
        if still_rising:
            text += " and still rises: the base is weak, or the liquor cool"
        elif found.ceiling < found.equilibrium - 0.01 and hydroxide[1] < SPENT * hydroxide[0]:
            text += (
                f" and stands still, the base being spent: {hydroxide[1]:.1g} mol/L of hydroxide are left of "
                f"{hydroxide[0]:.1g}, for the acid that forms of the product takes it up"
            )
    if found.yield_ceiling_h < found.searched_h and found.yield_ceiling < found.ceiling - 0.01:
        text += (
            f". The yield never passes {100.0 * found.yield_ceiling:.1f} %, after {found.yield_ceiling_h:.3g} h: from "
            f"then on more {found.product} is lost than comes free"
        )
    return f"{text}."
