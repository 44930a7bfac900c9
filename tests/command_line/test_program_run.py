"""`run`: what is printed, the JSON of the interface, the CSV, and files written whole or not at all."""

from __future__ import annotations

import csv
import json
import re
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

import kinetics
from kinetics.command_line.outputs import Output, OutputError, whole_file
from kinetics.run.integrate import NumericalFailure

REPOSITORY = Path(__file__).parents[2]
SCENARIO = "scenarios/perfume_school.toml"
SCENARIOS = sorted(path.stem for path in REPOSITORY.glob("scenarios/*.toml"))
SUMMARY = {  # the least that the interface promises
    "conversion", "yield", "selectivity", "hold_h", "boil_point_degC", "pH_start", "pH_end",
    "byproduct_left_mol", "product_in_flask_g", "product_in_oil_g", "unreacted_g",
}  # fmt: skip
SERIES = {
    "time_s", "temperature_K", "pH", "hydroxide_mol_per_L", "water_L", "oil_mol", "conversion", "yield",
    "flask_mol", "left_mol",
}  # fmt: skip
NO_SUBSTRATE = """\
title = "Carbonate water alone"
substrate = "cinnamaldehyde"
[charge]
water = "100 mL"
"sodium carbonate" = "1 g"
[heating]
ramp = "5 min"
hold = "10 min"
cooling = "0 min"
"""


@pytest.fixture(scope="module")
def computed():
    """The same run by way of Python."""
    return kinetics.simulate(kinetics.read_scenario(REPOSITORY / SCENARIO))


@pytest.fixture
def failing(monkeypatch, computed):
    """A simulation that stops short."""
    failure = NumericalFailure("the flask is dry (at 3 h, hold)", 10800.0)
    broken = replace(computed, failure=failure, notices=(*computed.notices, f"not run to the end: {failure}"))
    monkeypatch.setattr("kinetics.analysis.runs.moved_run", lambda scenario, shifts: broken)


def no_constant(name):
    raise AssertionError(f"{name} is no JSON")


def test_json_is_the_run_and_has_the_keys_of_the_interface(call, computed):
    answer = call("run", SCENARIO, "--json")
    result = json.loads(answer.out, parse_constant=no_constant)
    assert (answer.status, answer.err) == (0, "")
    assert result == computed.to_json() | {"samples": 0, "seed": 0, "bands": None}
    assert {"title", "substrate", "notices", "cautions", "summary", "series", "closure"} <= set(result)
    assert set(result["summary"]) >= SUMMARY
    assert set(result["series"]) >= SERIES
    assert set(result["closure"]) == {"carbon", "hydrogen", "oxygen", "charge"}
    assert {
        "cinnamaldehyde",
        "3-hydroxy-3-phenylpropanal",
        "benzaldehyde",
        "acetaldehyde",
        "crotonaldehyde",
    } <= set(result["series"]["flask_mol"])
    assert "acetaldehyde" in result["series"]["left_mol"]


def test_json_has_null_where_no_substrate_was_charged(call, workplace):
    (workplace / "plain.toml").write_text(NO_SUBSTRATE)
    result = json.loads(call("run", "plain.toml", "--json").out, parse_constant=no_constant)
    assert result["summary"]["conversion"] is None
    assert result["series"]["conversion"] is None


def test_the_first_line_matters_most_and_the_numbers_are_those_of_the_run(call, computed):
    answer = call("run", SCENARIO)
    first = " ".join(answer.out.split("(Perfume")[0].split())
    end = computed.summary
    assert first == (
        f"After 8 h at the boil ({end.boil_point_degC:.1f} degC) and 30 min of cooling, "
        f"{100 * end.conversion:.1f} % of the cinnamaldehyde is converted, "
        f"and the yield of benzaldehyde is {100 * end.yield_:.1f} %."
    )
    for words, number in {
        "selectivity (yield per conversion)": f"{100 * end.selectivity:.1f}",
        "cinnamaldehyde left, unreacted": f"{end.unreacted_g:.3g}",
        "acetaldehyde gone": f"{1000 * end.byproduct_left_mol:.3g}",
        "pH at the end, at 20 degC": f"{end.pH_end:.2f}",
        "benzaldehyde in the flask": f"{end.product_in_flask_g:.3g}",
    }.items():
        assert re.search(rf"^{re.escape(words)} +{number}\b", answer.out, re.MULTILINE), words


