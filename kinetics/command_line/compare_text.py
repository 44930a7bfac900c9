"""A comparison in words: a table, what each option changes, what failed, and the cautions."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kinetics.analysis.compare import LESS_IS_BETTER, Compared
from kinetics.command_line.notices_text import caution_lines
from kinetics.command_line.terminal import WIDTH, amount, fixed, heading, significant, table, wrapped
from kinetics.data.faults import listed
from kinetics.data.shelf import load_shelf

FEW = 3  # options that fit side by side as columns
NAME_WIDTH = 16
LOSSES = (
    ("substrate_left_g", "substrate gone unreacted, with gas or distillate"),
    ("product_vented_g", "product gone with the gas"),
)
WORTH_TELLING = 0.01  # of the mass of product


@dataclass(frozen=True)
class Shown:
    """A number of the table: its key in the summary, words for a row or a column, and how it is written."""

    key: str
    words: str
    column: tuple[str, str, str]
    scale: float = 1.0
    decimals: int | None = None  # None: three digits, no more than three decimals

    def cell(self, summary: Mapping[str, float | None]) -> str:
        value = summary[self.key]
        value = None if value is None else value * self.scale
        if self.decimals is None and value is not None and value < 1.0:
            return "<.001" if 0.0 < value < 1e-3 else fixed(value, 3)
        return significant(value) if self.decimals is None else fixed(value, self.decimals)


SHOWN = (
    Shown("conversion", "conversion, %", ("con-", "vers.", "%"), 100.0, 1),
    Shown("yield", "yield, %", ("", "yield", "%"), 100.0, 1),
    Shown("selectivity", "selectivity, %", ("selec-", "tivity", "%"), 100.0, 1),
    Shown("product_g", "product, g", ("prod-", "uct", "g")),
    Shown("unreacted_g", "unreacted, g", ("unre-", "acted", "g")),
    Shown("hours_to_90_percent", "90 % reached after, h", ("90 %", "after", "h"), 1.0, 2),
    Shown("byproduct_left_mol", "given off, mmol", ("given", "off", "mmol"), 1e3, 2),
    Shown("byproduct_left_g", "given off, g", ("", "", "g"), 1.0, 2),
    Shown("base_mol_per_mol", "base, mol/mol", ("base", "mol/", "mol")),
    Shown("base_g", "base, g", ("", "", "g")),
    Shown("boil_energy_kJ", "heat of the boil, kJ", ("boil", "heat", "kJ"), 1.0, 0),
)
MEANING = (
    "90 %: hours of hold until the conversion stays above nine tenths of its final value. Given off: {}, as "
    "gas or distillate. Base: pure, all that is charged and added, per mol of substrate. Heat: of the vapour "
    "alone; heating up and losses come on top."
)


def comparison_lines(compared: Sequence[Compared], by: str) -> list[str]:
    """All that is printed of a comparison, best first."""
    order = "least" if by in LESS_IS_BETTER else "most"
    shelf = load_shelf()
    names = dict.fromkeys(shelf.substrate(one.variant.scenario.substrate).by_product for one in compared)
    lines = [heading(f"Best first: the {order} {by}"), ""]
    lines += side_by_side(compared) if len(compared) <= FEW else one_below_the_other(compared)
    lines += ["", *wrapped(MEANING.format(listed(filter(None, names), "or") if any(names) else "nothing"))]
    lines += ["", heading("What each changes"), *change_lines(compared)]
    cautions = dict.fromkeys(text for one in compared for text in one.outcome.cautions)
    return lines + caution_lines(cautions)


def side_by_side(compared: Sequence[Compared]) -> list[str]:
    """A column for each option, under its name."""
    names = [textwrap.wrap(f"{k} {one.variant.name}", NAME_WIDTH) for k, one in enumerate(compared, 1)]
    height = max(map(len, names))
    padded = [[""] * (height - len(name)) + name for name in names]
    header = [["", *(name[line] for name in padded)] for line in range(height)]
    rows = [[shown.words, *(shown.cell(one.summary) for one in compared)] for shown in SHOWN]
    return table(header, rows, "<")


def one_below_the_other(compared: Sequence[Compared]) -> list[str]:
    """A row for each option, by its number in the list of changes; what does not fit is spared."""
    lines: list[str] = []
    for spared in (set(), {"byproduct_left_g"}, {"byproduct_left_g", "selectivity"}):
        columns = [shown for shown in SHOWN if shown.key not in spared]
        header = [["", *(shown.column[line] for shown in columns)] for line in range(3)]
        rows = [
            [str(k), *(shown.cell(one.summary) for shown in columns)] for k, one in enumerate(compared, 1)
        ]
        lines = table(header, rows)
        if max(map(len, lines)) <= WIDTH:
            break
    return lines


def change_lines(compared: Sequence[Compared]) -> list[str]:
    """The name of each option, the keys it changes, and why it failed if it did."""
    lines = []
    for k, one in enumerate(compared, 1):
        lines += wrapped(one.variant.name, f"{k:>2}  ")
        changes = "; ".join(f"{key} = {value_text(value)}" for key, value in one.variant.own.items())
        lines += wrapped(changes, "      ")
        for key, words in LOSSES:
            if (lost := one.summary[key]) is not None and lost > WORTH_TELLING * (
                one.summary["product_g"] or 0.0
            ):
                lines += wrapped(f"{words}: {amount(lost, 'g')}", "      ", "        ")
        if one.outcome.failure is not None:
            lines += wrapped(f"failed: {one.outcome.failure}", "      ", "        ")
    return lines


def value_text(value: object) -> str:
    """A value as a scenario file has it."""
    if value is None:
        return "not written"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, default=str)
