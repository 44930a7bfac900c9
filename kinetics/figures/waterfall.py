"""From complete conversion down to the predicted one, mechanism by mechanism: what each of them costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import fill

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.figures.labels import finish, note
from kinetics.figures.style import AMBER, FAINT, INK, LAKE, page, panel, percent, styled

UNASSIGNED = 5e-4  # a remainder smaller than this is rounding
BAR = 0.62
NARROW = 12.0  # percent: to the left of here is no room for a number
NAME_WRAP = 32  # characters
TOTALS = ("complete conversion", "predicted conversion")


def steps_down(conversion: float, shares: Mapping[str, float]) -> list[tuple[str, float, float]]:
    """Each mechanism with the conversion before and after it [1], the largest loss first.

    What the shares leave between 1 and `conversion` is a step of its own, "not assigned".
    """
    steps, level = [], 1.0
    for name, share in sorted(shares.items(), key=lambda item: -item[1]):
        steps.append((name, level, level - share))
        level -= share
    if abs(level - conversion) > UNASSIGNED:
        steps.append(("not assigned", level, conversion))
    return steps


@styled
def plot_waterfall(conversion: float, shares: Mapping[str, float], *, ax: Axes | None = None) -> Axes:
    """Bars from 100 % down to `conversion` [1]; shares: {mechanism: part of the shortfall [1]}."""
    steps = steps_down(conversion, shares)
    ax = panel(ax, page_height(len(steps)))
    names = [TOTALS[0], *(name for name, _, _ in steps), TOTALS[1]]
    rows = range(len(names))
    ax.barh([0, len(names) - 1], [100.0, 100.0 * conversion], BAR, color=[FAINT, INK])
    for row, (_, before, after) in enumerate(steps, 1):
        loses = after <= before
        ax.barh(
            row,
            100.0 * (after - before),
            BAR,
            left=100.0 * before,
            color=AMBER if loses else LAKE,
            hatch="" if loses else "////",
            edgecolor="white",
            linewidth=0,
        )
        left, right = 100.0 * min(before, after), 100.0 * max(before, after)
        beside = left > NARROW and loses
        ax.text(
            left - 1.0 if beside else right + 1.0,
            row,
            f"{100.0 * (after - before):+.1f}".replace("-", "\u2212"),
            horizontalalignment="right" if beside else "left",
            verticalalignment="center",
        )
        ax.plot([100.0 * after] * 2, [row, row + 1], color=INK, linewidth=0.7, zorder=3)
    ax.text(
        100.0 * conversion + 1.0,
        len(names) - 1,
        percent(conversion),
        verticalalignment="center",
        fontweight="bold",
    )
    ax.plot([100.0, 100.0], [0, 1], color=INK, linewidth=0.7, zorder=3)
    ax.set_yticks(rows, [fill(name, NAME_WRAP) for name in names])
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.set_xlim(0.0, 100.0)
    ax.set_xlabel("conversion (%); steps in percentage points")
    ax.grid(False)
    ax.grid(axis="x")
    return ax


def page_height(steps: int) -> float:
    """Inches for the two totals and the steps between them."""
    return 1.1 + 0.3 * (steps + 2)


@styled
def figure_waterfall(
    conversion: float, shares: Mapping[str, float], *, title: str = "", remarks: Sequence[str] = ()
) -> Figure:
    """A page that walks from complete conversion to the predicted one.

    conversion: predicted [1]; shares: {mechanism: part of the shortfall it causes [1]}, negative where it
    helps; remarks: sentences for the foot of the page.
    """
    steps = steps_down(conversion, shares)
    figure = page(page_height(len(steps)))
    plot_waterfall(conversion, shares, ax=figure.add_subplot())
    note(figure, remarks)
    words = "; ".join(f"{name} {100.0 * (after - before):+.1f} points" for name, before, after in steps)
    return finish(figure, title, f"From complete conversion to the predicted {percent(conversion)}: {words}.")
