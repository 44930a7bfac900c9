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
    """Conversion and yield at a few hours of the hold and at the end, over one key."""
    from kinetics.figures.base_sweep import set_log_axis
    from kinetics.figures.labels import End, finish, label_ends, note
    from kinetics.figures.style import headed, page, series_look, styled

    one = swept.ranges[0]

    @styled
    def drawn() -> Any:
        figure = page(5.4)
        panels = figure.subplots(2, sharex=True)
        for ax, course, key in zip(panels, ("conversion", "yield_"), ("conversion", "yield")):
            lines = [("end", [point.summary[key] for point in swept.points])]
            for hour in reversed(swept.hours):
                values = [courses_at(point, [hour], course)[0] for point in swept.points]
                lines.append((f"{hour:g} h", values))
            ends = []
            if log:
                set_log_axis(ax, "x")
            for position, (name, found) in enumerate(lines):
                values_percent = 100.0 * np.array(numbers(found))
                look = series_look(position)
                ax.plot(one.values, values_percent, label=name, **look.line())
                if len(known := np.flatnonzero(np.isfinite(values_percent))):
                    last = known[-1]
                    ends.append(End(name, one.values[last], float(values_percent[last]), look.colour))
            ax.set_xlim(one.values[0], one.values[-1])
            ax.set_ylim(0.0, 100.0)
            headed(ax, f"{key} (%)")
            label_ends(ax, ends)
        panels[-1].set_xlabel(f"{one.key} ({one.unit})" if one.unit else one.key)
        note(figure, [*swept.remarks, CAUTION])
        return finish(figure, title, f"Conversion and yield over {one.key} from {one.text(one.values[0])} to "
                      f"{one.text(one.values[-1])}.")  # fmt: skip

    return drawn()
