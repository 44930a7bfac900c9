"""`compare`: options side by side. The numbers are those of single runs; the derived ones have a closed form."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from short_boil import SHORT, called

import kinetics
from kinetics.analysis import compare as module
from kinetics.analysis.compare import (
    KEYS,
    LESS_IS_BETTER,
    OrderError,
    compare,
    differences,
    distinct,
    hours_to_nearly,
    measured,
    variants_of,
)
from kinetics.analysis.runs import Job, Outcome, compute
from kinetics.run.reading import parse_scenario

REPOSITORY = Path(__file__).parents[2]
SCHOOL = REPOSITORY / "scenarios" / "perfume_school.toml"
TEXT = SHORT + 'boil_up = "5 mL/min"\n'
OPTIONS = """
[[option]]
name = "little carbonate"
charge."sodium carbonate" = "0.02 g"
[[option]]
name = "warm condenser, much gas"
condenser.coolant = "60 degC"
condenser.sweep = "100 mL/min"
"""


@pytest.fixture
def short(tmp_path, monkeypatch) -> Path:
    """A scenario with options, in a folder to work in."""
    monkeypatch.chdir(tmp_path)
    (path := tmp_path / "short.toml").write_text(TEXT + OPTIONS, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def compared():
    return compare([parse_scenario(TEXT + OPTIONS)], workers=1)


def test_the_options_are_those_of_single_runs(compared):
    scenario = parse_scenario(TEXT + OPTIONS)
    runs = {"as written": kinetics.simulate(scenario)}
    runs |= {option.name: kinetics.simulate(scenario.option(option.name)) for option in scenario.options}
    assert {one.variant.name for one in compared} == set(runs)
    for one in compared:
        summary = runs[one.variant.name].to_json()["summary"]
        assert {key: one.summary[key] for key in summary} == summary
        assert set(one.summary) == set(KEYS)
    changes = {one.variant.name: dict(one.variant.changes) for one in compared}
    assert changes == {
        "as written": {},
        "little carbonate": {"charge.sodium carbonate": "0.02 g"},
        "warm condenser, much gas": {"condenser.coolant": "60 degC", "condenser.sweep": "100 mL/min"},
    }


@pytest.mark.parametrize(
    "by", ["yield", "conversion", "unreacted_g", "boil_energy_kJ", "hours_to_90_percent"]
)
def test_the_best_comes_first(by):
    values = [one.summary[by] for one in compare([parse_scenario(TEXT + OPTIONS)], by, workers=1)]
    assert values == sorted(values, reverse=by not in LESS_IS_BETTER)
    assert by in ("yield", "conversion") or by in LESS_IS_BETTER


def test_what_has_no_value_comes_last():
    empty = TEXT.replace('cinnamaldehyde = "0.2 g"\n', "").replace("A short boil", "No aldehyde")
    found = compare([parse_scenario(empty), parse_scenario(TEXT)], workers=1)
    assert [one.summary["yield"] is None for one in found] == [False, True]
    assert found[1].summary["base_mol_per_mol"] is None and found[1].summary["hours_to_90_percent"] is None


def test_masses_and_ratios_from_molar_masses(compared):
    """Molar masses worked out by hand from IUPAC's abridged atomic weights."""
    base = next(one for one in compared if one.variant.name == "as written")
    carbonate, aldehyde = 2.0 / 105.988, 0.2 / 132.162
    assert base.summary["base_g"] == pytest.approx(2.0, rel=1e-9)
    assert base.summary["base_mol_per_mol"] == pytest.approx(carbonate / aldehyde, rel=1e-4)
    assert base.summary["byproduct_left_g"] == pytest.approx(
        44.053 * base.summary["byproduct_left_mol"], rel=1e-4
    )
    product = aldehyde * base.summary["yield"] * 106.124
    lost = base.summary["product_vented_g"]
    assert base.summary["product_g"] == pytest.approx(product, rel=1e-4)
    assert lost > 0.0


