"""`sensitivity`: which uncertain constants make the spread of the answer, largest first."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_figure, add_force, add_json, add_scenario
from kinetics.command_line.command import Command
from kinetics.command_line.progress import add_executors, add_resume, many_runs
from kinetics.command_line.terminal import heading, print_json, print_lines, table, wrapped

if TYPE_CHECKING:
    from kinetics.analysis.sensitivity import Influence, Sensitivity

ANSWERS = {"conversion": "final conversion", "yield": "final yield", "target_h": "hours to the target"}
SHOWN = 0.01  # of the variance: what makes less is not listed


def power_of_two(text: str) -> int:
    """A sample number that the estimators take."""
    if not text.isdecimal() or int(text) < 8 or int(text) & (int(text) - 1):
        raise ArgumentTypeError(f"expected a power of two from 8 on; came {text!r}")
    return int(text)


def fraction(text: str) -> float:
    """A conversion to reach."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < 1.0:
        raise ArgumentTypeError(f"expected a fraction between 0 and 1, such as 0.7; came {text!r}")
    return value


def whole_number(text: str) -> int:
    """A seed."""
    if not text.isdecimal():
        raise ArgumentTypeError(f"expected a whole number; came {text!r}")
    return int(text)


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    parser.add_argument("--target", metavar="X", type=fraction, help="explain the hours to this conversion as well")
    parser.add_argument(
        "--samples", metavar="N", type=power_of_two, default=64, help="size of each design, a power of two (64)"
    )
    parser.add_argument("--seed", metavar="S", type=whole_number, default=0, help="seed of the draws (0)")
    add_executors(parser)
    add_resume(parser)
    add_json(parser)
    add_figure(parser)
    add_force(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.sensitivity import sensitivity
    from kinetics.command_line.outputs import FIGURE, Output, check_outputs, write_figure
    from kinetics.run.reading import read_scenario

    figure = Output("--figure", args.figure, FIGURE)
    check_outputs([figure], args.force, [args.file, args.resume])
    scenario = read_scenario(args.file)
    with many_runs(args, [scenario], samples=args.samples, seed=args.seed, target=args.target) as how:
        found = sensitivity(scenario, args.samples, args.seed, target=args.target, **how)
    write_figure(figure, lambda: page_of(found, scenario.title), args.quiet)
    if args.json:
        print_json(found.to_json())
    else:
        print_lines(lines_of(found))
    return 0


def page_of(found: Sensitivity, title: str) -> Any:
    """The figure: the shares of each answer."""
    from kinetics.figures.sensitivity import figure_sensitivity

    shares = [
        (ANSWERS[answer], [(i.words, i.first, i.total, i.total_error) for i in influences])
        for answer, influences in found.answers.items()
    ]
    return figure_sensitivity(shares, title=title)


def lines_of(found: Sensitivity) -> list[str]:
    """For each answer the advice, then the table."""
    lines: list[str] = []
    for answer, influences in found.answers.items():
        words = ANSWERS[answer]
        foremost = influences[0]
        low, middle, high = found.spread[answer]
        scale, unit = (1.0, "h") if answer == "target_h" else (100.0, "%")
        lines += [
            *([""] if lines else []),
            *map(heading, wrapped(advice(foremost, words))),
            *wrapped(
                f"The {words} lies between {scale * low:.3g} and {scale * high:.3g} {unit} in nine of ten samples "
                f"(half of them above {scale * middle:.3g} {unit})."
            ),
            *table(
                [["alone", "+-", "in all", "+-", ""], ["%", "%", "%", "%", "uncertain number"]],
                [
                    (
                        f"{100 * max(i.first, 0.0):.0f}",
                        f"{100 * i.first_error:.0f}",
                        f"{100 * i.total:.0f}",
                        f"{100 * i.total_error:.0f}",
                        i.name,
                    )
                    for i in influences
                    if i.total > SHOWN
                ],
                ">>>><",
            ),
            *wrapped(f"These make about {100 * found.covered[answer]:.0f} % of the variance; the rest is shared by many."),
        ]  # fmt: skip
    lines += ["", *wrapped(
        f"Alone: what would go of the variance if the number were known. In all: what would be left if all others were. "
        f"+-: half of the 90 % interval. {found.samples} runs, {found.failed} failed, seed {found.seed}."
    )]  # fmt: skip
    return lines


def advice(foremost: Influence, words: str) -> str:
    """What to do about the largest influence, with its share."""
    share = f"it makes {100 * max(foremost.total, 0.0):.0f} % of the spread of the {words}"
    if foremost.measurable:
        return f"Measure {foremost.words}: {share}."
    return f"Take samples of a run and calibrate {foremost.words}: {share}."


COMMAND = Command(
    name="sensitivity",
    help="which uncertain constants make the spread of the answer",
    example="retroaldol sensitivity scenarios/common_practice.toml --samples 8",
    place=60,
    add_arguments=add_arguments,
    execute=execute,
)
