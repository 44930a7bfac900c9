"""`hazard`: what a batch gives off, the air and the trap it asks for, and why the vessel is never closed."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from kinetics.command_line.arguments import add_json, add_scenario
from kinetics.command_line.bands import add_calibration, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.terminal import print_json, print_lines


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    add_json(parser)
    add_calibration(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.hazard import hazard_report
    from kinetics.analysis.runs import Job, moved
    from kinetics.command_line.hazard_text import lines_of
    from kinetics.run.reading import read_scenario
    from kinetics.run.result import plain
    from kinetics.run.simulation import simulate

    scenario, shifts, _ = calibrated(args, read_scenario(args.file))
    scenario, shelf = moved(Job(scenario, shifts=shifts))
    run = simulate(scenario, shelf=shelf)
    report = hazard_report(run, scenario, shelf)
    if args.json:
        print_json(plain(report))
    else:
        print_lines(lines_of(report))
    if run.failure is not None:
        raise run.failure
    return 0


COMMAND = Command(
    name="hazard",
    help="what leaves the flask, the air and the trap for it, cautions",
    example="retroaldol hazard scenarios/perfume_school.toml",
    place=70,
    add_arguments=add_arguments,
    execute=execute,
)
