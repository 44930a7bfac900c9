"""Which uncertain number makes how much of the spread: the share it makes alone, and in all with others."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.figures.labels import finish, note
from kinetics.figures.style import FAINT, INK, LAKE, page, panel, styled

Share = tuple[str, float, float, float]  # words, alone [1], in all [1], half of the 90 % interval of the latter [1]
BAR = 0.34
NAME_WRAP = 38  # characters
ROW, MARGIN = 0.46, 1.1  # inches
SMALLEST = 0.01  # of the variance: less is not drawn


def largest_first(shares: Sequence[Share]) -> list[Share]:
    """What makes at least a hundredth of the spread, the largest first."""
    return sorted((share for share in shares if share[2] >= SMALLEST), key=lambda share: -share[2])


@styled
def plot_sensitivity(shares: Sequence[Share], *, ax: Axes | None = None) -> Axes:
    """Two bars for each uncertain number [% of the variance]: alone (hollow), and in all (filled, with its interval)."""
    shown = largest_first(shares)
    ax = panel(ax, MARGIN + ROW * max(len(shown), 1))
    for row, (_, alone, in_all, error) in enumerate(shown):
        ax.barh(row - BAR / 2, 100.0 * max(alone, 0.0), BAR, color="white", edgecolor=LAKE, linewidth=1.0)
        ax.barh(row + BAR / 2, 100.0 * in_all, BAR, color=INK, xerr=100.0 * error, ecolor=FAINT, capsize=2.0)
    ax.set_yticks(range(len(shown)), [fill(words, NAME_WRAP) for words, *_ in shown])
    ax.set_ylim(max(len(shown), 1) - 0.5, -0.5)
    ax.set_xlim(left=0.0)
    ax.set_xlabel("share of the spread: alone (hollow), in all (filled) (% of the variance)")
    ax.grid(False, axis="y")
    return ax


@styled
def figure_sensitivity(
    answers: Sequence[tuple[str, Sequence[Share]]], *, title: str = "", remarks: Sequence[str] = ()
) -> Figure:
    """A page with a panel for each answer (its words, the shares of its uncertain numbers)."""
    rows = [max(len(largest_first(shares)), 1) for _, shares in answers]
    figure = page(sum(MARGIN + ROW * count for count in rows))
    panels = figure.subplots(len(answers), 1, squeeze=False, height_ratios=rows)[:, 0]
    for (words, shares), ax in zip(answers, panels, strict=True):
        plot_sensitivity(shares, ax=ax)
        ax.set_title(words)
    note(figure, remarks)
    said = "; ".join(
        f"{words}: " + ", ".join(f"{name} {100.0 * in_all:.0f} %" for name, _, in_all, _ in largest_first(shares))
        for words, shares in answers
    )
    return finish(figure, title, f"Shares of the spread, largest first. {said}.")
