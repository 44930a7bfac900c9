"""The first screen and the bottle where a batch is not boiled, not banded, not converted or not distilled."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from types import SimpleNamespace

import numpy as np
import pytest

import kinetics
from kinetics.analysis.distillation import Course
from kinetics.report.answer import answer, band_bar, how_long, in_the_way
from kinetics.report.bottle import bottle
from kinetics.report.findings import findings_of
from kinetics.report.leaning import constants_hash, inputs
from kinetics.report.sections import Figures, air, course, trap


def words_of(markup: str) -> str:
    """What a reader sees of markup, on one line, with plain blanks and every tag a blank."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", markup)).split())


@pytest.fixture(scope="module")
def boiled(batch):
    """Nothing to convert, so that no hours and levers are sought: benzaldehyde and acetaldehyde at the boil."""
    charge = {"water": "200 mL", "benzaldehyde": "1 g", "acetaldehyde": "0.4 g", "sodium carbonate": "1 g"}
    return findings_of(batch(charge, heating={"hold": "10 min"}), nodes=None)


@pytest.fixture(scope="module")
def warm(batch):
    """Acetone kept at 40 degC; the substrate that gives it has no other by-product."""
    charge = {"water": "200 mL", "acetone": "1 g", "sodium carbonate": "1 g"}
    return findings_of(batch(charge, "diacetone alcohol", heating={"temperature": "40 degC"}), nodes=None)


def test_a_hold_below_the_boil_has_its_temperature_and_no_condensate(warm, boiled):
    words = words_of(answer(warm))
    assert "Heat from 20 °C to 40 °C" in words and "Hold for 1 h." in words
    assert "condensate" not in words and "the boil" not in words
    assert re.search(
        r"to the boil \(\d+\.\d °C\).* [\d.]+ g of condensate a minute, coolant at 15 °C", words_of(answer(boiled))
    )


def test_a_closed_vessel_is_held_at_the_boil_point_without_boiling(boiled, batch):
    scenario = batch({"water": "200 mL", "benzaldehyde": "1 g"}, heating={"hold": "10 min"}, vessel={"closed": True})
    words = words_of(answer(replace(boiled, scenario=scenario, run=kinetics.simulate(scenario))))
    assert words.startswith("What is computed Caution. A closed vessel is for calculation only")
    assert "Put into the closed vessel of the calculation: 200 mL of water" in words
    assert "Heat from 20 °C to 100 °C in" in words and "condensate" not in words


def test_only_a_by_product_of_its_own_is_given_off(warm, boiled):
    assert "given off" not in words_of(answer(warm)) and "acetaldehyde given off" in words_of(answer(boiled))


def test_a_bar_is_drawn_for_a_band_alone():
    assert '<rect class="range" x="50.0" y="1.5" width="20.0"' in band_bar(0.6, {"p5": 0.5, "p95": 0.7})
    for value, band in ((None, {"p5": 0.5, "p95": 0.7}), (0.6, None), (0.6, {"p5": 0.5, "p95": None}),
                        (0.6, {"p5": 0.6, "p95": 0.6})):  # fmt: skip
        assert band_bar(value, band) == ""


@pytest.mark.parametrize(
    ("stop_h", "said"),
    [
        (None, "Even after 300 h an hour more still converts 1 % of the charge."),
        (0.0, "No hour of the hold converts as much as 1 % of the charge"),
        (0.38, "After 23 min of hold, no further hour converts as much as 1 % of the charge."),
        (4.26, "After 4.3 h of hold, no further hour"),
    ],
)
def test_how_long_tells_the_plan_and_where_waiting_ends(stop_h, said, boiled):
    hours = SimpleNamespace(worth=0.01, planned_h=6.0, worth_stop_h=stop_h, searched_h=300.0)
    assert words_of(how_long(replace(boiled, hours=hours))).startswith(f"Planned: 6 h. {said}")


def test_what_was_not_computed_says_why(boiled):
    assert words_of(how_long(boiled)) == "Not computed: no cinnamaldehyde is charged to be converted."
    assert words_of(in_the_way(boiled)) == "Not computed: no cinnamaldehyde is charged to be converted."
    without = replace(boiled, ledger=None, missing={"ledger": "it stopped"})
    assert words_of(bottle(without, Figures())) == "Not computed: it stopped."


def test_nothing_that_leaves_wants_no_air_and_no_trap(boiled):
    still = replace(boiled, hazard=replace(boiled.hazard, releases=(), trap=None))
    assert words_of(air(still)) == "Nothing leaves with the gas for which a limit is known."
    assert trap(still) == ""
    assert "Work in a fume cupboard" in words_of(air(boiled)) and "Caution." in words_of(air(boiled))


def bottled(found, practice=None, **changes):
    """The words of the bottle with another work-up."""
    work = found.ledger.work
    work = replace(work, practice=replace(work.practice, **practice or {}), **changes)
    return words_of(bottle(replace(found, ledger=replace(found.ledger, work=work)), Figures()))


def test_a_work_up_tells_only_what_is_done(boiled):
    assert "Steam: stop at" in bottled(boiled) and "Saturated with salt" in bottled(boiled)
    bare = bottled(boiled, {"steam": False, "salted": False}, steam=None)
    assert "Steam:" not in bare and "Saturated with salt" not in bare and "Distilled" not in bare
    assert "Parted without salt:" in bare


def test_a_distillation_tells_where_it_boils(boiled):
    still = Course(np.linspace(0.0, 1.0, 3), {}, np.array([340.15, 345.15, 352.15]), True)
    words = bottled(boiled, {"pressure_Pa": 2000.0, "cut": 0.8}, distilled=still)
    assert "Distilled without a column at 2 kPa until 80 % is over: it boils from 67 to 79 °C." in words


def test_a_product_that_cannot_be_counted_has_no_account(boiled):
    ledger = replace(boiled.ledger, product_account=(), overall=None)
    words = words_of(bottle(replace(boiled, ledger=ledger), Figures()))
    assert "of all there could be" not in words and "Where the carbon of the charged organics went" in words
    assert "Where the benzaldehyde went, of all there could be" in words_of(bottle(boiled, Figures()))


def test_a_course_without_by_product_has_no_columns_for_it(boiled):
    alone = words_of(course(replace(boiled, substrate=replace(boiled.substrate, by_product="")), Figures()))
    assert "in flask, mmol" not in alone and "acetaldehyde in flask, mmol" in words_of(course(boiled, Figures()))


def test_the_hash_of_the_constants_counts_a_substrate_of_ones_own(boiled, tmp_path):
    def hashed(substrate):
        return constants_hash(replace(boiled.scenario, substrate=str(substrate)))

    (own := tmp_path / "own.toml").write_text("invented", encoding="utf-8")
    first = hashed(own)
    own.write_text("invented otherwise", encoding="utf-8")
    assert len({first, hashed(own), hashed("cinnamaldehyde")}) == 3 and hashed("citral") == hashed("cinnamaldehyde")


def test_what_was_assumed_is_told_only_where_something_was(boiled):
    told, untold = (replace(boiled, scenario=replace(boiled.scenario, assumed=a)) for a in (("the hold",), ()))
    assert "Assumed, not being given the hold" in words_of(inputs(told)) and "Assumed" not in words_of(inputs(untold))
