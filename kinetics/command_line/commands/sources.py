"""`sources`: every constant with its value, unit, uncertainty, valid range, source and status."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from kinetics.command_line.arguments import add_json
from kinetics.command_line.command import Command
from kinetics.command_line.terminal import heading, print_json, print_lines, significant, wrapped

if TYPE_CHECKING:
    from kinetics.data.records import Record
    from kinetics.data.shelf import Shelf

CELSIUS_ZERO_K = 273.15
COLD_K, HOT_K = 298.15, 373.15
DIGITS = 4


def add_arguments(parser: ArgumentParser) -> None:
    said = "only what has this in its name, such as benzaldehyde, pitzer or solubility"
    parser.add_argument("name", metavar="NAME", nargs="?", default="", help=said)
    parser.add_argument(
        "--checks", action="store_true", help="the published numbers beside ours instead (NAME: of one authority)"
    )
    add_json(parser)


def execute(args: Namespace) -> int:
    from kinetics.data.shelf import load_shelf

    if args.checks:
        return list_checks(args)
    shelf = load_shelf()
    records = [shelf[name] for name in matching(shelf, args.name)]
    if args.json:
        print_json({"constants": [entry_of(record) for record in records]})
    else:
        print_lines(listing(records))
    return 0


def list_checks(args: Namespace) -> int:
    """Print the published checks; a check that fails unforeseen gives exit status 3."""
    from kinetics.analysis.checks import load_checks
    from kinetics.command_line.checks_text import check_lines, results
    from kinetics.command_line.progress import Progress
    from kinetics.data.records import ShelfError, hint

    wanted = args.name.lower()
    chosen = [c for c in load_checks() if wanted in c.authority.lower() or wanted in c.what.lower()]
    if not chosen:
        raise ShelfError(f"no check has {args.name!r} in its name{hint(args.name, [c.authority for c in load_checks()])}")
    with Progress(args.quiet) as progress:
        found = results(chosen, progress)
    if args.json:
        print_json({"checks": found})
    else:
        print_lines(check_lines(found))
    unforeseen = [c for c in found if not c["known_to_fail"] and not all(p["holds"] for p in c["points"])]
    return 3 if unforeseen else 0


def matching(shelf: Shelf, wanted: str) -> list[str]:
    """Names on the shelf that hold `wanted`, or the substance it is another name of. Raises ShelfError."""
    from difflib import get_close_matches

    from kinetics.data.records import ShelfError

    names = shelf.names()
    words = {wanted.lower()}
    try:
        words.add(shelf.substance(wanted).name.lower())
    except ShelfError:  # no substance: it may still be part of a name
        pass
    found = [name for name in names if any(word in name.lower() for word in words)]
    if found:
        return found
    parts = {part for name in names for part in (name, *name.split("."))}
    near = get_close_matches(wanted.lower(), sorted(parts), n=3, cutoff=0.5)
    hint = f"; nearest: {', '.join(near)}" if near else ""
    raise ShelfError(f"no constant has {wanted!r} in its name{hint} (`sources` alone lists them all)")


def entry_of(record: Record) -> dict[str, Any]:
    """One constant for JSON; correlations have their values at 25 and 100 degC, constants one value."""
    constant = record.form == "constant"
    return {
        "name": record.name,
        "quantity": record.quantity,
        "unit": record.unit,
        "form": record.form,
        "value": record.value_at(COLD_K) if constant else None,
        "value_25_degC": None if constant else record.value_at(COLD_K),
        "value_100_degC": None if constant else record.value_at(HOT_K),
        "factor": record.factor,
        "sigma": record.sigma,
        "valid_K": None if record.valid_K is None else list(record.valid_K),
        "source": record.source,
        "status": record.status,
        "note": record.note,
    }


def listing(records: Iterable[Record]) -> list[str]:
    """The constants for a reader, under a heading for each group."""
    lines: list[str] = []
    group = None
    for record in records:
        if group != group_of(record.name):
            group = group_of(record.name)
            lines += ["", heading(group)] if lines else [heading(group)]
        lines += record_lines(record, record.name.removeprefix(f"{group}."))
    return lines


def group_of(name: str) -> str:
    """The group a record belongs to: its substance, its reaction file or its collection."""
    parts = name.split(".")
    return ".".join(parts[:2]) if parts[0] == "reaction" else parts[0]


def record_lines(record: Record, name: str) -> list[str]:
    """One constant: what it is, its value and how sure, where it is from."""
    unit = "" if record.unit == "1" else f" {record.unit}"
    if record.form == "constant":
        value = f"{exactly(record.value)}{unit}"
    else:
        values = [f"{significant(record.value_at(T), DIGITS)}{unit} at {words}{outside(record, T)}"
                  for T, words in ((COLD_K, "25 degC"), (HOT_K, "100 degC"))]  # fmt: skip
        value = ", ".join(values)
    note = f" ({record.note})" if record.note else ""
    return [
        *wrapped(f"{name}: {record.quantity}", "  ", "    "),
        *wrapped(f"{value}; {spread(record)}; {valid_range(record)}; {record.status}", "      "),
        *wrapped(f"{record.source}{note}", "      "),
    ]


def exactly(value: float) -> str:
    """A constant as it stands on the shelf."""
    return f"{value:.10g}"


def outside(record: Record, T: float) -> str:
    return "" if record.in_range(T) else " (outside its range)"


def spread(record: Record) -> str:
    """The standard uncertainty in words."""
    if record.factor is not None:
        return f"within a factor {record.factor:g}"
    if record.sigma == 0.0:
        return "exact"
    return f"+- {record.sigma:g}" + ("" if record.unit == "1" else f" {record.unit}")


def valid_range(record: Record) -> str:
    """The valid range of temperature in words."""
    if record.valid_K is None:
        return "no range of temperature"
    low, high = (f"{T - CELSIUS_ZERO_K:.4g}" for T in record.valid_K)
    return f"{low} to {high} degC"


COMMAND = Command(
    name="sources",
    help="list the constants: value, uncertainty, range, source, status",
    example="retroaldol sources\nretroaldol sources benzaldehyde\nretroaldol sources --checks buffer",
    place=80,
    add_arguments=add_arguments,
    execute=execute,
)
