"""Text for a terminal: rounded numbers, tables, wrapped lines, colour where it is wanted; 80 columns."""

from __future__ import annotations

import json
import os
import sys
import textwrap
from collections.abc import Iterable, Sequence
from math import floor, isfinite, log10
from typing import Any

WIDTH = 79
MISSING = "-"


def significant(value: float | None, digits: int = 3) -> str:
    """A number rounded to significant digits: 0.396, 1250, 2.1e-07; a dash where there is none."""
    if value is None or not isfinite(value):
        return MISSING
    if value == 0.0:
        return "0"
    rounded = float(f"{value:.{digits - 1}e}")
    order = floor(log10(abs(rounded)))
    if not -4 <= order < 6:
        return f"{rounded:.{digits - 1}e}"
    return f"{rounded:.{max(0, digits - 1 - order)}f}"


def fixed(value: float | None, decimals: int) -> str:
    """A number with so many decimals, never "-0.0"; a dash where there is none."""
    return MISSING if value is None or not isfinite(value) else f"{value:z.{decimals}f}"


def percent(fraction: float | None) -> str:
    """A fraction in percent, to 0.1 %, without the sign of percent; a dash where there is none."""
    return fixed(None if fraction is None else 100.0 * fraction, 1)


def amount(value: float | None, unit: str) -> str:
    """An amount to three digits with its unit; what is smaller than a thousandth is told as such."""
    if value is not None and abs(value) < 1e-3:
        return f"0 {unit}" if value <= 0.0 else f"<0.001 {unit}"
    return f"{significant(value)} {unit}"


def duration(hours: float) -> str:
    """A time in words: "8 h", "25 min", "1.5 h"."""
    return f"{60.0 * hours:.3g} min" if hours < 1.0 else f"{hours:.4g} h"


def table(header: Sequence[Sequence[str]], rows: Iterable[Sequence[str]], align: str = "") -> list[str]:
    """Lines of a table. header: lines of cells; align: "<" or ">" for each column, ">" where it ends."""
    lines = [*header, *rows]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    sides = align.ljust(len(widths), ">")
    cells = [[f"{cell:{side}{width}}" for cell, side, width in zip(line, sides, widths)] for line in lines]
    return ["  ".join(line).rstrip() for line in cells]


def wrapped(text: str, first: str = "", rest: str | None = None) -> list[str]:
    """Lines of a paragraph, with what stands before the first and the others (as many blanks if None)."""
    rest = " " * len(first) if rest is None else rest
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def heading(text: str) -> str:
    """A line that stands above others."""
    return _styled(text, "1")


def warning(line: str) -> str:
    """A line that wants to be seen."""
    return _styled(line, "33")


def _styled(text: str, code: str) -> str:
    return f"\033[{code}m{text}\033[0m" if colour_wanted() else text


def colour_wanted() -> bool:
    """Whether the output is a terminal that shows colours and nobody has declined them (NO_COLOR)."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM", "") == "dumb" or not sys.stdout.isatty():
        return False
    return os.name != "nt" or "WT_SESSION" in os.environ or "TERM" in os.environ


def print_lines(lines: Iterable[str]) -> None:
    """Results, on the output."""
    sys.stdout.write("\n".join(lines) + "\n")


def print_json(value: Any) -> None:
    """Results as JSON, in full precision, on the output."""
    sys.stdout.write(json.dumps(value, allow_nan=False) + "\n")


def talk(text: str, quiet: bool) -> None:
    """What is said beside the results, on the error output."""
    if not quiet:
        sys.stderr.write(f"{text}\n")
