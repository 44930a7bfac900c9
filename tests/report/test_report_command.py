"""`report` on the command line: one file, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from kinetics.command_line.main import main

QUICK = ("--samples", "0", "--no-what-if", "--workers", "1")
BATCH = """
title = "Backwards"
substrate = "cinnamaldehyde"
charge = {water = "200 mL", benzaldehyde = "1 g", acetaldehyde = "0.4 g", "sodium carbonate" = "1 g"}
heating = {hold = "1 h"}
"""


@pytest.fixture
def batch_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A batch that takes a moment to compute, in a folder of its own, which is the current one."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "batch.toml"
    path.write_text(BATCH, encoding="utf-8")
    return path


def test_it_writes_one_page_and_says_so(batch_file, capsys):
    assert main(["report", "batch.toml", "--out", "page.html", *QUICK]) == 0
    out, err = capsys.readouterr()
    assert (out, err) == ("", "Wrote page.html.\n")
    page = Path("page.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>") and page.endswith("</html>\n")
    assert "--no-what-if" in page and "<h1>Backwards</h1>" in page
    assert sorted(path.name for path in Path().iterdir()) == ["batch.toml", "page.html"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--out", "page.txt"], ".html"),
        (["--out", "nowhere/page.html"], "folder"),
        (["--out", "there.html"], "--force"),
        (["--out", "page.html", "--samples", "-3"], "whole number"),
        ([], "--out"),
    ],
)
def test_what_cannot_be_written_is_refused_before_anything_is_computed(batch_file, capsys, arguments, said):
    Path("there.html").write_text("kept", encoding="utf-8")
    assert main(["report", "batch.toml", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == "" and said in err and err.count("\n") == 1
    assert Path("there.html").read_text(encoding="utf-8") == "kept"
    assert sorted(path.name for path in Path().iterdir()) == ["batch.toml", "there.html"]


def test_force_writes_over_and_a_bad_scenario_writes_nothing(batch_file, capsys):
    Path("there.html").write_text("old", encoding="utf-8")
    assert main(["report", "batch.toml", "--out", "there.html", "--force", "--quiet", *QUICK]) == 0
    assert "Backwards" in Path("there.html").read_text(encoding="utf-8")
    batch_file.write_text(BATCH.replace("1 h", "1 kg"), encoding="utf-8")
    assert main(["report", "batch.toml", "--out", "new.html", *QUICK]) == 2
    assert not Path("new.html").exists()
    assert "heating.hold" in capsys.readouterr().err