def test_the_table_shows_the_course(call, computed):
    lines = call("run", SCENARIO).out.split("Course\n")[1].split("\n\n")[0].splitlines()
    rows = [line.split() for line in lines[3:]]
    assert len(lines[3:]) == 13
    assert [row[1] for row in rows[:3]] == ["heating", "0.00", "0.80"]
    series = computed.series
    assert float(rows[-1][0]) == pytest.approx(series.time_s[-1] / 3600, abs=0.005)
    k = list(series.stage).index("hold") - 1 + 180  # the end of the hold
    expected = [
        series.temperature_K[k] - 273.15,
        series.pH[k],
        100 * series.conversion[k],
        100 * series.yield_[k],
    ]
    expected += [1e3 * series.flask_mol["acetaldehyde"][k], 1e3 * series.left_mol["acetaldehyde"][k]]
    assert float(rows[-2][1]) == 8.0
    assert [float(cell) for cell in rows[-2][2:]] == pytest.approx(expected, abs=0.051)


def test_air_trap_and_hazard_statements_stand_beside_the_run(call, computed):
    """The peak by the run's own series, and the codes of acetaldehyde in Regulation (EC) 1272/2008."""
    words = " ".join(call("run", SCENARIO).out.split())
    gone, hours = 44.053 * computed.series.left_mol["acetaldehyde"], computed.series.time_s / 3600.0
    peak = max((b - a) / (u - t) for a, b, t, u in zip(gone, gone[1:], hours, hours[1:]))
    assert f"{gone[-1]:.3f} g of acetaldehyde go into the air, {peak:.4f} g/h at the peak" in words
    assert "g of sodium bisulfite" in words
    assert "acetaldehyde H224, H319, H335, H341, H350" in words


def test_every_caution_is_printed_and_the_notices_are_condensed(call, computed):
    out = call("run", SCENARIO).out
    words = " ".join(out.split())
    assert computed.cautions
    for caution in computed.cautions:
        assert caution in words
    estimates = [text for text in computed.notices if text.startswith("leans on an estimate")]
    assert f"Leans on {len(estimates)} estimates" in words
    assert "leans on an estimate" not in words
    assert "used at" not in words and "is not given:" not in words
    outside = [text.split(" used at ")[0] for text in computed.notices if " outside its range " in text]
    assert outside
    section = words.split("outside the range of their source")[1].split("- Leans on")[0]
    for name in outside:
        family, member = name.rpartition(".")[::2]
        found = re.findall(rf"{re.escape(family)}(?:\.{member}\b| \([^)]*\b{member}\b)", section)
        assert len(found) == 1, name


@pytest.mark.parametrize("name", SCENARIOS)
def test_the_text_fits_80_columns_in_plain_ascii(call, name):
    for command in ("run", "check"):
        out = call(command, f"scenarios/{name}.toml").out
        assert out.count("\n") > 20
        assert max(map(len, out.splitlines())) < 80
        assert out.isascii() and "\033" not in out


def test_colour_is_for_terminals_and_can_be_declined(call, monkeypatch):
    for variables, coloured in (({"NO_COLOR": ""}, True), ({"NO_COLOR": "1"}, False)):
        for name, value in {"TERM": "xterm", **variables}.items():
            monkeypatch.setenv(name, value)
        monkeypatch.setattr(type(sys.stdout), "isatty", lambda stream: True)
        assert ("\033[" in call("check", SCENARIO).out) is coloured


def test_csv_holds_the_series_in_full_precision(call, workplace, computed):
    answer = call("run", SCENARIO, "--csv", "course.csv")
    assert answer.status == 0
    assert "Wrote course.csv." in answer.err
    with open("course.csv", encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    columns = dict(zip(header, zip(*rows)))
    series = computed.to_json()["series"]
    assert header[:8] == [*list(series)[:8]]
    for key in ("time_s", "temperature_K", "pH", "conversion", "yield"):
        assert [float(cell) for cell in columns[key]] == series[key]
    for key in ("flask_mol", "left_mol"):
        for name, amounts in series[key].items():
            assert [float(cell) for cell in columns[f"{key}[{name}]"]] == amounts
    assert b"\r" not in (workplace / "course.csv").read_bytes()


def test_csv_leaves_empty_what_is_not_known(call, workplace):
    (workplace / "plain.toml").write_text(NO_SUBSTRATE)
    assert call("run", "plain.toml", "--csv", "course.csv").status == 0
    with open("course.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["conversion"] for row in rows} == {""}
    assert all(row["time_s"] for row in rows)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--csv", "there.csv"], "--force"),
        (["--csv", "nowhere/course.csv"], "a folder that exists"),
        (["--csv", "course.txt"], ".csv"),
        (["--csv", "scenarios"], "folder"),
        (["--csv", "x" * 300 + ".csv"], "--csv: expected"),
        (["--figure", "course.gif"], ".png, .svg or .pdf"),
        (["--figure", "nowhere/course.png", "--csv", "course.csv"], "--figure"),
    ],
)
def test_what_cannot_be_written_is_refused_before_the_computation(
    call, workplace, monkeypatch, arguments, said, files_in
):
    def computing(*arguments):
        raise AssertionError("it was computed")

    monkeypatch.setattr("kinetics.run.simulation.simulate", computing)
    (workplace / "there.csv").write_text("kept")
    before = files_in(workplace)
    answer = call("run", SCENARIO, *arguments)
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.startswith("retroaldol: --") and answer.err.count("\n") == 1
    assert said in answer.err
    assert files_in(workplace) == before
    assert (workplace / "there.csv").read_text() == "kept"


