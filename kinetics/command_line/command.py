"""What a command is: its name, what it says of itself, its arguments and what it does."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Command:
    """One command of the program; a module in `commands/` defines one as COMMAND.

    help: its purpose in one line; example: one or more lines that work when pasted at the top of the
    repository; place: where the list of commands shows it, small numbers first; add_arguments: gives a parser
    its arguments (--quiet and --debug are there already); execute: does the work and returns the exit status.
    What is refused raises a RefusedInput (exit status 2), a computation that failed its NumericalFailure (3).
    """

    name: str
    help: str
    example: str
    place: int
    add_arguments: Callable[[ArgumentParser], None]
    execute: Callable[[Namespace], int]
