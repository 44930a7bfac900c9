"""Saved figures: whole or not at all, always the same bytes, spoken words in the SVG; nothing leaks."""

import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import matplotlib as mpl
import pytest

from kinetics.figures.course import figure_course
from kinetics.figures.levers import figure_levers
from kinetics.figures.map import figure_map
from kinetics.figures.saving import FigureNameError, save_figure
from kinetics.run.result import Run

SVG = "{http://www.w3.org/2000/svg}"
SIGNATURES = {"png": b"\x89PNG\r\n\x1a\n", "svg": b"<?xml", "pdf": b"%PDF"}


def levers():
    return figure_levers(
        [("twice & thrice <the> carbonate", 0.01, 0.002), ("warm coolant", 0.2, 0.1)], title="A & B"
    )


@pytest.mark.parametrize("ending", SIGNATURES)
def test_two_builds_give_the_same_bytes(tmp_path: Path, reflux: Run, ending: str) -> None:
    one = save_figure(figure_course(reflux), tmp_path / f"one.{ending}").read_bytes()
    other = save_figure(figure_course(reflux), tmp_path / f"other.{ending}").read_bytes()
    assert one.startswith(SIGNATURES[ending])
    assert one == other


def test_svg_is_well_formed_and_speaks(tmp_path: Path) -> None:
    root = ElementTree.fromstring(save_figure(levers(), tmp_path / "levers.svg").read_bytes())
    assert root.get("role") == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("aria-labelledby").split() == [title.get("id"), description.get("id")]
    assert title.text == "A & B"
    assert "twice & thrice <the> carbonate +1.0 points" in description.text


def test_svg_keeps_text_as_text(tmp_path: Path, reflux: Run) -> None:
    root = ElementTree.fromstring(save_figure(figure_course(reflux), tmp_path / "course.svg").read_bytes())
    texts = {"".join(text.itertext()) for text in root.iter(f"{SVG}text")}
    assert "conversion and yield (%)" in texts


def test_svg_has_no_date(tmp_path: Path) -> None:
    content = save_figure(levers(), tmp_path / "levers.svg").read_text(encoding="utf-8")
    assert "dc:date" not in content


@pytest.mark.parametrize("name", ["figure.jpg", "figure", "missing/figure.png"])
def test_a_name_that_cannot_be_saved_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(FigureNameError, match=name):
        save_figure(levers(), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "levers.png"
    path.write_text("what was there")

    def fail(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OSError, match="no room"):
        save_figure(levers(), path)
    assert [file.name for file in tmp_path.iterdir()] == ["levers.png"]
    assert path.read_text() == "what was there"


def test_style_does_not_leak(tmp_path: Path, reflux: Run) -> None:
    before = dict(mpl.rcParams)
    save_figure(figure_course(reflux), tmp_path / "course.png")
    save_figure(figure_map([0, 1], [0, 1], [[1, 2], [2, 3]], "x", "y", "z"), tmp_path / "map.svg")
    assert dict(mpl.rcParams) == before


def test_own_settings_do_not_change_the_figure(tmp_path: Path) -> None:
    plain = save_figure(levers(), tmp_path / "plain.png").read_bytes()
    with mpl.rc_context({"font.size": 22, "axes.facecolor": "black", "savefig.dpi": 30}):
        assert save_figure(levers(), tmp_path / "own.png").read_bytes() == plain


@pytest.mark.parametrize(
    ("statement", "unwanted"),
    [
        ("import kinetics", "matplotlib"),
        ("import kinetics; kinetics.simulate", "matplotlib"),
        ("import kinetics.figures", "matplotlib"),
        (
            "import kinetics.figures.course, kinetics.figures.saving, kinetics.figures.map",
            "matplotlib.pyplot",
        ),
    ],
)
def test_heavy_imports_wait(statement: str, unwanted: str) -> None:
    code = f"{statement}\nimport sys\nsys.exit({unwanted!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
