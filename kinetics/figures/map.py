"""A quantity over two settings: filled contours with their values written on the lines, readable in grey."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator

from kinetics.figures.labels import finish, note
from kinetics.figures.style import INK, headed, page, panel, styled

# From light to dark, so that grey print keeps the order: paper, sand, teal, night.
DEPTHS = LinearSegmentedColormap.from_list("retroaldol depths", ["#fbf6e6", "#e6cf94", "#5f9a94", "#2a4a78"])
LEVELS = 9
EDGE = 0.03  # of the panel: writing comes no nearer to its edge
DARK_FROM = 0.72  # of the range: from here the writing on a line is white


@styled
def plot_map(
    x: Sequence[float],
    y: Sequence[float],
    z: Sequence[Sequence[float]],
    x_label: str,
    y_label: str,
    z_label: str,
    *,
    ax: Axes | None = None,
) -> Axes:
    """Filled contours of z[row of y][column of x]; labels carry the units. What is not a number stays white.

    A dot stands where a run was computed; between the dots the contours are drawn straight.
    """
    ax = panel(ax, 4.4)
    values = np.ma.masked_invalid(np.asarray(z, float))
    if values.shape != (len(y), len(x)):
        raise ValueError(f"plot_map: expected z of {len(y)} rows and {len(x)} columns; came {values.shape}")
    ax.set_xlim(min(x), max(x))
    ax.set_ylim(min(y), max(y))
    columns, rows = np.meshgrid(x, y)
    if values.count() and np.ptp(values.compressed()) > 0.0:
        levels = MaxNLocator(LEVELS).tick_values(values.min(), values.max())
        ax.contourf(columns, rows, values, levels, cmap=DEPTHS)
        depth = Normalize(levels[0], levels[-1])
        colours = ["white" if depth(level) > DARK_FROM else INK for level in levels]
        lines = ax.contour(columns, rows, values, levels, colors=colours, linewidths=0.8)
        for text in ax.clabel(lines, fontsize=8, inline=False, fmt=lambda level: f"{level:g}"):
            text.set(
                clip_on=False,
                bbox={"facecolor": DEPTHS(depth(float(text.get_text()))), "edgecolor": "none", "pad": 1},
            )
            keep_inside(text, ax)
    computed = ~np.ma.getmaskarray(values)
    ax.plot(columns[computed], rows[computed], ".", color=INK, markersize=2.2, alpha=0.6, clip_on=False)
    ax.grid(False)
    ax.set_xlabel(x_label)
    headed(ax, y_label)
    ax.set_title(f"{z_label}, on the lines", pad=20)
    return ax


def keep_inside(text: Text, ax: Axes) -> None:
    """Move writing on a line that ends at the edge of the panel to where it can be read."""
    across, up = ax.transAxes.inverted().transform(ax.transData.transform(text.get_position()))
    inside = min(max(across, EDGE), 1.0 - EDGE), min(max(up, EDGE), 1.0 - EDGE)
    x, y = ax.transData.inverted().transform(ax.transAxes.transform(inside))
    text.set_position((float(x), float(y)))


@styled
def figure_map(
    x: Sequence[float],
    y: Sequence[float],
    z: Sequence[Sequence[float]],
    x_label: str,
    y_label: str,
    z_label: str,
    *,
    title: str = "",
    remarks: Sequence[str] = (),
) -> Figure:
    """A page with the map of z over x and y (see plot_map); `remarks` stand at its foot."""
    figure = page(4.6)
    plot_map(x, y, z, x_label, y_label, z_label, ax=figure.add_subplot())
    values = np.asarray(z, float)
    missing = int(np.count_nonzero(~np.isfinite(values)))
    lines = [*remarks, "Dots: the runs that were computed; between them the lines are drawn straight."]
    if missing:
        lines.append(f"White: {missing} of {values.size} runs gave no value.")
    note(figure, lines)
    words = f"{z_label} over {x_label} and {y_label}"
    if missing < values.size:
        words += f": from {np.nanmin(values):.3g} to {np.nanmax(values):.3g}"
    return finish(figure, title, f"Map of {words}.")
