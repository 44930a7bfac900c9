"""One or two numbers of a scenario over a range: every run, and how much base is enough."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from kinetics.analysis.base import is_base
from kinetics.analysis.compare import measured
from kinetics.analysis.runs import HOUR_S, Job, Outcome, Progress, run_jobs
from kinetics.data.faults import Fault, RefusedInput, ScenarioError, quoted
from kinetics.data.shelf import load_shelf
from kinetics.data.units import NUMBER
from kinetics.run.reading_changes import join_key, split_key
from kinetics.run.reading_charges import FRACTIONS, usual_name
from kinetics.run.reading_keys import SECTIONS, TOP_LEVEL
from kinetics.run.scenario import Scenario

LINE_COUNT, MAP_COUNT = 9, 7  # values of a key, where nothing is said
MOST_VALUES, MOST_POINTS = 400, 10_000
HOURS = (2.0, 5.0, 10.0)
SAME = 0.01  # of conversion: a point of percent, within which results count as the same
FORM = 'KEY=FROM..TO or KEY=FROM..TO/N, such as "charge.sodium carbonate=0.5..10 g/12"'


class RangeError(RefusedInput):
    """Ranges that cannot be swept, with every fault found in them."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(*self.faults)

    def __str__(self) -> str:
        return "\n".join(map(str, self.faults))


@dataclass(frozen=True)
class Range:
    """The values of one dotted key, rising, in `unit` (empty for a bare number)."""

    key: str
    values: tuple[float, ...]
    unit: str = ""

    def written(self, value: float) -> object:
        """A value as a scenario file has it: "0.5 g", or a bare number for a fraction such as a purity."""
        return value if split_key(self.key)[-1] in FRACTIONS and not self.unit else self.text(value)

    def text(self, value: float) -> str:
        """A value with its unit."""
        return f"{value:.10g} {self.unit}".strip()


@dataclass(frozen=True, eq=False)
class Point:
    """One run of a sweep. summary: the keys of compare.KEYS; all None where the run failed."""

    values: tuple[float, ...]
    scenario: Scenario
    outcome: Outcome
    summary: Mapping[str, float | None]


