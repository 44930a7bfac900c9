"""Files to write: what is refused before anything is computed."""

from __future__ import annotations

from pathlib import Path

import pytest

from kinetics.command_line.outputs import Output, OutputError, check_outputs


def test_what_is_there_and_no_ordinary_file_is_not_written_over_even_by_force(tmp_path, monkeypatch):
    """A pipe or a device, which not every system can make here."""
    (tmp_path / "course.csv").write_text("", encoding="utf-8")
    monkeypatch.setattr(Path, "is_file", lambda path: False)
    with pytest.raises(OutputError, match="the path of an ordinary file"):
        check_outputs([Output("--csv", tmp_path / "course.csv", (".csv",))], True, [])
