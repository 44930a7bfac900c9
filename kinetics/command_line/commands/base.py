"""`base`: the base of a scenario, its equivalents, the alkalinity it gives, and what a baked batch holds."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable
from typing import TYPE_CHECKING

from kinetics.command_line.arguments import add_json, add_scenario
from kinetics.command_line.command import Command
from kinetics.command_line.terminal import (
    amount,
    fixed,
    heading,
    percent,
    print_json,
    print_lines,
    significant,
    table,
    wrapped,
)

if TYPE_CHECKING:
    from kinetics.analysis.baking import Baked
    from kinetics.analysis.base import BaseReport, Caustic, Weighed


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    add_json(parser)
    parser.add_argument(
        "--baked",
        metavar=("BEFORE", "AFTER"),
        nargs=2,
        help='masses of a batch of bicarbonate before and after baking, such as "100 g" "66 g"',
    )


def execute(args: Namespace) -> int:
    from kinetics.analysis.base import base_report
    from kinetics.run.reading import read_scenario
    from kinetics.run.result import plain

    report = base_report(read_scenario(args.file))
    baked = None if args.baked is None else read_baked(*args.baked)
    if args.json:
        print_json({**plain(report), "baked": plain(baked)})
    else:
        print_lines([*lines_of(report), *([] if baked is None else ["", *baked_lines(baked)])])
    return 0


def read_baked(before: str, after: str) -> Baked:
    """The batch weighed before and after baking; refuses masses that baking cannot give."""
    from kinetics.analysis.baking import baked_batch
    from kinetics.data.faults import QuantityError, ScenarioError
    from kinetics.data.units import quantity

    masses, faults = [], []
    for name, text in (("BEFORE", before), ("AFTER", after)):
        try:
            masses.append(1e3 * quantity(text, "mass"))
        except QuantityError as error:
            faults.append(error.at(name))
    if faults:
        raise ScenarioError(faults, "--baked")
    try:
        return baked_batch(masses[0], masses[1])
    except QuantityError as error:
        raise ScenarioError([error.at("AFTER")], "--baked") from None


def lines_of(report: BaseReport) -> list[str]:
    """The report for the bench."""
    hot, cold = report.hot, report.cold
    bases = [f"{amount(w.mass_g, 'g')} of {w.name}" for w in report.charged]
    sentence = f"{' and '.join(bases) or 'No base'}: pH {fixed(hot.pH, 2)} and {significant(hot.hydroxide_mol_per_L)} "
    sentence += f"mol/L of hydroxide at {celsius(hot.temperature_K)}."
    lines = [*(heading(line) for line in wrapped(sentence)), *wrapped(f"({report.title})"), ""]
    rows = [
        ("", "pH", "hydroxide, mol/L"),
        *((f"at {celsius(s.temperature_K)}", fixed(s.pH, 2), significant(s.hydroxide_mol_per_L)) for s in (cold, hot)),
    ]
    lines += table([], rows, "<>")
    if report.charged:
        lines += ["", heading("Charged"), *base_table(report.charged, report.aldehyde)]
    if report.same_carbonate:
        lines += ["", heading("The same amount of carbonate"), *base_table(report.same_carbonate, report.aldehyde)]
        bake = significant(report.bake_g)
        lines += wrapped(f"Or bake {bake} g of sodium bicarbonate until it weighs no less: it loses 36.9 % of its mass.")
    if report.same_hydroxide:
        lines += ["", heading("The same hydroxide, hot"), *base_table(report.same_hydroxide, report.aldehyde)]
    if report.caustic is not None:
        lines += ["", heading("Why caustic is not the same"), *caustic_lines(report.caustic)]
    return lines


def caustic_lines(caustic: Caustic) -> list[str]:
    """Reserve, side reaction and hazard."""
    texts = []
    if caustic.reserve_mol is not None and caustic.caustic_reserve_mol is not None:
        own, other = (significant(1e3 * n) for n in (caustic.reserve_mol, caustic.caustic_reserve_mol))
        texts.append(
            f"Reserve: {own} mmol of acid halve the hydroxide of this base, {other} mmol that of sodium hydroxide "
            "with as much hydroxide. Carbonate hands out its hydroxide as it is used; caustic has no more than it shows."
        )
    if caustic.times > 1.0:
        texts.append(
            f"Weighed out like this base it gives {significant(caustic.same_weight_hydroxide_mol_per_L)} mol/L, "
            f"{significant(caustic.times)} times as much: every step goes so much faster, the loss of product to acid "
            "and alcohol (Cannizzaro) among them, and the end of the reaction stays where it is."
        )
    texts.append(
        "Hazard: sodium hydroxide causes severe skin burns and eye damage (GHS H314), heats up as it dissolves, and its "
        "hot liquor blinds. Sodium carbonate causes serious eye irritation (H319)."
    )
    return [line for text in texts for line in wrapped(text, "- ")]


def base_table(rows: Iterable[Weighed], aldehyde: str) -> list[str]:
    """Bases with mass, amount and amount per aldehyde; what none reaches is said below."""
    rows = list(rows)
    header = [["", "", "", "mol per mol of"], ["", "g", "mmol", aldehyde]]
    cells = [
        (
            w.name,
            significant(w.mass_g),
            significant(None if w.amount_mol is None else 1e3 * w.amount_mol),
            significant(w.per_aldehyde),
        )
        for w in rows
    ]
    notes = [line for w in rows if w.note for line in wrapped(f"{w.name}: {w.note}.", "  ")]
    return [*table(header, cells, "<>"), *notes]


def baked_lines(baked: Baked) -> list[str]:
    """What a baked batch holds."""
    sentence = (
        f"{significant(baked.before_g)} g of sodium bicarbonate that weigh {significant(baked.after_g)} g baked are "
        f"{percent(baked.converted)} % converted: {significant(baked.carbonate_g)} g of carbonate and "
        f"{significant(baked.bicarbonate_g)} g of bicarbonate left. Moisture that dried off counts as converted here."
    )
    return [heading("Baked"), *wrapped(sentence)]


def celsius(T: float) -> str:
    return f"{T - 273.15:.1f} degC"


COMMAND = Command(
    name="base",
    help="the base: equivalents, alkalinity cold and hot, baking",
    example="retroaldol base scenarios/common_practice.toml\n"
    'retroaldol base scenarios/common_practice.toml --baked "100 g" "66 g"',
    place=60,
    add_arguments=add_arguments,
    execute=execute,
)
