"""How every figure looks: a style file applied in a context, a palette for all eyes and for grey print."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from importlib.resources import as_file, files
from typing import Any, ParamSpec, TypeVar

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

P = ParamSpec("P")
R = TypeVar("R")

PAGE_WIDTH = 6.3  # inches: the type area of an A4 page, and about the width of a web page's column
# Dark to light in even steps, so that grey print keeps the order; apart for red- and green-blind eyes too.
INK, WINE, INDIGO, LAKE, AMBER = "#211e40", "#7b151f", "#3f4bb5", "#35738f", "#d95b0b"
OLIVE, LILAC, ASH = "#b3b25d", "#d7bcf5", "#e0e0dc"
PALETTE = (INK, WINE, INDIGO, LAKE, AMBER, OLIVE, LILAC, ASH)
FAINT, SHADE = "#6b6880", "#f3f1ec"  # lesser text; the ground of heat-up and cool-down

SOLID, LONG, SHORT, DOTS, CHAIN = (), (7, 2.5), (3.5, 1.8), (1.2, 1.6), (7, 2, 1.2, 2)


@dataclass(frozen=True)
class Look:
    """How a line is drawn. dash: strokes and gaps [points], empty for a solid line; width [points]."""

    colour: str
    dash: tuple[float, ...] = SOLID
    width: float = 1.8
    marker: str = ""

    def line(self) -> dict[str, Any]:
        """The look as keywords of `Axes.plot`; few markers, hollow."""
        style = {
            "color": self.colour,
            "linewidth": self.width,
            "linestyle": (0, self.dash) if self.dash else "-",
        }
        if self.marker:
            style |= {"marker": self.marker, "markevery": 0.13, "markersize": 4, "markerfacecolor": "white"}
        return style


SERIES_LOOKS = (
    Look(INK, SOLID, 2.4),
    Look(AMBER, SOLID),
    Look(LAKE, LONG),
    Look(WINE, CHAIN),
    Look(INDIGO, SHORT),
    Look(OLIVE, SOLID, 2.4, "o"),
    Look(FAINT, DOTS, 1.8, "s"),
    Look(AMBER, DOTS, 1.8, "^"),
)


def series_look(position: int) -> Look:
    """The look of the line at this position of a comparison; the first, the base, is the heaviest."""
    return SERIES_LOOKS[position % len(SERIES_LOOKS)]


@contextmanager
def retroaldol_style() -> Iterator[None]:
    """The house style for as long as the context lasts; matplotlib's settings come back afterwards."""
    with as_file(files("kinetics.figures") / "retroaldol.mplstyle") as path, mpl.rc_context(fname=path):
        yield


def styled(function: Callable[P, R]) -> Callable[P, R]:
    """Run a drawing function in the house style."""

    @wraps(function)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
        with retroaldol_style():
            return function(*args, **kwargs)

    return wrapper


def page(height: float) -> Figure:
    """An empty page of the common width, `height` inches high, laid out when it is finished."""
    spacing = ConstrainedLayoutEngine(h_pad=0.07, w_pad=0.06, hspace=0.0)
    return Figure(figsize=(PAGE_WIDTH, height), layout=spacing)


def panel(ax: Axes | None, height: float = 3.2) -> Axes:
    """The panel to draw on: the one given, or one that fills a page of its own."""
    return page(height).add_subplot() if ax is None else ax


def headed(ax: Axes, heading: str) -> None:
    """Write the quantity and unit of the upright axis as a heading above it, where it can be read."""
    ax.set_ylabel(heading, rotation=0, horizontalalignment="left", verticalalignment="bottom")
    ax.yaxis.set_label_coords(0.0, 1.02)


def percent(fraction: float) -> str:
    """A fraction [1] as text, in percent, that does not break before its sign."""
    return "<1\u00a0%" if 0.0 < fraction < 0.005 else f"{round(100.0 * fraction)}\u00a0%"
