"""Killed and gone on with: the result is the one of an undisturbed run, and a file never serves another job."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor, Future
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from short_boil import COOL, SHORT, same

from kinetics.analysis import resuming as module
from kinetics.analysis.resuming import ResumeError, decoded, digest_of, encoded, resuming
from kinetics.analysis.runs import Job, compute, run_jobs
from kinetics.command_line.main import main
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.reading import parse_scenario, read_scenario

ROOT = Path(__file__).parents[2]


class Counting(Executor):
    """Computes at once, in this thread, and keeps count."""

    def __init__(self) -> None:
        self.computed: list[object] = []

    def submit(self, function, /, job):  # type: ignore[no-untyped-def]
        self.computed.append(job.key)
        future: Future = Future()
        future.set_result(function(job))
        return future


@pytest.fixture(scope="module")
def scenario():
    return parse_scenario(SHORT)


@pytest.fixture(scope="module")
def jobs(scenario):
    return [Job(scenario.with_changes({"charge.water": f"{200 + 10 * k} mL"}), key=(k, "x")) for k in range(3)]


def done(path, scenario, jobs, **job):  # type: ignore[no-untyped-def]
    """The outcomes with a file of progress, and which of them were computed."""
    counting = Counting()
    with resuming(path, "sweep", [scenario], job, counting) as executor:
        return run_jobs(jobs, executor=executor), counting.computed


def test_what_is_written_comes_back_to_the_last_digit(scenario, jobs):
    outcome = compute(jobs[0])
    assert same(decoded(json.loads(json.dumps(encoded(outcome)))), outcome)
    odd = np.array([[0.1 + 0.2, -0.0, np.nan], [np.inf, -np.inf, 5e-324]])
    courses, failures = decoded(json.loads(json.dumps(encoded(({"yield": odd, "none": odd[:, :0]}, {3: "why"})))))
    assert courses["yield"].tobytes() == odd.tobytes() and courses["none"].shape == (2, 0)
    assert failures == {3: "why"}
    with pytest.raises(TypeError, match="a Mechanisms cannot be written down"):
        encoded(Mechanisms())


def test_a_digest_tells_apart_all_that_changes_a_result_and_nothing_else(scenario, tmp_path):
    here, elsewhere = tmp_path / "here.toml", tmp_path / "elsewhere.toml"
    here.write_text(SHORT)
    elsewhere.write_text(SHORT)
    assert digest_of(read_scenario(here)) == digest_of(read_scenario(elsewhere))
    job = Job(scenario)
    others = [
        replace(job, scenario=scenario.with_changes({"charge.water": "200.0000001 mL"})),
        replace(job, mechanisms=Mechanisms(oil_phase=False)),
        replace(job, shifts=(("water.density", 1.0),)),
        replace(job, shifts=(("water.density", -1.0),)),
        replace(job, times=(1.0,)),
        replace(job, rtol=1e-7),
        replace(job, key=1),
        np.array([1.0, 2.0]),
        np.array([[1.0, 2.0]]),
        np.array([2.0, 1.0]),
    ]
    assert len({digest_of(one) for one in [job, *others]}) == len(others) + 1


def test_what_was_done_is_not_done_again_and_reads_the_same(tmp_path, scenario, jobs):
    path, alone = tmp_path / "progress", run_jobs(jobs)
    _, computed = done(path, scenario, jobs[:2], seed=1)
    assert computed == [(0, "x"), (1, "x")]
    second, computed = done(path, scenario, jobs, seed=1)
    assert computed == [(2, "x")]
    assert all(same(a, b) for a, b in zip(alone, second, strict=True))
    assert done(path, scenario, jobs, seed=1)[1] == []


@pytest.mark.parametrize("workers", [1, 2])
def test_without_an_executor_this_machine_computes(tmp_path, scenario, jobs, workers):
    told = []
    with resuming(tmp_path / "progress", "sweep", [scenario], {}, workers=workers) as executor:
        found = run_jobs(jobs, executor=executor, progress=lambda *step: told.append(step))
    assert told == [(k, 3) for k in range(4)]
    assert all(same(a, b) for a, b in zip(run_jobs(jobs), found, strict=True))


def test_a_torn_last_record_is_left_out_and_a_damaged_one_computed_again(tmp_path, scenario, jobs):
    path = tmp_path / "progress"
    alone, _ = done(path, scenario, jobs)
    head, first, second, third = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(head + first + second + third[:-300])
    found, computed = done(path, scenario, jobs)
    assert computed == [(2, "x")] and path.read_bytes() == head + first + second + third
    assert all(same(a, b) for a, b in zip(alone, found, strict=True))
    digit = first.index(b"0.") + 2
    changed = first[:digit] + (b"1" if first[digit : digit + 1] != b"1" else b"2") + first[digit + 1 :]
    path.write_bytes(head + changed + second + third)
    found, computed = done(path, scenario, jobs)
    assert computed == [(0, "x")]
    assert all(same(a, b) for a, b in zip(alone, found, strict=True))


def test_another_job_is_refused_in_words_and_its_file_left_alone(tmp_path, scenario, jobs, monkeypatch):
    path = tmp_path / "progress"
    done(path, scenario, jobs[:1], seed=1, samples=8)
    written = path.read_bytes()
    wet = scenario.with_changes({"charge.water": "300 mL"})
    with pytest.raises(ResumeError, match=r"differs in the scenario and seed\. Give another path"):
        done(path, wet, jobs, seed=2, samples=8)
    with pytest.raises(ResumeError, match=r"differs in the command\."):
        with resuming(path, "run", [scenario], {"seed": 1, "samples": 8}):
            pass
    monkeypatch.setattr(module, "program", lambda: {"retroaldol": "of tomorrow"})
    with pytest.raises(ResumeError, match=r"differs in the program\."):
        done(path, scenario, jobs, seed=1, samples=8)
    assert path.read_bytes() == written


@pytest.mark.parametrize("content", [b"", b"a letter without an end", b"a letter\nof two lines\n", b"\xff\x00\n"])
def test_a_file_that_is_no_progress_is_refused_and_left_alone(tmp_path, scenario, jobs, content):
    path = tmp_path / "letter.txt"
    path.write_bytes(content)
    with pytest.raises(ResumeError, match="expected a file that --resume has written"):
        done(path, scenario, jobs)
    assert path.read_bytes() == content and list(tmp_path.iterdir()) == [path]


def test_a_path_that_cannot_be_written_is_refused(tmp_path, scenario, jobs):
    with pytest.raises(ResumeError, match="No such file or directory"):
        done(tmp_path / "nowhere" / "progress", scenario, jobs)
    with pytest.raises(ResumeError, match="expected a file that --resume has written"):
        done(tmp_path, scenario, jobs)


def test_a_full_disk_stops_the_work_and_keeps_what_was_written(tmp_path, scenario, jobs):
    path = tmp_path / "progress"
    done(path, scenario, jobs[:1])

    class Full:
        """A file on a disk without room."""

        closed = False

        def write(self, line: bytes) -> None:
            raise OSError(28, "No space left on device")

        def close(self) -> None:
            pass

    with pytest.raises(ResumeError, match="No space left on device"):
        with resuming(path, "sweep", [scenario], {}, Counting()) as executor:
            executor.journal.file.close()
            executor.journal.file = Full()
            run_jobs(jobs, executor=executor)
    assert done(path, scenario, jobs)[1] == [(1, "x"), (2, "x")]


def test_what_failed_is_computed_again(tmp_path, scenario, jobs):
    bad = replace(jobs[0], shifts=(("no such constant", 1.0),))
    for _ in range(2):
        (outcome,), computed = done(tmp_path / "progress", scenario, [bad])
        assert outcome.failure is not None and computed == [(0, "x")]


def test_a_whole_run_is_computed_again_and_what_is_beside_it_is_not(tmp_path, scenario, jobs):
    lot = [replace(jobs[0], whole=True), jobs[1]]
    assert done(tmp_path / "progress", scenario, lot)[1] == [(0, "x"), (1, "x")]
    (first, _), computed = done(tmp_path / "progress", scenario, lot)
    assert computed == [(0, "x")] and first.run is not None


PROGRAM = """\
import sys
from kinetics.analysis import ensemble, sensitivity
from kinetics.command_line.main import main
ensemble.CHUNK, sensitivity.SCREENING = 8, 16
if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "records"),
    [
        (["sweep", "--vary", "charge.water=150..260 mL/24", "--workers", "2"], 24),
        (["sweep", "--vary", "charge.water=150..260 mL/3", "--samples", "16"], 3 + 6),
        (["run", "--samples", "40", "--workers", "1"], 5),
        (["sensitivity", "--samples", "8"], 2 + 10),
        (["compare", "--samples", "24"], 1 + 3),
        (["hours", "--samples", "24"], 2 + 3),
    ],
)
def test_killed_in_mid_run_and_gone_on_with_it_prints_the_same(tmp_path, arguments, records):
    (tmp_path / "batch.toml").write_text(COOL if arguments[0] == "sensitivity" else SHORT)
    (tmp_path / "program.py").write_text(PROGRAM)
    path = tmp_path / "progress"
    command = [sys.executable, "program.py", arguments[0], "batch.toml", *arguments[1:], "--json"]
    resumed = [*command, "--resume", str(path)]
    here = {"cwd": tmp_path, "env": os.environ | {"PYTHONPATH": str(ROOT)}, "stdout": subprocess.PIPE}
    begun = subprocess.Popen(resumed, **here)
    until = time.monotonic() + 120.0
    while not path.exists() or path.read_bytes().count(b"\n") < 1 + records // 4:
        assert begun.poll() is None and time.monotonic() < until
        time.sleep(0.01)
    begun.send_signal(signal.SIGKILL)
    printed, _ = begun.communicate(timeout=30)  # comes only when its own processes have ended too
    assert begun.returncode == -signal.SIGKILL and printed == b""
    before = path.read_bytes()
    assert before.count(b"\n") < 1 + records
    second = subprocess.run(resumed, check=True, **here)
    plain = subprocess.run(command, check=True, **here)
    assert second.stdout == plain.stdout != b""
    after = path.read_bytes()
    assert after.startswith(before[: before.rindex(b"\n") + 1]) and after.count(b"\n") == 1 + records


