"""Names written at the ends of lines instead of in a legend, moved apart where needed; finishing a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import fill
from typing import cast

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation
from matplotlib.transforms import offset_copy

from kinetics.figures.style import FAINT

END_LABEL = "end label"
LINE_HEIGHT = 1.28  # of the font size
GAP_POINTS = 16.0  # between the axis and its labels
WRAP, NOTE_WRAP, TITLE_WRAP = 28, 112, 66  # characters


@dataclass(frozen=True)
class End:
    """The end of a line, in the units of the axes, and the name to write there."""

    text: str
    x: float
    y: float
    colour: str


def spread(wanted: Sequence[float], heights: Sequence[float], low: float, high: float) -> list[float]:
    """Centres of labels, as near as can be to those wanted (least squares), without overlap, in [low, high].

    The order of the wanted centres is kept; of equals the first is on top. Neighbours that would overlap are
    pooled and share the move; where there is no room for all, they run over `low`.
    """
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i], -i))
    below, total = [], 0.0
    for i in order:
        below.append(total + heights[i] / 2)
        total += heights[i]
    pools: list[tuple[float, int]] = []  # mean of the lower edge of the whole stack, members
    for i, offset in zip(order, below):
        mean, count = wanted[i] - offset, 1
        while pools and pools[-1][0] > mean:
            other, members = pools.pop()
            mean, count = (mean * count + other * members) / (count + members), count + members
        pools.append((mean, count))
    edges = [min(max(mean, low), high - total) for mean, count in pools for _ in range(count)]
    centres = [0.0] * len(wanted)
    for i, offset, edge in zip(order, below, edges):
        centres[i] = edge + offset
    return centres


def label_ends(ax: Axes, ends: Sequence[End]) -> None:
    """Write each name to the right of the panel, tied to the end of its line."""
    beside = offset_copy(ax.transAxes, cast(Figure, ax.figure), x=GAP_POINTS, units="points")
    for end in ends:
        ax.annotate(
            fill(end.text, WRAP, break_long_words=False, break_on_hyphens=False),
            (end.x, end.y),
            (1.0, 0.5),
            textcoords=beside,
            verticalalignment="center",
            fontsize=mpl.rcParams["xtick.labelsize"],
            linespacing=1.1,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": end.colour,
                "linewidth": 1.0,
                "relpos": (0.0, 0.5),
                "shrinkA": 1,
                "shrinkB": 1,
            },
            gid=END_LABEL,
        )
    arrange(ax)


def end_labels(ax: Axes) -> list[Annotation]:
    """The names written beside a panel."""
    return [text for text in ax.texts if isinstance(text, Annotation) and text.get_gid() == END_LABEL]


def arrange(ax: Axes) -> None:
    """Move the names beside a panel apart, at its present size and limits."""
    labels = end_labels(ax)
    box = ax.get_window_extent()
    pixels = ax.figure.dpi / 72.0
    heights = [
        (text.get_text().count("\n") + 1) * float(text.get_fontsize()) * LINE_HEIGHT * pixels
        for text in labels
    ]
    wanted = [float(ax.transData.transform(text.xy)[1]) for text in labels]
    for text, centre in zip(labels, spread(wanted, heights, box.y0, box.y1)):
        text.set_position((1.0, (centre - box.y0) / box.height))


def finish(figure: Figure, title: str, description: str) -> Figure:
    """Lay a page out once and for all; give it a title, and words that stand for it where it is not seen."""
    if title:
        figure.suptitle(fill(title, TITLE_WRAP), x=0.012, horizontalalignment="left")
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for ax in figure.axes:
        arrange(ax)
    figure.set_label(description)
    return figure


def note(figure: Figure, remarks: Sequence[str]) -> None:
    """Small print at the foot of a page: what is not drawn, and why."""
    if remarks:
        text = "\n".join(fill(remark, NOTE_WRAP) for remark in remarks)
        figure.supxlabel(text, x=0.012, horizontalalignment="left", color=FAINT)
