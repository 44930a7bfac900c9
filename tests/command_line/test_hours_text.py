"""What `hours` prints and draws of a result: when to stop, the course, what waiting costs, the bands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kinetics.analysis.hours import Hours
from kinetics.command_line.commands.hours import band_lines, page_of
from kinetics.command_line.hours_text import costs, headline, hours_lines

HOLD = np.linspace(0.0, 8.0, 17)
FOUND = Hours(
    title="a test", substrate="cinnamaldehyde", product="benzaldehyde", by_product="acetaldehyde", hold_h=HOLD,
    conversion=0.1 * HOLD, yield_=0.08 * HOLD, gain_per_h=0.1 + 0.0 * HOLD, yield_gain_per_h=0.08 + 0.0 * HOLD,
    product_g=0.05 * HOLD, product_vented_g=0.01 * HOLD, product_degraded_g=0.002 * HOLD, boil_energy_kJ=20.0 * HOLD,
    planned_h=6.0, worth=0.01, worth_stop_h=4.0, target=None, target_h=None, verdict="", searched_h=300.0, ceiling=0.9,
    ceiling_h=40.0, yield_ceiling=0.8, yield_ceiling_h=40.0, equilibrium=0.5, equilibrium_yield=0.4, why="Held back.",
    cooling_loss=0.0,
)  # fmt: skip


def joined(lines: list[str]) -> str:
    """Printed lines on one line; each fits the page."""
    assert max(map(len, lines)) < 80
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize(
    ("stop_h", "words"),
    [
        (None, "Every hour up to 300 h still buys 1 % of the charge or more."),
        (0.0, "No hour of the hold buys as much as 1 % of the charge."),
        (0.5, "After 30 min of hold an hour more buys less than 1 % of the charge."),
        (4.0, "After 4 h of hold an hour more buys less than 1 % of the charge."),
    ],
)
def test_the_first_line_tells_where_waiting_stops_being_worth_it(stop_h: float | None, words: str) -> None:
    line = headline(replace(FOUND, worth_stop_h=stop_h))
    assert line == f"{words} The 6 h planned give 60.0 % conversion and 48.0 % yield of benzaldehyde, hot."
    assert headline(replace(FOUND, verdict="80 % is never reached.")).startswith("80 % is never reached. After 4 h")


def test_the_course_marks_the_hold_that_is_planned() -> None:
    words = joined(hours_lines(FOUND))
    assert "6.00* 60.0 48.0 10.00 8.00 0.300 0.060 0.012 120" in words and "* as planned" in words
    assert words.count("*") == 2


def test_the_course_of_the_longest_hold_fits_the_page() -> None:
    long = replace(FOUND, planned_h=200.0, hold_h=25.0 * HOLD, boil_energy_kJ=25000.0 * HOLD)
    assert "200.00* 80.0" in joined(hours_lines(long))


def test_what_waiting_from_the_sensible_stop_to_the_plan_costs() -> None:
    """Two hours: 20 points of conversion, 16 of yield, 0.02 g vented, 0.004 g degraded, 40 kJ."""
    words = joined(costs(FOUND))
    assert words.startswith("From 4 h to the 6 h planned: +20.0 points of conversion and +16.0 of yield")
    assert "0.0200 g of benzaldehyde carried into the vent, 0.00400 g oxidised" in words and "40.0 kJ of heat" in words


@pytest.mark.parametrize("stop_h", [None, 0.0, 6.0, 7.0])
def test_a_plan_that_stops_early_is_counted_from_its_start(stop_h: float | None) -> None:
    words = joined(costs(replace(FOUND, worth_stop_h=stop_h)))
    assert words.startswith("From 0 min to the 6 h planned: +60.0 points")


def test_no_hold_costs_nothing_but_a_cool_down_may() -> None:
    none = replace(FOUND, planned_h=0.0)
    assert costs(none) == ["Nothing to speak of."]
    words = joined(costs(replace(none, cooling_loss=0.021)))
    assert words.startswith("The cool-down takes 2.1 points of conversion back")


def test_the_figure_runs_as_long_as_the_course_is_told(batch: Any) -> None:
    """Three hours told of a hold of one: the time axis reaches past the three, and the equilibrium is drawn."""
    charge = {"water": "100 mL", "cinnamaldehyde": "0.1 g", "sodium carbonate": "1 g"}
    figure = page_of(replace(FOUND, hold_h=np.linspace(0.0, 3.0, 4)), batch(charge), ())
    conversion = next(
        ax for ax in figure.axes if "conversion" in " ".join(t.get_text() for t in [*ax.texts, ax.yaxis.label])
    )
    assert max(max(line.get_xdata()) for line in conversion.lines) == pytest.approx(3.0, abs=0.01)
    assert any(np.allclose(line.get_ydata(), 50.0) for line in conversion.lines)


def test_bands_tell_the_hours_to_the_target_and_what_comes_too_late() -> None:
    def band(*values: Any) -> dict[str, Any]:
        return dict(zip(("p5", "p50", "p95"), values))

    series = {"hold_h": [0.0, 1.0], "conversion": band([0.0, 0.1], [0.0, 0.2], [0.0, 0.3])}
    bands: dict[str, Any] = {
        "samples": 200, "seed": 7,
        "bands": {"target_h": band(1.5, 3.0, None), "worth_stop_h": band(2.0, 4.0, 6.0)},
        "band_series": series | {"yield": band([0.0, 0.1], [0.0, 0.15], [None, None])},
    }  # fmt: skip
    words = joined(band_lines(bands))
    assert words.startswith("Bands from 200 samples (seed 7)")
    assert "1.00 10.0 20.0 30.0 10.0 15.0 -" in words
    assert "hours to the target: 1.5 (5 %), 3 (50 %), later (95 %)" in words
    assert words.endswith("hours that are worth it: 2 (5 %), 4 (50 %), 6 (95 %)")
    del bands["bands"]["target_h"]
    assert "target" not in joined(band_lines(bands))
    assert "No band computed" in joined(band_lines(None))
