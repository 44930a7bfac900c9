"""The seam through which many runs go: processes of this machine, an existing Dask cluster, or any other executor."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from functools import cache
from hashlib import sha256
from multiprocessing import get_context, parent_process
from pathlib import Path
from threading import Thread, current_thread, main_thread
from typing import Any

import numpy as np

import kinetics
from kinetics.data.faults import Fault, RefusedInput, quoted

PATIENCE_S = 5.0  # for the scheduler to answer, and for its first worker
JOBS_PER_PROCESS = 8  # starting one takes as long as about three runs; fewer jobs hardly earn that back
COMPUTING = ("data", "chemistry", "flask", "run", "analysis")  # the folders that decide the numbers

Progress = Callable[[int, int], None]  # told (done, total) now and then


def silent(done: int, total: int) -> None:
    """Told of progress, says nothing."""


class ClusterError(RefusedInput):
    """A cluster that cannot be used, and what to do about it."""

    def __init__(self, expected: str, came: str, hint: str = "") -> None:
        self.faults = (Fault("--cluster", expected, came, hint),)
        super().__init__(*self.faults)


@contextmanager
def executor_at(address: str | None, patience_s: float = PATIENCE_S) -> Iterator[Executor | None]:
    """An executor for the Dask cluster whose scheduler is at an address, such as tcp://10.0.0.5:8786; None for None.

    Its workers run code that is sent to them, so the address is one to be trusted. Work lost with a worker is done
    again by another. Raises ClusterError where the scheduler or its workers cannot be used.
    """
    if address is None:
        yield None
        return
    client = _client(address, patience_s)
    try:
        _check_workers(client, address, patience_s)
        yield client.get_executor()
    finally:
        client.close()


def _client(address: str, patience_s: float) -> Any:
    """The connection to a scheduler."""
    try:
        from distributed import Client
        from distributed.comm import get_address_host_port
    except ImportError:
        hint = "Install it with: pip install 'retroaldol[cluster]'. Without --cluster this machine computes alone."
        raise ClusterError("the package distributed", "an installation without it", hint) from None
    try:
        get_address_host_port(address)  # Client itself stumbles over what is no address
        return Client(address, timeout=patience_s, set_as_default=False)
    except (ValueError, OSError, NotImplementedError) as error:
        said = f"{quoted(address)} ({error})"
        hint = "Start one with: dask scheduler, and at least one: dask worker. It names its address."
        raise ClusterError("the address of a Dask scheduler that answers", said, hint) from None


def _check_workers(client: Any, address: str, patience_s: float) -> None:
    """Refuse a cluster without workers, or with workers that would not give the numbers of this machine."""
    at = quoted(address)
    try:
        client.wait_for_workers(1, timeout=patience_s)
    except TimeoutError:
        hint = f"Start one with: dask worker {address}"
        raise ClusterError("a cluster with at least one worker", f"{at}, which has none", hint) from None
    hint = "Install the same version of everything there as here."
    expected, own = "workers that have this very program", program()
    for worker, found in client.run(program, on_error="return").items():
        if isinstance(found, Exception):
            raise ClusterError(expected, f"{at}, whose worker {worker} says: {found}", hint)
        if found != own:
            told = ", ".join(f"{name} {found[name]} instead of {own[name]}" for name in own if found[name] != own[name])
            raise ClusterError(expected, f"{at}, whose worker {worker} has {told}", hint)


@cache
def program() -> dict[str, str]:
    """What decides the numbers besides the input: this program's version and content, and the libraries under it."""
    import scipy

    root = Path(kinetics.__file__).parent
    content = sha256()
    for path in sorted(path for folder in COMPUTING for path in (root / folder).rglob("*")):
        if path.suffix in (".py", ".toml"):
            content.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    version = f"{kinetics.__version__} (content {content.hexdigest()[:12]})"
    return {"retroaldol": version, "numpy": np.__version__, "scipy": scipy.__version__}


def default_workers(count: int, per_process: int = JOBS_PER_PROCESS) -> int:
    """How many processes so many tasks are worth: one for a few, one for each processor for a big lot."""
    return max(1, min(os.cpu_count() or 1, count // per_process))


class Processes(ProcessPoolExecutor):
    """So many new interpreters; a copy of this one would have its threads stopped in mid-work."""

    def __init__(self, workers: int) -> None:
        super().__init__(workers, get_context("spawn"), initializer=_serve)

    def submit(self, function: Callable[..., Any], /, *arguments: Any, **keywords: Any) -> Future[Any]:
        """Processes begun meanwhile never hear Ctrl-C: it is for the one that asked, which cancels their work."""
        if current_thread() is not main_thread():
            return super().submit(function, *arguments, **keywords)
        before = signal.signal(signal.SIGINT, signal.SIG_IGN)
        try:
            return super().submit(function, *arguments, **keywords)
        finally:
            signal.signal(signal.SIGINT, before)


@contextmanager
def pool(workers: int, executor: Executor | None = None) -> Iterator[Executor | None]:
    """One executor for several lots of work: the one given, so many processes begun once, or None for a single one."""
    if executor is not None or workers == 1:
        yield executor
        return
    with Processes(workers) as own:
        yield own


def spread(
    function: Callable[[Any], Any], tasks: Sequence[Any], workers: int = 1, executor: Executor | None = None
) -> Generator[Any, None, None]:
    """Results of the tasks in their order, as they come, from this process, from several, or from an executor."""
    with pool(min(workers, max(len(tasks), 1)), executor) as doing:
        yield from map(function, tasks) if doing is None else doing.map(function, tasks)


def _serve() -> None:
    """In a process of the pool: leave Ctrl-C to the one that asked, and end when that one is gone, however it went."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)
