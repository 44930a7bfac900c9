"""A calibration on one page: the samples over the predicted courses before and after, and what is left over."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.analysis.calibration_report import Calibrated, Point
from kinetics.analysis.predictions import QUANTITIES, Asked, Predictor
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.figures.labels import End, finish, label_ends, note
from kinetics.figures.style import AMBER, DOTS, FAINT, INK, LAKE, Look, headed, page, panel, styled
from kinetics.figures.timeline import set_time_axis
from kinetics.flask.mechanisms import Mechanisms

COURSE = 50  # points of a predicted course
MARGIN = 1.06
BEFORE, AFTER = Look(FAINT, DOTS, 1.6), Look(LAKE)


def courses(
    calibrated: Calibrated, run: str, quantity: str, shelf: Shelf, mechanisms: Mechanisms | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Times [s] and the predictions before and after (times, 2), to a little beyond the last sample."""
    item = next(i for i in calibrated.measurements.items if (i.run, i.asked.quantity) == (run, quantity))
    scenario = calibrated.measurements.scenarios[item.asked.run]
    times = np.linspace(
        0.0, min(shown_until(calibrated), scenario.heating.ramp_s + scenario.heating.hold_s), COURSE
    )
    times = np.maximum(times, 1.0)
    asked = [Asked(0, float(t), quantity, item.asked.details) for t in times]
    calibration = calibrated.calibration
    points = np.array([np.zeros(len(calibration.names)), calibration.mean]).T
    return times, Predictor([scenario], asked, calibration.names, shelf, mechanisms)(points)


def shown_until(calibrated: Calibrated) -> float:
    """The end of the time axes [s]: a little beyond the last sample."""
    return MARGIN * max(point.time_s for point in calibrated.points)


def mine(calibrated: Calibrated, run: str, quantity: str) -> list[Point]:
    """The measurements of one quantity in one run."""
    return [point for point in calibrated.points if (point.run, point.quantity) == (run, quantity)]


def scale_of(quantity: str) -> tuple[float, str]:
    """How a value is shown: factor and unit."""
    known = QUANTITIES[quantity]
    if known.per_cent:
        return 100.0, " (%)"
    return (1e3, " (mmol)") if known.unit == "mol" else (1.0, "" if known.unit == "1" else f" ({known.unit})")


@styled
def plot_samples(
    points: Sequence[Point], times: np.ndarray, predicted: np.ndarray, *, ax: Axes | None = None
) -> Axes:
    """Samples with their standard deviations, and the courses predicted before and after.

    points: of one quantity in one run; times [s]; predicted (times, 2) in the quantity's house unit.
    """
    ax = panel(ax)
    unit = set_time_axis(ax, float(times[-1]))
    factor, shown = scale_of(points[0].quantity)
    ends = []
    for name, values, look in (("shelf", predicted[:, 0], BEFORE), ("fitted", predicted[:, 1], AFTER)):
        ax.plot(times / unit, factor * values, label=name, **look.line())
        ends.append(End(name, float(times[-1]) / unit, factor * float(values[-1]), look.colour))
    ax.errorbar(
        [point.time_s / unit for point in points],
        [factor * point.value for point in points],
        [factor * point.sd for point in points],
        label="measured",
        fmt="o",
        color=INK,
        markersize=4,
        elinewidth=1.0,
        capsize=2,
    )
    headed(ax, f"{points[0].quantity}{shown}")
    label_ends(ax, ends)
    return ax


@styled
def plot_residuals(calibrated: Calibrated, *, ax: Axes | None = None) -> Axes:
    """Measured less fitted, in standard deviations, over time; two in three should lie within one."""
    ax = panel(ax)
    unit = set_time_axis(ax, shown_until(calibrated))
    ax.axhspan(-1.0, 1.0, color=FAINT, alpha=0.15, linewidth=0)
    ax.axhline(0.0, color=FAINT, linewidth=0.8)
    x = [point.time_s / unit for point in calibrated.points]
    residuals = [point.residual for point in calibrated.points]
    ax.vlines(x, 0.0, residuals, color=AMBER, linewidth=1.0)
    ax.plot(x, residuals, "o", color=AMBER, markersize=4, label="residuals")
    reach = max(2.5, 1.15 * max(map(abs, residuals)))
    ax.set_ylim(-reach, reach)
    headed(ax, "measured less fitted (standard deviations)")
    return ax


@styled
def figure_calibration(
    calibrated: Calibrated, shelf: Shelf | None = None, mechanisms: Mechanisms | None = None
) -> Figure:
    """A panel for each quantity of each run, and the residuals of all below."""
    shelf = shelf or load_shelf()
    groups = list(dict.fromkeys((point.run, point.quantity) for point in calibrated.points))
    figure = page(2.1 * len(groups) + 1.9)
    axes = np.atleast_1d(figure.subplots(len(groups) + 1, 1))
    for ax, (run, quantity) in zip(axes, groups):
        plot_samples(
            mine(calibrated, run, quantity), *courses(calibrated, run, quantity, shelf, mechanisms), ax=ax
        )
        ax.set_xlabel("")
    plot_residuals(calibrated, ax=axes[-1])
    runs = list(dict.fromkeys(run for run, _ in groups))
    note(figure, [f"Bars: one standard deviation. Chi-square of samples and priors {calibrated.chi_square:.1f} for "
                  f"{len(calibrated.points)} samples.", *calibrated.warnings])  # fmt: skip
    moved = sum(c.moved for c in calibrated.constants)
    said = f"{len(calibrated.points)} samples and the predictions before and after moving {moved} constants."
    return finish(figure, f"Calibration: {'; '.join(runs)}", said)
