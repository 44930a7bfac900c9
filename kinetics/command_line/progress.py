"""How far many runs have come, on the error output while one waits, and where they are computed."""

from __future__ import annotations

import sys
import time
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread
from types import TracebackType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from kinetics.run.scenario import Scenario

PATIENCE_S = 2.0  # what is done sooner needs no word
INTERVAL_S = 0.2
BAR = 20  # characters


class Progress:
    """A bar that tells how many runs are done and about how long the rest will take; wiped away at the end.

    Only on a terminal, and not where quiet is asked for. Called with (done, total), for one lot of runs after another;
    in between a thread of its own keeps the bar moving, for many runs at once can be long in coming.
    """

    def __init__(self, quiet: bool) -> None:
        self.shows = not quiet and sys.stderr.isatty()
        self.began = self.lot_began = self.told = time.monotonic()
        self.done = self.total = self.length = 0
        self.over = Event()
        self.thread = Thread(target=self._keep_moving, daemon=True)

    def __enter__(self) -> Progress:
        if self.shows:
            self.thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: TracebackType | None) -> None:
        self.over.set()
        if self.shows:
            self.thread.join()
            self._show("")

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if done < self.done:
            self.lot_began = now
        self.done, self.total, self.told = done, total, now

    def _keep_moving(self) -> None:
        while not self.over.wait(INTERVAL_S):
            now = time.monotonic()
            if now - self.began > PATIENCE_S:
                self._show(bar(self.done, self.total, self.told - self.lot_began, now - self.told))

    def _show(self, text: str) -> None:
        """Put a line in the place of the last."""
        if text or self.length:
            sys.stderr.write(f"\r{text:{self.length}}" + ("" if text else "\r"))
            sys.stderr.flush()
        self.length = len(text)


def bar(done: int, total: int, took_s: float, since_s: float) -> str:
    """The bar: how much is done, which took so long, and at this pace, `since_s` later, how long the rest will take."""
    if not done:
        return f"[{'-' * BAR}] computing, {since_s:.0f} s so far"
    left_s = max(took_s / done * (total - done) - since_s, 0.0)
    left = f"{left_s:.0f} s" if left_s < 100.0 else f"{left_s / 60.0:.0f} min"
    return f"[{'#' * (BAR * done // total):-<{BAR}}] {done} of {total} done, about {left} left"


@contextmanager
def many_runs(args: Namespace, scenarios: Sequence[Scenario] = (), **job: Any) -> Iterator[dict[str, Any]]:
    """How --workers, --cluster, --resume and --quiet have many runs computed: keywords workers, executor and progress.

    scenarios and job: whose progress the file of --resume is, as in `resuming`.
    """
    from kinetics.analysis.executors import executor_at
    from kinetics.analysis.resuming import resuming

    path = getattr(args, "resume", None)
    with (
        executor_at(args.cluster) as cluster,
        resuming(path, args.command, scenarios, job, cluster, args.workers) as executor,
        Progress(args.quiet) as progress,
    ):
        yield {"workers": args.workers, "executor": executor, "progress": progress}


def add_executors(parser: ArgumentParser) -> None:
    """Processes of this machine, or a Dask cluster in their place, as `args.workers` and `args.cluster`."""
    either = parser.add_mutually_exclusive_group()
    said = "processes to compute in (as many as pay); the numbers do not depend on it"
    either.add_argument("--workers", metavar="N", type=_count, help=said)
    said = "compute on the Dask cluster whose scheduler is there, such as tcp://10.0.0.5:8786"
    either.add_argument("--cluster", metavar="ADDRESS", help=said)


def add_resume(parser: ArgumentParser) -> None:
    """The file of progress, as `args.resume`."""
    said = "write every result there as it is done; a command that was killed goes on with the same file"
    parser.add_argument("--resume", metavar="PATH", type=Path, help=said)


def refuse_without_samples(args: Namespace, *names: str) -> None:
    """Refuse options, such as --cluster, that only many runs can use, where no samples ask for them."""
    for name in names:
        if getattr(args, name) is not None and not args.samples:
            args.parser.error(f"--{name} is for many runs: add --samples N")


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 256:
        raise ArgumentTypeError(f"expected a whole number from 1 to 256; came {text!r}")
    return int(text)