@dataclass(frozen=True, eq=False)
class Sweep:
    """Every point, the last key changing fastest. hours: times of hold at which the course is told [h]."""

    ranges: tuple[Range, ...]
    hours: tuple[float, ...]
    points: tuple[Point, ...]
    remarks: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The sweep as plain lists, numbers and text."""
        return {
            "keys": [one.key for one in self.ranges],
            "units": [one.unit for one in self.ranges],
            "hold_h": list(self.hours),
            "points": [
                {
                    "values": list(point.values),
                    "summary": dict(point.summary),
                    "conversion_at_hold_h": courses_at(point, self.hours, "conversion"),
                    "yield_at_hold_h": courses_at(point, self.hours, "yield_"),
                    "failure": point.outcome.failure,
                }
                for point in self.points
            ],
            "remarks": list(self.remarks),
        }


def courses_at(point: Point, hours: Sequence[float], course: str) -> list[float | None]:
    """A course at so many hours of the hold; None beyond its end and where the run failed."""
    failed = point.outcome.failure is not None
    return [None if failed else point.outcome.at_hold(hour, course) for hour in hours]


def read_ranges(texts: Sequence[str], log: bool = False) -> tuple[Range, ...]:
    """One or two ranges, each "KEY=FROM..TO" or "KEY=FROM..TO/N". Raises RangeError with all their faults.

    Both ends are in one unit, which may be written once; the N values (9, of two keys 7 each) are evenly
    spaced, with `log` by equal factors.
    """
    if not 1 <= len(texts) <= 2:
        raise RangeError([Fault("--vary", "one range, or two for a map", f"{len(texts)} of them")])
    ranges: list[Range] = []
    faults: list[Fault] = []
    for text in texts:
        try:
            ranges.append(read_range(text, log, LINE_COUNT if len(texts) == 1 else MAP_COUNT))
        except RangeError as error:
            faults += error.faults
    if len(ranges) == 2 and same_key(ranges[0].key, ranges[1].key):
        faults.append(Fault("--vary", "two different keys for a map", f"{quoted(ranges[1].key)} twice"))
    count = int(np.prod([len(one.values) for one in ranges], dtype=int))
    if count > MOST_POINTS:
        faults.append(Fault("--vary", f"at most {MOST_POINTS} runs in a map", f"{count} of them"))
    if faults:
        raise RangeError(faults)
    return tuple(ranges)


def same_key(one: str, other: str) -> bool:
    """Whether two dotted keys mean the same, a substance under any of its names."""
    shelf = load_shelf()
    first, second = (
        [usual_name(shelf, part) for part in split_key(key.removesuffix(".amount"))] for key in (one, other)
    )
    return first == second


def read_range(text: str, log: bool, count: int) -> Range:
    """One range; `count` is the number of values where the text has none. Raises RangeError."""
    key, equals, span = text.partition("=")
    key = plain_key(key)
    if counted := re.search(r"/\s*([+-]?[0-9.]+)\s*$", span):
        span = span[: counted.start()]
    first, dots, last = (part.strip() for part in span.partition(".."))
    if not key or not equals or not dots:
        raise RangeError([Fault("--vary", FORM, quoted(text))])
    if counted:
        count = int(counted[1]) if counted[1].isdecimal() else 0
        if not 2 <= count <= MOST_VALUES:
            expected = f"a whole number of values from 2 to {MOST_VALUES}, after the stroke"
            raise RangeError([Fault(key, expected, quoted(counted[1]))])
    (start, unit), (end, unit_of_end) = _number_and_unit(key, first), _number_and_unit(key, last)
    if unit and unit_of_end and unit != unit_of_end:
        expected = "both ends of the range in one unit, which may be written once"
        raise RangeError([Fault(key, expected, f"{quoted(unit)} and {quoted(unit_of_end)}")])
    if not start < end:
        came = "an empty one" if start == end else "a reversed one"
        raise RangeError([Fault(key, "a range from less to more", f"{came}, {quoted(span.strip())}")])
    if log and start <= 0.0:
        expected = "a range above zero, --log going by equal factors"
        raise RangeError([Fault(key, expected, quoted(span.strip()))])
    spaced = (np.geomspace if log else np.linspace)(start, end, count)
    return Range(key, tuple(float(f"{value:.10g}") for value in spaced), unit or unit_of_end)


def plain_key(text: str) -> str:
    """A dotted key without the quotation marks it does not need: charge.sodium carbonate."""
    parts = split_key(text.strip())
    if len(parts) == 1 and "." in parts[0]:  # quotation marks about the whole key
        parts = split_key(parts[0].strip('"'))
    return join_key(*(part.strip() for part in parts)) if parts != ("",) else ""


def _number_and_unit(key: str, text: str) -> tuple[float, str]:
    """The number and the unit, which may be empty, of one end of a range. Raises RangeError."""
    tidy = text.replace("−", "-")
    if re.match(r"[+-]?[0-9]+,[0-9]", tidy):
        raise RangeError([Fault(key, "a number", quoted(text), "Decimals are written with a point.")])
    match = NUMBER.match(tidy)
    if match is None or not np.isfinite(float(match[0])):
        raise RangeError([Fault(key, f"{FORM}, each end beginning with a number", quoted(text))])
    return float(match[0]), tidy[match.end() :].strip()


def scenarios_of(scenario: Scenario, ranges: Sequence[Range]) -> list[tuple[tuple[float, ...], Scenario]]:
    """The values and the scenario of every point. Raises RangeError for a key or a value that is refused."""
    faults = [fault for one in ranges for fault in _faults_of_range(scenario, one)]
    if faults:
        raise RangeError(dict.fromkeys(faults))
    found = []
    for values in product(*(one.values for one in ranges)):
        changes = {one.key: one.written(value) for one, value in zip(ranges, values, strict=True)}
        try:
            found.append((values, scenario.with_changes(changes)))
        except ScenarioError as error:
            at = " and ".join(f"{one.key} at {one.text(v)}" for one, v in zip(ranges, values, strict=True))
            raise RangeError(
                Fault(fault.key, fault.expected, f"{fault.came}, with {at}", fault.hint)
                for fault in error.faults
            ) from None
    return found


def _faults_of_range(scenario: Scenario, one: Range) -> list[Fault]:
    """What is wrong with a key, or with either end of its range, the rest being as written."""
    example = "such as heating.hold or charge.water"
    match split_key(one.key):
        case (name,) if name in TOP_LEVEL:
            return [Fault(one.key, f"a key that holds a number, {example}", "one that holds none")]
        case (section, name) if section in SECTIONS and name in SECTIONS[section]:
            if (kind := SECTIONS[section][name].kind) in ("flag", "choice", "substance"):
                held = "true or false" if kind == "flag" else "a word"
                return [Fault(one.key, f"a key that holds a number, {example}", f"one that holds {held}")]
    faults: list[Fault] = []
    for value in (one.values[0], one.values[-1]):
        try:
            scenario.with_changes({one.key: one.written(value)})
        except ScenarioError as error:
            faults += error.faults
    unique = {(fault.key, fault.expected): fault for fault in reversed(faults)}
    return list(reversed(unique.values()))


def sweep(
    scenario: Scenario,
    ranges: Sequence[Range],
    *,
    hours: Sequence[float] = HOURS,
    shifts: tuple[tuple[str, float], ...] = (),
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Sweep:
    """Every point of one or two ranges; those of `hours` [h] beyond the longest hold are left out.

    workers, executor, progress: as in `run_jobs`. Raises RangeError before anything is computed.
    """
    planned = scenarios_of(scenario, ranges)
    jobs = [Job(one, shifts=shifts, key=values) for values, one in planned]
    outcomes = run_jobs(jobs, workers, executor, progress)
    points = tuple(
        Point(values, one, outcome, measured(one, outcome))
        for (values, one), outcome in zip(planned, outcomes, strict=True)
    )
    longest_h = max(one.heating.hold_s for _, one in planned) / HOUR_S
    told = tuple(hour for hour in hours if hour <= longest_h * (1.0 + 1e-9))
    swept = Sweep(tuple(ranges), told, points)
    base = swept_base(scenario, ranges)
    return Sweep(tuple(ranges), told, points, tuple(base_remarks(swept, base) if base else ()))


def swept_base(scenario: Scenario, ranges: Sequence[Range]) -> str:
    """The base whose amount is the only thing swept, or nothing."""
    match [split_key(one.key) for one in ranges]:
        case [("charge", name)] | [("charge", name, "amount")]:
            usual = usual_name(load_shelf(), name)
            return usual if is_base(usual, load_shelf().including(scenario.substrate)) else ""
    return ""


def settled(reached: Sequence[float | None]) -> int | None:
    """Position of the first result from which on all stay within SAME of the last; None without results."""
    known = [(k, result) for k, result in enumerate(reached) if result is not None]
    if not known:
        return None
    last = known[-1][1]
    far = [n for n, (_, result) in enumerate(known) if abs(result - last) > SAME]
    return known[far[-1] + 1 if far else 0][0]


def base_remarks(swept: Sweep, base: str) -> list[str]:
    """In sentences: from which loading on more base changes nothing, and below which it sets the pace."""
    final = [point.summary["conversion"] for point in swept.points]
    remarks = [_plateau_remark(swept, base, final)]
    if swept.hours:
        hour = swept.hours[0]
        early = [courses_at(point, [hour], "conversion")[0] for point in swept.points]
        remarks.append(_early_remark(swept, base, hour, early))
    return [remark for remark in remarks if remark]


def _loading(swept: Sweep, position: int) -> str:
    one = swept.ranges[0]
    return f"{one.values[position]:.3g} {one.unit}"


def _plateau_remark(swept: Sweep, base: str, final: Sequence[float | None]) -> str:
    """From which loading on the end is the same, and where it is highest if that is elsewhere."""
    position = settled(final)
    if position is None:
        return ""
    known = {k: result for k, result in enumerate(final) if result is not None}
    last, best = max(known), max(known, key=lambda k: known[k])
    most = f"{100.0 * known[last]:.1f} % with {_loading(swept, last)}"
    if position == last:
        said = f"The conversion at the end still changes up to the most {base} of this range ({most})"
    else:
        start = "Already from the least" if position == min(known) else "From"
        said = (
            f"{start} {_loading(swept, position)} of {base} on, more of it changes the conversion at the end "
            f"by no more than a point of percent ({most})"
        )
    if known[best] > known[last] + SAME:
        said += f"; it is highest, {100.0 * known[best]:.1f} %, with {_loading(swept, best)}"
    return f"{said}."


def _early_remark(swept: Sweep, base: str, hour: float, early: Sequence[float | None]) -> str:
    """The same for the first hours, where hydroxide sets the pace."""
    position = settled(early)
    if position is None:
        return ""
    known = {k: result for k, result in enumerate(early) if result is not None}
    first, last = min(known), max(known)
    if position == first:
        return f"After {hour:g} h of the hold, too, {base} makes no such difference over the whole range."
    least, most = 100.0 * known[first], 100.0 * known[last]
    told = f"{least:.1f} % with {_loading(swept, first)}, {most:.1f} % with the most"
    until = "over the whole range" if position == last else f"below {_loading(swept, position)}"
    if known[first] > known[last]:
        return f"After {hour:g} h of the hold, less {base} gives more {until} ({told})."
    return f"In the first {hour:g} h of the hold the pace is limited by hydroxide {until} ({told})."
