"""Runs on a Dask cluster: a real scheduler and two workers on this machine, the numbers those of one process."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from short_boil import COOL, SHORT, called, same

from kinetics.analysis import ensemble, executors
from kinetics.analysis.ensemble import run_ensemble
from kinetics.analysis.executors import ClusterError, executor_at, program
from kinetics.analysis.runs import Job, run_jobs
from kinetics.command_line.main import main
from kinetics.run.reading import parse_scenario

OPTION = """\
[[option]]
name = "more base"
[option.charge]
"sodium carbonate" = "3 g"
"""
MEASURED = """\
run,hold time [h],quantity,value
"Diacetone alcohol, cool (invented)",0.3,conversion,0.08
Another (invented),0.5,conversion,0.11
"""
RATE = "reaction.diacetone alcohol.step.cleavage.k"
SWEEP = ["--vary", "charge.sodium carbonate=1..4 g/4", "--json"]


def wait_for(what, seconds: float = 60.0):  # type: ignore[no-untyped-def]
    """What a function gives as soon as that is something."""
    until = time.monotonic() + seconds
    while not (found := what()):
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.05)
    return found


@dataclass
class Cluster:
    """A scheduler with its workers, each a process of its own, on the loopback interface only."""

    address: str
    workers: list[subprocess.Popen[bytes]]

    def kill_one(self) -> None:
        self.workers[0].send_signal(signal.SIGKILL)


def started(folder: Path, count: int) -> Iterator[Cluster]:
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    told = folder / "scheduler.json"
    common = ["--host", "127.0.0.1", "--no-dashboard"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": Path(__file__).parents[2]}
    scheduler = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", "0", "--scheduler-file", str(told)]
    processes = [subprocess.Popen([*scheduler, *common], **quiet)]  # type: ignore[call-overload]
    try:
        address = wait_for(lambda: told.exists() and told.read_text() and json.loads(told.read_text())["address"])
        worker = [sys.executable, "-m", "distributed.cli.dask_worker", address, "--no-nanny", "--nthreads", "1"]
        local = ["--local-directory", str(folder)]
        for _ in range(count):
            processes.append(subprocess.Popen([*worker, *common, *local], **quiet))  # type: ignore[call-overload]
        yield Cluster(address, processes[1:])
    finally:
        for process in reversed(processes):
            process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    yield from started(tmp_path, 2)


def ready(executor) -> None:  # type: ignore[no-untyped-def]
    """Wait until both workers are there."""
    executor._client.wait_for_workers(2, timeout=60)


def test_without_an_address_there_is_no_executor():
    with executor_at(None) as executor:
        assert executor is None


@pytest.mark.slow
def test_a_worker_killed_in_mid_run_loses_nothing(cluster):
    scenario = parse_scenario(SHORT)
    jobs = [Job(scenario.with_changes({"charge.water": f"{150 + 5 * k} mL"}), key=k) for k in range(24)]
    told = []

    def kill(done: int, total: int) -> None:
        told.append(done)
        if done == 4:
            cluster.kill_one()

    with executor_at(cluster.address, 60) as executor:
        ready(executor)
        found = run_jobs(jobs, executor=executor, progress=kill)
    assert cluster.workers[0].wait(10) == -signal.SIGKILL and cluster.workers[1].poll() is None
    assert told == list(range(25))
    alone = run_jobs(jobs)
    assert all(outcome.failure is None for outcome in alone)
    assert all(same(a, b) for a, b in zip(alone, found, strict=True))


@pytest.mark.slow
def test_an_ensemble_survives_a_killed_worker_too(cluster, monkeypatch):
    monkeypatch.setattr(ensemble, "CHUNK", 4)
    scenario = parse_scenario(SHORT)

    def kill(done: int, total: int) -> None:
        if done == 4:
            cluster.kill_one()

    with executor_at(cluster.address, 60) as executor:
        ready(executor)
        found = run_ensemble(scenario, 20, 1, executor=executor, progress=kill)
    assert cluster.workers[0].wait(10) == -signal.SIGKILL
    alone = run_ensemble(scenario, 20, 1)
    assert not alone.failures and alone.count == found.count == 20
    for name in alone.final:
        assert np.array_equal(alone.final[name], found.final[name])
    for name in alone.courses:
        assert np.array_equal(alone.courses[name], found.courses[name])


@pytest.fixture(scope="module")
def lasting(tmp_path_factory) -> Iterator[Cluster]:
    """A cluster that loses nobody."""
    yield from started(tmp_path_factory.mktemp("cluster"), 2)


SAMPLES = ["--samples", "8"]
CALIBRATE = ["again.toml", "--data", "samples.csv", "--out", "written.toml"]
COMMANDS = {
    "sweep": [*SWEEP, *SAMPLES],
    "compare": ["--json", *SAMPLES],
    "run": ["--json", *SAMPLES],
    "sensitivity": ["--json", *SAMPLES],
    "hours": ["--json", "--target", "0.1", *SAMPLES],
    "explain": ["--json"],
    "calibrate": [*CALIBRATE, "--constants", RATE, "--suggest", "yield", "--json"],
    "report": ["--out", "written.html", "--no-what-if", *SAMPLES],
}


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_says_the_same_whoever_computes(command, lasting, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("kinetics.analysis.sensitivity.SCREENING", 16)
    (tmp_path / "batch.toml").write_text(COOL + OPTION)
    (tmp_path / "again.toml").write_text(COOL.replace("Diacetone alcohol, cool", "Another"))
    (tmp_path / "samples.csv").write_text(MEASURED)

    def told(*where: str) -> list[str]:
        status, out, err = called(capsys, command, "batch.toml", *COMMANDS[command], "--quiet", "--force", *where)
        assert (status, err) == (0, "")
        return [out, *(path.read_text(encoding="utf-8") for path in sorted(tmp_path.glob("written.*")))]

    def computed_here(*_, **__):  # type: ignore[no-untyped-def]
        raise AssertionError("computed in this process")

    alone = told("--workers", "1")
    assert any(alone) and told("--workers", "2") == alone
    if command not in ("run", "report"):  # which begin with a run of their own
        monkeypatch.setattr("kinetics.analysis.runs.simulate", computed_here)
    monkeypatch.setattr("kinetics.analysis.ensemble.integrate_batch", computed_here)
    monkeypatch.setattr("kinetics.analysis.predictions.integrate_batch", computed_here)
    assert told("--cluster", lasting.address) == alone


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ({**program(), "numpy": "0.0"}, r"whose worker tcp://w has numpy 0\.0 instead of \d"),
        (ModuleNotFoundError("No module named 'kinetics'"), "whose worker tcp://w says: No module named"),
    ],
)
def test_a_worker_that_would_give_other_numbers_is_refused(monkeypatch, answer, said):
    closed = []

    class Client:
        """A connection to a cluster with one worker."""

        def wait_for_workers(self, count, timeout):
            pass

        def run(self, function, on_error):
            assert function is program
            return {"tcp://w": answer}

        def close(self):
            closed.append(True)

    monkeypatch.setattr(executors, "_client", lambda address, patience_s: Client())
    with pytest.raises(ClusterError, match=said), executor_at("tcp://s"):
        pass
    assert closed == [True]


@pytest.mark.slow
def test_a_scheduler_without_workers_is_refused(tmp_path):
    for cluster in started(tmp_path, 0):
        with pytest.raises(ClusterError, match=r"which has none.*dask worker tcp://"):
            with executor_at(cluster.address, 1.0):
                pass


def refused(tmp_path: Path, capsys: pytest.CaptureFixture[str], address: str) -> str:
    """What the program says of an address, with exit status 2."""
    file = tmp_path / "batch.toml"
    file.write_text(SHORT)
    assert main(["sweep", str(file), *SWEEP, "--cluster", address]) == 2
    printed = capsys.readouterr()
    assert printed.out == "" and printed.err.count("\n") == 1
    return printed.err


@pytest.mark.parametrize("address", ["foo://x:1", "nonsense", "127.0.0.1:port", ""])
def test_what_is_no_address_is_refused(tmp_path, capsys, address):
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    said = refused(tmp_path, capsys, address)
    assert "--cluster: expected the address of a Dask scheduler" in said and f'came "{address}"' in said


def test_a_scheduler_that_does_not_answer_is_refused_after_some_seconds(tmp_path, capsys):
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{free.getsockname()[1]}"
        began = time.monotonic()
        said = refused(tmp_path, capsys, address)
    assert time.monotonic() - began < 4 * executors.PATIENCE_S
    assert address in said and "dask scheduler" in said


def test_without_the_extra_the_way_out_is_told(tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    said = refused(tmp_path, capsys, "127.0.0.1:8786")
    assert "pip install 'retroaldol[cluster]'" in said


def test_workers_and_cluster_exclude_each_other(capsys):
    assert main(["sweep", "any.toml", *SWEEP, "--cluster", "127.0.0.1:1", "--workers", "2"]) == 2
    assert "not allowed with" in capsys.readouterr().err


def test_a_single_run_is_not_sent_away(capsys):
    assert main(["run", "any.toml", "--cluster", "127.0.0.1:1"]) == 2
    assert "--samples" in capsys.readouterr().err
