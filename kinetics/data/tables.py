"""From the tables of the data files to records: names, inherited keys, table nodes, parents."""

import tomllib
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from importlib.resources import files
from itertools import pairwise
from math import isfinite, nan
from typing import Any

from kinetics.data.namespace import FLOATS
from kinetics.data.records import Record, ShelfError, hint, is_number
from kinetics.data.units import CELSIUS_ZERO_K

RECORD_KEYS = (
    "quantity", "unit", "value", "form", "coefficients", "degree", "nodes_C", "nodes_K", "values", "times",
    "per", "parents", "factor", "sigma", "valid_K", "source", "status", "note",
)  # fmt: skip
SPECIES_KEYS = ("formula", "kind", "synonyms", "components")
LISTS = ("coefficients", "nodes_C", "nodes_K", "values", "parents")
TELLTALE = {"value", "form", "unit", "source", "status", "factor", "sigma", "coefficients", "values"}


@cache
def quantities() -> Mapping[str, Mapping[str, Mapping]]:
    """What a species or a reaction may have, with the unit each must be given in."""
    return tomllib.loads(files("kinetics.data").joinpath("quantities.toml").read_text(encoding="utf-8"))


def record_entries(group: Mapping, prefix: str = "", inherited: Mapping | None = None) -> dict[str, Mapping]:
    """Every record under a group of tables, by dotted name.

    The keys of a table `common` hold for all records beside and below it.
    """
    inherited = {**(inherited or {}), **group.get("common", {})}
    found: dict[str, Mapping] = {}
    for key, entry in group.items():
        if key == "common":
            continue
        if not isinstance(entry, dict) or not entry:
            raise ShelfError(f"{prefix}{key}: expected a table with something in it, came {entry!r}")
        if TELLTALE & entry.keys():
            found[prefix + key] = {**inherited, **entry}
        else:
            found.update(record_entries(entry, f"{prefix}{key}.", inherited))
    return found


def species_entries(name: str, table: Mapping) -> dict[str, Mapping]:
    """The records of one species; each must be a known quantity in its own unit."""
    known = quantities()["species"]
    common = table.get("common", {})
    records = {key: entry for key, entry in table.items() if key not in (*SPECIES_KEYS, "common")}
    faults = [f"{name}: a name cannot hold a dot"] if "." in name else []
    found: dict[str, Mapping] = {}
    for key, entry in records.items():
        if key not in known:
            faults.append(f"{name}.{key}: unknown{hint(key, (*known, *SPECIES_KEYS))}")
        elif not isinstance(entry, dict):
            faults.append(f"{name}.{key}: expected a table, came {entry!r}")
        else:
            unit = known[key]["unit"]
            unit = unit.get(str(table.get("kind")), "mol/L") if isinstance(unit, dict) else unit
            found[f"{name}.{key}"] = {"quantity": known[key]["quantity"], **common, **entry}
            if entry.get("unit", unit) != unit:
                faults.append(f"{name}.{key}.unit: expected {unit!r}, came {entry['unit']!r}")
    if faults:
        raise ShelfError(*faults)
    return found


def faults_of_values(records: Iterable[Record]) -> list[str]:
    """Records of species that give no sound value at the ends of their range, positive where it must be."""
    faults = []
    for record in records:
        known = quantities()["species"].get(record.name.rsplit(".", 1)[1], {})
        for T in record.valid_K or (298.15,):
            try:
                value = record(T, FLOATS)
            except (ArithmeticError, ValueError):
                value = nan
            if isinstance(value, complex) or not isfinite(value) or (known.get("positive") and value <= 0):
                expected = "a positive number" if known.get("positive") else "a number"
                faults.append(f"{record.name}: expected {expected} at {T:g} K, came {value:g}")
    return faults


def reaction_entry(name: str, entry: Mapping) -> Mapping:
    """The record of a reaction with its quantity in words; its unit must be as the quantity asks."""
    known = quantities()["reaction"][name.rsplit(".", 1)[1]]
    if "unit" in known and entry.get("unit", known["unit"]) != known["unit"]:
        raise ShelfError(f"{name}.unit: expected {known['unit']!r}, came {entry['unit']!r}")
    return {"quantity": known["quantity"], **entry}


