"""Bands on hours and explain: times that are never reached stay unknown, and a lever is judged with the same constants."""

import json

import numpy as np
import pytest
from short_boil import COOL

from kinetics.analysis.banded_answers import first_above, last_worth, late_quantiles
from kinetics.command_line.main import main

HOLD_H = np.array([0.0, 1.0, 2.0, 3.0, 4.0])


def test_first_above_interpolates_and_knows_never_and_failed() -> None:
    courses = np.array([[0.0, 0.4, 0.6, 0.7, 0.8], [0.5, 0.6, 0.7, 0.8, 0.9], [0.0, 0.1, 0.2, 0.3, 0.4], [0.0, np.nan, 1, 1, 1]])
    found = first_above(HOLD_H, courses.T, 0.5)
    assert found[:3] == pytest.approx([1.5, 0.0, np.inf])
    assert np.isnan(found[3])


def test_last_worth_is_where_the_gain_of_an_hour_falls_below() -> None:
    """Gains of the hours from 0, 1, 2, 3: 0.30, 0.10, 0.02, 0.01: below 0.05 past 1 + (0.10 - 0.05)/0.08 h."""
    course = np.array([0.0, 0.30, 0.40, 0.42, 0.43])
    rising, flat = 0.2 * HOLD_H, 0.0 * HOLD_H
    found = last_worth(HOLD_H, np.array([course, rising, flat]).T, 0.05)
    assert found == pytest.approx([1.625, np.inf, 0.0])


def test_last_worth_of_what_failed_or_is_shorter_than_an_hour_is_unknown() -> None:
    rising, failed = np.array([0.0, 0.2, 0.4, 0.6, 0.8]), np.array([0.0, np.nan, 0.4, 0.6, 0.8])
    assert last_worth(HOLD_H, np.array([rising, failed]).T, 0.05) == pytest.approx([np.inf, np.nan], nan_ok=True)
    assert np.isnan(last_worth(np.array([0.0, 0.4, 0.8]), np.array([[0.0, 0.2, 0.4]]).T, 0.05)).all()


def test_a_quantile_among_those_that_never_get_there_is_unknown() -> None:
    errors = {"se_p5": None, "se_p50": None, "se_p95": None}
    assert late_quantiles(np.array([1.0, 2.0, 3.0, np.inf])) == {"p5": 1.0, "p50": 2.0, "p95": None, **errors}
    assert set(late_quantiles(np.array([np.nan])).values()) == {None}


@pytest.fixture
def quick(tmp_path):  # type: ignore[no-untyped-def]
    path = tmp_path / "quick.toml"
    path.write_text(COOL, encoding="utf-8")
    return str(path)


def test_hours_command(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hours", quick, "--target", "0.2", "--samples", "8", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    series = found["band_series"]
    assert series["hold_h"] == found["hold_h"]
    p5, p50, p95 = (np.array(series["conversion"][q]) for q in ("p5", "p50", "p95"))
    assert (p5 <= p50).all() and (p50 <= p95).all()
    band = found["bands"]["target_h"]
    assert band["p50"] is not None and band["p5"] <= band["p50"]
    assert main(["hours", quick, "--target", "0.2", "--samples", "8"]) == 0
    out = capsys.readouterr().out
    assert "hours to the target" in out and max(map(len, out.splitlines())) <= 80
    assert main(["hours", quick, "--samples", "8", "--json"]) == 0
    untargeted = json.loads(capsys.readouterr().out)["bands"]
    assert "target_h" not in untargeted and untargeted["worth_stop_h"] == found["bands"]["worth_stop_h"]


def test_explain_command(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", quick, "--samples", "8", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found["lever_bands"]) == {lever["change"] for lever in found["levers"]}
    longer = next(gain for name, gain in found["lever_bands"].items() if "longer" in name)
    assert longer["helps_conversion"] == 1.0
    band, shortfall = found["bands"]["conversion"], found["bands"]["shortfall"]
    assert shortfall["p50"] == pytest.approx(1.0 - band["p50"], abs=1e-12)
