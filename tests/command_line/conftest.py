"""What the tests of the program share: a working copy of the scenarios, and ways to call the program."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from kinetics.command_line.main import main

REPOSITORY = Path(__file__).parents[2]
QUICK = """
substrate = "cinnamaldehyde"
[charge]
water = "350 mL"
cinnamaldehyde = {amount = "1.2 g", uncertainty = 0.1}
"sodium carbonate" = "3 g"
[heating]
ramp = "5 min"
hold = "20 min"
cooling = "0 min"
[condenser]
air_exchange = "10 mL/min"
"""


@dataclass(frozen=True)
class Answer:
    """What a call of the program gave back."""

    status: int
    out: str
    err: str


@pytest.fixture
def quick(tmp_path: Path) -> str:
    """The path of a scenario that takes a moment to compute, its charge uncertain."""
    path = tmp_path / "quick.toml"
    path.write_text(QUICK, encoding="utf-8")
    return str(path)


@pytest.fixture
def workplace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a copy of the scenarios and of the invented samples; it is the current folder."""
    for folder in ("scenarios", "tests/analysis/data"):
        shutil.copytree(REPOSITORY / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def call(workplace: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Answer]:
    """Call the program in this process."""

    def called(*arguments: str) -> Answer:
        capsys.readouterr()
        status = main(arguments)
        out, err = capsys.readouterr()
        return Answer(status, out, err)

    return called


@pytest.fixture
def launch(workplace: Path) -> Callable[..., subprocess.Popen[str]]:
    """Start the program as a process of its own."""

    def launched(*arguments: str, **variables: str) -> subprocess.Popen[str]:
        environment = os.environ | {"PYTHONPATH": str(REPOSITORY)} | variables
        command = [sys.executable, "-m", "kinetics", *arguments]
        pipe = subprocess.PIPE
        return subprocess.Popen(
            command, stdout=pipe, stderr=pipe, text=True, encoding="utf-8", env=environment
        )

    return launched


@pytest.fixture
def files_in() -> Callable[[Path], set[Path]]:
    """Every file below a folder."""
    return lambda folder: {path for path in folder.rglob("*") if path.is_file()}
