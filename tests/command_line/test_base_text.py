"""What `base` prints, from small reports written by hand: the sentence, the equivalents, why caustic differs."""

from __future__ import annotations

from dataclasses import replace

from kinetics.analysis.base import BaseReport, Caustic, Liquor, Weighed
from kinetics.command_line.commands.base import lines_of

SODA = Weighed("sodium carbonate", 2.0, 0.01887, 2.5)
OUT = Weighed("calcium hydroxide", None, None, None, "not within what it dissolves")
CAUSTIC = Caustic(0.004, 0.0007, 0.5, 12.0)
NONE = BaseReport(
    "a test", "cinnamaldehyde", 0.0, (), Liquor(293.15, 7.0, 1e-7), Liquor(373.15, 6.1, 6e-7), (), None, (), None
)
REPORT = replace(
    NONE, aldehyde_mol=0.00755, charged=(SODA,), cold=Liquor(293.15, 11.4, 0.0016), hot=Liquor(373.15, 10.3, 0.0123),
    same_carbonate=(SODA,), bake_g=3.17, same_hydroxide=(SODA, OUT), caustic=CAUSTIC,
)  # fmt: skip


def words_of(report: BaseReport) -> str:
    """All that is printed, on one line."""
    lines = lines_of(report)
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_the_first_line_tells_base_and_alkalinity() -> None:
    words = words_of(REPORT)
    assert words.startswith(
        "2.00 g of sodium carbonate: pH 10.30 and 0.0123 mol/L of hydroxide at 100.0 degC. (a test)"
    )
    assert "at 20.0 degC 11.40 0.00160" in words
    assert "Charged mol per mol of g mmol cinnamaldehyde sodium carbonate 2.00 18.9 2.50" in words


def test_what_to_bake_and_what_is_out_of_reach() -> None:
    words = words_of(REPORT)
    assert "bake 3.17 g of sodium bicarbonate until it weighs no less: it loses 36.9 % of its mass." in words
    assert "calcium hydroxide - - - calcium hydroxide: not within what it dissolves." in words


def test_without_base_no_equivalents_and_no_caustic() -> None:
    words = words_of(NONE)
    assert words.startswith("No base: pH 6.10")
    for heading in ("Charged", "The same amount", "The same hydroxide", "Why caustic", "bake"):
        assert heading not in words


def test_a_hydroxide_is_compared_without_carbonate_to_bake() -> None:
    words = words_of(replace(REPORT, same_carbonate=(), bake_g=None))
    assert "bake" not in words and "The same hydroxide, hot" in words


def test_caustic_is_told_by_reserve_strength_and_hazard() -> None:
    words = words_of(REPORT)
    assert "Reserve: 4.00 mmol of acid halve the hydroxide of this base, 0.700 mmol that of sodium hydroxide" in words
    assert "Weighed out like this base it gives 0.500 mol/L, 12.0 times as much" in words
    assert "H314" in words and "H319" in words


def test_no_reserve_known_and_no_stronger_caustic_leave_the_hazard() -> None:
    words = words_of(replace(REPORT, caustic=replace(CAUSTIC, caustic_reserve_mol=None, times=1.0)))
    assert "Reserve" not in words and "Weighed out" not in words
    assert "- Hazard: sodium hydroxide causes severe skin burns and eye damage (GHS H314)" in words
