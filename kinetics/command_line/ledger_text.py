"""The ledger in words for the bench: the bottle, the work-up step by step, and where the rest went."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from kinetics.analysis.feed import Dissolved, FeedReport, feed_report
from kinetics.analysis.ledger import Ledger
from kinetics.analysis.workup import VERDICTS, Result
from kinetics.command_line.notices_text import caution_lines
from kinetics.command_line.terminal import amount, fixed, heading, percent, significant, table, wrapped
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.run.result import plain
from kinetics.run.scenario import Scenario

CELSIUS_ZERO_K = 273.15
NO_BAND = "No band computed: --band moves every uncertain number in turn (takes some thirty runs)."
SEEN = 5e-4  # a share smaller than this stays out of the printed accounts
TENTHS = range(0, 41, 4)  # points of a course that are printed


def json_of(ledger: Ledger, scenario: Scenario) -> dict[str, Any]:
    """The ledger as plain lists, numbers and text."""
    return {**plain(ledger), "closure": ledger.closure, "feed": plain(feed_report(scenario))}


def lines_of(ledger: Ledger, scenario: Scenario) -> list[str]:
    """All that is printed."""
    shelf = load_shelf().including(scenario.substrate)
    lines = [heading(line) for line in wrapped(headline(ledger))]
    lines += [*wrapped(f"({ledger.title})")]
    lines += band_lines(ledger) if ledger.band is not None else wrapped(NO_BAND)
    feed = feed_report(scenario, shelf)
    if feed is not None:
        lines += ["", heading("Feed"), *feed_lines(feed)]
    lines += ["", heading("Work-up, as an expectation and no recipe"), *workup_lines(ledger, shelf)]
    accounts = (
        (f"Where the {ledger.product} went, of all there could be", product_lines(ledger)),
        ("Where the carbon went", carbon_lines(ledger)),
    )
    for title, rows in accounts:
        lines += ["", heading(title), *rows]
    lines += wrapped(
        "Drying, glass and air are guesses of the trade, no source; common practice, no source, puts a careful small "
        "batch near 40 % overall. Below a few grams the glass takes more. What reacts on in the still is not followed."
    )
    lines += [line for text in ledger.work.notes for line in wrapped(f"{text}.", "! ")]
    return [*lines, *caution_lines(ledger.cautions)]


def headline(ledger: Ledger) -> str:
    """What to expect in the bottle."""
    if ledger.isolated_g <= 0.0:
        return f"No oil comes to the bottle: the {ledger.product} stays in the water."
    overall = "" if ledger.overall is None else f", {percent(ledger.overall)} % of all there could be"
    return (
        f"{amount(ledger.isolated_g, 'g')} in the bottle, {percent(ledger.purity)} % of it {ledger.product}: "
        f"{amount(ledger.product_g, 'g')}{overall}."
    )


def feed_lines(feed: FeedReport) -> list[str]:
    """What the bark or the oil brings, and whether it dissolves."""

    def place(state: Dissolved) -> str:
        what = "all dissolved" if state.in_oil_g <= 0.0 else f"{amount(state.in_oil_g, 'g')} of it an oil"
        return f"{what} at {state.temperature_K - CELSIUS_ZERO_K:.0f} degC"

    sure = f"within {percent(feed.uncertainty)} % (standard uncertainty)" if feed.uncertainty else "taken as exact"
    lines = wrapped(
        f"{amount(feed.aldehyde_g, 'g')} of {feed.aldehyde}, {sure}, in {amount(feed.oil_g, 'g')} of oil, "
        f"{percent(feed.fraction)} % aldehyde.",
        "- ",
    )
    lines += wrapped(f"In the water of the flask: {'; '.join(map(place, feed.flask))}.", "- ")
    if feed.distillate is not None:
        lines += wrapped(
            f"In the distillate {amount(feed.distillate.in_water_g, 'g')} stay dissolved: charge its water too.", "- "
        )
    return lines


def band_lines(ledger: Ledger) -> list[str]:
    """How sure that is."""
    band = ledger.band
    assert band is not None
    worst = "; ".join(f"{name} ({100.0 * change:+.0f} %)" for name, change in band.parts[:4])
    return wrapped(
        f"One standard uncertainty: {amount(band.low_g, 'g')} to {amount(band.high_g, 'g')} of {ledger.product}, purity "
        f"within {100.0 * band.purity_sigma:.0f} points. What weighs most: {worst}."
    )


def workup_lines(ledger: Ledger, shelf: Shelf) -> list[str]:
    """The steps."""
    work, product = ledger.work, ledger.product
    practice, grams = work.practice, shelf.substance(product).molar_mass
    T = practice.separation_K - CELSIUS_ZERO_K
    cold = grams * work.cold.oil_mol.get(product, 0.0)
    lines = wrapped(
        f"Flask, cold, {T:.0f} degC: {VERDICTS[work.cold.verdict]}; {amount(cold, 'g')} of {product} in it.", "- "
    )
    if work.steam is not None:
        lines += steam_lines(work, ledger)
    before, after = (grams * parted.oil_mol.get(product, 0.0) for parted in (work.unsalted, work.parted))
    lines += wrapped(f"Parting at {T:.0f} degC without salt: {VERDICTS[work.unsalted.verdict]}; {amount(before, 'g')}.", "- ")
    if practice.salted:
        salted = f"Saturated with salt: {VERDICTS[work.parted.verdict]}"
        if work.parted.oil_density is not None:
            salted += (
                f" ({density(work.parted.oil_density)} in brine of {density(work.parted.water_density)}); "
                f"{amount(after, 'g')}. Half salted it may hang: salt on"
            )
        lines += wrapped(f"{salted}.", "- ")
    lines += wrapped(
        f"Drying takes {percent(practice.drying_loss)} %, glass {percent(practice.transfer_loss)} %, "
        f"{practice.exposure_s / 3600.0:.3g} h in air turn a little to acid.",
        "- ",
    )
    return lines + (vacuum_lines(work, ledger, shelf) if work.distilled is not None else [])


def density(value: float | None) -> str:
    return f"{fixed(None if value is None else value / 1000.0, 3)} g/mL"


def steam_lines(work: Result, ledger: Ledger) -> list[str]:
    """Distillate against what is over."""
    steam = work.steam
    assert steam is not None
    over = steam.course.left
    litres = np.linspace(0.0, steam.distillate_L, len(steam.course.over))
    rows = []
    for k in TENTHS:
        shares = [1.0 - over[name][k] / over[name][0] if over[name][0] > 0.0 else None for name in carried(ledger, over)]
        boil = fixed(steam.course.temperature_K[k] - CELSIUS_ZERO_K, 1)
        rows.append([significant(1e3 * litres[k]), boil, *map(percent, shares)])
    names = list(carried(ledger, over))
    header = [["distillate", "boil", *(f"{name[:18]}" for name in names)], ["mL", "degC", *("% over" for _ in names)]]
    kind = f"two liquids boil until {significant(1e3 * steam.two_liquids_until_L)} mL are over, then one"
    if steam.two_liquids_until_L == 0.0:
        kind = "one liquid from the start, the flask holds no oil at the boil"
    return [
        *wrapped(f"Steam: stop at {significant(1e3 * steam.distillate_L)} mL of distillate; {kind}.", "- "),
        *("  " + line for line in table(header, rows)),
    ]


def carried(ledger: Ledger, over: Any) -> Iterator[str]:
    """Product and substrate, where steam carries them."""
    return (name for name in dict.fromkeys((ledger.product, ledger.substrate)) if name in over)


def vacuum_lines(work: Result, ledger: Ledger, shelf: Shelf) -> list[str]:
    """Purity against yield in a distillation without a column."""
    course, product = work.distilled, ledger.product
    assert course is not None and work.practice.pressure_Pa is not None
    masses = {name: shelf.substance(name).molar_mass for name in course.left}
    total = sum(masses[name] * left[0] for name, left in course.left.items())
    rows = []
    for k in TENTHS:
        over = {name: masses[name] * (left[0] - left[k]) for name, left in course.left.items()}
        mass = sum(over.values())
        rows.append(
            [
                percent(mass / total),
                fixed(course.temperature_K[k] - CELSIUS_ZERO_K, 0),
                percent(over[product] / mass if mass > 0.0 else None),
                percent(over[product] / (masses[product] * course.left[product][0])),
            ]
        )
    header = [["over", "boil", "purity", "yield"], ["% of mass", "degC", "%", "%"]]
    return [
        *wrapped(f"Distilled at {work.practice.pressure_Pa / 1000.0:g} kPa without a column, ideal mixture:", "- "),
        *("  " + line for line in table(header, rows)),
    ]


def product_lines(ledger: Ledger) -> list[str]:
    """The account of the product."""
    if not ledger.product_account:
        return ["No substrate was charged, or its reactions do not let the product be counted."]
    rows = [
        (f"{ledger.product}, {entry.where}" if entry.what == ledger.product else entry.what, percent(entry.share))
        for entry in ledger.product_account
        if abs(entry.share) >= SEEN
    ]
    small = sum(entry.share for entry in ledger.product_account if abs(entry.share) < SEEN)
    return table([["", "%"]], [*rows, ("all else", percent(small)), ("together", percent(1.0 + ledger.closure["product"]))], "<>")


def carbon_lines(ledger: Ledger) -> list[str]:
    """The account of the carbon: places down, substances across."""
    whats = list(dict.fromkeys(entry.what for entry in ledger.carbon_account))
    kinds = {ledger.product: "product", ledger.substrate: "substrate", "other": "other"}
    places: dict[str, dict[str, float]] = {}
    for entry in ledger.carbon_account:
        places.setdefault(entry.where, {})[entry.what] = entry.share
    rows = [
        (place, *(percent(shares.get(what, 0.0)) for what in whats), percent(sum(shares.values())))
        for place, shares in places.items()
        if abs(sum(shares.values())) >= SEEN
    ]
    sums = [sum(shares.get(what, 0.0) for shares in places.values()) for what in whats]
    rows.append(("together", *map(percent, sums), percent(sum(sums))))
    return table([["%", *(kinds.get(what, "by-product") for what in whats), "all"]], rows, "<>")
