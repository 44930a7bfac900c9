"""`check`: whether a scenario file is sound, and what was read from it."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from kinetics.command_line.arguments import add_json, add_scenario
from kinetics.command_line.command import Command
from kinetics.command_line.terminal import print_json, print_lines


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    add_json(parser)


def execute(args: Namespace) -> int:
    from kinetics.data.faults import ScenarioError
    from kinetics.run.reading import read_scenario

    try:
        scenario = read_scenario(args.file)
    except ScenarioError as error:
        if args.json:
            keys = ("key", "expected", "came", "hint")
            print_json({"faults": [{key: getattr(fault, key) for key in keys} for fault in error.faults]})
        raise
    from kinetics.command_line.reading_text import figures_of, reading_lines

    figures = figures_of(scenario)
    if args.json:
        print_json({"faults": [], **figures})
    else:
        print_lines(reading_lines(figures, scenario))
    return 0


COMMAND = Command(
    name="check",
    help="say what is wrong with a scenario file, or what was read from it",
    example="retroaldol check scenarios/perfume_school.toml",
    place=15,
    add_arguments=add_arguments,
    execute=execute,
)
