"""What each change of the scenario would gain, best first: conversion, and product in grams."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.figures.labels import finish, note
from kinetics.figures.style import AMBER, FAINT, INK, page, panel, styled

Lever = tuple[str, float, float]
BAR = 0.56
NAME_WRAP = 30  # characters
ROOM = 0.36  # of the range, beyond the longest bar, for its number


def best_first(levers: Sequence[Lever]) -> list[Lever]:
    """The levers by what they gain in conversion, then in product."""
    return sorted(levers, key=lambda lever: (-lever[1], -lever[2]))


@styled
def plot_levers(levers: Sequence[Lever], *, ax: Axes | None = None, product: bool = False) -> Axes:
    """Bars of the gain of each change, best conversion first; `product`: gain in product, not in conversion.

    levers: (change, gain in conversion [1], gain in product [g]); what loses is hollow and points left.
    """
    ax = panel(ax, page_height(levers))
    ordered = best_first(levers)
    values = [gram if product else 100.0 * gain for _, gain, gram in ordered]
    form = "{:+.2f}" if product else "{:+.1f}"
    ax.barh(
        range(len(values)),
        values,
        BAR,
        color=["white" if value < 0.0 else AMBER if product else INK for value in values],
        edgecolor=AMBER if product else INK,
        linewidth=1.0,
    )
    for row, value in enumerate(values):
        ax.annotate(
            form.format(value).replace("-", "\u2212"),
            (value, row),
            (4 if value >= 0.0 else -4, 0),
            textcoords="offset points",
            horizontalalignment="left" if value >= 0.0 else "right",
            verticalalignment="center",
        )
    low, high = min([0.0, *values]), max([0.0, *values])
    room = ROOM * (high - low or 1.0)
    ax.set_xlim(low - room if low < 0.0 else 0.0, high + room if high > 0.0 else room)
    ax.set_ylim(len(values) - 0.5, -0.5)
    ax.set_yticks(range(len(values)), [fill(change, NAME_WRAP) for change, _, _ in ordered])
    ax.axvline(0.0, color=FAINT, linewidth=0.7)
    ax.set_xlabel("product gained (g)" if product else "conversion gained (percentage points)")
    ax.grid(False)
    return ax


def page_height(levers: Sequence[Lever]) -> float:
    """Inches for the bars with names of one line or more."""
    lines = sum(max(1.6, 1.0 + fill(change, NAME_WRAP).count("\n") * 0.9) for change, _, _ in levers)
    return 1.1 + 0.22 * lines


@styled
def figure_levers(levers: Sequence[Lever], *, title: str = "", remarks: Sequence[str] = ()) -> Figure:
    """A page of (change, gain in conversion [1], gain in product [g]), best first; both gains share the rows.

    remarks: sentences for the foot of the page, such as the cautions that go with a change.
    """
    figure = page(page_height(levers))
    left, right = figure.subplots(1, 2, sharey=True)
    plot_levers(levers, ax=left)
    plot_levers(levers, ax=right, product=True)
    right.tick_params(labelleft=False)
    note(figure, remarks)
    words = "; ".join(
        f"{change} {100.0 * gain:+.1f} points and {gram:+.2f} g" for change, gain, gram in best_first(levers)
    )
    return finish(figure, title, f"What each change gains in conversion and product, best first: {words}.")
