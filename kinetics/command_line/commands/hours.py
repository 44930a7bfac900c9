"""`hours`: how long to reflux, what each further hour buys and costs, and what time alone can never pass."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
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
        "--target", metavar="X", type=float, help="conversion to reach, as a part of the charge, such as 0.75"
    )
    parser.add_argument(
        "--worth",
        metavar="X",
        type=float,
        default=0.01,
        help="the least an hour must add to be worth it, as a part of the charge (0.01)",
    )
    add_json(parser)
    parser.add_argument("--figure", metavar="PATH", type=Path, help="draw it to a .png, .svg or .pdf file")
    add_calibration(parser)
    add_samples(parser)
    add_workers(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.hours import hours, refuse_unsound
    from kinetics.command_line.hours_text import hours_lines
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, whole_file
    from kinetics.run.reading import read_scenario

    figure = Output("--figure", args.figure, FIGURE)
    refuse_unsound(args.target, args.worth)
    check_outputs([figure], args.force, [args.file])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    with Progress(args.quiet) as progress:
        found = hours(scenario, args.target, args.worth, shifts=shifts, progress=progress)
    bands = None
    if args.samples:
        from kinetics.analysis.banded_answers import hours_bands

        with Progress(args.quiet) as progress:
            bands = hours_bands(
                found,
                scenario,
                args.samples,
                args.seed,
                prior=prior([scenario]),
                workers=args.workers or 1,
                progress=progress,
            )
    if args.figure is not None:
        from dataclasses import replace

        from kinetics.analysis.runs import moved_run
        from kinetics.figures.course import figure_course
        from kinetics.figures.saving import save_figure

        shown = replace(scenario.heating, hold_s=3600.0 * float(found.hold_h[-1]), cooling_s=0.0)
        with whole_file(figure) as draft:
            run = moved_run(replace(scenario, heating=shown), shifts)
            save_figure(figure_course(run, ceiling=found.equilibrium), draft)
        talk(f"Wrote {args.figure}.", args.quiet)
    if args.json:
        print_json(found.to_json() | (bands or band_json(None, args.seed)))
    else:
        print_lines(hours_lines(found))
        print_lines(band_lines(bands))
    return 0


def band_lines(bands: dict[str, Any] | None) -> list[str]:
    """The bands at a dozen hold times, and of the hours to the target and to the worthwhile stop."""
    from kinetics.command_line.bands import no_band_lines
    from kinetics.command_line.terminal import fixed, heading, table, wrapped

    if bands is None:
        return no_band_lines()
    series = bands["band_series"]
    hold_h = series["hold_h"]
    step = max(1, len(hold_h) // 12)
    rows = []
    for k in range(0, len(hold_h), step):
        values = [series[name][q][k] for name in ("conversion", "yield") for q in ("p5", "p50", "p95")]
        cells = ["-" if value is None else f"{100.0 * value:.1f}" for value in values]
        rows.append((fixed(hold_h[k], 2), *cells))
    header = [["", "conver-", "sion", "%", "", "yield", "%"], ["hold, h", "5 %", "50 %", "95 %", "5 %", "50 %", "95 %"]]
    lines = ["", heading(f"Bands from {bands['samples']} samples (seed {bands['seed']})"), *table(header, rows)]
    for name, words in (("target_h", "hours to the target"), ("worth_stop_h", "hours that are worth it")):
        if name in bands["bands"]:
            shown = ["later" if bands["bands"][name][q] is None else f"{bands['bands'][name][q]:.3g}" for q in ("p5", "p50", "p95")]
            lines += wrapped(f"{words}: {shown[0]} (5 %), {shown[1]} (50 %), {shown[2]} (95 %)")
    return lines


COMMAND = Command(
    name="hours",
    help="how long to reflux, and what each further hour gains",
    example="retroaldol hours scenarios/perfume_school.toml\n"
    "retroaldol hours scenarios/perfume_school.toml --target 0.8",
    place=50,
    add_arguments=add_arguments,
    execute=execute,
)
