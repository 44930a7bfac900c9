"""The time axis that the panels of a run share, with the stages of the batch lightly marked."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from kinetics.figures.style import FAINT, SHADE
from kinetics.run.result import Run

HOUR, MINUTE = 3600.0, 60.0
NAMES_FROM = 0.92  # of the height of a panel
SHORT_RUN_S = 5400.0  # up to here in minutes
STAGE_NAMES = {"heating": "heat-up", "hold": "hold", "cooling": "cool-down"}
SIDES = {"heating": ("left", 0.0), "hold": ("center", 0.5), "cooling": ("right", 1.0)}


def time_unit(end_s: float) -> tuple[float, str]:
    """Seconds in the unit of a time axis that ends at `end_s` [s], and its label."""
    return (HOUR, "time from the start (h)") if end_s > SHORT_RUN_S else (MINUTE, "time from the start (min)")


def stage_spans(run: Run) -> list[tuple[str, float, float]]:
    """Each stage with its beginning and end [s]; it begins where the one before it ended."""
    spans: list[tuple[str, float, float]] = []
    times, stages = run.series.time_s, run.series.stage
    for name in dict.fromkeys(stages):
        start = spans[-1][2] if spans else float(times[0])
        spans.append((name, start, float(times[np.array(stages) == name][-1])))
    return [span for span in spans if span[2] > span[1]]


def mark_stages(ax: Axes, run: Run, named: bool = False) -> None:
    """Shade heat-up and cool-down; `named`: write the stages along the top, above the lines."""
    if named:
        low, high = ax.get_ylim()
        ax.set_yticks([tick for tick in ax.get_yticks() if low <= tick <= low + NAMES_FROM * (high - low)])
    unit, _ = time_unit(float(run.series.time_s[-1]))
    boils = run.trajectory is not None and run.trajectory.boiling
    for stage, start, end in stage_spans(run):
        if stage != "hold":
            ax.axvspan(start / unit, end / unit, color=SHADE, linewidth=0, zorder=0)
        if named:
            side, share = SIDES[stage]
            ax.text(
                (start + share * (end - start)) / unit,
                0.985,
                "boil" if stage == "hold" and boils else STAGE_NAMES[stage],
                transform=ax.get_xaxis_transform(),
                horizontalalignment=side,
                verticalalignment="top",
                fontsize=7,
                color=FAINT,
            )


def set_time_axis(ax: Axes, end_s: float, labelled: bool = True) -> float:
    """Let the axis run from 0 to `end_s` [s]; gives the seconds in its unit."""
    unit, label = time_unit(end_s)
    ax.set_xlim(0.0, end_s / unit)
    if labelled:
        ax.set_xlabel(label)
    return unit
