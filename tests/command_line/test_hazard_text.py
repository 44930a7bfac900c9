"""What is printed of hazards, from small reports written by hand: air, trap, burst vessels, statements."""

from __future__ import annotations

from dataclasses import replace

from kinetics.analysis.hazard import Closed, HazardReport, Need, Release, Trap
from kinetics.command_line.hazard_text import lines_of, short_lines

CLOSED = Closed(373.15, 101325.0, 129000.0, 0.0, 230325.0)
NEEDS = (Need("a tenth of the lower flammable limit", 0.004, 0.036, "a"), Need("the short-term limit", 5e-5, 3.6, "b"))
GAS = Release("acetaldehyde", 0.01, 0.44, 0.24, 0.5, 0.75, 0.03, 0.04, NEEDS, None)
TRAP = Trap(0.01, {"sodium bisulfite": 1.25, "sodium metabisulfite": 1.14}, 1.2, 0.35, 278.15, 0.9)
STATEMENTS = (("acetaldehyde", "H224 extremely flammable; H319 eye irritation", "a regulation"),)
NOTHING = HazardReport("a test", 3.0, 0.0, 0.5, None, (), None, CLOSED, (), ())
REPORT = replace(NOTHING, together_m3_per_h=3.6, releases=(GAS,), trap=TRAP, statements=STATEMENTS)


def joined(lines: list[str]) -> str:
    """Printed lines on one line; each fits the page."""
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


def test_the_first_line_tells_gas_peak_and_air() -> None:
    words = joined(lines_of(REPORT))
    assert words.startswith(
        "0.440 g of acetaldehyde go into the air, 0.500 g/h at the peak: 3.60 m3/h of clean air keep"
    )
    assert "K = 3 for imperfect mixing" in words


def test_the_hood_is_sized_by_its_face_velocity() -> None:
    """3.6 m3/h through a face at 0.5 m/s: 3.6/3600/0.5 m2 = 20 cm2."""
    words = joined(lines_of(REPORT))
    assert "air for the short-term limit 3.60 m3/h through a hood at 0.5 m/s, a face of 20.0 cm2" in words
    assert "lower flammable limit 4.00 vol %" in words


def test_what_the_air_of_the_room_comes_to_is_told_where_the_air_is_given() -> None:
    reached = replace(REPORT, releases=(replace(GAS, reached=2.5e-5),), air_m3_per_h=7.2)
    assert "reached in the 7.20 m3/h given 25.0 mL/m3" in joined(lines_of(reached))
    assert "reached in" not in joined(lines_of(REPORT))


def test_gas_that_can_burn_is_warned_of() -> None:
    rich = replace(REPORT, releases=(replace(GAS, vent_fraction=0.05),))
    assert "! The gas at the top of the condenser can burn: no flame" in joined(lines_of(rich))
    assert "can burn" not in joined(lines_of(REPORT))
    unknown = joined(lines_of(replace(REPORT, releases=(replace(GAS, vent_fraction=0.05, flammable=None),))))
    assert "can burn" not in unknown and "flammable limit" not in unknown.replace("of the lower flammable limit", "")


def test_trap_statements_and_burst_vessels() -> None:
    words = joined(lines_of(replace(REPORT, closed=replace(CLOSED, solute_Pa=20000.0))))
    assert "10.0 mmol: 1.25 g of sodium bisulfite or 1.14 g of sodium metabisulfite (1.2 times" in words
    assert "0.350 L of water at 5 degC, which keeps 90 %" in words
    assert "about 230 kPa: 101 of steam, 129 of heated air, 20 of acetaldehyde" in words
    assert "- acetaldehyde: H224 extremely flammable; H319 eye irritation (a regulation)." in words


def test_a_batch_that_gives_nothing_off_is_still_never_closed() -> None:
    words = joined(lines_of(NOTHING))
    assert words.startswith("Nothing with a limit on the shelf leaves the flask.")
    assert "Never closed" in words and "kPa" in words
    assert "well-mixed box" not in words and "trap" not in words and "GHS" not in words
    assert short_lines(NOTHING) == []


def test_beside_a_run_stand_gas_trap_and_codes() -> None:
    words = joined(short_lines(REPORT))
    assert "- 0.440 g of acetaldehyde go into the air" in words
    assert "A trap for the acetaldehyde: 1.25 g of sodium bisulfite or" in words
    assert words.endswith("GHS hazard statements: acetaldehyde H224, H319.")
    alone = joined(short_lines(replace(NOTHING, statements=STATEMENTS)))
    assert "air," not in alone.split("`hazard`")[1] and "trap" not in alone and "H224" in alone
    assert "GHS" not in joined(short_lines(replace(REPORT, statements=())))
