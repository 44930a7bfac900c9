"""`new`: a commented scenario to start from."""

from __future__ import annotations

import os
import re
from argparse import ArgumentParser, Namespace
from pathlib import Path

from kinetics.command_line.arguments import add_force
from kinetics.command_line.command import Command
from kinetics.command_line.terminal import talk

OTHER_SUBSTRATE = """\
# The numbers and remarks below were made for {written} and are only a start for {name}:
# look up how much dissolves, what comes off and how it can hurt before you heat anything.
"""


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("path", metavar="PATH", type=Path, help="the file to write; its name ends in .toml")
    parser.add_argument("--substrate", metavar="NAME", help="what is to be cleaved (cinnamaldehyde)")
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.command_line.outputs import SCENARIO, Output, check_outputs, write_text
    from kinetics.run.template import starting_scenario

    output = Output("PATH", args.path, SCENARIO)
    check_outputs([output], args.force)
    text = starting_scenario()
    if args.substrate is not None:
        text = with_substrate(text, args.substrate, args.path.parent)
    write_text(output, text)
    talk(f"Wrote {args.path}. Change its numbers to yours, then: retroaldol run {args.path}", args.quiet)
    return 0


def with_substrate(text: str, name: str, folder: Path) -> str:
    """A scenario's text with another substrate; `folder` is where it will stand, should `name` be a path."""
    from kinetics.data.shelf import load_shelf

    wanted = load_shelf().substrate(name)
    written = re.findall(r'^substrate = "(.*?)"', text, re.MULTILINE)[0]
    species = load_shelf().substrate(written).substrate
    if wanted.name == written:
        return text
    is_file = name.endswith(".toml")
    value = Path(os.path.relpath(name, folder)).as_posix() if is_file else wanted.name
    text = text.replace(f'substrate = "{written}"', f'substrate = "{value}"')
    text = re.sub(rf"^{re.escape(species)} =", f'"{wanted.substrate}" =', text, flags=re.MULTILINE)
    return OTHER_SUBSTRATE.format(written=written, name=wanted.name) + text


COMMAND = Command(
    name="new",
    help="write a commented scenario file to start from",
    example="retroaldol new my_batch.toml\nretroaldol new my_prenal_batch.toml --substrate prenal",
    place=10,
    add_arguments=add_arguments,
    execute=execute,
)
