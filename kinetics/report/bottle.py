"""From charge to bottle: what to expect of the work-up, and where the product and the carbon went."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from kinetics.analysis.feed import FeedReport
from kinetics.analysis.ledger import Ledger
from kinetics.analysis.sensitivity import words_of
from kinetics.analysis.workup import VERDICTS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.figures.ledger import carbon_by_place, figure_ledger
from kinetics.report.findings import Findings
from kinetics.report.sections import SEEN, Figures
from kinetics.report.words import NO_BREAK, bullets, caution, fixed, paragraph, percent, short, significant, table
from kinetics.run.notices import caution_texts

GUESSES = (
    "An expectation at bench scale, not a recipe. Losses in drying, on glass and in air are guesses of the trade, no source; "
    "common practice, no source, puts a careful small batch near 40 % overall. What reacts on in the still is not followed."
)


def bottle(found: Findings, figures: Figures) -> str:
    """The section: what is in the bottle, the steps with their caution, the accounts drawn and in numbers."""
    ledger = found.ledger
    if ledger is None:
        return paragraph(f"Not computed: {found.missing['ledger']}.")
    distilling = caution_texts()["distilling"]
    warned = caution(distilling) if distilling in ledger.cautions else ""
    steps = bullets([*feed_words(found.feed), *steps_of(ledger)])
    expected = expectation(ledger, load_shelf().including(found.scenario.substrate))
    content = f"{paragraph(expected)}<h3>The work-up, step by step</h3>{warned}{steps}"
    if ledger.product_account:
        title = "All product that there could be, loss by loss, and the carbon by place"
        caption = "Above: all product that could be, down to what is in the bottle. Below: where the carbon of the charge ended."
        content += figures.element(figure_ledger(replace(ledger, title="This batch")), title, caption)
    return content + accounts(ledger) + paragraph(GUESSES, "small")


def grams(value: float) -> str:
    return f"{significant(value, 2)}{NO_BREAK}g"


def expectation(ledger: Ledger, shelf: Shelf) -> str:
    """What is in the bottle, and how sure that is."""
    if ledger.isolated_g <= 0.0:
        return f"No oil comes to the bottle: the {ledger.product} stays in the water."
    words = f"In the bottle: about {grams(ledger.isolated_g)} of oil, {percent(ledger.purity)} of it {ledger.product}"
    overall = "" if ledger.overall is None else f", {percent(ledger.overall)} of all there could be"
    words += f": {grams(ledger.product_g)}{overall}."
    if ledger.band is not None:
        weighs = ", ".join(words_of(name, shelf) for name, _ in ledger.band.parts[:3])
        words += (
            f" One standard uncertainty of it: {grams(ledger.band.low_g)} to {grams(ledger.band.high_g)}, the purity within "
            f"{fixed(100.0 * ledger.band.purity_sigma, 0)} points; most of that comes from {weighs}."
        )
    return words


def feed_words(feed: FeedReport | None) -> Iterator[str]:
    """What the bark or the oil brought."""
    if feed is not None:
        sure = f", within {percent(feed.uncertainty)} (standard uncertainty)" if feed.uncertainty else ""
        yield (
            f"Feed: {grams(feed.aldehyde_g)} of {feed.aldehyde}{sure} in {grams(feed.oil_g)} of oil, "
            f"{percent(feed.fraction)} of it aldehyde."
        )


def steps_of(ledger: Ledger) -> Iterator[str]:
    """Each step as it is expected to go."""
    work, product = ledger.work, ledger.product
    practice, T = work.practice, f"{short(work.practice.separation_K - CELSIUS_ZERO_K)}{NO_BREAK}°C"
    yield f"The cold flask, at {T}: {VERDICTS[work.cold.verdict]}."
    if work.steam is not None:
        share = work.steam.over_mol[product] / work.steam.course.left[product][0]
        both = f"two liquids boil until {significant(1e3 * work.steam.two_liquids_until_L, 2)}{NO_BREAK}mL are over, then one"
        one = "one liquid from the start"
        yield (
            f"Steam: stop at {significant(1e3 * work.steam.distillate_L, 2)}{NO_BREAK}mL of distillate, with {percent(share)} of the "
            f"{product} over ({both if work.steam.two_liquids_until_L > 0.0 else one})."
        )
    yield f"Parted without salt: {VERDICTS[work.unsalted.verdict]}."
    if practice.salted:
        yield f"Saturated with salt: {VERDICTS[work.parted.verdict]}. Half salted it may hang: salt on."
    yield (
        f"Drying takes {percent(practice.drying_loss)}, glass {percent(practice.transfer_loss)}; "
        f"{short(practice.exposure_s / 3600.0)}{NO_BREAK}h in air turn a little to acid."
    )
    if work.distilled is not None and practice.pressure_Pa is not None:
        first, last = (fixed(work.distilled.temperature_K[k] - CELSIUS_ZERO_K, 0) for k in (0, -1))
        yield (
            f"Distilled without a column at {short(practice.pressure_Pa / 1000.0)}{NO_BREAK}kPa until {percent(practice.cut)} is over: "
            f"it boils from {first} to {last}{NO_BREAK}°C."
        )
    yield from (f"{note}." for note in work.notes)


def accounts(ledger: Ledger) -> str:
    """Both accounts as tables, each closing at 100 %."""
    product = ledger.product
    rows = [
        [f"{product}, {entry.where}" if entry.what == product else entry.what, fixed(100.0 * entry.share, 1)]
        for entry in ledger.product_account
        if abs(entry.share) >= SEEN
    ]
    content = ""
    if rows:
        rest = sum(entry.share for entry in ledger.product_account if abs(entry.share) < SEEN)
        rows += [["all else", fixed(100.0 * rest, 1)], ["together", fixed(100.0 * (1.0 + ledger.closure["product"]), 1)]]
        content += table(f"Where the {product} went, of all there could be", ["", "%"], rows)
    places = carbon_by_place(ledger)
    kinds = list(dict.fromkeys(kind for shares in places.values() for kind in shares))
    lines = [
        [place, *(fixed(100.0 * shares[kind], 1) for kind in kinds), fixed(100.0 * sum(shares.values()), 1)]
        for place, shares in places.items()
    ]
    sums = [sum(shares[kind] for shares in places.values()) for kind in kinds]
    lines.append(["together", *(fixed(100.0 * total, 1) for total in sums), fixed(100.0 * sum(sums), 1)])
    return content + table("Where the carbon of the charged organics went, %", ["place", *kinds, "all"], lines)
