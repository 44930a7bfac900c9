"""The course of a run on one page: amounts, conversion and yield, pH and temperature over the same time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.figures.labels import End, finish, label_ends, note
from kinetics.figures.roles import ROLE_LOOKS, crossed_aldols, organics, role, substrate_of
from kinetics.figures.style import DOTS, INK, LAKE, LONG, WINE, Look, headed, page, panel, percent, styled
from kinetics.figures.timeline import mark_stages, set_time_axis
from kinetics.run.result import CELSIUS_ZERO_K, Run

Band = Mapping[str, Mapping[str, Sequence[float]]]

DRAWN_FROM = 0.02  # of the largest amount: species that never reach it are named, not drawn
HEADROOM = 1.14
PLACES = {"mol": 1.0, "mmol": 1e3, "µmol": 1e6}


def amount_unit(largest: float) -> tuple[str, float]:
    """The unit in which the largest amount [mol] reads between 1 and 1000, and the factor from mol."""
    fitting = [unit for unit, factor in PLACES.items() if largest * factor >= 1.0]
    unit = fitting[0] if fitting else "µmol"
    return unit, PLACES[unit]


def courses(run: Run) -> tuple[dict[str, tuple[np.ndarray, Look]], list[str]]:
    """The lines of the amounts panel, by name [mol], and the names of those too small to draw."""
    substrate = substrate_of(run)
    amounts: dict[tuple[str, str], np.ndarray] = {}
    for name in organics(run):
        amounts[name, ""] = run.series.flask_mol[name]
        if name in run.series.left_mol:
            amounts[name, ", left"] = run.series.left_mol[name]
    least = DRAWN_FROM * max((float(np.max(amount)) for amount in amounts.values()), default=0.0)
    lines: dict[str, tuple[np.ndarray, Look]] = {}
    small = []
    for (name, place), amount in amounts.items():
        if float(np.max(amount)) <= least:
            small.append(name + place)
            continue
        look = ROLE_LOOKS[role(substrate, name)]
        if place:
            look = Look(look.colour, DOTS, 1.6, "^")
        elif any(look == other for _, other in lines.values()):
            look = replace(look, dash=DOTS)
        lines[name + place] = amount, look
    return lines, small


@styled
def plot_amounts(run: Run, *, ax: Axes | None = None) -> Axes:
    """Amounts of the organic species in the flask, and of what left it, over time."""
    ax = panel(ax)
    unit = set_time_axis(ax, float(run.series.time_s[-1]))
    lines, _ = courses(run)
    largest = max((float(np.max(amount)) for amount, _ in lines.values()), default=0.0)
    name_of_unit, factor = amount_unit(largest)
    ax.set_ylim(0.0, HEADROOM * largest * factor or 1.0)
    ends = []
    for name, (amount, look) in lines.items():
        ax.plot(run.series.time_s / unit, amount * factor, label=name, **look.line())
        last = float(amount[-1] * factor)
        ends.append(End(f"{name} {last:.2f}", float(run.series.time_s[-1]) / unit, last, look.colour))
    headed(ax, f"in the flask, and what left it ({name_of_unit})")
    mark_stages(ax, run, named=True)
    label_ends(ax, ends)
    return ax


@styled
def plot_conversion(
    run: Run, *, ax: Axes | None = None, band: Band | None = None, ceiling: float | None = None
) -> Axes:
    """Conversion and yield over time.

    band: {"conversion" or "yield": {"p5": ..., "p95": ...}} at the times of the run [1]; ceiling: conversion
    that the equilibrium allows while nothing leaves [1].
    """
    ax = panel(ax)
    time = run.series.time_s / set_time_axis(ax, float(run.series.time_s[-1]))
    ax.set_ylim(0.0, 100.0)
    ends = []
    looks = {"conversion": Look(INK, width=2.2), "yield": replace(ROLE_LOOKS["product"], dash=LONG)}
    for name, values in (("conversion", run.series.conversion), ("yield", run.series.yield_)):
        if values is None:
            continue
        look = looks[name]
        ax.plot(time, 100.0 * values, label=name, **look.line())
        draw_band(ax, time, band, name, look.colour, 100.0)
        ends.append(
            End(f"{name} {percent(values[-1])}", float(time[-1]), 100.0 * float(values[-1]), look.colour)
        )
    if not ends:
        ax.text(0.5, 0.5, "no conversion: no substrate was charged", transform=ax.transAxes, ha="center")
    if ceiling is not None:
        ax.axhline(100.0 * ceiling, label="ceiling", **Look(LAKE, DOTS, 1.4).line())
        ends.append(End(f"if nothing left: {percent(ceiling)}", float(time[-1]), 100.0 * ceiling, LAKE))
    headed(ax, "conversion and yield (%)")
    mark_stages(ax, run)
    label_ends(ax, ends)
    return ax


@styled
def plot_pH(run: Run, *, ax: Axes | None = None, band: Band | None = None) -> Axes:
    """pH at the temperature of the moment, over time. band: {"pH": {"p5": ..., "p95": ...}}."""
    ax = panel(ax)
    time = run.series.time_s / set_time_axis(ax, float(run.series.time_s[-1]))
    ax.plot(time, run.series.pH, label="pH", **Look(LAKE).line())
    draw_band(ax, time, band, "pH", LAKE, 1.0)
    low, high = ax.get_ylim()
    ax.set_ylim(np.floor(low), max(np.ceil(high), np.floor(low) + 1.0))
    headed(ax, "pH at the temperature of the moment")
    mark_stages(ax, run)
    last = float(run.series.pH[-1])
    label_ends(ax, [End(f"pH {last:.2f}", float(time[-1]), last, LAKE)])
    return ax


@styled
def plot_temperature(run: Run, *, ax: Axes | None = None) -> Axes:
    """Temperature of the liquor over time."""
    ax = panel(ax)
    time = run.series.time_s / set_time_axis(ax, float(run.series.time_s[-1]))
    celsius = run.series.temperature_K - CELSIUS_ZERO_K
    ax.plot(time, celsius, label="temperature", **Look(WINE).line())
    ax.set_ylim(0.0, 1.1 * max(float(np.max(celsius)), 10.0))
    headed(ax, "temperature of the liquor (°C)")
    mark_stages(ax, run)
    label_ends(ax, [End(f"{celsius[-1]:.0f}\u00a0°C", float(time[-1]), float(celsius[-1]), WINE)])
    return ax


def draw_band(ax: Axes, time: np.ndarray, band: Band | None, name: str, colour: str, factor: float) -> None:
    """The span from the 5th to the 95th of a hundred samples, where samples exist."""
    if band is None or name not in band:
        return
    low, high = (factor * np.asarray(band[name][edge], float) for edge in ("p5", "p95"))
    ax.fill_between(time, low, high, color=colour, alpha=0.22, linewidth=0, label=f"{name}, 5 to 95 %")


@styled
def figure_course(run: Run, band: Band | None = None, *, ceiling: float | None = None) -> Figure:
    """The course of one run: four panels that share time.

    band: {"conversion", "yield" or "pH": {"p5": ..., "p95": ...}} at the times of the run; ceiling:
    conversion that the equilibrium allows while nothing leaves [1].
    """
    figure = page(7.4)
    top, middle, third, bottom = figure.subplots(4, sharex=True, height_ratios=[3.2, 2.2, 1.1, 1.1])
    plot_amounts(run, ax=top)
    plot_conversion(run, ax=middle, band=band, ceiling=ceiling)
    plot_pH(run, ax=third, band=band)
    plot_temperature(run, ax=bottom)
    for ax in (top, middle, third):
        ax.set_xlabel("")
    _, small = courses(run)
    remarks = crossed_aldols(run)
    if small:
        remarks.append(
            f"Not drawn, never above {percent(DRAWN_FROM)} of the largest amount: {'; '.join(small)}."
        )
    if band:
        remarks.append("Bands: nine in ten of the samples of the uncertain constants lie within.")
    if run.failure is not None:
        remarks.append(f"Not run to its end: {run.failure}.")
    note(figure, remarks)
    return finish(figure, run.title, description(run))


def description(run: Run) -> str:
    """The page in words."""
    end = run.summary
    reached = "no conversion (no substrate was charged)"
    if end.conversion is not None:
        reached = f"conversion {percent(end.conversion)}"
        reached += f" and yield {percent(end.yield_)}" if end.yield_ is not None else ""
    return (
        f"{run.title}: amounts in the flask and what left, conversion and yield, pH, temperature over time. "
        f"At the end of the run: {reached}, pH {end.pH_end:.1f}."
    )
