"""What was computed, section by section: the course, the hours, the options, the stall, the carbon, the air."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from kinetics.analysis.compare import Compared
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.figures.carbon import figure_carbon
from kinetics.figures.comparison import figure_comparison
from kinetics.figures.course import figure_course
from kinetics.figures.waterfall import figure_waterfall
from kinetics.report.findings import Findings
from kinetics.report.vector import inline_svg
from kinetics.report.words import (
    NO_BREAK,
    as_written,
    bullets,
    caution,
    fixed,
    paragraph,
    percent,
    short,
    significant,
    table,
    text,
)
from kinetics.run.notices import caution_texts
from kinetics.run.result import Run

SEEN = 5e-4  # of the charge: smaller shares are told as one
HOURS_TOLD = (0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 24.0, 36.0, 48.0, 72.0)
ROWS_OF_HOLD = 8


class Figures:
    """Numbers the figures of a page as they are drawn."""

    def __init__(self) -> None:
        self.count = 0

    def element(self, figure: Any, title: str, caption: str) -> str:
        """A figure with its caption; where the page is narrow the drawing scrolls instead of shrinking."""
        self.count += 1
        number = f"Figure {self.count}"
        drawing = inline_svg(figure, f"figure-{self.count}", title)
        return (
            f'<figure id="figure-{self.count}"><div class="scroll" tabindex="0" role="region" '
            f'aria-label="{number}: {text(title)}">{drawing}</div>'
            f"<figcaption><strong>{number}.</strong> {text(caption)}</figcaption></figure>"
        )


def course(found: Findings, figures: Figures) -> str:
    """The course of the batch: figure and table."""
    run = replace(found.run, title="From the first heat to the end")
    ceiling = None if found.hours is None else found.hours.equilibrium
    courses = None if found.bands is None else found.bands.courses
    caption = "Amounts in the flask and what left it, conversion and yield, pH and temperature, over one time axis."
    if ceiling is not None:
        caption += f" Dotted: where the conversion would stop if nothing left the flask ({percent(ceiling)})."
    drawing = figures.element(figure_course(run, courses, ceiling=ceiling), "Course of the batch", caption)
    by_product = found.substrate.by_product
    header = ["stage", "since start, h", "temperature, °C", "pH", "conversion, %", "yield, %"]
    if by_product:
        header += [f"{by_product} in flask, mmol", f"{by_product} gone, mmol"]
    return drawing + table("The course in numbers (pH at the temperature of the moment)", header, course_rows(found.run, by_product))


def chosen(run: Run) -> list[int]:
    """Positions in the series to show: the start, the start of the hold, parts of it, the end."""
    stages = run.series.stage
    hold = [k for k, stage in enumerate(stages) if stage == "hold"]
    first = max(hold[0] - 1, 0) if hold else 0
    times = run.series.time_s
    wanted = np.linspace(times[first], times[hold[-1] if hold else first], ROWS_OF_HOLD + 1)
    return sorted({0, *(int(np.argmin(np.abs(times - t))) for t in wanted), len(stages) - 1})


def course_rows(run: Run, by_product: str) -> Iterator[list[str]]:
    """About a dozen rows of the course."""
    series = run.series
    names = {"heating": "heat-up", "cooling": "cool-down"}
    for k in chosen(run):
        conversion = None if series.conversion is None else 100.0 * float(series.conversion[k])
        formed = None if series.yield_ is None else 100.0 * float(series.yield_[k])
        row = [
            names.get(series.stage[k], series.stage[k]),
            fixed(series.time_s[k] / 3600.0, 2),
            fixed(series.temperature_K[k] - CELSIUS_ZERO_K, 0),
            fixed(series.pH[k], 1),
            fixed(conversion, 0),
            fixed(formed, 0),
        ]
        if by_product:
            gone = series.left_mol[by_product][k] if by_product in series.left_mol else 0.0
            row += [significant(1e3 * series.flask_mol[by_product][k], 2), significant(1e3 * float(gone), 2)]
        yield row


def hours(found: Findings) -> str:
    """What each further hour buys."""
    told = found.hours
    if told is None:
        return paragraph(f"Not computed: {found.missing['hours']}.")
    wanted = [h for h in (*HOURS_TOLD, told.planned_h) if h <= told.hold_h[-1]]
    positions = sorted({int(np.argmin(np.abs(told.hold_h - h))) for h in wanted})
    rows = [
        [
            short(float(told.hold_h[k])) + (" (planned)" if abs(told.hold_h[k] - told.planned_h) < 1e-9 else ""),
            fixed(100.0 * told.conversion[k], 0),
            fixed(100.0 * told.yield_[k], 0),
            fixed(100.0 * told.gain_per_h[k], 1),
            significant(told.product_g[k], 2),
            significant(told.product_vented_g[k], 2),
            significant(told.boil_energy_kJ[k], 2),
        ]
        for k in positions
    ]
    header = ["hours of hold", "conversion, %", "yield, %", "next hour adds, points", f"{told.product}, g", "gone with the gas, g",
              "heat of the boil, kJ"]  # fmt: skip
    cooled = told.cooling_loss
    words = f" The cool-down then takes {fixed(100.0 * cooled, 1)} points back." if cooled > SEEN else ""
    return paragraph(told.why + words) + table("Hot, at the end of a hold of so many hours", header, rows)


def options(found: Findings, figures: Figures) -> str:
    """The batch and its options side by side."""
    written = sorted(found.compared, key=lambda one: one.position)
    runs = [(one.variant.name, one.outcome.run) for one in written if one.outcome.run is not None]
    quantity = "yield" if found.run.summary.yield_ is not None else "pH"
    caption = f"The {quantity} of the batch as written and of each option. The lines end with the cool-down."
    title = "The options compared"
    drawing = figures.element(figure_comparison(runs, quantity, title="Option by option"), title, caption)
    by_product = found.substrate.by_product or "by-product"
    header = ["option", "changes", "conversion, %", "yield, %", "product, g", f"{by_product} given off, mmol", "90 % after, h"]
    failed = [f"{one.variant.name} failed: {one.outcome.failure}." for one in found.compared if one.outcome.failure]
    said = "Best yield first; 90 %: hours of hold until nine tenths of the final conversion are reached"
    return drawing + table(said, header, map(option_row, found.compared), 2) + bullets(failed)


def option_row(one: Compared) -> list[str]:
    end = one.summary
    changes = "; ".join(f"{key} = {as_written(value)}" for key, value in one.variant.own.items())
    share = {key: None if end[key] is None else 100.0 * float(end[key] or 0.0) for key in ("conversion", "yield")}
    gone = end["byproduct_left_mol"]
    return [
        one.variant.name,
        changes or "none",
        fixed(share["conversion"], 0),
        fixed(share["yield"], 0),
        significant(end["product_g"], 2),
        significant(None if gone is None else 1e3 * gone, 2),
        significant(end["hours_to_90_percent"], 2),
    ]


def stall(found: Findings, figures: Figures) -> str:
    """Why the conversion stops, and what moves it."""
    why = found.explanation
    if why is None:
        return paragraph(f"Not computed: {found.missing['explanation']}.")
    names = [n for n in why.shares if max(abs(why.shares[n]), abs(why.shares_yield[n])) >= SEEN]
    names.sort(key=lambda name: -why.shares[name])
    drawn = {name: share for name, share in why.shares.items() if abs(share) >= SEEN}
    rest = why.shortfall - sum(drawn.values())
    drawn |= {} if abs(rest) < SEEN else {"all others": rest}
    title = "From complete conversion to the predicted one"
    caption = "What each mechanism takes from complete conversion. Each was idealised in every combination with the others, "
    caption += "and its share is the fair one (Shapley's value); one that points the other way helps."
    drawing = figures.element(figure_waterfall(why.conversion, drawn), title, caption)
    rows = [[name, fixed(100.0 * why.shares[name], 1), fixed(100.0 * why.shares_yield[name], 1)] for name in names]
    rows.append(["together", fixed(100.0 * why.shortfall, 1), fixed(100.0 * (1.0 - why.yield_), 1)])
    shares = table("What is missing, in points of the charge", ["mechanism", "of conversion", "of yield"], rows)
    levers = [
        [gain.change, gain.caution, *(fixed(100.0 * part, 1, True) for part in (gain.conversion_gain, gain.yield_gain)),
         fixed(gain.product_gain_g, 2, True)]
        for gain in why.levers
    ]  # fmt: skip
    header = ["change", "its price and its dangers", "conversion, points", "yield, points", "product, g"]
    prices = table("What would move it: each change alone, best first", header, levers, 2)
    refused = bullets(f"Does not apply: {no.change} ({no.reason})." for no in why.not_applicable)
    test = why.bench_test
    bench = (
        f"<h3>One test on the bench</h3>{paragraph(test.test)}"
        + bullets([f"If this explanation holds: {test.if_right}", f"If it is rather {test.rival}: {test.if_rival}"])
        + f"<h3>It runs both ways</h3>{paragraph(why.reversibility)}"
    )
    return paragraph(why.diagnosis) + drawing + shares + prices + refused + bench


def carbon(found: Findings, figures: Figures) -> str:
    """Where the carbon is, and how well the balances close."""
    run, title = replace(found.run, title="Every carbon atom of the charge"), "Where the carbon is"
    drawing = figures.element(figure_carbon(run), title, "The carbon of the charged organics over time, closing at 100 %.")
    closure = found.run.closure
    worst = max(closure.carbon, closure.hydrogen, closure.oxygen)
    words = f"Carbon, hydrogen and oxygen close to {significant(worst, 1)} of what was charged, the charges of ions to "
    return drawing + paragraph(f"{words}{significant(closure.charge, 1)}, at every time that was kept.")


def air(found: Findings) -> str:
    """What leaves with the vent gas and what that asks of the room."""
    hazard = found.hazard
    if not hazard.releases:
        return paragraph("Nothing leaves with the gas for which a limit is known.")
    rows = [
        [
            release.species,
            significant(release.total_g, 2),
            significant(release.vapour_L, 2),
            significant(release.peak_g_per_h, 2),
            significant(release.peak_at_h, 2),
            significant(release.needs[-1].air_m3_per_h, 2),
        ]
        for release in hazard.releases
    ]
    header = ["vapour", "gone in all, g", "as gas, L", "at its peak, g/h", "peak after, h", "clean air to keep the short-term limit, m³/h"]
    said = (
        f"Clean air at the peak, all vapours at once: {significant(hazard.together_m3_per_h, 2)} m³/h (mixing factor "
        f"{short(hazard.mixing)}). Work in a fume cupboard."
    )
    statements = [f"{substance}: {words} ({source})" for substance, words, source in hazard.statements]
    hazards = f"<h3>Hazard statements</h3>{bullets(statements)}" if statements else ""
    return paragraph(said) + table("What goes with the vent gas", header, rows) + trap(found) + closed(found) + hazards


def trap(found: Findings) -> str:
    """What a trap for the acetaldehyde must hold, with its caution."""
    held = found.hazard.trap
    if held is None:
        return ""
    grams = " or ".join(f"{significant(mass, 2)}{NO_BREAK}g of {name}" for name, mass in held.bisulfite_g.items())
    words = (
        f"A trap for all of the acetaldehyde ({significant(1e3 * held.amount_mol, 2)}{NO_BREAK}mmol): {grams}, "
        f"{short(held.excess)} times what stoichiometry asks, or {significant(1e3 * held.water_L, 2)}{NO_BREAK}mL of water at "
        f"{short(held.water_K - CELSIUS_ZERO_K)}{NO_BREAK}°C, which keeps {percent(held.kept)}."
    )
    return paragraph(words) + caution(caution_texts()["trap"])


def closed(found: Findings) -> str:
    """Why the flask is never closed."""
    held = found.hazard.closed
    return paragraph(
        f"Never closed: stoppered and heated to {fixed(held.temperature_K - CELSIUS_ZERO_K, 0)}{NO_BREAK}°C this flask would hold "
        f"about {fixed(held.total_Pa / 1000.0, 0)}{NO_BREAK}kPa, which laboratory glass is not made for."
    )
