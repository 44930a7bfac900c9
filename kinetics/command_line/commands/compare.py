"""`compare`: scenarios and their options side by side, best first."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json
from kinetics.command_line.bands import add_uncertainty, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.progress import many_runs
from kinetics.command_line.terminal import print_json, print_lines, talk

if TYPE_CHECKING:
    from kinetics.analysis.compare import Compared
    from kinetics.analysis.ensemble import Prior
    from kinetics.run.scenario import Scenario

FILES = "scenario files (TOML); their options are compared as well"


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("files", metavar="FILE", type=Path, nargs="+", help=FILES)
    said = (
        "the number to put them in order by, as --json names it (yield); the best, or the least, comes first"
    )
    parser.add_argument("--by", metavar="KEY", default="yield", help=said)
    add_json(parser)
    add_figure(parser, "the courses")
    add_uncertainty(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.compare import check_order, compare
    from kinetics.command_line.compare_text import comparison_lines
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, write_figure
    from kinetics.run.reading import read_scenario

    figure = Output("--figure", args.figure, FIGURE)
    check_order(args.by)
    check_outputs([figure], args.force, [*args.files, args.resume])
    read = [calibrated(args, read_scenario(path)) for path in args.files]
    scenarios, (_, shifts, prior) = [one for one, _, _ in read], read[0]
    whole = args.figure is not None
    with many_runs(args, scenarios, samples=args.samples, seed=args.seed, calibration=shifts) as how:
        compared = compare(scenarios, args.by, shifts=shifts, whole=whole, **how)
        bands = banded(compared, args, prior, how) if args.samples else {}
    if len(compared) == 1:
        talk("One scenario without options: there is nothing to compare it with.", args.quiet)
    write_figure(figure, lambda: page_of(compared, args.by, bands), args.quiet)
    if args.json:
        cautions = list(dict.fromkeys(text for one in compared for text in one.outcome.cautions))
        options = [one.to_json() | bands.get(one.position, {}) for one in compared]
        print_json(
            {"by": args.by, "options": options, "cautions": cautions, "samples": args.samples, "seed": args.seed}
        )
    else:
        print_lines(comparison_lines(compared, args.by))
        print_lines(band_lines(compared, bands, args))
    return failing(compared)


def banded(
    compared: list[Compared],
    args: Namespace,
    prior: Callable[[list[Scenario]], Prior | None],
    how: Mapping[str, Any],
) -> dict[int, dict[str, Any]]:
    """By position: bands, and in what share of the same draws the option beats the first one written."""
    from kinetics.analysis.compare import LESS_IS_BETTER
    from kinetics.analysis.ensemble import bands_of
    from kinetics.analysis.same_draws import ensembles, probability_of_more

    written = sorted((one for one in compared if one.outcome.failure is None), key=lambda one: one.position)
    scenarios = [one.variant.scenario for one in written]
    drawn = ensembles(scenarios, args.samples, args.seed, prior=prior(scenarios), **how)
    found = {}
    for one, ensemble in zip(written, drawn):
        more = probability_of_more(ensemble, drawn[0], args.by)
        if more is not None and args.by in LESS_IS_BETTER:
            more = probability_of_more(drawn[0], ensemble, args.by)
        beats = None if one is written[0] else more
        found[one.position] = {"bands": dict(bands_of(ensemble).bands), "beats_first": beats}
    return found


def band_lines(compared: list[Compared], bands: dict[int, dict[str, Any]], args: Namespace) -> list[str]:
    """The bands of the number the options are put in order by."""
    from kinetics.command_line.bands import band_row, no_band_lines
    from kinetics.command_line.terminal import heading, table, wrapped

    if not bands:
        return no_band_lines()
    key = args.by if any(args.by in b["bands"] for b in bands.values()) else "yield"
    rows = []
    for number, one in enumerate(compared, 1):
        row = band_row(key, bands.get(one.position, {}).get("bands", {}).get(key))
        if row is not None:
            beats = bands[one.position]["beats_first"]
            rows.append((str(number), *row[1:], "" if beats is None else f"{100 * beats:.0f} %"))
    first = min(compared, key=lambda one: one.position).variant.name
    return [
        "",
        heading(f"Bands of the {key} from {args.samples} samples (seed {args.seed})"),
        *table([["", "5 %", "50 %", "95 %", "+-", "", "better"]], rows, "<>>>><>"),
        *wrapped(
            f"better: share of the samples in which the option does better than {first!r}, with the same constants in both."
        ),
    ]


def failing(compared: list[Compared]) -> int:
    """Raise the failure that gives exit status 3 if any option failed; all have been shown by then."""
    from kinetics.run.integrate import NumericalFailure

    failed = [one for one in compared if one.outcome.failure is not None]
    if failed:
        names = "; ".join(one.variant.name for one in failed)
        raise NumericalFailure(f"{len(failed)} of {len(compared)} options failed ({names})", 0.0)
    return 0


def page_of(compared: list[Compared], by: str, bands: Mapping[int, Mapping[str, Any]]) -> Any:
    """The figure: the course of the yield, or of the conversion where the order is by that."""
    from kinetics.figures.comparison import figure_comparison

    written = sorted(compared, key=lambda one: one.position)
    runs = [(one.variant.name, one.outcome.run) for one in written if one.outcome.run is not None]
    missing = [f"Not drawn: {one.variant.name}." for one in written if one.outcome.run is None]
    quantity = "yield" if by == "yield" else "conversion"
    final = {one.variant.name: bands[one.position]["bands"][quantity] for one in written if one.position in bands}
    title = f"{quantity.capitalize()}, option by option"
    return figure_comparison(runs, quantity, title=title, remarks=missing, bands=final)


COMMAND = Command(
    name="compare",
    help="set scenarios and their options side by side, best first",
    example="retroaldol compare scenarios/perfume_school.toml\n"
    "retroaldol compare scenarios/perfume_school.toml --by unreacted_g\n"
    "retroaldol compare scenarios/prenal.toml scenarios/citral.toml",
    place=30,
    add_arguments=add_arguments,
    execute=execute,
)
