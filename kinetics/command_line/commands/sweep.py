"""`sweep`: one or two numbers of a scenario over a range."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json, add_scenario
from kinetics.command_line.bands import add_uncertainty, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.progress import many_runs
from kinetics.command_line.terminal import print_json, print_lines, talk

if TYPE_CHECKING:
    from kinetics.analysis.ensemble import Prior
    from kinetics.analysis.sweep import Sweep
    from kinetics.run.scenario import Scenario


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    parser.add_argument(
        "--vary",
        metavar="KEY=FROM..TO[/N]",
        action="append",
        required=True,
        help="the key and its range, the unit written once or twice, and how many values (9; 7 in a map); "
        "twice for a map of two keys",
    )
    parser.add_argument("--log", action="store_true", help="space the values by equal factors")
    add_json(parser)
    parser.add_argument("--csv", metavar="PATH", type=Path, help="write every run to a .csv file")
    add_figure(parser)
    add_uncertainty(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.sweep import read_ranges, sweep
    from kinetics.command_line.outputs import CSV, FIGURE, Output, check_outputs, write_figure, write_text
    from kinetics.command_line.sweep_figure import page_of
    from kinetics.command_line.sweep_text import csv_text, sweep_lines
    from kinetics.run.integrate import NumericalFailure
    from kinetics.run.reading import read_scenario

    rows, figure = Output("--csv", args.csv, CSV), Output("--figure", args.figure, FIGURE)
    ranges = read_ranges(args.vary, args.log)
    check_outputs([rows, figure], args.force, [args.file, args.resume])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    job = {"ranges": ranges, "samples": args.samples, "seed": args.seed, "calibration": shifts}
    with many_runs(args, [scenario], **job) as how:
        swept = sweep(scenario, ranges, shifts=shifts, **how)
        bands = banded(swept, args, prior, how) if args.samples else []
    if args.csv is not None:
        write_text(rows, csv_text(swept))
        talk(f"Wrote {args.csv}.", args.quiet)
    write_figure(figure, lambda: page_of(swept, scenario, args.log), args.quiet)
    if args.json:
        table = swept.to_json()
        for point, band in zip(table["points"], bands):
            point["bands"] = band
        print_json(table | {"samples": args.samples, "seed": args.seed})
    else:
        print_lines(sweep_lines(swept, scenario))
        print_lines(band_lines(swept, bands, args))
    failed = [point for point in swept.points if point.outcome.failure is not None]
    if failed:
        first = failed[0]
        at = ", ".join(one.text(v) for one, v in zip(ranges, first.values, strict=True))
        said = f"{len(failed)} of {len(swept.points)} runs failed; at {at}: {first.outcome.failure}"
        raise NumericalFailure(said, 0.0)
    return 0


def banded(
    swept: Sweep,
    args: Namespace,
    prior: Callable[[list[Scenario]], Prior | None],
    how: Mapping[str, Any],
) -> list[Any]:
    """Bands of every point, from the same draws; None where its run failed."""
    from kinetics.analysis.ensemble import bands_of
    from kinetics.analysis.same_draws import ensembles

    fine = [point.scenario for point in swept.points if point.outcome.failure is None]
    drawn = iter(ensembles(fine, args.samples, args.seed, prior=prior(fine), **how))
    return [None if p.outcome.failure is not None else dict(bands_of(next(drawn)).bands) for p in swept.points]


def band_lines(swept: Sweep, bands: list[Any], args: Namespace) -> list[str]:
    """The bands of conversion and yield at every point."""
    from kinetics.command_line.bands import band_row, no_band_lines
    from kinetics.command_line.terminal import heading, significant, table

    if not bands:
        return no_band_lines()
    rows = []
    for point, band in zip(swept.points, bands):
        cells = [band_row(key, (band or {}).get(key)) or ("",) * 6 for key in ("conversion", "yield")]
        rows.append((*map(significant, point.values), *(cell for row in cells for cell in row[1:4])))
    units = [one.unit for one in swept.ranges]
    header = [
        [*([""] * len(units)), "conver-", "sion", "%", "", "yield", "%"],
        [*units, "5 %", "50 %", "95 %", "5 %", "50 %", "95 %"],
    ]
    return ["", heading(f"Bands from {args.samples} samples (seed {args.seed})"), *table(header, rows)]


COMMAND = Command(
    name="sweep",
    help="compute a scenario over a range of one or two of its numbers",
    example='retroaldol sweep scenarios/prenal.toml --vary "heating.hold=1..8 h/4"\n'
    "retroaldol sweep scenarios/prenal.toml --vary charge.water=100..400mL/4 --log",
    place=40,
    add_arguments=add_arguments,
    execute=execute,
)
