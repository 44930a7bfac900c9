"""`hours`: how long to reflux, what each further hour buys and costs, and what time alone can never pass."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json, add_scenario
from kinetics.command_line.bands import add_uncertainty, band_json, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.progress import many_runs
from kinetics.command_line.terminal import print_json, print_lines

if TYPE_CHECKING:
    from kinetics.analysis.applying import Shifts
    from kinetics.analysis.hours import Hours
    from kinetics.run.scenario import Scenario


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
    add_figure(parser)
    add_uncertainty(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.banded_answers import hours_bands
    from kinetics.analysis.hours import hours, refuse_unsound
    from kinetics.command_line.hours_text import hours_lines
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, write_figure
    from kinetics.run.reading import read_scenario

    figure = Output("--figure", args.figure, FIGURE)
    refuse_unsound(args.target, args.worth)
    check_outputs([figure], args.force, [args.file, args.resume])
    scenario, shifts, prior = calibrated(args, read_scenario(args.file))
    asked = {"target": args.target, "worth": args.worth, "samples": args.samples, "seed": args.seed}
    with many_runs(args, [scenario], calibration=shifts, **asked) as how:
        found = hours(scenario, args.target, args.worth, shifts=shifts, **how)
        bands = None
        if args.samples:
            bands = hours_bands(found, scenario, args.samples, args.seed, prior=prior([scenario]), **how)
    write_figure(figure, lambda: page_of(found, scenario, shifts), args.quiet)
    if args.json:
        print_json(found.to_json() | (bands or band_json(None, args.seed)))
    else:
        print_lines(hours_lines(found))
        print_lines(band_lines(bands))
    return 0


def page_of(found: Hours, scenario: Scenario, shifts: Shifts) -> Any:
    """The figure: the course as far as it is told, with the equilibrium."""
    from dataclasses import replace

    from kinetics.analysis.runs import HOUR_S, moved_run
    from kinetics.figures.course import figure_course

    shown = replace(scenario.heating, hold_s=HOUR_S * float(found.hold_h[-1]), cooling_s=0.0)
    return figure_course(moved_run(replace(scenario, heating=shown), shifts), ceiling=found.equilibrium)


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
