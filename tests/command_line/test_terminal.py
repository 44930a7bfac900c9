"""Numbers, tables and lines as a terminal shows them."""

import pytest

from kinetics.command_line.notices_text import notice_lines, shortened
from kinetics.command_line.terminal import amount, duration, fixed, percent, significant, table


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.39609, "0.396"), (22.162, "22.2"), (399.96, "400"), (0.99999, "1.00"), (1234.5, "1230"), (0, "0"),
        (2.1234e-7, "2.12e-07"), (-0.0998, "-0.0998"), (1e9, "1.00e+09"), (None, "-"), (float("nan"), "-"),
    ],
)  # fmt: skip
def test_significant(value, text):
    assert significant(value) == text


def test_what_is_missing_is_a_dash_and_never_a_zero():
    assert (fixed(None, 2), percent(None), fixed(float("nan"), 1)) == ("-", "-", "-")
    assert (fixed(-1e-9, 1), percent(0.73588), percent(1.0)) == ("0.0", "73.6", "100.0")


def test_small_amounts_are_told_as_such():
    assert (amount(8.3e-5, "g"), amount(0.0, "g"), amount(0.39609, "g")) == ("<0.001 g", "0 g", "0.396 g")


def test_duration():
    assert [duration(h) for h in (8.0, 0.5, 1.5, 25 / 60)] == ["8 h", "30 min", "1.5 h", "25 min"]


def test_table():
    assert table([["", "g"]], [["water", "399.3"], ["base", "4"]], "<") == [
        "           g",
        "water  399.3",
        "base       4",
    ]


def test_names_of_a_family_are_drawn_together():
    assert shortened(["carbonic.pK1", "water.density", "carbonic.pK2"]) == [
        "carbonic (pK1, pK2)",
        "water.density",
    ]


def test_a_notice_of_another_kind_is_shown_as_it_is():
    assert notice_lines(["the liquor holds much"])[2:] == ["- the liquor holds much"]
    assert notice_lines([]) == []
