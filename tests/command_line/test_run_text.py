"""What is printed of runs in odd states: nothing held yet, nothing converted, no by-product, bands of zero."""

from __future__ import annotations

from dataclasses import replace

import pytest

import kinetics
from kinetics.command_line.bands import band_row
from kinetics.command_line.run_text import chosen, course_lines, summary_rows
from kinetics.data.shelf import Shelf
from kinetics.run.result import Run

CHARGE = {"water": "100 mL", "acetone": "1 g", "sodium carbonate": "1 g"}


@pytest.fixture(scope="module")
def acetone(batch) -> Run:
    """Acetone alone, which is what diacetone alcohol gives: nothing to convert."""
    scenario = batch(CHARGE, "diacetone alcohol", heating={"temperature": "40 degC", "hold": "10 min", "ramp": "5 min"})
    return kinetics.simulate(scenario)


def test_a_substrate_that_goes_with_the_gas_is_counted(batch, shelf: Shelf) -> None:
    """The end of a run with half a gram gone: the gas or the distillate took it."""
    scenario = batch({"water": "100 mL", "cinnamaldehyde": "1 g"}, heating={"hold": "1 min"})
    run = kinetics.simulate(scenario)
    gone = replace(run, summary=replace(run.summary, substrate_left_g=0.5, product_taken_off_g=0.25))
    rows = dict(summary_rows(gone, scenario, shelf.substrate("cinnamaldehyde")))
    assert rows["benzaldehyde in the distillate taken off"] == "0.250 g"
    assert rows["cinnamaldehyde gone with gas or distillate"] == "0.500 g"
    kept = replace(run, summary=replace(run.summary, substrate_left_g=0.0))
    assert "cinnamaldehyde gone with gas or distillate" not in dict(
        summary_rows(kept, scenario, shelf.substrate("cinnamaldehyde"))
    )


def test_a_course_without_by_product_ends_with_the_yield(acetone, shelf: Shelf) -> None:
    lines = course_lines(acetone, replace(shelf.substrate("diacetone alcohol"), by_product=""))
    assert lines[0].split()[-1] == "con-" and lines[1].split()[-2:] == ["version", "yield"]
    assert lines[-1].split()[-2:] == ["-", "-"]  # nothing was charged to be converted


def test_a_run_that_never_came_to_its_hold_shows_its_ends(acetone) -> None:
    heating = replace(acetone, series=replace(acetone.series, stage=("heating",) * len(acetone.series.stage)))
    assert chosen(heating) == [0, len(acetone.series.stage) - 1]


def test_a_band_of_nothing_has_no_row_and_small_values_are_told_as_such() -> None:
    band = {"p5": 0.0, "p50": 0.0, "p95": 0.0, "se_p50": 0.0}
    assert band_row("conversion", None) is None and band_row("conversion", band) is None
    row = band_row("product_in_oil_g", {"p5": 0.0, "p50": 2e-5, "p95": 0.5, "se_p50": None})
    assert row is not None and row[1:] == ("0", "<0.001", "0.500", "-", "g")


def test_a_correlation_that_has_no_value_there_is_told_as_none(shelf: Shelf) -> None:
    record = shelf["benzaldehyde.vapour_pressure"]
    without_critical_point = replace(record, coefficients=(0.0, *record.coefficients[1:]))  # Tc of 0 K
    assert without_critical_point.value_at(298.15) is None
    assert shelf["water.pKw"].value_at(298.15) == pytest.approx(14.0, abs=0.1)
