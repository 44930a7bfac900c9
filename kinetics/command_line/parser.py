"""The argument parser: one line for a fault, with the nearest valid word, and help that fits 80 columns."""

from __future__ import annotations

import re
import sys
from argparse import SUPPRESS, ArgumentParser, HelpFormatter, RawDescriptionHelpFormatter
from collections.abc import Iterator
from shutil import get_terminal_size
from typing import NoReturn

from kinetics.command_line.command import Command
from kinetics.command_line.terminal import WIDTH

PROGRAM = "retroaldol"


def formatter(prog: str) -> HelpFormatter:
    """Help as written, never wider than the terminal or than 80 columns."""
    width = min(WIDTH, get_terminal_size((WIDTH, 24)).columns - 1)
    return RawDescriptionHelpFormatter(prog, max_help_position=22, width=width)


class Parser(ArgumentParser):
    """An argument parser whose faults are one line and a hint."""

    def __init__(self, **keywords: object) -> None:
        super().__init__(formatter_class=formatter, allow_abbrev=False, **keywords)  # type: ignore[arg-type]

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and what was probably meant; exit status 2."""
        sys.stderr.write(f"{self.prog}: {message}{self._probably_meant(message)} (see {self.prog} --help)\n")
        raise SystemExit(2)

    def options(self) -> Iterator[tuple[str, str]]:
        """Every long option with its help."""
        for action in self._actions:
            for name in action.option_strings:
                if name.startswith("--") and action.help != SUPPRESS:
                    yield name, action.help or ""

    def _probably_meant(self, message: str) -> str:
        from kinetics.data.faults import nearest

        if choice := re.search(r"invalid choice: '(.*?)' \(choose from (.*)\)", message):
            close = nearest(choice[1], re.findall(r"[\w-]+", choice[2]))
        elif unknown := re.search(r"unrecognized arguments: (--[\w-]+)", message):
            close = nearest(unknown[1], (name for name, _ in self.options()))
        else:
            return ""
        return f"; did you mean {close}?" if close else ""


def add_command(command: Command, parser: Parser) -> Parser:
    """Give `parser` all that belongs to a command."""
    command.add_arguments(parser)
    parser.add_argument("--quiet", action="store_true", help="say nothing on the error output but faults")
    parser.add_argument("--debug", action="store_true", help="show where in the program an error arose")
    parser.set_defaults(execute=command.execute, parser=parser)
    return parser


def epilog_of(command: Command) -> str:
    """The foot of a command's help: its example."""
    examples = "\n".join(f"  {line}" for line in command.example.strip().splitlines())
    return f"example, from the top of the repository:\n{examples}"
