"""Hours in words for the bench: when to stop, a table of what each further hour buys, what waiting costs."""

from __future__ import annotations

from kinetics.analysis.hours import Hours
from kinetics.command_line.notices_text import caution_lines, notice_lines
from kinetics.command_line.terminal import amount, duration, fixed, heading, percent, significant, table, wrapped

SHOWN_H = (0.0, 0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 36.0, 48.0, 72.0, 100.0, 150.0, 200.0)


def hours_lines(found: Hours) -> list[str]:
    """All that is printed of `hours`; the line that matters first."""
    lines = [heading(line) for line in wrapped(headline(found))]
    lines += wrapped(f"({found.title})")
    lines += ["", heading("Hold, hot, at the end of so many hours"), *course_table(found)]
    lines += ["", heading("What time alone cannot pass"), *wrapped(found.why)]
    lines += ["", heading("What waiting costs"), *costs(found)]
    return [*lines, *caution_lines(found.cautions), *notice_lines(found.notices)]


def headline(found: Hours) -> str:
    """The target if one was asked for, then where waiting stops being worth it."""
    worth = f"{100.0 * found.worth:.3g} % of the charge"
    if found.worth_stop_h is None:
        stop = f"Every hour up to {found.searched_h:.4g} h still buys {worth} or more."
    elif found.worth_stop_h == 0.0:
        stop = f"No hour of the hold buys as much as {worth}."
    else:
        stop = f"After {duration_of(found.worth_stop_h)} of hold an hour more buys less than {worth}."
    k = planned_row(found)
    planned = (
        f"The {duration(found.planned_h)} planned give {percent(found.conversion[k])} % conversion and "
        f"{percent(found.yield_[k])} % yield of {found.product}, hot."
    )
    return " ".join(filter(None, [found.verdict, stop, planned]))


def duration_of(hours: float) -> str:
    """A computed time, to two digits or so."""
    return f"{60.0 * hours:.2g} min" if hours < 1.0 else f"{hours:.3g} h"


def planned_row(found: Hours) -> int:
    """Where in the arrays the hold of the scenario stands."""
    return int(abs(found.hold_h - found.planned_h).argmin())


def course_table(found: Hours) -> list[str]:
    """About a dozen holds, the planned one marked."""
    planned = planned_row(found)
    rows = {int(abs(found.hold_h - t).argmin()) for t in SHOWN_H if t <= found.hold_h[-1]} | {planned}
    header = [
        ["", "con-", "", "next hour", "adds", "product", "lost", "de-", "heat"],
        ["hold", "version", "yield", "conversion", "yield", "in hand", "to vent", "graded", "so far"],
        ["h", "%", "%", "points", "points", "g", "g", "g", "kJ"],
    ]
    cells = []
    for k in sorted(rows):
        cells.append(
            [
                fixed(found.hold_h[k], 2) + ("*" if k == planned else " "),
                percent(found.conversion[k]),
                percent(found.yield_[k]),
                fixed(100.0 * found.gain_per_h[k], 2),
                fixed(100.0 * found.yield_gain_per_h[k], 2),
                significant(found.product_g[k]),
                fixed(found.product_vented_g[k], 3),
                fixed(found.product_degraded_g[k], 3),
                fixed(found.boil_energy_kJ[k], 0),
            ]
        )
    return [*table(header, cells), "* as planned"]


def costs(found: Hours) -> list[str]:
    """What the hours between the sensible stop and the planned one cost, and the cool-down."""
    start = found.worth_stop_h or 0.0
    start = start if start < found.planned_h else 0.0
    a, b = int(abs(found.hold_h - start).argmin()), planned_row(found)
    lines = []
    if b > a:
        conversion, formed, vented, degraded, heat = (
            float(values[b] - values[a])
            for values in (
                found.conversion,
                found.yield_,
                found.product_vented_g,
                found.product_degraded_g,
                found.boil_energy_kJ,
            )
        )
        lines += wrapped(
            f"From {duration_of(float(found.hold_h[a]))} to the {duration(found.planned_h)} planned: "
            f"{100.0 * conversion:+.1f} points of conversion and {100.0 * formed:+.1f} of yield, for "
            f"{amount(vented, 'g')} of {found.product} carried into the vent, {amount(degraded, 'g')} oxidised or "
            f"turned to alcohol and acid, and {amount(heat, 'kJ')} of heat for the vapour (what the flask loses to "
            "the room comes on top)."
        )
    if found.cooling_loss > 5e-4:
        lines += wrapped(
            f"The cool-down takes {100.0 * found.cooling_loss:.1f} points of conversion back, as the fragments "
            "recombine; `run` tells the conversion after it."
        )
    return lines or ["Nothing to speak of."]
