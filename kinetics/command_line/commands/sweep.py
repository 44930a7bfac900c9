"""`sweep`: one or two numbers of a scenario over a range."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_force, add_json, add_scenario
from kinetics.command_line.bands import add_calibration, add_samples, calibrated, drawn_for
from kinetics.command_line.command import Command
from kinetics.command_line.progress import Progress, add_executors, add_resume
from kinetics.command_line.terminal import print_json, print_lines, talk

if TYPE_CHECKING:
    from concurrent.futures import Executor

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
    parser.add_argument("--figure", metavar="PATH", type=Path, help="draw it to a .png, .svg or .pdf file")
    add_calibration(parser)
    add_samples(parser)
    add_executors(parser)
    add_resume(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.executors import executor_at
    from kinetics.analysis.resuming import resuming
    from kinetics.analysis.runs import default_workers
    from kinetics.analysis.sweep import read_ranges, sweep
    from kinetics.command_line.outputs import CSV, FIGURE, Output, check_outputs, whole_file, write_text
    from kinetics.command_line.sweep_text import csv_text, sweep_lines
    from kinetics.run.integrate import NumericalFailure
    from kinetics.run.reading import read_scenario

    rows, figure = Output("--csv", args.csv, CSV), Output("--figure", args.figure, FIGURE)
    ranges = read_ranges(args.vary, args.log)
    check_outputs([rows, figure], args.force, [args.file, *([args.resume] if args.resume else [])])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    job = {"ranges": ranges, "samples": args.samples, "seed": args.seed, "calibration": shifts}
    workers = args.workers or default_workers(prod(len(one.values) for one in ranges))
    with executor_at(args.cluster) as cluster, resuming(args.resume, "sweep", scenario, job, cluster, workers) as executor:
        with Progress(args.quiet) as progress:
            swept = sweep(scenario, ranges, shifts=shifts, workers=workers, executor=executor, progress=progress)
        bands = banded(swept, args, prior, executor) if args.samples else []
    if args.csv is not None:
        write_text(rows, csv_text(swept))
        talk(f"Wrote {args.csv}.", args.quiet)
    if args.figure is not None:
        from kinetics.command_line.sweep_figure import page_of
        from kinetics.figures.saving import save_figure

        with whole_file(figure) as draft:
            save_figure(page_of(swept, scenario, args.log), draft)
        talk(f"Wrote {args.figure}.", args.quiet)
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
    executor: Executor | None,
) -> list[Any]:
    """Bands of every point, from the same draws; None where its run failed."""
    from kinetics.analysis.ensemble import bands_of

    fine = [point.scenario for point in swept.points if point.outcome.failure is None]
    drawn = iter(drawn_for(args, fine, prior(fine), executor))
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
