"""Fractions over one varied number: a line for the end and one for each time of the hold, named at its end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from kinetics.figures.labels import End, finish, label_ends, note
from kinetics.figures.style import headed, page, panel, series_look, styled

Lines = Mapping[str, Sequence[float]]  # values [1] by the name of the line, not-a-number where there is none


def set_log_axis(ax: Axes, which: str) -> None:
    """A log axis whose numbers are written out (0.1, 1, 10), at each decade and at 2 and 5 of it."""
    axis = {"x": ax.xaxis, "y": ax.yaxis}[which]
    {"x": ax.set_xscale, "y": ax.set_yscale}[which]("log")
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_formatter(NullFormatter())


@styled
def plot_lines(
    x: Sequence[float], lines: Lines, heading: str, *, log: bool = False, ax: Axes | None = None
) -> Axes:
    """Lines over x, rising, in percent; the first is the heaviest. A missing value leaves a gap."""
    ax = panel(ax)
    if log:
        set_log_axis(ax, "x")
    ends = []
    for position, (name, fractions) in enumerate(lines.items()):
        look, values = series_look(position), 100.0 * np.asarray(fractions, float)
        ax.plot(x, values, label=name, **look.line())
        if len(known := np.flatnonzero(np.isfinite(values))):
            ends.append(End(name, float(x[known[-1]]), float(values[known[-1]]), look.colour))
    ax.set_xlim(x[0], x[-1])
    ax.set_ylim(0.0, 100.0)
    headed(ax, heading)
    label_ends(ax, ends)
    return ax


@styled
def figure_lines(
    x: Sequence[float],
    panels: Mapping[str, Lines],
    x_label: str,
    *,
    log: bool = False,
    title: str = "",
    remarks: Sequence[str] = (),
) -> Figure:
    """A page of panels over the same x, each under its heading; `remarks` go to its foot."""
    figure = page(0.6 + 2.4 * len(panels))
    axes = np.atleast_1d(figure.subplots(len(panels), sharex=True))
    for ax, (heading, lines) in zip(axes, panels.items(), strict=True):
        plot_lines(x, lines, heading, log=log, ax=ax)
    axes[-1].set_xlabel(x_label)
    note(figure, remarks)
    return finish(figure, title, f"{', '.join(panels)} over {x_label} from {x[0]:g} to {x[-1]:g}.")
