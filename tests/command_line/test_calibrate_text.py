"""What is printed of a calibration: what moved and by how much, what calls the fit in question, the next sample."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from kinetics.analysis.calibration_report import Constant, Point, Series
from kinetics.analysis.suggest import Candidate, Suggestion
from kinetics.command_line.calibrate_text import calibration_lines, probability, shown

AIR = Constant("apparatus.air_exchange", "air exchange", -1.25, 0.3, -1.8, -0.7, True, "times 0.42", False)
CLEAVAGE = Constant("cleavage.k", "cleavage", 3.0, 0.5, 2.0, 3.0, False, "times 2.1", True)
WATER = Constant("water.pKw", "pKw", 0.02, 0.98, -1.6, 1.7, True, "plus 0.001", False)
TEXTS = {"constants": (AIR,), "correlations": (), "untouched": (), "series": (), "warnings": (), "notes": ()}
SAMPLE = Point(2, "batch 1", "conversion", 7200.0, 0.54, 0.02, 0.48, 0.531, -0.4)


def words_of(target: str | None = None, suggestion: Suggestion | None = None, **changes: Any) -> str:
    """All that is printed of a calibration with one measurement, on one line; the fit itself is none of the text's."""
    numbers = {"points": (SAMPLE,), "chi_square": 4.2, "chi_square_of_data": 1.3, "p": 0.0004}
    calibrated: Any = SimpleNamespace(**TEXTS | numbers | changes)
    lines = calibration_lines(calibrated, target, suggestion)
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_what_moved_is_told_with_its_interval_and_change() -> None:
    words = words_of(constants=(AIR, CLEAVAGE, WATER))
    assert "Interval: 90 %, by profile likelihood." in words
    assert words.startswith("1 measurements moved 2 of 3 fitted constants")
    assert "apparatus.air_exchange z -1.25 +- 0.30 (-1.80 to -0.70): times 0.42" in words
    assert "z +3.00 +- 0.50 (at least 2.00 to 3.00): times 2.1, at its bound" in words
    assert "hardly narrowed (standard uncertainty left, of 1 before): water.pKw (0.98)." in words
    assert "2 2 h conversion 54.0 % 48.0 % 53.1 % -0.4 sd" in words


def test_nothing_moved_and_nothing_left_out_are_told() -> None:
    words = words_of(constants=(WATER,))
    assert "moved 0 of 1 fitted constants" in words and "None by as much as a tenth of its uncertainty." in words
    assert "Not fitted" not in words
    assert "left as the shelf has them: carbonic (pK1, pK2)." in words_of(untouched=("carbonic.pK1", "carbonic.pK2"))
    assert "hardly narrowed" not in words_of()


def test_what_calls_a_fit_in_question_is_told() -> None:
    assert "Chi-square of data and priors together 4.2 with 1 degrees of freedom, p < 0.001" in words_of()
    assert "No runs test" in words_of() and "Tied together" not in words_of()
    words = words_of(
        series=(Series("batch 1", "conversion", 7, 2, 4.4, 0.03),),
        correlations=(("apparatus.air_exchange", "cleavage.k", -0.83),),
        warnings=("p is so small that the model or the data are in doubt",),
        notes=("Half a batch was left out.",),
    )
    assert "conversion in batch 1: 2 runs of sign in 7 residuals, 4.4 expected, p = 0.03." in words
    assert "Tied together (correlation of 0.7 or more) -0.83 apparatus.air_exchange and cleavage.k" in words
    assert "! p is so small that the model or the data are in doubt" in words
    assert "- Half a batch was left out." in words and "No runs test" not in words


def test_the_next_sample_and_the_sooner_one() -> None:
    """Half the standard deviation is a quarter of the variance: 75 % removed."""
    best = Candidate("area ratio", 6 * 3600.0, 0.05, 0.04, 0.02)
    early = Candidate("pH", 1800.0, 0.1, 0.04, 0.024)
    words = words_of("conversion", Suggestion("conversion", "batch 1", best, early, (best, early)))
    assert (
        "For the conversion at the end of batch 1: measure area ratio at 6 h, which removes 75 % of the variance"
        in words
    )
    assert "would fall from 4.0 % to 2.0 %" in words
    assert "sooner: pH at 30 min, which removes 64 % of the variance" in words
    alone = words_of("conversion", Suggestion("conversion", "batch 1", best, best, (best,)))
    assert "sooner" not in alone and "The best of each: area ratio at 6 h" in alone


def test_no_sample_is_suggested_after_the_end_of_the_run() -> None:
    assert "The run is over: no sample can narrow its by-product that left any more." in words_of("byproduct in trap")
    assert "The next sample" not in words_of()


@pytest.mark.parametrize(
    ("value", "quantity", "text"),
    [(0.5, "yield", "50.0 %"), (0.0021, "byproduct in trap", "2.10 mmol"), (0.25, "oil mass", "0.250 g"),
     (10.04, "pH", "10.04"), (1.5, "area ratio", "1.50")],
)  # fmt: skip
def test_values_have_the_units_of_the_bench(value: float, quantity: str, text: str) -> None:
    assert shown(value, quantity) == text


def test_probabilities_are_never_shown_as_none_or_all() -> None:
    assert [probability(p) for p in (0.0, 0.034, 1.0)] == ["< 0.001", "= 0.034", "> 0.999"]
