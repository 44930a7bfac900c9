"""What `sensitivity` refuses, prints and draws: the advice by what a user can measure, the table, the figure."""

from __future__ import annotations

from argparse import ArgumentTypeError
from dataclasses import replace

import pytest

from kinetics.analysis.sensitivity import Influence, Sensitivity
from kinetics.command_line.commands.sensitivity import fraction, lines_of, page_of, power_of_two, whole_number

AIR = Influence("apparatus.air_exchange", "the air exchange", True, 0.7, 0.02, 0.8, 0.03)
CLEAVAGE = Influence("cleavage.k", "the cleavage", False, -0.01, 0.05, 0.2, 0.02)
LITTLE = Influence("water.pKw", "the ionic product", False, 0.001, 0.001, 0.002, 0.001)
FOUND = Sensitivity(
    {"conversion": (AIR, CLEAVAGE, LITTLE), "target_h": (CLEAVAGE,)}, {"conversion": 0.98, "target_h": 0.4},
    {"conversion": (0.5, 0.6, 0.7), "target_h": (2.0, 3.5, 8.0)}, 1024, 3, 7, 0.6,
)  # fmt: skip


def words_of(found: Sensitivity) -> str:
    """All that is printed, on one line."""
    lines = lines_of(found)
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_what_can_be_measured_is_to_be_measured_and_the_rest_calibrated() -> None:
    words = words_of(FOUND)
    assert words.startswith("Measure the air exchange: it makes 80 % of the spread of the final conversion.")
    assert (
        "Take samples of a run and calibrate the cleavage: it makes 20 % of the spread of the hours to the target."
        in words
    )


def test_spread_and_table_have_the_units_of_the_answer() -> None:
    words = words_of(FOUND)
    assert "lies between 50 and 70 % in nine of ten samples (half of them above 60 %)" in words
    assert "lies between 2 and 8 h in nine of ten samples (half of them above 3.5 h)" in words
    assert "70 2 80 3 apparatus.air_exchange 0 5 20 2 cleavage.k These make about 98 %" in words
    assert "water.pKw" not in words
    assert "1024 runs, 3 failed, seed 7" in words


def test_no_share_below_nothing() -> None:
    noise = replace(FOUND, answers={"conversion": (replace(AIR, total=-0.02),)})
    assert "it makes 0 % of the spread" in words_of(noise)


def test_the_figure_has_a_panel_for_each_answer() -> None:
    first, second = page_of(FOUND, "a test").axes
    lengths = {round(patch.get_width(), 6) for patch in first.patches}
    assert lengths == {70.0, 80.0, 0.0, 20.0}
    assert {round(patch.get_width(), 6) for patch in second.patches} == {0.0, 20.0}


@pytest.mark.parametrize("text", ["0", "1", "1.5", "-0.2", "half", "nan"])
def test_a_target_that_is_no_part_of_the_charge_is_refused(text: str) -> None:
    with pytest.raises(ArgumentTypeError, match="a fraction between 0 and 1"):
        fraction(text)


@pytest.mark.parametrize("text", ["-1", "x", "2.5", ""])
def test_a_seed_that_is_no_whole_number_is_refused(text: str) -> None:
    with pytest.raises(ArgumentTypeError, match="a whole number"):
        whole_number(text)


def test_what_is_sound_is_read() -> None:
    assert (fraction("0.7"), whole_number("0"), power_of_two("8")) == (0.7, 0, 8)
    with pytest.raises(ArgumentTypeError, match="a power of two from 8 on"):
        power_of_two("4")
