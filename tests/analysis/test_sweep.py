"""`sweep`: ranges read or refused in words, points equal to single runs, and how much base is enough."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from short_boil import SHORT, called

import kinetics
from kinetics.analysis import sweep as module
from kinetics.analysis.compare import KEYS
from kinetics.analysis.runs import Outcome
from kinetics.analysis.sweep import Point, Range, RangeError, Sweep, base_remarks, read_ranges, settled, sweep
from kinetics.run.reading import parse_scenario

TEXT = SHORT.replace('"0.2 g"', '{amount = "0.2 g", purity = 0.9}') + """\
[[addition]]
at = "10 min"
water = "10 mL"
"""
SODA = "charge.sodium carbonate"


@pytest.fixture(scope="module")
def scenario():
    return parse_scenario(TEXT)


@pytest.fixture
def short(tmp_path, monkeypatch) -> Path:
    """The scenario as a file, in a folder to work in."""
    monkeypatch.chdir(tmp_path)
    (path := tmp_path / "short.toml").write_text(TEXT, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "key", "values", "unit"),
    [
        ("heating.hold=1..3 h/3", "heating.hold", (1.0, 2.0, 3.0), "h"),
        ("heating.hold=1 h..3 h/3", "heating.hold", (1.0, 2.0, 3.0), "h"),
        ("heating.hold = 1 h .. 3 / 2", "heating.hold", (1.0, 3.0), "h"),
        ('"charge.sodium carbonate=0.5 g..10 g/2'.strip('"'), SODA, (0.5, 10.0), "g"),
        ('"charge.sodium carbonate"=0.5..10 g/2', SODA, (0.5, 10.0), "g"),
        ('charge."sodium carbonate"=0.5..10 g/2', SODA, (0.5, 10.0), "g"),
        ("vessel.k_La=0.001..0.1 1/s/2", "vessel.k_La", (0.001, 0.1), "1/s"),
        ("vessel.k_La=0.001..0.1 1/s", "vessel.k_La", tuple(np.linspace(0.001, 0.1, 9).round(12)), "1/s"),
        ("condenser.sweep=0..100 mL/min/5", "condenser.sweep", (0.0, 25.0, 50.0, 75.0, 100.0), "mL/min"),
        ("heating.altitude=-100..100 m/2", "heating.altitude", (-100.0, 100.0), "m"),
        ("charge.cinnamaldehyde.purity=.5..1/2", "charge.cinnamaldehyde.purity", (0.5, 1.0), ""),
        ("addition.1.at=1..1e1 min/2", "addition.1.at", (1.0, 10.0), "min"),
    ],
)
def test_ranges_as_they_may_be_written(text, key, values, unit):
    (found,) = read_ranges([text])
    assert (found.key, found.unit) == (key, unit)
    assert found.values == pytest.approx(values, rel=1e-9, abs=1e-12)


def test_values_go_by_equal_factors_on_a_log_range_and_a_map_has_seven():
    (found,) = read_ranges([f"{SODA}=0.1..10 g/5"], log=True)
    assert found.values == pytest.approx((0.1, 10**-0.5, 1.0, 10**0.5, 10.0), rel=1e-9)
    both = read_ranges(["heating.hold=1..2 h", "condenser.coolant=5..20 degC"])
    assert [len(one.values) for one in both] == [7, 7]


@pytest.mark.parametrize(
    ("texts", "log", "said"),
    [
        (["heating.hold"], False, "expected KEY=FROM..TO or KEY=FROM..TO/N"),
        (["heating.hold=3 h"], False, "expected KEY=FROM..TO"),
        (["=1..2 h"], False, "expected KEY=FROM..TO"),
        (["heating.hold=..2 h"], False, "each end beginning with a number"),
        (["heating.hold=1 h.."], False, "each end beginning with a number"),
        (["heating.hold=a..b"], False, "each end beginning with a number"),
        (["heating.hold=1..1e999 h"], False, "each end beginning with a number"),
        (["heating.hold=0,5..2 h"], False, "Decimals are written with a point."),
        (["heating.hold=2..2 h"], False, 'came an empty one, "2..2 h"'),
        (["heating.hold=3..2 h"], False, 'from less to more; came a reversed one, "3..2 h"'),
        (["heating.hold=60 min..2 h"], False, 'in one unit, which may be written once; came "min" and "h"'),
        (["heating.hold=1..2 h/1"], False, "a whole number of values from 2 to 400"),
        (["heating.hold=1..2 h/401"], False, "a whole number of values from 2 to 400"),
        (["heating.hold=1..2 h/-3"], False, "a whole number of values from 2 to 400"),
        (["heating.hold=1..2 h/2.5"], False, "a whole number of values from 2 to 400"),
        (["condenser.sweep=0..5 mL/min"], True, "a range above zero, --log going by equal factors"),
        (["heating.altitude=-5..5 m"], True, "a range above zero"),
        (["heating.hold=1..2 h"] * 3, False, "one range, or two for a map; came 3 of them"),
        (["heating.hold=1..2 h", "heating.hold=3..4 h"], False, "two different keys for a map"),
        (["charge.soda ash=1..2 g", f"{SODA}=3..4 g"], False, "two different keys for a map"),
        (["heating.hold=1..2 h/400", "heating.ramp=3..4 min/400"], False, "at most 10000 runs"),
    ],
)
def test_ranges_that_are_refused(texts, log, said):
    with pytest.raises(RangeError) as caught:
        read_ranges(texts, log)
    assert said in str(caught.value)


def test_all_faults_of_both_ranges_are_told_at_once():
    with pytest.raises(RangeError) as caught:
        read_ranges(["heating.hold=3..2 h", "condenser.coolant=1..2 degC/1"])
    assert [fault.key for fault in caught.value.faults] == ["heating.hold", "condenser.coolant"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("heating.hodl=1..2 h", 'Did you mean "hold"?'),
        ("hold=1..2 h", "It belongs under [heating]."),
        ("heatng.hold=1..2 h", 'Did you mean "heating"?'),
        ("charge.sodium carbonat=1..2 g", 'Did you mean "sodium carbonate"?'),
        ("charge.cinnamaldehyde.puriti=0.5..0.9", 'Did you mean "purity"?'),
        ("addition.2.at=1..2 min", "the number of an addition, from 1 to 1"),
        ("addition.1.att=1..2 min", "expected at, over or a substance on the shelf"),
        ("title=1..2 h", "expected a key that holds a number"),
        ("substrate=1..2", "expected a key that holds a number"),
        ("vessel.closed=0..1", "came one that holds true or false"),
        ("vessel.stirring=0..1", "came one that holds a word"),
        (f"{SODA}=1..2 mL", 'came "1 mL", which is a volume'),
        (f"{SODA}=1..2", 'came "1", which has no unit'),
        ("condenser.coolant=5..200 degC", "from 0 degC to 150 degC"),
        ("charge.cinnamaldehyde.purity=0.5..2", "a fraction above 0 and up to 1"),
        ("heating.hold=5..20 min", "falls within the hold of 0.0833333 h"),
    ],
)
def test_keys_and_values_that_are_refused(short, capsys, monkeypatch, text, said):
    monkeypatch.setattr(module, "run_jobs", None)  # nothing is computed
    status, out, err = called(capsys, "sweep", short, "--vary", text)
    assert (status, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_a_value_that_is_refused_only_together_with_another_is_told_with_both(scenario):
    ranges = read_ranges(["addition.1.at=1..15 min/2", "heating.hold=12..20 min/2"])
    with pytest.raises(RangeError, match=r"with addition\.1\.at at 15 min and heating\.hold at 12 min"):
        sweep(scenario, ranges)


def test_a_vary_is_needed(short, capsys):
    assert called(capsys, "sweep", short)[0] == 2


def test_points_are_single_runs_in_the_order_of_the_values(scenario):
    found = sweep(scenario, read_ranges([f"{SODA}=1..3 g/3"]), hours=(0.1, 0.2, 5.0), workers=1)
    assert found.hours == (0.1, 0.2)
    for point, grams in zip(found.points, (1, 2, 3), strict=True):
        run = kinetics.simulate(scenario.with_changes({SODA: f"{grams} g"}))
        assert point.values == (grams,)
        summary = run.to_json()["summary"]
        assert {key: point.summary[key] for key in summary} == summary
        told = module.courses_at(point, found.hours, "conversion")
        expected = np.interp([300 + 360, 300 + 720], run.series.time_s, run.series.conversion)
        assert told == pytest.approx(expected, abs=1e-12)


def test_two_keys_give_every_pair_the_second_fastest_and_one_or_two_workers_the_same(scenario):
    ranges = (Range("heating.hold", (15.0, 20.0), "min"), Range("charge.cinnamaldehyde.purity", (0.5, 1.0)))
    alone, together = (sweep(scenario, ranges, workers=workers) for workers in (1, 2))
    assert [point.values for point in alone.points] == [(15.0, 0.5), (15.0, 1.0), (20.0, 0.5), (20.0, 1.0)]
    assert alone.to_json() == together.to_json()
    run = kinetics.simulate(
        scenario.with_changes({"heating.hold": "15 min", "charge.cinnamaldehyde.purity": 1.0})
    )
    assert alone.points[1].summary["conversion"] == run.summary.conversion


@pytest.mark.parametrize(
    "vary",
    ["vessel.k_La=0.001..0.1 1/s/2", "heating.pressure=90..100 kPa/2", "condenser.coolant=5..40 degC/2",
     "addition.1.at=0..10 min/2", "addition.1.water=1..20 mL/2", "charge.potassium carbonate=1..2 g/2"],
)  # fmt: skip
def test_any_number_of_the_scenario_can_be_swept(scenario, vary):
    found = sweep(scenario, read_ranges([vary]), workers=1)
    conversions = [point.summary["conversion"] for point in found.points]
    assert None not in conversions and conversions[0] != conversions[1]


def test_json_csv_and_text_of_a_base_sweep_say_the_same(short, capsys):
    arguments = ("sweep", short, "--vary", f"{SODA}=0.01..2 g/3", "--log", "--csv", "rows.csv")
    status, out, err = called(capsys, *arguments, "--json")
    result = json.loads(out)
    assert (status, err) == (0, "Wrote rows.csv.\n")
    assert (result["keys"], result["units"]) == ([SODA], ["g"])
    assert all({"values", "summary"} <= set(point) for point in result["points"])
    rows = list(csv.DictReader(io.StringIO(Path("rows.csv").read_text(encoding="utf-8"))))
    assert len(rows) == 3
    scenario = kinetics.read_scenario(short)
    for row, point in zip(rows, result["points"], strict=True):
        assert float(row[f"{SODA} [g]"]) == point["values"][0]
        assert {key: float(row[key]) for key in KEYS} == {key: point["summary"][key] for key in KEYS}
        again = kinetics.simulate(scenario.with_changes({SODA: f"{row[f'{SODA} [g]']} g"}))
        assert again.summary.conversion == float(row["conversion"])
    status, out, _ = called(capsys, *arguments, "--force")
    assert status == 0 and max(map(len, out.splitlines())) < 80
    for point in result["points"]:
        assert f"{100 * point['summary']['conversion']:.1f}" in out
    assert result["remarks"][0].split()[:4] == out[out.index(result["remarks"][0][:20]) :].split()[:4]


def test_a_map_is_two_grids_of_eighty_columns_or_a_list(short, capsys):
    vary = ("--vary", "heating.hold=15..20 min/2", "--vary", f"{SODA}=1..2 g/3")
    status, out, err = called(capsys, "sweep", short, *vary)
    points = json.loads(called(capsys, "sweep", short, *vary, "--json")[1])["points"]
    assert (status, err) == (0, "")
    lines = out.splitlines()
    top = lines.index("Conversion at the end, %")
    assert lines[top + 1].split() == ["1.000", "1.500", "2.000"]
    expected = ["15.00", *(f"{100 * point['summary']['conversion']:.1f}" for point in points[:3])]
    assert lines[top + 2].split() == expected
    assert max(map(len, lines)) < 80
    vary = ("--vary", "heating.hold=15..20 min/2", "--vary", f"{SODA}=1..2 g/13")
    lines = called(capsys, "sweep", short, *vary)[1].splitlines()
    assert max(map(len, lines)) < 80
    assert sum(line.lstrip().startswith(("15.00 ", "20.00 ")) for line in lines) == 26


@pytest.mark.parametrize(
    ("vary", "words"),
    [
        ([f"{SODA}=0..2 g/3"], "hydroxide at the start of the hold"),
        (["condenser.coolant=5..40 degC/2"], "condenser.coolant (degC)"),
        (["condenser.coolant=5..40 degC/2", "condenser.sweep=0..40 mL/min/2"], "condenser.sweep (mL/min)"),
    ],
)
def test_a_figure_for_each_kind_of_sweep(short, capsys, vary, words):
    ranges = [part for text in vary for part in ("--vary", text)]
    status, _, err = called(capsys, "sweep", short, *ranges, "--figure", "sweep.svg")
    assert (status, err) == (0, "Wrote sweep.svg.\n")
    assert words in Path("sweep.svg").read_text(encoding="utf-8")


def swept_with(final, early, base=(1.0, 2.0, 3.0, 4.0)):
    """A sweep over base with these conversions at the end and after an hour."""
    scenario = parse_scenario(TEXT)
    points = []
    for grams, end, at_hour in zip(base, final, early, strict=True):
        course = np.array([0.0, at_hour, end], float)
        outcome = Outcome(
            None, None, time_s=np.array([0.0, 3600.0, 7200.0]), conversion=course, hold_s=7200.0
        )
        points.append(Point((grams,), scenario, outcome, {"conversion": end}))
    return Sweep((Range(SODA, tuple(base), "g"),), (1.0,), tuple(points))


def test_where_more_base_changes_nothing_follows_from_the_numbers():
    remarks = base_remarks(swept_with([0.60, 0.695, 0.70, 0.70], [0.20, 0.40, 0.595, 0.60]), "soda")
    assert remarks == [
        "From 2 g of soda on, more of it changes the conversion at the end by no more than a point of percent "
        "(70.0 % with 4 g).",
        "In the first 1 h of the hold the pace is limited by hydroxide below 3 g (20.0 % with 1 g, 60.0 % with "
        "the most).",
    ]
    remarks = base_remarks(swept_with([0.70, 0.70, 0.70, 0.70], [0.2, 0.3, 0.4, 0.5]), "soda")
    assert remarks[0].startswith("Already from the least 1 g of soda on")
    assert "limited by hydroxide over the whole range" in remarks[1]
    remarks = base_remarks(swept_with([0.75, 0.70, 0.70, 0.70], [0.6, 0.6, 0.6, 0.6]), "soda")
    assert "it is highest, 75.0 %, with 1 g" in remarks[0]
    assert remarks[1] == "After 1 h of the hold, too, soda makes no such difference over the whole range."
    remarks = base_remarks(swept_with([0.1, 0.2, 0.3, 0.4], [0.6, 0.5, 0.4, 0.3]), "soda")
    assert remarks[0].startswith("The conversion at the end still changes up to the most soda of this range")
    assert "less soda gives more" in remarks[1]


def test_a_sweep_of_which_nothing_came_gets_no_remark():
    assert base_remarks(swept_with([None] * 4, [np.nan] * 4), "soda") == []


def test_settled_counts_from_the_last_value_and_skips_what_is_missing():
    assert settled([0.1, 0.5, 0.505, 0.5]) == 1
    assert settled([0.5, 0.6, 0.5]) == 2
    assert settled([None, 0.5, None, 0.505]) == 1
    assert settled([None, None]) is None


@pytest.mark.parametrize(
    ("vary", "count"),
    [("charge.soda ash=1..2 g/2", 1), ("charge.water=200..300 mL/2", 0), (f"{SODA}.purity=0.5..1/2", 0)],
)
def test_only_the_amount_of_a_base_gets_a_remark(scenario, vary, count):
    assert len(sweep(scenario, read_ranges([vary]), workers=1).remarks) == count


def test_a_run_that_fails_is_told_and_gives_status_3(short, capsys, monkeypatch):
    whole = module.run_jobs

    def failing(jobs, *arguments, **keywords):
        return [Outcome(jobs[0].key, "the flask is dry"), *whole(jobs[1:])]

    monkeypatch.setattr(module, "run_jobs", failing)
    status, out, err = called(capsys, "sweep", short, "--vary", "heating.hold=15..20 min/2")
    assert status == 3
    assert "15 min: the flask is dry" in out
    assert "1 of 2 runs failed; at 15 min: the flask is dry" in err
    first, second = json.loads(
        called(capsys, "sweep", short, "--vary", "heating.hold=15..20 min/2", "--json")[1]
    )["points"]
    assert set(first["summary"].values()) == {None} and first["failure"] == "the flask is dry"
    assert second["failure"] is None and second["summary"]["conversion"] > 0.0
