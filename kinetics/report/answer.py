"""The first screen: what to do, what to expect, how long, and what stands in the way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.report.findings import Findings
from kinetics.report.words import (
    NO_BREAK,
    bullets,
    caution,
    duration,
    fixed,
    paragraph,
    percent,
    significant,
    supported,
    text,
)
from kinetics.run.notices import caution_texts
from kinetics.run.scenario import Charge

WATER_G_PER_MOL = 18.015
PLACES = {  # the step of the work that a caution belongs to, by its circumstance
    "organic": "charge",
    "boiling": "heat",
    "acetaldehyde": "hold",
    "alkaline": "cool",
    "take_off": "hold",
    "benzaldehyde": "product",
    "acetone": "product",
    "legal": "product",
}
IN_SECTIONS = ("trap", "distilling")  # cautions that stand further down, beside the trap and the work-up
FEW = 3  # shares and levers that are told on the first screen
SEEN = 5e-3  # of the charge: smaller shares are not worth a line there


def answer(found: Findings) -> str:
    """The four cards of the first screen."""
    closed = found.scenario.vessel.closed
    doing = "What is computed" if closed else "What to do"
    return (
        f'<div class="cards">{card("to-do", doing, steps(found))}'
        f'<div class="column">{card("expected", "What to expect", expected(found))}'
        f"{card('how-long', 'How long', how_long(found))}"
        f"{card('in-the-way', 'What stands in the way', in_the_way(found))}</div></div>"
    )


def card(name: str, heading: str, content: str) -> str:
    return f'<section class="card" aria-labelledby="{name}"><h2 id="{name}">{text(heading)}</h2>{content}</section>'


def lead(found: Findings) -> str:
    """The answer in one sentence."""
    end, substrate, heating = found.run.summary, found.substrate, found.scenario.heating
    how_long = f"After {duration(end.hold_h)} at {hold_words(found)}"
    if heating.cooling_s > 0.0:
        how_long += f" and {duration(heating.cooling_s / 3600.0)} of cooling"
    grams, _ = supported(product_in_hand(found), band_of(found, "product_in_hand_g"), 1.0, "g")
    if end.conversion is None:
        return f"{how_long}, about {grams} of {substrate.product} is in hand; no {substrate.substrate} was charged to be converted."
    share, between = supported(end.conversion, band_of(found, "conversion"), 100.0, "%")
    doubt = f" ({between}, nine times in ten)" if between else ""
    return (
        f"{how_long}, expect about {share} of the {substrate.substrate} converted{doubt} "
        f"and about {grams} of {substrate.product} in hand."
    )


def hold_words(found: Findings) -> str:
    """The temperature of the hold."""
    boil_C = found.run.summary.boil_point_degC
    if found.run.trajectory is not None and found.run.trajectory.boiling:
        return f"the boil ({fixed(boil_C, 1)}{NO_BREAK}°C)"
    hold_K = found.scenario.heating.hold_K
    return f"{fixed(boil_C if hold_K is None else hold_K - CELSIUS_ZERO_K, 0)}{NO_BREAK}°C"


def product_in_hand(found: Findings) -> float:
    """Product in the flask or taken off [g]."""
    return found.run.summary.product_in_flask_g + found.run.summary.product_taken_off_g


def band_of(found: Findings, name: str) -> Mapping[str, float | None] | None:
    """The band of a number, None without samples. product_in_hand_g: in the flask, where nothing is taken off."""
    if name == "product_in_hand_g":
        name = "product_in_flask_g" if found.run.summary.product_taken_off_g == 0.0 else ""
    return None if found.bands is None else found.bands.bands.get(name)


# ---------------------------------------------------------------- what to do


def steps(found: Findings) -> str:
    """The work in its order, each caution at the step where it is needed."""
    texts = {words: circumstance for circumstance, words in caution_texts().items()}
    due = {words: PLACES.get(texts.get(words, ""), "") for words in found.run.cautions if texts.get(words) not in IN_SECTIONS}
    first = "".join(caution(words) for words, place in due.items() if not place)
    lines = []
    for place, words in work(found):
        cautions = "".join(caution(c) for c, where in due.items() if where == place)
        lines.append(f"<li>{text(words)}{cautions}{codes(found, place)}</li>")
    return f"{first}<ol>{''.join(lines)}</ol>"


def codes(found: Findings, place: str) -> str:
    """The codes of the hazard statements of what is charged, or of what forms in the hold; nothing at another step."""
    scenario = found.scenario
    charged = {c.substance for c in (*scenario.charges, *(c for a in scenario.additions for c in a.charges))}
    formed = found.run.series.flask_mol.keys() - charged
    here = {"charge": [n for n, _, _ in found.hazard.statements if n not in formed],
            "hold": [n for n, _, _ in found.hazard.statements if n in formed]}.get(place, [])  # fmt: skip
    listed = [f"{n} {', '.join(s.split()[0] for s in w.split('; '))}" for n, w, _ in found.hazard.statements if n in here]
    return f'<p class="small">GHS: {text("; ".join(listed))} (<a href="#air">in words</a>).</p>' if listed else ""


def oil_words(found: Findings) -> dict[str, str]:
    """The oil to weigh in by the aldehyde that it stands for, where the file charges its feed."""
    feed, charged = found.feed, found.scenario.document.get("charge")
    if feed is None or not isinstance(charged, Mapping) or "feed" not in charged.values():
        return {}
    grams = f"{significant(feed.oil_g, 3)}{NO_BREAK}g of oil with {significant(feed.aldehyde_g, 3)}{NO_BREAK}g of {feed.aldehyde}"
    return {feed.aldehyde: f"{grams} in it"}


def charge_words(charges: tuple[Charge, ...], known: Mapping[str, str] | None = None) -> str:
    """What is put in, as written or as `known` says it of a substance."""
    return ", ".join((known or {}).get(charge.substance) or f"{charge.text} of {charge.substance}" for charge in charges)


def work(found: Findings) -> Iterator[tuple[str, str]]:
    """Each step: its place, and its words."""
    scenario, heating = found.scenario, found.scenario.heating
    open_, condenser = not scenario.vessel.closed, scenario.condenser
    boils = open_ and heating.boil_up_mol_per_s > 0.0
    vessel = "the flask, under its open condenser" if open_ else "the closed vessel of the calculation"
    yield "charge", f"Put into {vessel}: {charge_words(scenario.charges, oil_words(found))}."
    start = f"{fixed(heating.start_K - CELSIUS_ZERO_K, 0)}{NO_BREAK}°C"
    yield "heat", f"Heat from {start} to {hold_words(found)} in {duration(heating.ramp_s / 3600.0)}."
    words = f"Hold for {duration(heating.hold_s / 3600.0)}"
    if boils:
        condensate = significant(heating.boil_up_mol_per_s * WATER_G_PER_MOL * 60.0, 2)
        coolant = fixed(condenser.coolant_K - CELSIUS_ZERO_K, 0)
        words += f", {condensate}{NO_BREAK}g of condensate a minute, coolant at {coolant}{NO_BREAK}°C"
    yield "hold", f"{words}."
    for addition in scenario.additions:
        over = f" over {duration(addition.over_s / 3600.0)}" if addition.over_s else ""
        yield "add", f"{duration(addition.at_s / 3600.0)} into the hold, add{over}: {charge_words(addition.charges)}."
    if heating.cooling_s > 0.0:
        yield "cool", f"Cool for {duration(heating.cooling_s / 3600.0)}."
    else:
        yield "cool", "The reckoning ends hot."
    grams, between = supported(product_in_hand(found), band_of(found, "product_in_hand_g"), 1.0, "g")
    yield "product", f"In hand: about {grams} of {found.substrate.product}{f' ({between})' if between else ''}."


# ---------------------------------------------------------------- what to expect


def expected(found: Findings) -> str:
    """The numbers that matter with their bands."""
    end, substrate = found.run.summary, found.substrate
    rows = []
    if end.conversion is not None:
        rows += [
            (f"conversion of {substrate.substrate}", end.conversion, "conversion", 100.0, "%"),
            (f"yield of {substrate.product}", end.yield_, "yield", 100.0, "%"),
        ]
    rows += [
        (f"{substrate.product} in hand", product_in_hand(found), "product_in_hand_g", 1.0, "g"),
        (f"{substrate.substrate} left", end.unreacted_g, "unreacted_g", 1.0, "g"),
    ]
    if substrate.by_product and substrate.by_product != substrate.product:
        rows.append((f"{substrate.by_product} given off", end.byproduct_left_mol, "byproduct_left_mol", 1e3, "mmol"))
    lines = []
    for words, value, name, scale, unit in rows:
        band = band_of(found, name)
        shown, between = supported(value, band, scale, unit)
        bar = band_bar(value, band) if unit == "%" else ""
        spread = f'<span class="between">{text(between)}</span>' if between else ""
        lines.append(f'<div><dt>{text(words)}</dt><dd><span class="number">{text(shown)}</span>{spread}{bar}</dd></div>')
    return f'<dl class="numbers">{"".join(lines)}</dl>{paragraph(band_words(found), "small")}'


def band_words(found: Findings) -> str:
    """What the bands are, or that there are none."""
    if found.bands is None:
        return "No band was computed (--samples 0): the constants leave more open than two digits tell."
    drawn = found.bands.samples - found.bands.failed
    return (
        f"The range beside a number: nine in ten of {drawn} draws of all uncertain constants, settings and charges. "
        f"The number itself: with the published constants."
    )


def band_bar(value: float | None, band: Mapping[str, float | None] | None) -> str:
    """A bar from 0 to 100 % with the band and the value on it; the words beside it say the same. Nothing without a band."""
    if value is None or band is None or band["p5"] is None or band["p95"] is None or band["p5"] == band["p95"]:
        return ""
    low, high = 100.0 * band["p5"], 100.0 * band["p95"]
    return (
        '<svg class="band" viewBox="0 0 100 8" aria-hidden="true" focusable="false" preserveAspectRatio="none">'
        '<rect class="track" x="0" y="3" width="100" height="2"/>'
        f'<rect class="range" x="{low:.1f}" y="1.5" width="{max(high - low, 0.5):.1f}" height="5"/>'
        f'<rect class="value" x="{100.0 * value - 0.5:.1f}" y="0" width="1" height="8"/></svg>'
    )


# ---------------------------------------------------------------- how long, and what stands in the way


def how_long(found: Findings) -> str:
    """The hold as planned, and whether longer pays."""
    hours = found.hours
    if hours is None:
        return paragraph(f"Not computed: {found.missing['hours']}.")
    per_hour = f"{percent(hours.worth)} of the charge"
    planned = f"Planned: {duration(hours.planned_h)}. "
    if hours.worth_stop_h is None:
        words = f"Even after {about(hours.searched_h)} an hour more still converts {per_hour}."
    elif hours.worth_stop_h <= 0.0:
        words = f"No hour of the hold converts as much as {per_hour}: it is done, or too slow, when the hold begins."
    else:
        words = f"After {about(hours.worth_stop_h)} of hold, no further hour converts as much as {per_hour}."
    return paragraph(planned + words)


def about(hours: float) -> str:
    """A time to two digits."""
    return duration(float(f"{hours:.2g}") if hours >= 1.0 else float(f"{60.0 * hours:.2g}") / 60.0)


def in_the_way(found: Findings) -> str:
    """The main cause, the largest shares and the best levers."""
    why = found.explanation
    if why is None:
        return paragraph(f"Not computed: {found.missing['explanation']}.")
    cause, _, _ = why.diagnosis.partition(". ")
    shares = sorted(((s, n) for n, s in why.shares.items() if s > SEEN), reverse=True)[:FEW]
    lines = [f"{name}: {fixed(100.0 * share, 0)} points" for share, name in shares]
    levers = [g for g in why.levers if g.conversion_gain > SEEN and g.product_gain_g > 0.0][:FEW]
    gains = [
        f"{gain.change}: {fixed(100.0 * gain.conversion_gain, 0, True)} points, "
        f"{fixed(gain.product_gain_g, 2, True)}{NO_BREAK}g of product"
        for gain in levers
    ]
    moves = f"{paragraph('What would move it (each alone; its price is told below):')}{bullets(gains)}" if gains else ""
    missing = f"{paragraph('Of what is missing, in points of conversion:')}{bullets(lines)}" if lines else ""
    return paragraph(f"{cause.rstrip('.')}.") + missing + moves

