"""What a calibration reports: what moved, what did not, how well it fits, and what should make a reader doubt it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

import kinetics
from kinetics.analysis.calibration_file import CHARGE, Calibration, counted_in
from kinetics.analysis.ensemble import SETTINGS
from kinetics.analysis.fitting import Fit, chi_square_p, runs_test
from kinetics.analysis.measurements import Measurements
from kinetics.analysis.profiles import Intervals
from kinetics.data.shelf import Shelf
from kinetics.run.scenario import Scenario

Array = np.ndarray
MOVED = 0.9  # a constant whose standard uncertainty stays above this part of the prior's was hardly moved
CUT_OFF = 0.7  # correlations listed from here
FEWEST = 5  # residuals that a runs test takes
DOUBTFUL, TOO_GOOD = 0.01, 0.999  # p of the chi-square beyond which the fit is called in question
OUTLYING = 3.0  # standard deviations
RIVAL = 10.0  # of S: another answer that much worse is e^-5 as likely


@dataclass(frozen=True)
class Constant:
    """One fitted constant; z counts the prior's standard uncertainties, so that before it was 0 +- 1.

    low and high: its 90 % profile-likelihood interval; at least so wide where `settled` is not true.
    """

    name: str
    quantity: str
    z: float
    sd: float
    low: float
    high: float
    settled: bool
    change: str
    at_bound: bool

    @property
    def moved(self) -> bool:
        return self.sd < MOVED


@dataclass(frozen=True)
class Point:
    """One measurement beside what was predicted before and after; residual in its standard deviations."""

    row: int
    run: str
    quantity: str
    time_s: float
    value: float
    sd: float
    before: float
    after: float
    residual: float


@dataclass(frozen=True)
class Series:
    """The residuals of one quantity in one run, in order of time: are there too few changes of sign?"""

    run: str
    quantity: str
    count: int
    runs: int
    expected: float
    p: float


@dataclass(frozen=True)
class Calibrated:
    """What came of a calibration. chi_square: of data and priors together, with as many degrees of freedom as data."""

    calibration: Calibration
    measurements: Measurements
    constants: tuple[Constant, ...]
    correlations: tuple[tuple[str, str, float], ...]
    untouched: tuple[str, ...]  # uncertain, but out of reach of the data and not fitted
    points: tuple[Point, ...]
    series: tuple[Series, ...]
    chi_square: float
    chi_square_of_data: float
    p: float
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    fit: Fit

    @property
    def unmoved(self) -> tuple[str, ...]:
        """Names of the constants the data could not move, fitted or not."""
        return (*(c.name for c in self.constants if not c.moved), *self.untouched)

    def to_json(self) -> dict[str, Any]:
        """The report as plain values."""
        return {
            "constants": [
                {
                    "name": c.name, "quantity": c.quantity, "z_before": 0.0, "sd_before": 1.0, "z": c.z, "sd": c.sd,
                    "z_low": c.low, "z_high": c.high, "interval_settled": c.settled, "change": c.change, "at_bound": c.at_bound, "moved": c.moved,
                }
                for c in self.constants
            ],
            "covariance": self.calibration.covariance.tolist(),
            "correlations": [{"a": a, "b": b, "correlation": r} for a, b, r in self.correlations],
            "unmoved": list(self.unmoved),
            "measurements": [vars(point) for point in self.points],
            "runs_tests": [vars(series) for series in self.series],
            "chi_square": self.chi_square,
            "chi_square_of_data": self.chi_square_of_data,
            "degrees_of_freedom": len(self.points),
            "p": self.p,
            "starts_agreeing": self.fit.agreeing_starts(),
            "warnings": list(self.warnings),
            "notes": list(self.notes),
        }  # fmt: skip


def report_of(
    measurements: Measurements,
    shelf: Shelf,
    known: Sequence[str],
    names: tuple[str, ...],
    reached: Sequence[str],
    before: Array,
    robust: bool,
    best: Fit,
    intervals: Intervals,
) -> Calibrated:
    """Everything worth saying about a fit."""
    points = tuple(
        Point(item.row, item.run, item.asked.quantity, item.asked.time_s, item.value, item.sd, b, a, r)
        for item, b, a, r in zip(
            measurements.items, before.tolist(), best.values.tolist(), best.residuals.tolist()
        )
    )
    sd = best.sd
    fitted = tuple(
        Constant(
            name, quantity_of(name, shelf), float(best.x[k]), float(sd[k]), float(intervals.low[k]), float(intervals.high[k]),
            bool(intervals.low_settled[k] and intervals.high_settled[k]),
            change_of(name, float(best.x[k]), shelf, measurements.scenarios), bool(best.at_bound[k]),
        )
        for k, name in enumerate(names)
    )  # fmt: skip
    r = best.correlation
    pairs = [(names[i], names[j], float(r[i, j])) for i in range(len(names)) for j in range(i)]
    strong = sorted((pair for pair in pairs if abs(pair[2]) >= CUT_OFF), key=lambda pair: -abs(pair[2]))
    together = float(best.residuals @ best.residuals + best.x @ best.x)
    p = chi_square_p(together, len(points))
    series = series_of(points)
    left_out = [name for name in reached if name not in names]
    return Calibrated(
        calibration_of(measurements, shelf, names, best, together, p, robust),
        measurements, fitted, tuple(strong), tuple(name for name in known if name not in names), points, series,
        together, best.chi_square, p, tuple(warnings_of(fitted, series, points, best, p)),
        (*measurements.notes, *notes_of(fitted, points, left_out)), best,
    )  # fmt: skip


def quantity_of(name: str, shelf: Shelf) -> str:
    return shelf[name].quantity if name in shelf else f"amount of {name.removeprefix(CHARGE)} charged"


def change_of(name: str, z: float, shelf: Shelf, scenarios: Sequence[Scenario]) -> str:
    """What z means for a constant, in words: "times 1.9", "+2.3 kJ/mol"."""
    counted = counted_in(name, shelf, scenarios)
    assert counted is not None
    if counted.sigma is not None:
        change = max(z * counted.sigma, -min(s.condenser.approach_K for s in scenarios)) if name == SETTINGS[1] else (
            z * counted.sigma
        )  # fmt: skip
        unit = shelf[name].unit
        return f"{change:+.3g}" + ("" if unit == "1" else f" {unit}")
    base = counted.factor if counted.factor is not None else 1.0 + (counted.relative or 0.0)
    return f"times {base**z:.3g}"


def series_of(points: Sequence[Point]) -> tuple[Series, ...]:
    """A runs test for each quantity of each run that has enough measurements."""
    result = []
    for run, quantity in dict.fromkeys((point.run, point.quantity) for point in points):
        mine = [p for p in points if (p.run, p.quantity) == (run, quantity)]
        mine.sort(key=lambda point: point.time_s)
        if len(mine) >= FEWEST:
            result.append(Series(run, quantity, len(mine), *runs_test([point.residual for point in mine])))
    return tuple(result)


def warnings_of(
    constants: Sequence[Constant], series: Sequence[Series], points: Sequence[Point], best: Fit, p: float
) -> list[str]:
    """What should make a reader doubt the fit."""
    warnings = []
    if not best.converged:
        warnings.append(f"the fit did not settle: {best.message}")
    for c in constants:
        if c.at_bound:
            warnings.append(f"{c.name} sits at its bound (z = {c.z:.2g}): its interval means little")
    if p < DOUBTFUL:
        warnings.append(
            f"the model does not fit these measurements within their standard deviations (p = {p:.2g}): they are "
            "less certain than stated, or something is missing from the model"
        )
    if p > TOO_GOOD:
        warnings.append(
            f"the fit is closer than chance allows (p = {p:.4f}): the stated standard deviations are too large"
        )
    for one in series:
        if one.p < 0.05:
            warnings.append(
                f"the residuals of {one.quantity} in {one.run} keep their sign too long "
                f"({one.runs} runs where {one.expected:.1f} are expected, p = {one.p:.2g}): the shape is not right"
            )
    for point in points:
        if abs(point.residual) > OUTLYING:
            warnings.append(
                f"row {point.row} ({point.quantity}) lies {abs(point.residual):.1f} standard deviations off"
            )
    if rivals := best.rivals(RIVAL):
        warnings.append(
            f"{len(rivals)} of {len(best.ends)} starts ended elsewhere, {rivals[0]:.1f} worse in chi-square: there may "
            "be more than one answer"
        )
    return warnings


def notes_of(constants: Sequence[Constant], points: Sequence[Point], left_out: Sequence[str]) -> list[str]:
    """What a reader should know besides."""
    notes = []
    if len(constants) > len(points):
        notes.append(
            f"{len(constants)} constants from {len(points)} measurement{'s' * (len(points) > 1)}: what the data leave "
            "open, the shelf's own uncertainties decide"
        )
    if left_out:
        notes.append(
            f"the data reach {len(left_out)} more constants, which were held at the shelf's values, so that the "
            f"intervals are too narrow: {', '.join(left_out)}"
        )
    return notes


def calibration_of(
    measurements: Measurements,
    shelf: Shelf,
    names: tuple[str, ...],
    best: Fit,
    chi_square: float,
    p: float,
    robust: bool,
) -> Calibration:
    """The posterior with where it comes from."""
    import scipy

    counted = tuple(c for name in names if (c := counted_in(name, shelf, measurements.scenarios)) is not None)
    data = {
        "file": measurements.path.name if measurements.path else "",
        "sha256": measurements.sha256,
        "measurements": len(measurements.items),
        "runs": list(dict.fromkeys(item.run for item in measurements.items)),
    }
    told = {"chi_square": chi_square, "degrees_of_freedom": len(measurements.items), "p": p, "robust": robust}
    versions = {"retroaldol": kinetics.__version__, "numpy": np.__version__, "scipy": scipy.__version__}
    covariance = 0.5 * (best.covariance + best.covariance.T)
    substrate = measurements.scenarios[0].substrate
    return Calibration(substrate, names, best.x, covariance, counted, data, told, versions)
