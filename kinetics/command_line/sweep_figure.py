"""Which figure shows a sweep: base against conversion, one key as lines, two as a map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from kinetics.analysis.compare import mass_g
from kinetics.analysis.sweep import Sweep, courses_at, swept_base
from kinetics.data.shelf import load_shelf
from kinetics.run.scenario import Scenario

CAUTION = "What leaves can be toxic and easily set alight: fume cupboard, no flame, no closed vessel."


def page_of(swept: Sweep, scenario: Scenario, log: bool) -> Any:
    """The figure of a sweep."""
    title = scenario.title
    if len(swept.ranges) == 2:
        return map_of(swept, title)
    base = swept_base(scenario, swept.ranges)
    if base and swept.ranges[0].values[-2] > 0.0 and swept.points[0].summary["conversion"] is not None:
        return base_page(swept, scenario, base)
    return lines_of(swept, title, log)


def numbers(values: Sequence[float | None]) -> list[float]:
    """Values, what is missing as not-a-number, which leaves a gap."""
    return [np.nan if value is None else value for value in values]


def base_page(swept: Sweep, scenario: Scenario, base: str) -> Any:
    """Conversion and hydroxide against the mass of base; a loading of zero has no place on its axis."""
    from kinetics.figures.base_sweep import figure_base_sweep

    shelf = load_shelf().including(scenario.substrate)
    points = [point for point in swept.points if point.values[0] > 0.0]

    def grams(one: Scenario) -> float:
        return sum(mass_g(charge, shelf) for charge in one.charges if charge.substance == base)

    hours = [*swept.hours]
    conversions = {
        hour: numbers([courses_at(point, [hour], "conversion")[0] for point in points]) for hour in hours
    }
    end_h = scenario.heating.hold_s / 3600.0
    if end_h not in conversions:
        conversions[end_h] = numbers([point.outcome.at_hold(end_h) for point in points])
    hydroxide = numbers([point.summary["hydroxide_hot_mol_per_L"] for point in points])
    loadings = [grams(point.scenario) for point in points]
    usual = grams(scenario)
    return figure_base_sweep(
        loadings,
        conversions,
        hydroxide,
        base=base,
        charged_g=usual if loadings[0] <= usual <= loadings[-1] else None,
        title=scenario.title,
        remarks=swept.remarks,
    )


def map_of(swept: Sweep, title: str) -> Any:
    """Conversion at the end over two keys, the first upwards."""
    from kinetics.figures.map import figure_map

    up, across = swept.ranges
    found = numbers([point.summary["conversion"] for point in swept.points])
    grid = 100.0 * np.array(found).reshape(len(up.values), len(across.values))
    x_label, y_label = (f"{one.key} ({one.unit})" if one.unit else one.key for one in (across, up))
    return figure_map(
        across.values,
        up.values,
        grid.tolist(),
        x_label,
        y_label,
        "conversion at the end (%)",
        title=title,
        remarks=[CAUTION],
    )


def lines_of(swept: Sweep, title: str, log: bool) -> Any:
    """Conversion and yield at the end and at a few hours of the hold, over one key."""
    from kinetics.figures.sweep_lines import figure_lines

    one = swept.ranges[0]
    panels = {}
    for course, key in (("conversion", "conversion"), ("yield_", "yield")):
        lines = {"end": numbers([point.summary[key] for point in swept.points])}
        for hour in reversed(swept.hours):
            lines[f"{hour:g} h"] = numbers([courses_at(point, [hour], course)[0] for point in swept.points])
        panels[f"{key} (%)"] = lines
    label = f"{one.key} ({one.unit})" if one.unit else one.key
    return figure_lines(one.values, panels, label, log=log, title=title, remarks=[*swept.remarks, CAUTION])
