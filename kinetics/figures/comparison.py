"""Several runs side by side: one quantity over time, each run named at the end of its line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.data.faults import RefusedInput
from kinetics.figures.labels import End, finish, label_ends, note
from kinetics.figures.style import Look, headed, page, panel, series_look, styled
from kinetics.figures.timeline import mark_stages, set_time_axis
from kinetics.run.result import CELSIUS_ZERO_K, Run, Series

NamedRuns = Sequence[tuple[str, Run]]
FinalBands = Mapping[str, Mapping[str, float | None]]  # of a named run's last value: {"p5": ..., "p95": ...} [1]
BARS = "Bars: nine in ten of the samples of the uncertain constants end within; the dot is the run drawn."
BAR_STEP = 0.018  # of the time axis, from one bar to the next


class QuantityNameError(RefusedInput):
    """No such quantity to compare."""


@dataclass(frozen=True)
class Quantity:
    """What can be compared: heading of its axis with the unit, course, and how a value is written."""

    heading: str
    course: Callable[[Series], np.ndarray | None]
    form: str
    limits: tuple[float, float] | None = None


def in_percent(values: np.ndarray | None) -> np.ndarray | None:
    """Fractions as percent; None stays None."""
    return None if values is None else 100.0 * values


QUANTITIES = {
    "conversion": Quantity(
        "conversion (%)", lambda s: in_percent(s.conversion), "{:.0f}\u00a0%", (0.0, 100.0)
    ),
    "yield": Quantity("yield (%)", lambda s: in_percent(s.yield_), "{:.0f}\u00a0%", (0.0, 100.0)),
    "pH": Quantity("pH at the temperature of the moment", lambda s: s.pH, "{:.2f}"),
    "hydroxide": Quantity("hydroxide (mmol/L)", lambda s: 1e3 * s.hydroxide_mol_per_L, "{:.3g}\u00a0mmol/L"),
    "temperature": Quantity(
        "temperature of the liquor (°C)", lambda s: s.temperature_K - CELSIUS_ZERO_K, "{:.0f}\u00a0°C"
    ),
    "water": Quantity("water phase (L)", lambda s: s.water_L, "{:.3g}\u00a0L"),
}


def quantity_named(name: str) -> Quantity:
    """The quantity of that name. Raises QuantityNameError."""
    if name not in QUANTITIES:
        near = get_close_matches(name, QUANTITIES, 1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise QuantityNameError(f'quantity: expected one of {", ".join(QUANTITIES)}; came "{name}".{hint}')
    return QUANTITIES[name]


@styled
def plot_comparison(
    runs: NamedRuns, quantity: str = "conversion", *, ax: Axes | None = None, bands: FinalBands | None = None
) -> Axes:
    """One quantity of several runs over time; the first run is the base and drawn heaviest.

    Runs without it (a conversion where no substrate was charged) are left out. bands: of the last conversion or
    yield, by the names of the runs, drawn as bars side by side behind the ends of the lines.
    """
    shown = quantity_named(quantity)
    ax = panel(ax)
    longest_s = max((float(run.series.time_s[-1]) for _, run in runs), default=0.0) or 1.0
    unit = set_time_axis(ax, longest_s)
    ends = []
    for position, (name, run) in enumerate(runs):
        values = shown.course(run.series)
        if values is None:
            continue
        look = series_look(position)
        ax.plot(run.series.time_s / unit, values, label=name, zorder=3 - 0.01 * position, **look.line())
        last = float(values[-1])
        text = f"{name} {shown.form.format(last)}"
        end = float(run.series.time_s[-1]) / unit
        ends.append(End(text, end, last, look.colour))
        low, high = (((bands or {}).get(name) or {}).get(edge) for edge in ("p5", "p95"))
        if low is not None and high is not None:
            x = end + BAR_STEP * (position + 1) * longest_s / unit
            bar = Look(look.colour, width=4.0).line()
            ax.plot([x, x], [100.0 * low, 100.0 * high], label=f"{name}, 5 to 95 %", solid_capstyle="butt", **bar)
            ax.plot(x, last, "o", color="white", markersize=2.5)
    if bands:
        ax.set_xticks([tick for tick in ax.get_xticks() if 0.0 <= tick <= longest_s / unit])
        ax.set_xlim(right=(1.0 + BAR_STEP * (len(runs) + 1)) * longest_s / unit)
    if shown.limits is not None:
        ax.set_ylim(*shown.limits)
    headed(ax, shown.heading)
    if same_stages(runs):
        mark_stages(ax, runs[0][1])
    label_ends(ax, ends)
    return ax


def same_stages(runs: NamedRuns) -> bool:
    """Whether every run goes through the same stages at the same times, so that one mark stands for all."""
    ends = [
        tuple(run.series.time_s[np.flatnonzero(np.diff([stage == "hold" for stage in run.series.stage]))])
        for _, run in runs
    ]
    return bool(ends) and all(np.array_equal(ends[0], other) for other in ends)


@styled
def figure_comparison(
    runs: NamedRuns,
    quantity: str = "conversion",
    *,
    title: str = "",
    remarks: Sequence[str] = (),
    bands: FinalBands | None = None,
) -> Figure:
    """A page that compares (name, run) pairs by `quantity`, a key of QUANTITIES; `remarks` go to its foot.

    bands: see plot_comparison.
    """
    figure = page(3.9)
    plot_comparison(runs, quantity, ax=figure.add_subplot(), bands=bands)
    shown = quantity_named(quantity)
    last = {name: shown.course(run.series) for name, run in runs}
    missing = [name for name, values in last.items() if values is None]
    stopped = [f"{name}: {run.failure}" for name, run in runs if run.failure is not None]
    note(
        figure,
        [*remarks]
        + ([BARS] if bands else [])
        + [f"Not drawn, has no {quantity}: {name}." for name in missing]
        + [f"Not run to its end: {text}." for text in stopped],
    )
    words = "; ".join(
        f"{name} {shown.form.format(float(values[-1]))}"
        for name, values in last.items()
        if values is not None
    )
    return finish(figure, title, f"{shown.heading} over time for {len(runs)} runs. At the end: {words}.")
