"""`explain`: why the conversion stops where it does, which lever moves it, and how to make sure on the bench."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json, add_scenario
from kinetics.command_line.bands import add_uncertainty, band_json, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.progress import many_runs
from kinetics.command_line.terminal import print_json, print_lines

if TYPE_CHECKING:
    from kinetics.analysis.explain import Explanation


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    parser.add_argument(
        "--at",
        metavar="TIME",
        help='explain this moment of the hold, hot, such as "6 h", in place of the end of the run',
    )
    add_json(parser)
    add_figure(parser, "the shares")
    parser.add_argument("--levers-figure", metavar="PATH", type=Path, help="draw the levers, likewise")
    add_uncertainty(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.banded_answers import explain_bands
    from kinetics.analysis.explain import explain
    from kinetics.command_line.explain_text import explanation_lines
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, write_figure
    from kinetics.run.reading import read_scenario

    waterfall = Output("--figure", args.figure, FIGURE)
    levers = Output("--levers-figure", args.levers_figure, FIGURE)
    at_h = None if args.at is None else hours_in(args.at)
    check_outputs([waterfall, levers], args.force, [args.file, args.resume])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    asked = {"at": at_h, "samples": args.samples, "seed": args.seed}
    with many_runs(args, [scenario], calibration=shifts, **asked) as how:
        found = explain(scenario, at_h, shifts=shifts, **how)
        bands = None
        if args.samples:
            bands = explain_bands(found, scenario, args.samples, args.seed, prior=prior, **how)
    write_figure(waterfall, lambda: shares_page(found), args.quiet)
    write_figure(levers, lambda: levers_page(found), args.quiet)
    if args.json:
        print_json(found.to_json() | (bands or band_json(None, args.seed)))
    else:
        print_lines(explanation_lines(found))
        print_lines(band_lines(bands))
    return 0


def shares_page(found: Explanation) -> Any:
    """The figure of the shares."""
    from kinetics.command_line.explain_text import drawn_shares
    from kinetics.figures.waterfall import figure_waterfall

    return figure_waterfall(found.conversion, drawn_shares(found), title=found.title)


def levers_page(found: Explanation) -> Any:
    """The figure of the levers."""
    from kinetics.command_line.explain_text import drawn_levers
    from kinetics.figures.levers import figure_levers

    return figure_levers(drawn_levers(found), title=found.title)


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
