"""A sweep in words: a table of one key, a grid of two, what follows from it, and the same as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from kinetics.analysis.compare import KEYS
from kinetics.analysis.sweep import Point, Sweep, courses_at
from kinetics.command_line.notices_text import caution_lines
from kinetics.command_line.terminal import WIDTH, fixed, heading, percent, significant, table, wrapped
from kinetics.run.scenario import Scenario


def sweep_lines(swept: Sweep, scenario: Scenario) -> list[str]:
    """All that is printed of a sweep."""
    keys = " and ".join(one.key for one in swept.ranges)
    lines = [heading(line) for line in wrapped(f"{scenario.title}, over {keys}")]
    lines += [""]
    if len(swept.ranges) == 2 and len(grid := grid_lines(swept, "conversion")[0]) <= WIDTH and grid:
        for key, words in (("conversion", "Conversion"), ("yield", "Yield")):
            lines += [heading(f"{words} at the end, %"), *grid_lines(swept, key), ""]
        lines += wrapped(f"Down: {described(swept, 0)}. Across: {described(swept, 1)}.")
    else:
        lines += column_lines(swept)
    for remark in swept.remarks:
        lines += ["", *wrapped(remark)]
    failures = [point for point in swept.points if point.outcome.failure is not None]
    if failures:
        lines += ["", heading("Failed")]
        for point in failures:
            lines += wrapped(f"{', '.join(texts(swept, point))}: {point.outcome.failure}", "- ")
    return lines + caution_lines(dict.fromkeys(c for point in swept.points for c in point.outcome.cautions))


def described(swept: Sweep, position: int) -> str:
    """A key with its unit."""
    one = swept.ranges[position]
    return f"{one.key} in {one.unit}" if one.unit else one.key


def texts(swept: Sweep, point: Point) -> list[str]:
    """The values of a point with their units."""
    return [one.text(value) for one, value in zip(swept.ranges, point.values, strict=True)]


def grid_lines(swept: Sweep, key: str) -> list[str]:
    """A number of the summary in percent: the first key's values downwards, the second's across."""
    down, across = swept.ranges
    header = [["", *(significant(value, 4) for value in across.values)]]
    found = iter(swept.points)
    rows = [
        [significant(value, 4), *(percent(next(found).summary[key]) for _ in across.values)]
        for value in down.values
    ]
    return table(header, rows)


def column_lines(swept: Sweep) -> list[str]:
    """A row for each run: the values, the course at a few hours, the end and the masses."""
    hours = swept.hours if len(swept.ranges) == 1 else ()
    header = [
        [""] * len(swept.ranges)
        + ["conv.", *[""] * len(hours), "yield", *[""] * len(hours), "prod-", "unre-", "given"],
        ["value" if len(swept.ranges) == 1 else f"key {k}" for k in range(1, 1 + len(swept.ranges))]
        + [*(f"{hour:g} h" for hour in hours), "end"] * 2
        + ["uct", "acted", "off"],
        [one.unit for one in swept.ranges] + ["%"] * (2 * len(hours) + 2) + ["g", "g", "mmol"],
    ]
    rows = []
    for point in swept.points:
        row = [significant(value, 4) for value in point.values]
        for course, key in (("conversion", "conversion"), ("yield_", "yield")):
            row += map(percent, [*courses_at(point, hours, course), point.summary[key]])
        left = point.summary["byproduct_left_mol"]
        row += [significant(point.summary[key]) for key in ("product_g", "unreacted_g")]
        row.append(fixed(None if left is None else 1e3 * left, 2))
        rows.append(row)
    return table(header, rows)


def csv_text(swept: Sweep) -> str:
    """A row for each run in full precision: values, courses at a few hours, summary, failure."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(csv_header(swept))
    for point in swept.points:
        courses = (courses_at(point, swept.hours, course) for course in ("conversion", "yield_"))
        told = [value for course in courses for value in course]
        writer.writerow([*point.values, *told, *(point.summary[key] for key in KEYS), point.outcome.failure])
    return file.getvalue()


def csv_header(swept: Sweep) -> Iterator[str]:
    """The names of the columns: "charge.sodium carbonate [g]", "conversion[2 h]", then as in the JSON."""
    for one in swept.ranges:
        yield f"{one.key} [{one.unit}]" if one.unit else one.key
    for name in ("conversion", "yield"):
        yield from (f"{name}[{hour:g} h]" for hour in swept.hours)
    yield from KEYS
    yield "failure"
