"""`run`: the course of one scenario, to read, to plot or to go on with."""

from __future__ import annotations

import csv
import io
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json, add_scenario
from kinetics.command_line.bands import add_uncertainty, band_json, band_lines, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.notices_text import caution_lines, notice_lines
from kinetics.command_line.progress import many_runs, refuse_without_samples
from kinetics.command_line.terminal import heading, print_json, print_lines, talk, wrapped

if TYPE_CHECKING:
    from kinetics.analysis.ensemble import Bands
    from kinetics.run.result import Run
    from kinetics.run.scenario import Scenario


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    add_json(parser)
    parser.add_argument("--csv", metavar="PATH", type=Path, help="write the course in time to a .csv file")
    add_figure(parser)
    add_uncertainty(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.runs import moved_run
    from kinetics.command_line.outputs import CSV, FIGURE, Output, check_outputs, write_figure, write_text
    from kinetics.run.reading import read_scenario

    course, figure = Output("--csv", args.csv, CSV), Output("--figure", args.figure, FIGURE)
    refuse_without_samples(args, "cluster", "resume")
    check_outputs([course, figure], args.force, [args.file, args.resume])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    run = moved_run(scenario, shifts)
    bands = None
    if args.samples and run.failure is None:
        from kinetics.analysis.ensemble import bands_of, run_ensemble

        times, drawn_from = run.series.time_s, prior([scenario])
        with many_runs(args, [scenario], samples=args.samples, seed=args.seed, calibration=shifts) as how:
            bands = bands_of(run_ensemble(scenario, args.samples, args.seed, prior=drawn_from, times=times, **how))
    if args.csv is not None:
        write_text(course, csv_text(run.to_json()["series"]))
        talk(f"Wrote {args.csv}.", args.quiet)
    write_figure(figure, lambda: drawn(run, bands), args.quiet)
    if args.json:
        print_json(run.to_json() | band_json(bands, args.seed))
    else:
        print_lines(text_lines(run, scenario, bands))
    if run.failure is not None:
        raise run.failure
    return 0


def drawn(run: Run, bands: Bands | None) -> Any:
    """The course with its bands."""
    from kinetics.figures.course import figure_course

    return figure_course(run, None if bands is None else bands.courses)


def text_lines(run: Run, scenario: Scenario, bands: Bands | None = None) -> list[str]:
    """All that is printed of a run."""
    from kinetics.analysis.hazard import hazard_report
    from kinetics.command_line.hazard_text import short_lines
    from kinetics.command_line.run_text import course_lines, headline, summary_lines
    from kinetics.data.shelf import load_shelf

    substrate = load_shelf().substrate(scenario.substrate)
    return [
        *headline(run, scenario, substrate),
        *wrapped(f"({run.title})"),
        "",
        *summary_lines(run, scenario, substrate),
        "",
        heading("Course"),
        *course_lines(run, substrate),
        *band_lines(bands),
        *([] if run.failure else short_lines(hazard_report(run, scenario))),
        *caution_lines(run.cautions),
        *notice_lines(run.notices),
    ]


def csv_text(series: Mapping[str, Any]) -> str:
    """The series as CSV: a row for each time, a column for each quantity; what is not known is left empty."""
    columns = dict(columns_of(series))
    length = len(series["time_s"])
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(zip(*(values or [None] * length for values in columns.values()), strict=True))
    return file.getvalue()


def columns_of(series: Mapping[str, Any]) -> Iterator[tuple[str, list | None]]:
    """Name and values of each column, named as in the JSON: time_s, flask_mol[acetaldehyde]."""
    for key, values in series.items():
        if isinstance(values, Mapping):
            yield from ((f"{key}[{name}]", amounts) for name, amounts in values.items())
        else:
            yield key, values


COMMAND = Command(
    name="run",
    help="compute one batch: what comes of it, and its course in time",
    example="retroaldol run scenarios/perfume_school.toml\n"
    "retroaldol run scenarios/perfume_school.toml --csv course.csv\n"
    "retroaldol run scenarios/perfume_school.toml --samples 16",
    place=20,
    add_arguments=add_arguments,
    execute=execute,
)
