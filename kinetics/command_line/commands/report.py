"""`report`: one self-contained page of a batch, to read, to print or to send."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from kinetics.command_line.arguments import add_force, add_scenario
from kinetics.command_line.bands import add_calibration, add_samples, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.progress import add_executors, many_runs
from kinetics.command_line.terminal import talk

SAMPLES = 64
PAGE = (".html", ".htm")


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    parser.add_argument("--out", metavar="PATH", type=Path, required=True, help="the page to write, a .html file")
    add_calibration(parser)
    add_samples(parser)
    parser.set_defaults(samples=SAMPLES)
    parser.add_argument(
        "--no-what-if", action="store_true", help="leave out the sliders, and the hundred runs they need"
    )
    add_executors(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.command_line.outputs import Output, check_outputs, write_text
    from kinetics.run.reading import read_scenario

    page = Output("--out", args.out, PAGE)
    check_outputs([page], args.force, [args.file, args.calibration])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    from kinetics.report.findings import findings_of
    from kinetics.report.grid import NODES
    from kinetics.report.page import page_of

    nodes = None if args.no_what_if else NODES
    with many_runs(args) as how:
        found = findings_of(
            scenario, args.samples, args.seed, nodes=nodes, shifts=shifts, prior=prior([scenario]), **how
        )
    write_text(page, page_of(found, args.calibration))
    talk(f"Wrote {args.out}.", args.quiet)
    return 0


COMMAND = Command(
    name="report",
    help="write one page of a batch to read, print or send (.html)",
    example="retroaldol report scenarios/prenal.toml --out prenal.html",
    place=70,
    add_arguments=add_arguments,
    execute=execute,
)