def test_base_that_is_added_later_counts():
    more = TEXT + '[[addition]]\nat = "10 min"\n"potassium carbonate" = "1 g"\n'
    job = Job(parse_scenario(more))
    summary = measured(job.scenario, compute(job))
    assert summary["base_g"] == pytest.approx(3.0, rel=1e-9)
    assert summary["base_mol_per_mol"] == pytest.approx(
        (2 / 105.988 + 1 / 138.205) / (0.2 / 132.162), rel=1e-4
    )


def test_heat_of_the_boil(compared):
    """5 mL/min of water (0.9982 g/mL at 20 C) for 20 min; 2256.5 kJ/kg at 100 C (steam tables, IAPWS)."""
    base = next(one for one in compared if one.variant.name == "as written")
    assert base.summary["boil_energy_kJ"] == pytest.approx(5 * 20 * 0.9982e-3 * 2256.5, rel=2e-3)
    cold = Job(parse_scenario(TEXT.replace('boil_up = "5 mL/min"', 'temperature = "80 degC"')))
    assert measured(cold.scenario, compute(cold))["boil_energy_kJ"] == 0.0


def outcome_of(time_h, conversion, start_h=1.0):
    """An outcome with nothing but a conversion."""
    time_s = 3600.0 * np.asarray(time_h, float)
    return Outcome(
        None, None, time_s=time_s, conversion=np.asarray(conversion, float), hold_start_s=3600.0 * start_h
    )


@pytest.mark.parametrize(
    ("time_h", "conversion", "expected"),
    [
        ([0, 1, 11], [0.0, 0.0, 0.5], 9.0),  # a straight line from the start of the hold
        ([0, 1, 2, 3], [0.0, 0.0, 0.8, 0.8], 0.9),
        ([0, 1, 2], [0.0, 0.6, 0.6], 0.0),  # before the hold
        ([0, 1, 2], [0.6, 0.6, 0.6], 0.0),  # from the start
        (
            [0, 1, 2, 3, 4],
            [0.0, 0.5, 0.2, 0.5, 0.5],
            1.0 + 0.25 / 0.3,
        ),  # falls in between, as when more is added
        ([0, 1, 2], [np.nan, np.nan, 0.4], 0.9),  # substrate added during the hold
        ([0, 1, 2], [0.0, 0.0, 0.0], None),
    ],
)
def test_hours_to_nine_tenths_of_the_end(time_h, conversion, expected):
    found = hours_to_nearly(outcome_of(time_h, conversion))
    assert found == (None if expected is None else pytest.approx(expected, abs=1e-12))
    assert hours_to_nearly(Outcome(None, "failed")) is None


def test_names_that_occur_twice_are_told_apart():
    assert distinct(["a", "b", "a"], ["x.toml", "y.toml", "z.toml"]) == ["a (x.toml)", "b", "a (z.toml)"]
    assert distinct(["a", "a", "a"], ["x", "x", ""]) == ["a (x)", "a (x) (2)", "a"]
    assert len(set(distinct(["a", "a", "a (2)"], ["", "", ""]))) == 3


def test_several_files_differ_from_the_first(short, capsys):
    other = short.with_name("other.toml")
    other.write_text(
        TEXT.replace('"20 min"', '"10 min"').replace('boil_up = "5 mL/min"\n', ""), encoding="utf-8"
    )
    variants = variants_of([kinetics.read_scenario(path) for path in (short, other)])
    title = "A short boil (invented)"
    assert [one.name for one in variants] == [
        f"{title} (short.toml)",
        f"{title}: little carbonate",
        f"{title}: warm condenser, much gas",
        f"{title} (other.toml)",
    ]
    assert variants[-1].changes == {"heating.hold": "10 min", "heating.boil_up": None}
    assert differences({"charge": {"a": 1}, "title": "x"}, {"charge": {"a": 1, "b": 2}, "title": "y"}) == {
        "charge.b": 2
    }
    status, out, _ = called(capsys, "compare", short, other)
    assert status == 0
    assert "heating.hold = 10 min; heating.boil_up = not written" in out


