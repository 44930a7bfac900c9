"""What `check` prints of what was read: additions, the work-up step by step, values as a file has them."""

from __future__ import annotations

import pytest

from kinetics.analysis.workup import Practice
from kinetics.command_line.reading_text import figures_of, practice_words, reading_lines, setting

CHARGE = {"water": "200 mL", "cinnamaldehyde": "1 g", "sodium carbonate": "2 g"}


def words_of(scenario) -> str:
    """All that is printed, on one line."""
    lines = reading_lines(figures_of(scenario), scenario)
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_what_is_added_stands_with_its_time(batch):
    added = [{"at": "10 min", "over": "5 min", "sodium carbonate": "1 g"}, {"at": "30 min", "water": "10 mL"}]
    words = words_of(batch(CHARGE, addition=added))
    assert "Added 10 min into the hold, over 5 min" in words
    assert "Added 30 min into the hold as purity" in words


def test_without_substrate_base_per_substrate_is_not_a_number(batch):
    plain = {name: text for name, text in CHARGE.items() if name != "cinnamaldehyde"}
    assert "base per cinnamaldehyde no cinnamaldehyde charged" in words_of(batch(plain))
    assert "a boil" in words_of(batch(plain))


def test_below_the_boil_no_condensate(batch):
    words = words_of(batch(CHARGE, heating={"temperature": "60 degC"}))
    assert "1 h at 60 degC, below the boil or closed" in words and "condensate" not in words


def test_a_product_that_is_its_own_by_product_is_told_once(batch):
    words = words_of(batch({"water": "100 mL", "diacetone alcohol": "1 g"}, "diacetone alcohol"))
    assert "diacetone alcohol is cleaved to acetone." in words


PRACTICE = Practice(283.15, True, 0.95, None, True, 0.03, 0.1, 7200.0, 2000.0, 0.8)


@pytest.mark.parametrize(
    ("practice", "words"),
    [
        (
            PRACTICE,
            "Steam until 95.0 % of the product is over; saturate with salt; part at 10 degC; lose 3.0 % in drying and "
            "10.0 % on glass; distil 80.0 % over at 2 kPa; 2 h in air",
        ),
        (
            Practice(293.15, True, 0.95, 0.05, False, 0.0, 0.0, 1800.0, None, 0.8),
            "Steam until 50.0 mL are over; no salt; part at 20 degC; lose 0.0 % in drying and 0.0 % on glass; 30 min in air",
        ),
        (
            Practice(293.15, False, 0.95, None, False, 0.0, 0.0, 1800.0, None, 0.8),
            "No steam; no salt; part at 20 degC; lose 0.0 % in drying and 0.0 % on glass; 30 min in air",
        ),
    ],
)
def test_a_work_up_is_told_step_by_step(practice, words):
    assert practice_words(practice) == words


@pytest.mark.parametrize(
    ("value", "text"),
    [(True, "true"), ("8 h", "8 h"), ({"amount": "1 g", "uncertainty": 0.1}, "{amount = 1 g, uncertainty = 0.1}"),
     ([{"at": "2 h"}, 3], "[{at = 2 h}, 3]")],
)  # fmt: skip
def test_a_value_is_shown_much_as_a_file_has_it(value, text):
    assert setting(value) == text
