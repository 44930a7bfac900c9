"""`explain`: why the conversion stops where it does, which lever moves it, and how to make sure on the bench."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from kinetics.command_line.arguments import add_force, add_json, add_scenario
from kinetics.command_line.bands import add_calibration, add_samples, band_json, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.progress import Progress, add_workers
from kinetics.command_line.terminal import print_json, print_lines, talk


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    parser.add_argument(
        "--at",
        metavar="TIME",
        help='explain this moment of the hold, hot, such as "6 h", in place of the end of the run',
    )
    add_json(parser)
    parser.add_argument("--figure", metavar="PATH", type=Path, help="draw the shares to a .png, .svg or .pdf file")
    parser.add_argument("--levers-figure", metavar="PATH", type=Path, help="draw the levers, likewise")
    add_calibration(parser)
    add_samples(parser)
    add_workers(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.explain import explain
    from kinetics.command_line.explain_text import drawn_levers, drawn_shares, explanation_lines
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, whole_file
    from kinetics.run.reading import read_scenario

    waterfall = Output("--figure", args.figure, FIGURE)
    levers = Output("--levers-figure", args.levers_figure, FIGURE)
    at_h = None if args.at is None else hours_in(args.at)
    check_outputs([waterfall, levers], args.force, [args.file])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    with Progress(args.quiet) as progress:
        found = explain(scenario, at_h, shifts=shifts, workers=args.workers, progress=progress)
    bands = None
    if args.samples:
        from kinetics.analysis.banded_answers import explain_bands

        with Progress(args.quiet) as progress:
            bands = explain_bands(
                found, scenario, args.samples, args.seed, prior=prior, workers=args.workers or 1, progress=progress
            )
    if args.figure is not None or args.levers_figure is not None:
        from kinetics.figures.levers import figure_levers
        from kinetics.figures.saving import save_figure
        from kinetics.figures.waterfall import figure_waterfall

        for output, draw in (
            (waterfall, lambda: figure_waterfall(found.conversion, drawn_shares(found), title=found.title)),
            (levers, lambda: figure_levers(drawn_levers(found), title=found.title)),
        ):
            if output.path is not None:
                with whole_file(output) as draft:
                    save_figure(draw(), draft)
                talk(f"Wrote {output.path}.", args.quiet)
    if args.json:
        print_json(found.to_json() | (bands or band_json(None, args.seed)))
    else:
        print_lines(explanation_lines(found))
        print_lines(band_lines(bands))
    return 0


def band_lines(bands: dict[str, Any] | None) -> list[str]:
    """The bands of what is explained, and the odds of each lever."""
    from kinetics.command_line.bands import no_band_lines
    from kinetics.command_line.terminal import heading, table

    if bands is None:
        return no_band_lines()
    header = [["", "5 %", "50 %", "95 %", "helps in"], ["", "points", "points", "points", "% of samples"]]
    rows = [(name, *points_of(bands["bands"][name]), "") for name in ("conversion", "yield", "shortfall")]
    for name, gain in bands["lever_bands"].items():
        helps = gain["helps_conversion"]
        rows.append((name, *points_of(gain["conversion_gain"]), "-" if helps is None else f"{100.0 * helps:.0f}"))
    return ["", heading(f"Bands from {bands['samples']} samples (seed {bands['seed']})"), *table(header, rows, "<")]


def points_of(band: Mapping[str, float | None]) -> list[str]:
    """A band in points of percent."""
    values = [band[q] for q in ("p5", "p50", "p95")]
    return ["-" if value is None else f"{100.0 * value:+.1f}" for value in values]


def hours_in(text: str) -> float:
    """The time of --at in hours; refuses what is no time."""
    from kinetics.data.faults import QuantityError, ScenarioError
    from kinetics.data.units import quantity

    try:
        return quantity(text, "time") / 3600.0
    except QuantityError as error:
        raise ScenarioError([error.at("--at")], "explain") from None


COMMAND = Command(
    name="explain",
    help="why the conversion stops where it does, and which lever moves it",
    example="retroaldol explain scenarios/common_practice.toml\n"
    'retroaldol explain scenarios/common_practice.toml --at "3 h" --json',
    place=55,
    add_arguments=add_arguments,
    execute=execute,
)