def test_the_commands_refuse_what_cannot_be_gone_on_with(tmp_path, capsys):
    file, path = tmp_path / "batch.toml", tmp_path / "progress"
    file.write_text(SHORT)
    sweep = ["sweep", str(file), "--vary", "charge.water=200..210 mL/2", "--quiet"]
    assert main([*sweep, "--resume", str(file)]) == 2
    assert main(["run", str(file), "--resume", str(path)]) == 2
    assert "add --samples" in capsys.readouterr().err and file.read_text() == SHORT
    assert main([*sweep, "--resume", str(path)]) == 0
    capsys.readouterr()
    assert main([*sweep[:-2], "charge.water=200..220 mL/2", "--resume", str(path)]) == 2
    assert "another job: it differs in the ranges" in capsys.readouterr().err


class Waiting(Executor):
    """Takes tasks and does none of them."""

    def __init__(self) -> None:
        self.futures: list[Future] = []

    def submit(self, function, /, *arguments):  # type: ignore[no-untyped-def]
        self.futures.append(Future())
        return self.futures[-1]


def test_a_task_that_is_cancelled_is_cancelled_on_both_sides(tmp_path, scenario, jobs):
    waiting = Waiting()
    with resuming(tmp_path / "progress", "sweep", [scenario], {}, waiting) as executor:
        first, second, late = (executor.submit(compute, job) for job in jobs)
        assert first.cancel() and waiting.futures[0].cancelled()
        waiting.futures[1].cancel()
        waiting.futures[1].set_running_or_notify_cancel()
        assert second.cancelled()
    waiting.futures[2].set_result(compute(jobs[2]))  # comes when the file is closed: handed on, not written down
    assert late.result().key == jobs[2].key
    assert (tmp_path / "progress").read_bytes().count(b"\n") == 1


def test_what_has_no_digest_is_a_fault_of_the_program():
    with pytest.raises(TypeError, match="a set has no digest"):
        digest_of({1, 2})
