"""Full disks, folders that may not be written to, interruption and company: no file is ever half there."""

from __future__ import annotations

import errno
import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from kinetics.command_line.main import main

ROOT = Path(__file__).parents[2]
SCENARIO = str(ROOT / "scenarios" / "diacetone_alcohol.toml")
LIMIT_BYTES = 4096  # less than a course in time, more than a short file


def start(folder: Path, *arguments: str, limit: Callable[[], None] | None = None, stdout: int = subprocess.PIPE):
    """The program as a process of its own in a folder."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "kinetics", *arguments]
    return subprocess.Popen(
        command, cwd=folder, stdout=stdout, stderr=subprocess.PIPE, text=True, env=environment, preexec_fn=limit
    )


def no_large_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (LIMIT_BYTES, LIMIT_BYTES))


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process")
@pytest.mark.parametrize("before", [None, "what was there"])
def test_no_room_for_the_whole_file_leaves_none_of_it(tmp_path: Path, before: str | None) -> None:
    """The system itself refuses to write on after four kilobytes: status 2, one sentence, the old file as it was."""
    target = tmp_path / "course.csv"
    if before is not None:
        target.write_text(before)
    process = start(tmp_path, "run", SCENARIO, "--csv", "course.csv", "--force", limit=no_large_files)
    _, said = process.communicate(timeout=120)
    assert process.returncode == 2
    assert "course.csv" in said and os.strerror(errno.EFBIG) in said and len(said.splitlines()) == 1
    assert [p.name for p in tmp_path.iterdir()] == ([] if before is None else ["course.csv"])
    assert before is None or target.read_text() == before


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EDQUOT, errno.EIO, errno.EACCES])
@pytest.mark.parametrize("command", [("run", SCENARIO, "--csv"), ("new",)])
def test_a_disk_that_fails_half_way(
    command: tuple[str, ...], number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half of the text reaches the disk, then an error comes: status 2, a sentence with its cause, an empty folder."""

    def half_written(path: Path, text: str, *_: object, **__: object) -> int:
        path.write_bytes(text.encode()[: len(text) // 2])
        raise OSError(number, os.strerror(number), str(path))

    monkeypatch.setattr(Path, "write_text", half_written)
    target = tmp_path / ("course.csv" if "--csv" in command else "batch.toml")
    assert main([*command, str(target)]) == 2
    assert os.strerror(number) in " ".join(capsys.readouterr().err.split())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("before", [None, "what was there"])
@pytest.mark.parametrize("command", [("run", SCENARIO, "--force", "--csv"), ("new", "--force")])
def test_interrupted_while_it_writes(
    command: tuple[str, ...], before: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C with half of the text on the disk: status 130, a sentence, the old file or none, no draft."""

    def half_written(path: Path, text: str, *_: object, **__: object) -> int:
        path.write_bytes(text.encode()[: len(text) // 2])
        raise KeyboardInterrupt

    target = tmp_path / ("course.csv" if "--csv" in command else "batch.toml")
    if before is not None:
        target.write_bytes(before.encode())
    monkeypatch.setattr(Path, "write_text", half_written)
    assert main([*command, str(target)]) == 130
    assert "no file was left half written" in capsys.readouterr().err
    assert [path.read_bytes().decode() for path in tmp_path.iterdir()] == ([] if before is None else [before])


def test_a_folder_that_may_not_be_written_to_is_refused_before_anything_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder is made read-only; where the user may write to it all the same (root), the system's answer is put in."""
    tmp_path.chmod(0o500)
    if os.access(tmp_path, os.W_OK):
        monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)

    def computed(*_: object, **__: object) -> None:
        raise AssertionError("computed before it was known whether the result can be kept")

    monkeypatch.setattr("kinetics.run.simulation.simulate", computed)
    try:
        assert main(["run", SCENARIO, "--csv", str(tmp_path / "course.csv")]) == 2
        assert main(["new", str(tmp_path / "batch.toml")]) == 2
    finally:
        tmp_path.chmod(0o700)
    assert "a file in a folder that may be written to" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_standard_output_on_a_full_disk_is_no_success(tmp_path: Path) -> None:
    """What is printed is lost: a sentence and a status other than 0."""
    full = os.open("/dev/full", os.O_WRONLY)
    try:
        process = start(tmp_path, "run", SCENARIO, "--json", stdout=full)
        _, said = process.communicate(timeout=120)
    finally:
        os.close(full)
    assert process.returncode not in (0, None)
    assert os.strerror(errno.ENOSPC) in said and "Traceback" not in said


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_interrupted_while_it_computes_it_leaves_the_old_file(tmp_path: Path) -> None:
    """Ctrl-C once the process is at work: status 130, a sentence, no draft, the old file, and what --resume keeps."""
    target = tmp_path / "rows.csv"
    target.write_text("old")
    sweep = ("sweep", SCENARIO, "--vary", "heating.hold=1..9 h/400", "--csv", "rows.csv", "--force", "--workers", "1")
    kept = tmp_path / "kept.jsonl"
    process = start(tmp_path, *sweep, "--resume", kept.name)
    try:
        while process.poll() is None and not (kept.exists() and kept.read_bytes().count(b"\n") > 2):
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
    finally:
        process.kill()
        process.communicate()
    assert process.returncode == 130 and "Stopped before the end" in said and "Traceback" not in said
    assert sorted(p.name for p in tmp_path.iterdir()) == ["kept.jsonl", "rows.csv"] and target.read_text() == "old"


def test_two_commands_at_once_do_not_disturb_each_other(tmp_path: Path) -> None:
    """Four processes in one folder, two of them for one file: all succeed, every file is what it is when made alone."""
    alone = start(tmp_path, "run", SCENARIO, "--csv", "alone.csv")
    alone.communicate(timeout=120)
    expected = (tmp_path / "alone.csv").read_bytes()
    together = [start(tmp_path, "run", SCENARIO, "--json", "--csv", f"{name}.csv", "--force") for name in "aabc"]
    outputs = [process.communicate(timeout=120) for process in together]
    assert [process.returncode for process in together] == [0, 0, 0, 0]
    assert len({json.dumps(json.loads(out), sort_keys=True) for out, _ in outputs}) == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv", "alone.csv", "b.csv", "c.csv"]
    assert all(path.read_bytes() == expected for path in tmp_path.iterdir())
