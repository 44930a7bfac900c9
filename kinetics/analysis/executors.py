"""Where many runs are computed: processes of this machine, or an existing Dask cluster through its own executor."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from functools import cache
from hashlib import sha256
from multiprocessing import get_context, parent_process
from pathlib import Path
from threading import Thread
from typing import Any

import numpy as np

import kinetics
from kinetics.data.faults import Fault, RefusedInput, quoted

PATIENCE_S = 5.0  # for the scheduler to answer, and for its first worker
COMPUTING = ("data", "chemistry", "flask", "run", "analysis")  # the folders that decide the numbers


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


def processes(workers: int) -> ProcessPoolExecutor:
    """So many new interpreters; a copy of this one would have its threads stopped in mid-work."""
    return ProcessPoolExecutor(workers, get_context("spawn"), initializer=_serve)


def _serve() -> None:
    """In a process of the pool: leave Ctrl-C to the one that asked, and end when that one is gone, however it went."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)
