"""How far many runs have come, on the error output while one waits, and where they are computed."""

from __future__ import annotations

import sys
import time
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import _ActionsContainer

PATIENCE_S = 2.0  # what is done sooner needs no word
INTERVAL_S = 0.2


class Progress:
    """A line that tells how many runs are done and about how long the rest will take; wiped away at the end.

    Only on a terminal, and not where quiet is asked for. Called with (done, total).
    """

    def __init__(self, quiet: bool) -> None:
        self.shows = not quiet and sys.stderr.isatty()
        self.began = self.told = time.monotonic()
        self.length = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: TracebackType | None) -> None:
        self._show("")

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if self.shows and now - self.began > PATIENCE_S and now - self.told > INTERVAL_S:
            self.told = now
            self._show(f"{done} of {total} runs done{time_left(done, total, now - self.began)}")

    def _show(self, text: str) -> None:
        """Put a line in the place of the last."""
        if text or self.length:
            sys.stderr.write(f"\r{text:{self.length}}" + ("" if text else "\r"))
            sys.stderr.flush()
        self.length = len(text)


def time_left(done: int, total: int, elapsed_s: float) -> str:
    """In words, at the pace so far; nothing before the first run is done."""
    if not done:
        return ""
    left_s = elapsed_s / done * (total - done)
    return f", about {left_s:.0f} s left" if left_s < 100.0 else f", about {left_s / 60.0:.0f} min left"


def add_workers(parser: _ActionsContainer) -> None:
    """How many processes to use, as `args.workers`; None leaves it to the number of runs."""
    said = "processes to compute in (as many as pay); the numbers do not depend on it"
    parser.add_argument("--workers", metavar="N", type=_count, help=said)


def add_executors(parser: ArgumentParser) -> None:
    """Processes of this machine, or a Dask cluster in their place, as `args.workers` and `args.cluster`."""
    either = parser.add_mutually_exclusive_group()
    add_workers(either)
    said = "compute on the Dask cluster whose scheduler is there, such as tcp://10.0.0.5:8786"
    either.add_argument("--cluster", metavar="ADDRESS", help=said)


def add_resume(parser: ArgumentParser) -> None:
    """The file of progress, as `args.resume`."""
    said = "write every result there as it is done; a command that was killed goes on with the same file"
    parser.add_argument("--resume", metavar="PATH", type=Path, help=said)


def refuse_without_samples(args: Namespace) -> None:
    """Refuse --cluster and --resume where there is but a single run to compute."""
    for name in ("cluster", "resume"):
        if getattr(args, name) is not None and not args.samples:
            args.parser.error(f"--{name} is for many runs: add --samples N")


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 256:
        raise ArgumentTypeError(f"expected a whole number from 1 to 256; came {text!r}")
    return int(text)