def test_json_of_the_perfume_school(capsys):
    status, out, err = called(capsys, "compare", SCHOOL, "--json", "--by", "conversion", "--workers", "1")
    options = json.loads(out)["options"]
    assert (status, err) == (0, "")
    assert {one["name"] for one in options} == {
        "as written",
        *(option.name for option in kinetics.read_scenario(SCHOOL).options),
    }
    assert all({"name", "changes", "summary"} <= set(one) for one in options)
    conversions = [one["summary"]["conversion"] for one in options]
    assert conversions == sorted(conversions, reverse=True)
    nitrogen = next(one for one in options if one["name"] == "50 mL/min of nitrogen")
    assert nitrogen["changes"] == {"condenser.sweep": "50 mL/min", "condenser.sweep_gas": "inert"}


@pytest.mark.parametrize("options", [OPTIONS, OPTIONS + OPTIONS.replace('name = "', 'name = "more, ')])
def test_what_is_printed_fits_eighty_columns_and_names_every_option(short, capsys, options):
    short.write_text(TEXT + options, encoding="utf-8")
    status, out, err = called(capsys, "compare", short)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) < 80
    assert "Best first: the most yield" in out
    names = ["as written", *(option.name for option in kinetics.read_scenario(short).options)]
    listing = out[out.index("What each changes") :]
    assert all(name in listing for name in names)
    assert "condenser.coolant = 60 degC; condenser.sweep = 100 mL/min" in listing
    assert "acetaldehyde" in out and "Never close the apparatus" in out


def test_the_numbers_printed_are_those_of_the_json(short, capsys):
    options = json.loads(called(capsys, "compare", short, "--json")[1])["options"]
    out = called(capsys, "compare", short)[1]
    row = next(line for line in out.splitlines() if line.startswith("yield, %")).split()[2:]
    assert row == [f"{100 * one['summary']['yield']:.1f}" for one in options]


def test_an_order_nobody_knows_is_refused_before_anything_is_computed(short, capsys, monkeypatch):
    monkeypatch.setattr(module, "run_jobs", None)
    status, out, err = called(capsys, "compare", short, "--by", "yeild")
    assert (status, out) == (2, "")
    assert "--by: expected conversion" in err and 'came "yeild". Did you mean yield?' in err
    with pytest.raises(OrderError):
        compare([kinetics.read_scenario(short)], "unreacted")


def test_an_option_that_fails_is_shown_as_failed_and_gives_status_3(short, capsys, monkeypatch):
    whole = module.run_jobs

    def failing(jobs, *arguments, **keywords):
        outcomes = whole(jobs, *arguments, **keywords)
        return [outcomes[0], replace(outcomes[1], failure="the flask is dry"), outcomes[2]]

    monkeypatch.setattr(module, "run_jobs", failing)
    status, out, err = called(capsys, "compare", short)
    assert status == 3
    assert "failed: the flask is dry" in out
    assert "1 of 3 options failed (little carbonate)" in err
    status, out, _ = called(capsys, "compare", short, "--json")
    last = json.loads(out)["options"][-1]
    assert (status, last["name"], last["failure"]) == (3, "little carbonate", "the flask is dry")
    assert set(last["summary"]) == set(KEYS) and set(last["summary"].values()) == {None}


def test_a_figure_is_written_whole_and_not_over_another(short, capsys):
    status, _, err = called(capsys, "compare", short, "--figure", "courses.svg")
    assert (status, err) == (0, "Wrote courses.svg.\n")
    drawn = Path("courses.svg").read_text(encoding="utf-8")
    assert all(name in drawn for name in ("as written", "little carbonate"))
    status, out, err = called(capsys, "compare", short, "--figure", "courses.svg")
    assert (status, out) == (2, "") and "--force" in err


def test_a_scenario_without_options_says_that_there_is_nothing_to_compare(short, capsys):
    short.write_text(TEXT, encoding="utf-8")
    status, out, err = called(capsys, "compare", short)
    assert status == 0 and "as written" in out and "nothing to compare" in err
    assert called(capsys, "compare", short, "--quiet")[2] == ""


@pytest.mark.parametrize("wrong", ["0", "-1", "two", "1.5"])
def test_workers_are_a_whole_number(short, capsys, wrong):
    status, _, err = called(capsys, "compare", short, "--workers", wrong)
    assert status == 2 and "expected a whole number from 1 to 256" in err
