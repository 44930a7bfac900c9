"""A calibration in words: what moved, what did not, how well it fits, and which sample to take next."""

from __future__ import annotations

from collections.abc import Sequence

from kinetics.analysis.calibrate import LEVEL
from kinetics.analysis.calibration_report import CUT_OFF, Calibrated, Constant, Point
from kinetics.analysis.predictions import QUANTITIES
from kinetics.analysis.suggest import Candidate, Suggestion
from kinetics.command_line.notices_text import shortened
from kinetics.command_line.terminal import duration, fixed, heading, significant, table, warning, wrapped

MEANING = (
    "z counts standard uncertainties of the shelf from its own value: before, every one was 0 +- 1. Interval: "
    f"{100.0 * LEVEL:.0f} %, by profile likelihood."
)


def calibration_lines(calibrated: Calibrated, target: str | None, suggestion: Suggestion | None) -> list[str]:
    """All that is printed of a calibration."""
    moved = [c for c in calibrated.constants if c.moved]
    count = len(calibrated.points)
    lines = [
        heading(f"{count} measurements moved {len(moved)} of {len(calibrated.constants)} fitted constants"),
        "",
    ]
    lines += constant_lines(moved) if moved else ["None by as much as a tenth of its uncertainty."]
    lines += [*wrapped(MEANING), "", heading("Measured and predicted"), *point_lines(calibrated.points)]
    lines += ["", heading("Does it fit?"), *fit_lines(calibrated)]
    if calibrated.correlations:
        lines += ["", heading(f"Tied together (correlation of {CUT_OFF:g} or more)")]
        for a, b, r in calibrated.correlations:
            lines += wrapped(f"{r:+.2f}  {a} and {b}", "", "       ")
    lines += ["", heading("What the data could not move"), *unmoved_lines(calibrated)]
    for text in calibrated.notes:
        lines += wrapped(text, "- ")
    if target is not None:
        lines += ["", heading("The next sample"), *suggestion_lines(target, suggestion)]
    return lines


def constant_lines(constants: Sequence[Constant]) -> list[str]:
    """A line of numbers for each constant, its name above."""
    lines = []
    for c in constants:
        lines += wrapped(c.name)
        interval = f"{'' if c.settled else 'at least '}{fixed(c.low, 2)} to {fixed(c.high, 2)}"
        lines.append(
            f"    z {c.z:+.2f} +- {c.sd:.2f}  ({interval}): {c.change}{', at its bound' * c.at_bound}"
        )
    return lines


def shown(value: float, quantity: str) -> str:
    """A value as the table shows it: fractions in percent, amounts in mmol."""
    known = QUANTITIES[quantity]
    if known.per_cent:
        return f"{100.0 * value:.1f} %"
    if known.unit == "mol":
        return f"{significant(1e3 * value)} mmol"
    return f"{value:.2f}" if quantity == "pH" else f"{significant(value)}{'' if known.unit == '1' else ' g'}"


def point_lines(points: Sequence[Point]) -> list[str]:
    """The measurements beside what was predicted before and after."""
    header = [["row", "after", "quantity", "measured", "before", "fitted", "off by"]]
    rows = [
        [
            str(p.row), duration(p.time_s / 3600.0), p.quantity, shown(p.value, p.quantity),
            shown(p.before, p.quantity), shown(p.after, p.quantity), f"{p.residual:+.1f} sd",
        ]
        for p in points
    ]  # fmt: skip
    return table(header, rows, "><<")


def fit_lines(calibrated: Calibrated) -> list[str]:
    """Chi-square, runs tests and warnings."""
    said = (
        f"Chi-square of data and priors together {calibrated.chi_square:.1f} with {len(calibrated.points)} degrees of "
        f"freedom, p {probability(calibrated.p)}; of the data alone {calibrated.chi_square_of_data:.1f}."
    )
    lines = wrapped(said)
    for one in calibrated.series:
        lines += wrapped(
            f"{one.quantity} in {one.run}: {one.runs} runs of sign in {one.count} residuals, {one.expected:.1f} "
            f"expected, p {probability(one.p)}.",
            "",
            "  ",
        )
    if not calibrated.series:
        lines += wrapped("No runs test: no quantity has five measurements in one run.")
    for text in calibrated.warnings:
        lines += [warning(line) for line in wrapped(text, "! ", "  ")]
    return lines


def probability(p: float) -> str:
    """How probable, with its sign: "= 0.43", "> 0.999"."""
    return "< 0.001" if p < 0.001 else "> 0.999" if p > 0.999 else f"= {p:.2g}"


def unmoved_lines(calibrated: Calibrated) -> list[str]:
    """Every constant that keeps the shelf's uncertainty, in families."""
    fitted = [c for c in calibrated.constants if not c.moved]
    lines = []
    if fitted:
        names = "; ".join(f"{c.name} ({c.sd:.2f})" for c in fitted)
        lines += wrapped(
            f"Fitted, but hardly narrowed (standard uncertainty left, of 1 before): {names}.", "- "
        )
    if calibrated.untouched:
        names = ", ".join(shortened(calibrated.untouched))
        lines += wrapped(f"Not fitted, left as the shelf has them: {names}.", "- ")
    return lines


def suggestion_lines(target: str, suggestion: Suggestion | None) -> list[str]:
    """Which quantity to measure when, and what that would bring."""
    if suggestion is None:
        return wrapped(f"The run is over: no sample can narrow its {QUANTITIES[target].words} any more.")
    best = suggestion.best

    def told(one: Candidate) -> str:
        share = f"{100.0 * one.variance_removed:.0f} %"
        return f"{one.quantity} at {duration(one.time_s / 3600.0)}, which removes {share} of the variance"

    ends = f"{QUANTITIES[target].words} at the end of {suggestion.run}"
    lines = wrapped(
        f"For the {ends}: measure {told(best)}; its standard deviation would fall from "
        f"{shown(best.sd_before, target)} to {shown(best.sd_after, target)}. Times are from the start of the heating."
    )
    if suggestion.earliest != best:
        lines += wrapped(f"Nearly as good, and sooner: {told(suggestion.earliest)}.")
    lines += wrapped(f"The best of each: {'; '.join(map(told, suggestion.by_quantity))}.")
    return lines
