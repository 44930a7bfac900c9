"""`calibrate`: what is written, printed and refused. The fit itself is replaced: tests/analysis goes through it."""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

from kinetics.analysis import calibrate as calibration_module
from kinetics.analysis.calibration_file import read_calibration
from kinetics.data.shelf import load_shelf

SCENARIO = "scenarios/perfume_school.toml"
DATA = Path(__file__).parents[1] / "analysis" / "data" / "invented_samples.csv"


class Line:
    """A predictor that is linear in z and reaches the air exchange alone."""

    def __init__(self, scenarios, asked, names, shelf, mechanisms=None, executor=None) -> None:
        self.scenarios, self.asked, self.names, self.shelf = scenarios, asked, names, shelf
        self.row = np.array([[0.1 if name == "apparatus.air_exchange" else 0.0 for name in names]])

    def naming(self, names):
        return Line(self.scenarios, self.asked, names, self.shelf)

    def __call__(self, z):
        return 0.6 + np.repeat(self.row @ z, len(self.asked), axis=0)


@pytest.fixture(autouse=True)
def quick(monkeypatch, workplace):
    monkeypatch.setattr(calibration_module, "Predictor", Line)
    shutil.copy(DATA, workplace / "samples.csv")


def test_the_file_is_written_beside_the_data_and_can_be_read(call, workplace):
    answer = call("calibrate", SCENARIO, "--data", "samples.csv")
    assert answer.status == 0, answer.err
    written = workplace / "samples_calibration.toml"
    calibration = read_calibration(written, load_shelf())
    assert calibration.names == ("apparatus.air_exchange",)
    assert calibration.data["file"] == "samples.csv" and calibration.data["measurements"] == 9
    assert set(tomllib.loads(written.read_text())["versions"]) == {"retroaldol", "numpy", "scipy"}
    assert "apparatus.air_exchange" in answer.out and "What the data could not move" in answer.out
    assert max(map(len, answer.out.splitlines())) < 80
    assert "Wrote samples_calibration.toml" in answer.err


def test_json_tells_all(call, workplace):
    answer = call("calibrate", SCENARIO, "--data", "samples.csv", "--out", "a.toml", "--json", "--quiet")
    assert (answer.status, answer.err) == (0, "")
    result = json.loads(answer.out)
    assert result["constants"][0]["name"] == "apparatus.air_exchange"
    assert len(result["measurements"]) == 9 == result["degrees_of_freedom"]
    assert "water.pKw" in result["unmoved"] and (workplace / "a.toml").exists()


def test_nothing_is_overwritten_without_force(call, workplace):
    (workplace / "a.toml").write_text("mine")
    answer = call("calibrate", SCENARIO, "--data", "samples.csv", "--out", "a.toml")
    assert (answer.status, (workplace / "a.toml").read_text()) == (2, "mine")
    assert "--force" in answer.err
    assert call("calibrate", SCENARIO, "--data", "samples.csv", "--out", "a.toml", "--force").status == 0
    assert (workplace / "a.toml").read_text() != "mine"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--data", "none.csv"], "none.csv"),
        (["--data", "samples.csv", "--constants", "apparatus.air_exchang"], "apparatus.air_exchange"),
        (["--data", "samples.csv", "--suggest", "conversoin"], "conversion"),
        (["--data", "samples.csv", "--out", "a.csv"], ".toml"),
        (["--data", "samples.csv", "--out", "scenarios/perfume_school.toml", "--force"], "reads"),
        (["--data", "bad.csv"], "row 2"),
    ],
)
def test_what_is_refused_writes_nothing(call, workplace, files_in, arguments, said):
    (workplace / "bad.csv").write_text("time [h],quantity,value\n1,conversion,70\n")
    before = files_in(workplace)
    answer = call("calibrate", SCENARIO, *arguments)
    assert (answer.status, answer.out) == (2, "")
    assert said in answer.err and "Traceback" not in answer.err
    assert files_in(workplace) == before


def test_the_figure_shows_every_sample_and_both_courses(call, workplace, monkeypatch):
    from kinetics.figures import calibration as figure_module

    drawn = []
    monkeypatch.setattr(figure_module, "Predictor", Line)
    whole = figure_module.figure_calibration
    monkeypatch.setattr(figure_module, "figure_calibration", lambda c: drawn.append(whole(c)) or drawn[0])
    answer = call("calibrate", SCENARIO, "--data", "samples.csv", "--figure", "a.svg")
    assert answer.status == 0 and (workplace / "a.svg").exists()
    *panels, residuals = drawn[0].axes
    assert [ax.get_ylabel().split(" (")[0] for ax in panels] == [
        "conversion", "area ratio", "byproduct in trap", "pH"
    ]  # fmt: skip
    shown = [container[0].get_xydata() for ax in panels for container in ax.containers]
    assert [len(points) for points in shown] == [4, 3, 1, 1]
    np.testing.assert_allclose(shown[0][:, 1], [54.0, 62.0, 66.0, 69.0])
    assert {"shelf", "fitted"} <= {line.get_label() for line in panels[0].lines}
    assert len(next(line for line in residuals.lines if line.get_label() == "residuals").get_xydata()) == 9
