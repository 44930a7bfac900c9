"""`calibrate`: the uncertain constants fitted to measured samples, kept in a file that other commands apply."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json
from kinetics.command_line.command import Command
from kinetics.command_line.progress import add_executors, many_runs
from kinetics.command_line.terminal import print_json, print_lines, talk

if TYPE_CHECKING:
    from kinetics.analysis.calibration_report import Calibrated


def add_arguments(parser: ArgumentParser) -> None:
    said = "the scenario file of each run that was measured (TOML)"
    parser.add_argument("files", metavar="FILE", type=Path, nargs="+", help=said)
    parser.add_argument(
        "--data",
        metavar="CSV",
        type=Path,
        required=True,
        help='the measurements: columns "time [h]" (from the start of the heating) or "hold time [h]", quantity, '
        "value, and where they apply unit, sd, run, temperature [degC] (of a pH), response factor (of an area "
        "ratio), sample, remark. Quantities: conversion, yield, enal fraction, area ratio, pH, oil mass, byproduct "
        "in trap",
    )
    said = "where to write the calibration (.toml; the name of the data with _calibration)"
    parser.add_argument("--out", metavar="PATH", type=Path, help=said)
    said = "fit these constants alone, separated by commas (those the data reach)"
    parser.add_argument("--constants", metavar="NAME,...", help=said)
    parser.add_argument("--robust", action="store_true", help="let outliers weigh less")
    said = "name the next sample that would narrow this quantity at the end of the run most"
    parser.add_argument("--suggest", metavar="QUANTITY", help=said)
    add_json(parser)
    add_figure(parser)
    add_executors(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.calibrate import calibrate
    from kinetics.analysis.measurements import read_measurements
    from kinetics.analysis.suggest import check_target, suggest
    from kinetics.command_line.calibrate_text import calibration_lines
    from kinetics.command_line.outputs import FIGURE, SCENARIO, Output, check_outputs, write_figure, write_text
    from kinetics.run.reading import read_scenario

    out = args.out if args.out is not None else args.data.with_name(f"{args.data.stem}_calibration.toml")
    result, figure = Output("--out", out, SCENARIO), Output("--figure", args.figure, FIGURE)
    if args.suggest is not None:
        check_target(args.suggest)
    check_outputs([result, figure], args.force, [*args.files, args.data])
    measurements = read_measurements(args.data, [read_scenario(path) for path in args.files])
    names = (
        None
        if args.constants is None
        else [name.strip() for name in args.constants.split(",") if name.strip()]
    )
    with many_runs(args) as how:
        calibrated = calibrate(measurements, names, robust=args.robust, **how)
        suggestion = None if args.suggest is None else suggest(calibrated, args.suggest, executor=how["executor"])
    write_text(result, calibrated.calibration.to_toml())
    talk(f"Wrote {out}.", args.quiet)
    write_figure(figure, lambda: page_of(calibrated), args.quiet)
    if args.json:
        asked = {} if args.suggest is None else {"suggestion": suggestion and suggestion.to_json()}
        print_json({**calibrated.to_json(), **asked, "calibration": str(out)})
    else:
        print_lines(calibration_lines(calibrated, args.suggest, suggestion))
    return 0


def page_of(calibrated: Calibrated) -> Any:
    """The figure: the samples over the courses before and after."""
    from kinetics.figures.calibration import figure_calibration

    return figure_calibration(calibrated)


COMMAND = Command(
    name="calibrate",
    help="fit the uncertain constants to measured samples",
    example="retroaldol calibrate scenarios/perfume_school.toml \\\n"
    "    --data tests/analysis/data/invented_samples.csv --out calibration.toml \\\n"
    "    --constants apparatus.air_exchange",
    place=70,
    add_arguments=add_arguments,
    execute=execute,
)
