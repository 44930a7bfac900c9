"""`ledger`: from charge to bottle: what to expect of the work-up, and where the rest went."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from kinetics.command_line.arguments import add_force, add_json, add_scenario
from kinetics.command_line.bands import add_calibration, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.terminal import print_json, print_lines, talk


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    add_json(parser)
    parser.add_argument("--band", action="store_true", help="move each uncertain number too (takes some thirty runs)")
    add_calibration(parser)
    parser.add_argument("--figure", metavar="PATH", type=Path, help="draw it to a .png, .svg or .pdf file")
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.ledger import ledger_of, with_band
    from kinetics.analysis.runs import Job, moved
    from kinetics.command_line.ledger_text import json_of, lines_of
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, whole_file
    from kinetics.run.reading import read_scenario
    from kinetics.run.simulation import simulate

    figure = Output("--figure", args.figure, FIGURE)
    check_outputs([figure], args.force, [args.file, *([args.calibration] if args.calibration else [])])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    at, shelf = moved(Job(scenario, shifts=shifts))
    run = simulate(at, shelf=shelf)
    if run.failure is not None:
        raise run.failure
    ledger = ledger_of(run, at, shelf)
    if args.band:
        talk("Moving each uncertain number by its standard uncertainty.", args.quiet)
        ledger = with_band(ledger, run, scenario, shifts, prior([scenario]))
    if args.figure is not None:
        from kinetics.figures.ledger import figure_ledger
        from kinetics.figures.saving import save_figure

        with whole_file(figure) as draft:
            save_figure(figure_ledger(ledger), draft)
        talk(f"Wrote {args.figure}.", args.quiet)
    if args.json:
        print_json(json_of(ledger, scenario))
    else:
        print_lines(lines_of(ledger, scenario))
    return 0


COMMAND = Command(
    name="ledger",
    help="from charge to bottle: what to expect, and where the rest went",
    example="retroaldol ledger scenarios/common_practice.toml\n"
    "retroaldol ledger scenarios/common_practice.toml --figure ledger.png",
    place=80,
    add_arguments=add_arguments,
    execute=execute,
)
