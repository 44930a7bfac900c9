"""What is printed of a ledger, from small ledgers written by hand: the bottle, the steps, the accounts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kinetics.analysis.distillation import Course
from kinetics.analysis.feed import Dissolved, FeedReport
from kinetics.analysis.ledger import Band, Entry, Ledger
from kinetics.analysis.workup import Parted, Practice, Result, Steam
from kinetics.command_line.ledger_text import (
    band_lines,
    feed_lines,
    headline,
    json_of,
    lines_of,
    product_lines,
    steam_lines,
    vacuum_lines,
    workup_lines,
)
from kinetics.data.shelf import Shelf
from kinetics.run.reading import parse_scenario

B, C = "benzaldehyde", "cinnamaldehyde"
PRACTICE = Practice(283.15, True, 0.95, None, True, 0.03, 0.1, 3600.0, None, 0.8)
NO_OIL = Parted({}, 0.2, 1003.0, None, "none")
OIL = Parted({B: 0.002}, 0.2, 1003.0, 1045.0, "sinks")
SALTED = Parted({B: 0.003}, 0.2, 1180.0, 1045.0, "floats")
WORK = Result(PRACTICE, NO_OIL, None, OIL, SALTED, None, {}, {B: 0.0025}, ())
LEDGER = Ledger("a test", C, B, {}, (), (), 0.3, 0.27, 0.9, 0.4, WORK, ())


def even(first: float, last: float) -> Any:
    """A course in even steps, of as many points as a distillation tells."""
    return np.linspace(first, last, 41)


def joined(lines: list[str]) -> str:
    """Printed lines on one line; each fits the page."""
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_the_headline_tells_oil_product_and_share() -> None:
    assert headline(LEDGER) == (
        "0.300 g in the bottle, 90.0 % of it benzaldehyde: 0.270 g, 40.0 % of all there could be."
    )
    assert "stays in the water" in headline(replace(LEDGER, isolated_g=0.0))


def test_a_share_of_nothing_is_left_out() -> None:
    """Where the product cannot be counted (no substrate, or reactions without a count) there is no overall yield."""
    assert headline(replace(LEDGER, overall=None)) == "0.300 g in the bottle, 90.0 % of it benzaldehyde: 0.270 g."


def test_what_weighs_most_in_the_band() -> None:
    band = Band(1.3, 0.2, 0.35, 0.04, tuple((f"record {k}", 0.2 - 0.1 * k) for k in range(6)))
    words = joined(band_lines(replace(LEDGER, band=band)))
    assert "0.200 g to 0.350 g of benzaldehyde, purity within 4 points" in words
    assert words.endswith("What weighs most: record 0 (+20 %); record 1 (+10 %); record 2 (+0 %); record 3 (-10 %).")


def test_the_steps_tell_which_layer_is_the_oil_and_that_salt_turns_it_over(shelf: Shelf) -> None:
    """0.003 mol of benzaldehyde, 106.12 g/mol, are 0.318 g."""
    words = joined(workup_lines(LEDGER, shelf))
    assert "Flask, cold, 10 degC: no oil: all of it is dissolved; 0 g of benzaldehyde in it." in words
    assert "Parting at 10 degC without salt: the oil sinks; 0.212 g." in words
    assert (
        "Saturated with salt: the oil floats (1.045 g/mL in brine of 1.180 g/mL); 0.318 g. Half salted it may hang"
        in words
    )
    assert "Drying takes 3.0 %, glass 10.0 %, 1 h in air" in words
    assert "Steam" not in words and "Distilled" not in words


def test_salt_that_gives_no_oil_or_is_not_used(shelf: Shelf) -> None:
    without_oil = replace(LEDGER, work=replace(WORK, parted=NO_OIL))
    assert "Saturated with salt: no oil: all of it is dissolved. -" in joined(workup_lines(without_oil, shelf))
    unsalted = replace(WORK, practice=replace(PRACTICE, salted=False), parted=OIL)
    assert "Saturated" not in joined(workup_lines(replace(LEDGER, work=unsalted), shelf))


@pytest.mark.parametrize(
    ("until_L", "kind"), [(0.01, "until 10.0 mL are over, then one"), (0.0, "one liquid from the start")]
)
def test_steam_tells_how_much_is_over_in_each_distillate(until_L: float, kind: str, shelf: Shelf) -> None:
    """Half of the product over at the end of 40 mL, evenly; no substrate is left to be carried."""
    course = Course(even(0.0, 2.0), {B: even(0.004, 0.002), C: even(0.0, 0.0)}, even(372.15, 373.15), True)
    work = replace(WORK, steam=Steam(0.04, course, {B: 0.002}, until_L, True))
    words = joined(steam_lines(work, LEDGER))
    assert "Steam: stop at 40.0 mL of distillate" in words and kind in words
    assert "20.0 99.5 25.0 -" in words and words.endswith("40.0 100.0 50.0 -")
    assert words in joined(workup_lines(replace(LEDGER, work=work), shelf))


def test_a_vacuum_distillation_tells_purity_against_yield(shelf: Shelf) -> None:
    """All the product and half of as much mass of the other over: two thirds of it product, three quarters of the mass."""
    M, N = (shelf.substance(name).molar_mass for name in (B, C))
    course = Course(even(0.0, 1.0), {B: even(1.0 / M, 0.0), C: even(1.0 / N, 0.5 / N)}, even(340.15, 380.15), True)
    work = replace(WORK, practice=replace(PRACTICE, pressure_Pa=2000.0), distilled=course)
    words = joined(vacuum_lines(work, LEDGER, shelf))
    assert "Distilled at 2 kPa without a column" in words
    assert "0.0 67 - 0.0" in words and words.endswith("75.0 107 66.7 100.0")
    assert words in joined(workup_lines(replace(LEDGER, work=work), shelf))


def test_an_account_shows_what_is_seen_and_closes() -> None:
    entries = (Entry(B, "in the bottle", 0.6), Entry(C, "in the flask", 0.3997), Entry(B, "on the glass", 0.0003))
    words = joined(product_lines(replace(LEDGER, product_account=entries)))
    assert words == "% benzaldehyde, in the bottle 60.0 cinnamaldehyde 40.0 all else 0.0 together 100.0"
    assert "No substrate was charged" in joined(product_lines(LEDGER))


def test_a_feed_tells_what_floats_and_what_the_distillate_keeps() -> None:
    flask = (Dissolved(293.15, 0.5, 0.7), Dissolved(373.15, 1.2, 0.0))
    feed = FeedReport(C, 1.2, 0.05, 1.6, 0.75, flask, Dissolved(293.15, 0.3, 0.9), ())
    words = joined(feed_lines(feed))
    assert "1.20 g of cinnamaldehyde, within 5.0 % (standard uncertainty), in 1.60 g of oil, 75.0 % aldehyde." in words
    assert "0.700 g of it an oil at 20 degC; all dissolved at 100 degC" in words
    assert "In the distillate 0.300 g stay dissolved: charge its water too." in words
    bought = joined(feed_lines(replace(feed, uncertainty=0.0, distillate=None)))
    assert "taken as exact" in bought and "distillate" not in bought


def test_notes_and_cautions_of_the_work_up_are_printed(batch) -> None:
    work = replace(WORK, notes=("the steam distillation ran out of water before its stop",))
    entries = (Entry(B, "in the bottle", 1.0),)
    ledger = replace(LEDGER, work=work, carbon_account=entries, cautions=("Keep flames away.",))
    words = joined(lines_of(ledger, batch({"water": "100 mL", C: "1 g", "sodium carbonate": "1 g"})))
    assert "! the steam distillation ran out of water before its stop." in words
    assert "Keep flames away." in words and "No band computed" in words
    assert "Feed" not in words


def test_a_feed_stands_before_the_work_up_and_in_the_json() -> None:
    """13 g of oil, 78 % of it aldehyde: 10.1 g."""
    text = """
    substrate = "cinnamaldehyde"
    [feed]
    oil = "13 g"
    aldehyde = 0.78
    [charge]
    water = "350 mL"
    cinnamaldehyde = "feed"
    "sodium carbonate" = "3 g"
    [heating]
    hold = "1 h"
    """
    scenario = parse_scenario(text)
    words = joined(lines_of(replace(LEDGER, carbon_account=(Entry(B, "in the bottle", 1.0),)), scenario))
    assert "Feed - 10.1 g of cinnamaldehyde" in words and words.index("Feed") < words.index("Work-up")
    told = json_of(replace(LEDGER, product_account=(Entry(B, "in the bottle", 0.9),)), scenario)
    assert told["feed"]["aldehyde_g"] == pytest.approx(10.14)
    assert told["closure"] == pytest.approx({"product": -0.1}) and told["isolated_g"] == 0.3