def test_all_outputs_at_fault_are_told_at_once(call):
    answer = call("run", SCENARIO, "--csv", "a.txt", "--figure", "b.gif")
    assert [line.split(": ")[1] for line in answer.err.splitlines()] == ["--csv", "--figure"]


def test_force_writes_over_a_file_but_never_over_the_scenario(call, workplace):
    (workplace / "there.csv").write_text("old")
    assert call("run", SCENARIO, "--csv", "there.csv", "--force").status == 0
    assert (workplace / "there.csv").read_text().startswith("time_s,")
    before = (workplace / SCENARIO).read_text()
    (workplace / "batch.csv").write_text(before)
    assert call("run", "batch.csv", "--csv", "./batch.csv", "--force").status == 2
    assert (workplace / "batch.csv").read_text() == before


def test_a_refused_scenario_writes_nothing(call, workplace, files_in):
    (workplace / "wrong.toml").write_text("substrate = 3")
    before = files_in(workplace)
    assert call("run", "wrong.toml", "--csv", "course.csv").status == 2
    assert files_in(workplace) == before


def test_quiet_says_nothing(call):
    answer = call("run", SCENARIO, "--csv", "course.csv", "--quiet")
    assert (answer.status, answer.err) == (0, "")


def test_a_failed_computation_is_told_with_what_was_computed(call, workplace, failing, computed):
    answer = call("run", SCENARIO, "--csv", "course.csv", "--quiet")
    assert answer.status == 3
    assert answer.err == "retroaldol: the computation failed: the flask is dry (at 3 h, hold)\n"
    assert answer.out.startswith("Not run to the end: the flask is dry (at 3 h, hold). Until then")
    assert (workplace / "course.csv").exists()
    answer = call("run", SCENARIO, "--json")
    assert answer.status == 3
    assert json.loads(answer.out)["status"] == "the flask is dry (at 3 h, hold)"


def test_the_figure_is_drawn_and_saved_by_its_ending(call, workplace, monkeypatch, files_in):
    """The drawing is another part's matter: here it is only that it is asked for and lands whole."""
    drawn, saved = ModuleType("kinetics.figures.course"), ModuleType("kinetics.figures.saving")
    drawn.figure_course = lambda run, band=None: f"figure of {run.title}"
    saved.save_figure = lambda figure, path: path.write_text(f"{figure} as {path.suffix}")
    monkeypatch.setitem(sys.modules, "kinetics.figures", ModuleType("kinetics.figures"))
    monkeypatch.setitem(sys.modules, "kinetics.figures.course", drawn)
    monkeypatch.setitem(sys.modules, "kinetics.figures.saving", saved)
    before = files_in(workplace)
    answer = call("run", SCENARIO, "--figure", "course.svg")
    assert (answer.status, answer.err) == (0, "Wrote course.svg.\n")
    assert files_in(workplace) - before == {workplace / "course.svg"}
    expected = "figure of Perfume-school demonstration, tap-water condenser as .svg"
    assert (workplace / "course.svg").read_text() == expected


@pytest.mark.parametrize("error", [OSError("no space left"), KeyboardInterrupt()])
def test_a_file_is_written_whole_or_not_at_all(tmp_path, error, files_in):
    target = tmp_path / "course.csv"
    target.write_text("old")
    expected = OutputError if isinstance(error, OSError) else KeyboardInterrupt
    with pytest.raises(expected), whole_file(Output("--csv", target, (".csv",))) as draft:
        draft.write_text("half of")
        raise error
    assert files_in(tmp_path) == {target}
    assert target.read_text() == "old"
