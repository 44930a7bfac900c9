"""A stretch of the programme by itself: what it says of salt and temperature at a time that is not zero."""

from __future__ import annotations

import pytest

from kinetics.flask.programme import Segment

DRAWN = Segment(
    "hold", 100.0, 300.0, 373.0, 374.0, True,
    {"sodium": 0.3, "potassium": 0.1, "calcium": 0.05, "chloride": 0.2},
    {"sodium": 1e-3, "chloride": 2e-3},
    water_kg=1.0, water_rate_kg=-2e-3,
)  # fmt: skip


def test_salt_of_a_segment_by_hand() -> None:
    """50 s in: sodium 0.35 mol, chloride 0.3, the rest as it was; of metal 0.5 mol in 0.9 kg."""
    assert DRAWN.strong_ions(150.0) == pytest.approx((0.35, 0.1, 0.05, 0.3), rel=1e-14)
    assert DRAWN.strong_ions(100.0) == (0.3, 0.1, 0.05, 0.2)
    assert DRAWN.salt_molality(150.0) == pytest.approx(0.5 / 0.9, rel=1e-14)


def test_potassium_fraction_at_the_middle() -> None:
    """100 s in: 0.1 mol of potassium beside 0.4 of sodium; with none of either there is none."""
    assert DRAWN.potassium_fraction == pytest.approx(0.2, rel=1e-14)
    fed = Segment("hold", 100.0, 300.0, 373.0, 373.0, True, {"sodium": 0.3}, {"potassium": 2e-3})
    assert fed.potassium_fraction == pytest.approx(0.4, rel=1e-14)
    assert Segment("hold", 0.0, 1.0, 373.0, 373.0, True, {}).potassium_fraction == 0.0


def test_boil_point_runs_with_the_salt() -> None:
    """Metal 0.45 mol/kg at the start, 0.65/0.6 at the end; half way in time 0.55/0.8: 0.2375/0.6333 of the way."""
    assert DRAWN.temperature(100.0) == pytest.approx(373.0, abs=1e-12)
    assert DRAWN.temperature(300.0) == pytest.approx(374.0, abs=1e-12)
    part = (0.55 / 0.8 - 0.45) / (0.65 / 0.6 - 0.45)
    assert DRAWN.temperature(200.0) == pytest.approx(373.0 + part, abs=1e-12)


def test_ramp_runs_with_the_time() -> None:
    ramp = Segment("heating", 100.0, 300.0, 293.0, 373.0, False, {"sodium": 0.1})
    assert [ramp.temperature(t) for t in (100.0, 150.0, 300.0)] == pytest.approx([293.0, 313.0, 373.0], abs=1e-12)
    assert not ramp.isothermal and not ramp.autonomous


def test_nothing_depends_on_time_where_nothing_changes() -> None:
    still = Segment("hold", 100.0, 300.0, 353.0, 353.0, False, {"sodium": 0.1})
    assert still.isothermal and still.autonomous and still.temperature(200.0) == 353.0
    fed = Segment("hold", 100.0, 300.0, 353.0, 353.0, False, {"sodium": 0.1}, {"sodium": 1e-4})
    assert fed.isothermal and not fed.autonomous


def test_an_ion_that_is_not_there_is_none() -> None:
    assert Segment("hold", 0.0, 1.0, 353.0, 353.0, False, {"sodium": 0.1}).strong_ions(0.5) == (0.1, 0.0, 0.0, 0.0)
    assert Segment("hold", 0.0, 2.0, 353.0, 353.0, False, {}, {"chloride": 0.1}).strong_ions(1.0) == (0.0, 0.0, 0.0, 0.1)


def test_water_stays_unless_a_rate_is_given() -> None:
    assert Segment("hold", 0.0, 9.0, 353.0, 353.0, False, {"sodium": 0.1}).salt_molality(9.0) == pytest.approx(0.1)


def test_potassium_alone_is_all_of_the_metal() -> None:
    assert Segment("hold", 0.0, 1.0, 353.0, 353.0, False, {"potassium": 0.1}).potassium_fraction == 1.0