def build_record(name: str, entry: Mapping, molar_mass: float | None, parents: tuple[Record, ...]) -> Record:
    """The record of one entry; "molar mass" among its numbers stands for that of the substance [g/mol]."""
    faults = [f"{name}.{key}: unknown key{hint(key, RECORD_KEYS)}" for key in entry if key not in RECORD_KEYS]
    if ("value" in entry) == ("form" in entry):
        faults.append(f"{name}: expected either a value or a form")
    for key in ("degree", "times", "per"):
        if key in entry and not is_number(entry[key]) and entry[key] != "molar mass":
            faults.append(f"{name}.{key}: expected a number, came {entry[key]!r}")
    for key in ("nodes_C", "nodes_K", "values"):
        if not all(map(is_number, entry.get(key, []))):
            faults.append(f"{name}.{key}: expected numbers, came {entry[key]!r}")
    if faults:
        raise ShelfError(*faults)

    def number(value: Any) -> Any:
        if value == "molar mass":
            if molar_mass is None:
                raise ShelfError(f"{name}: asks for the molar mass of what is no substance")
            return molar_mass
        return float(value) if is_number(value) else value

    valid_K = entry.get("valid_K")
    return Record(
        name=name,
        quantity=entry.get("quantity", ""),
        unit=entry.get("unit", ""),
        form=entry.get("form", "constant"),
        coefficients=tuple(map(number, _coefficients(name, entry, number))),
        source=entry.get("source", ""),
        status=entry.get("status", ""),
        factor=entry.get("factor"),
        sigma=entry.get("sigma"),
        valid_K=tuple(valid_K) if isinstance(valid_K, list) else valid_K,
        note=entry.get("note", ""),
        parents=parents,
    )


def _coefficients(name: str, entry: Mapping, number: Callable[[Any], float]) -> list[Any]:
    """The numbers of an entry in the order its form takes them."""
    multiplier = number(entry.get("times", 1.0)) / number(entry.get("per", 1.0))
    if "value" in entry:
        return [entry["value"] * multiplier if is_number(entry["value"]) else entry["value"]]
    if "values" not in entry:
        return entry.get("coefficients", [])
    nodes = entry.get("nodes_K") or [CELSIUS_ZERO_K + t for t in entry.get("nodes_C", [])]
    values = entry["values"]
    increasing = all(a < b for a, b in pairwise(nodes))
    if len(nodes) < 2 or len(nodes) != len(values) or not increasing:
        raise ShelfError(f"{name}: expected as many values as rising nodes_C or nodes_K, at least two")
    return [
        entry.get("degree", 0),
        number(entry.get("times", 1.0)) / number(entry.get("per", 1.0)),
        *nodes,
        *values,
    ]


def build_records(
    entries: Mapping[str, Mapping], molar_masses: Mapping[str, float], known: Mapping[str, Record]
) -> tuple[dict[str, Record], list[str]]:
    """The records of all entries, parents first, and every fault met; `known` records may be parents too."""
    built: dict[str, Record] = {}
    faults: list[str] = []
    failed: set[str] = set()

    def build(name: str, below: tuple[str, ...] = ()) -> None:
        if name in built or name in failed:
            return
        entry = entries[name]
        failed.add(name)  # until it is built, so that a circle ends
        odd = [key for key in LISTS if not isinstance(entry.get(key, []), list)]
        if odd:
            faults.extend(f"{name}.{key}: expected a list, came {entry[key]!r}" for key in odd)
            return
        wanted = [str(parent) for parent in entry.get("parents", [])]
        for parent in wanted:
            if parent in below or parent == name:
                faults.append(f"{name}.parents: {parent} builds on {name} itself")
            elif parent in entries:
                build(parent, (*below, name))
            elif parent not in known:
                faults.append(f"{name}.parents: unknown record {parent!r}{hint(parent, (*entries, *known))}")
        parents = [built.get(parent) or known.get(parent) for parent in wanted]
        if not all(parents):
            return
        try:
            owner = name.rsplit(".", 1)[0]
            built[name] = build_record(name, entry, molar_masses.get(owner), tuple(filter(None, parents)))
            failed.discard(name)
        except ShelfError as error:
            faults.extend(error.faults)

    for name in entries:
        build(name)
    return built, faults
