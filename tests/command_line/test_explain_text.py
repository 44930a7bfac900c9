"""What `explain` prints and draws of a result: shares, levers with their price, bands with their odds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kinetics.analysis.bench_test import BenchTest
from kinetics.analysis.explain import Explanation, Gain, Refused
from kinetics.command_line.commands.explain import band_lines, levers_page, shares_page
from kinetics.command_line.explain_text import drawn_shares, explanation_lines

TEST = BenchTest("Add base once more.", "an equilibrium", "it moves by 5 points", "no change", {}, {})
SWEEP = Gain(
    "a sweep of air",
    {},
    0.12,
    0.08,
    0.04,
    "Carries vapour into the room.",
)
LESS = Gain("half the base", {}, -0.03, -0.0001, -0.01, "Slower.")
FOUND = Explanation(
    title="a test", substrate="cinnamaldehyde", product="benzaldehyde", by_product="acetaldehyde", at_h=None, hold_h=3.0,
    conversion=0.7, yield_=0.65, shortfall=0.3, conversion_hot=0.72, yield_hot=0.66,
    shares={"by-product held back": 0.25, "too little time": 0.05, "oil": 0.0001, "other": -0.0001},
    shares_yield={"by-product held back": 0.3, "too little time": 0.05, "oil": 0.0001, "other": -0.0001},
    diagnosis="Held back.", levers=(SWEEP, LESS), not_applicable=(Refused("stir", "no oil floats"),), bench_test=TEST,
    conversion_led_back=0.4, reversibility="Both ways.",
)  # fmt: skip


def words_of(found: Explanation) -> str:
    """All that is printed, on one line."""
    lines = explanation_lines(found)
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_the_first_line_tells_conversion_moment_and_main_share() -> None:
    words = words_of(FOUND)
    assert words.startswith(
        "70.0 % of the cinnamaldehyde is converted at the end of the run (yield 65.0 %); 30.0 points are missing, "
        "and the largest share of that is: by-product held back."
    )
    assert "is converted 30 min into the hold, hot" in words_of(replace(FOUND, at_h=0.5))


def test_shares_too_small_to_see_are_told_together_or_not_at_all() -> None:
    words = words_of(FOUND)
    assert "by-product held back 25.0 30.0 too little time 5.0 5.0 together 30.0 35.0" in words
    assert "all others" not in words and "A negative share helps" not in words
    crumbs = {f"mechanism {k}": 0.0004 for k in range(10)}
    many = replace(FOUND, shares={"oil": 0.296} | crumbs, shares_yield={"oil": 0.346} | crumbs)
    assert "oil 29.6 34.6 all others 0.4 0.4 together 30.0 35.0" in words_of(many)
    assert drawn_shares(many) == pytest.approx({"oil": 0.296, "all others": 0.004})
    assert drawn_shares(FOUND) == {"by-product held back": 0.25, "too little time": 0.05}


def test_a_share_that_helps_is_explained() -> None:
    helped = {"by-product held back": 0.35, "oil": -0.05}
    words = words_of(replace(FOUND, shares=helped, shares_yield=helped))
    assert "oil -5.0 -5.0" in words and "A negative share helps" in words


def test_each_lever_stands_with_its_gain_and_its_price() -> None:
    words = words_of(FOUND)
    assert "a sweep of air +12.0 +8.0 +0.040 Carries vapour into the room." in words
    assert "half the base -3.0 +0.0 -0.010 Slower." in words
    assert "- does not apply: stir (no oil floats)" in words


def bars(figure: Any) -> list[float]:
    """Lengths of the bars of a figure, from above."""
    return [patch.get_width() for patch in figure.axes[0].patches]


def test_both_figures_draw_the_result() -> None:
    assert sorted(bars(shares_page(FOUND))) == pytest.approx([-25.0, -5.0, 70.0, 100.0])
    assert bars(levers_page(FOUND)) == pytest.approx([12.0, -3.0])


def test_bands_are_told_in_points_with_the_odds_of_each_lever() -> None:
    def band(low: float, middle: float, high: float | None) -> dict[str, float | None]:
        return {"p5": low, "p50": middle, "p95": high}

    bands = {
        "samples": 200, "seed": 7,
        "bands": {"conversion": band(0.5, 0.7, 0.8), "yield": band(0.4, 0.6, 0.7), "shortfall": band(0.2, 0.3, 0.5)},
        "lever_bands": {
            "a sweep of air": {"conversion_gain": band(0.01, 0.12, 0.2), "helps_conversion": 0.97},
            "half the base": {"conversion_gain": band(-0.1, -0.03, None), "helps_conversion": None},
        },
    }  # fmt: skip
    words = " ".join(" ".join(band_lines(bands)).split())
    assert words.startswith("Bands from 200 samples (seed 7)")
    assert "conversion +50.0 +70.0 +80.0" in words and "shortfall +20.0 +30.0 +50.0" in words
    assert "a sweep of air +1.0 +12.0 +20.0 97" in words
    assert words.endswith("half the base -10.0 -3.0 - -")
    assert "No band computed" in " ".join(band_lines(None))
