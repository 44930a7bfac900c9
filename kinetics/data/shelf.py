"""The shelf: every constant, substance and substrate, by name."""

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from kinetics.data.records import Record, ShelfError, hint
from kinetics.data.substances import Substance, build_substance
from kinetics.data.substrate import Substrate, build_substrate, faults_of_shape, record_tables
from kinetics.data.tables import (
    build_records,
    faults_of_values,
    reaction_entry,
    record_entries,
    species_entries,
)

NOT_RECORDS = ("component", "species")


@dataclass(frozen=True, eq=False)
class Shelf:
    """All records by name, with the substances and networks that use them. A shelf never changes."""

    records: Mapping[str, Record]
    components: Mapping[str, Mapping[str, float]]
    species_tables: Mapping[str, Mapping]
    shared_tables: Mapping[str, Mapping]
    substrate_tables: Mapping[str, Mapping]

    def __getitem__(self, name: str) -> Record:
        """The record of that name."""
        try:
            return self.records[name]
        except KeyError:
            raise ShelfError(f"no record {name!r} on the shelf{hint(name, self.records)}") from None

    def __contains__(self, name: object) -> bool:
        return name in self.records

    def names(self) -> tuple[str, ...]:
        """The names of all records, in order."""
        return tuple(sorted(self.records))

    def shifted(self, shifts: Mapping[str, Any]) -> "Shelf":
        """The shelf with the named records moved by that many standard uncertainties (floats or arrays).

        A record that builds on a moved one moves with it.
        """
        for name in shifts:
            self[name]
        done: dict[str, Record] = {}

        def move(old: Record) -> Record:
            if old.name not in done:
                parents = tuple(map(move, old.parents))
                new = old if parents == old.parents else replace(old, parents=parents)
                done[old.name] = new.shifted(shifts[old.name]) if old.name in shifts else new
            return done[old.name]

        return replace(self, records={name: move(record) for name, record in self.records.items()})

    @cached_property
    def _atomic_weights(self) -> dict[str, float]:
        """Atomic weight [g/mol] of each element on the shelf."""
        return {
            name.removeprefix("element."): record.value
            for name, record in self.records.items()
            if name.startswith("element.")
        }

    def substances(self) -> tuple[str, ...]:
        """The names of all substances, in the order of the files."""
        return tuple(self.species_tables)

    def substance(self, name: str) -> Substance:
        """The substance of that name or synonym, capitals ignored."""
        if name.lower() not in self._substance_names:
            raise ShelfError(f"no substance {name!r} on the shelf{hint(name, self._substance_names)}")
        found = self._substance_names[name.lower()]
        density = self.records.get(f"{found}.density")
        return build_substance(
            found, self.species_tables[found], self._atomic_weights, self.components, density
        )

    @cached_property
    def _substance_names(self) -> dict[str, str]:
        """Every name and synonym in small letters, to the name on the shelf."""
        tables = self.species_tables.items()
        known = {alias.lower(): name for name, table in tables for alias in table.get("synonyms", ())}
        return {**known, **{name.lower(): name for name in self.species_tables}}

    @cached_property
    def _elements(self) -> dict[str, Mapping[str, float]]:
        """The elements of every substance."""
        return {name: self.substance(name).elements for name in self.species_tables}

    def substrates(self) -> tuple[str, ...]:
        """The names of all substrates."""
        return tuple(self.substrate_tables)

    def substrate(self, name: str | Path) -> Substrate:
        """The substrate of that name (its own, or that of its species), or of a file.

        The records of a file are on the shelf that `including` gives, and on that alone.
        """
        if _is_file(name):
            extended = self.including(name)
            return extended.substrate(extended.substrates()[-1])
        known = {key.lower(): key for key in self.substrate_tables}
        for key, table in self.substrate_tables.items():
            species = table["substrate"]
            synonyms = self.species_tables.get(species, {}).get("synonyms", ())
            known.update({alias.lower(): key for alias in (species, *synonyms)})
        if str(name).lower() not in known:
            raise ShelfError(f"no substrate {name!r} on the shelf{hint(name, known)}")
        table = self.substrate_tables[known[str(name).lower()]]
        return build_substrate(table, self.shared_tables, self.records, self._elements)

    def including(self, name: str | Path) -> "Shelf":
        """The shelf with the substrate file of that path and its species added; itself for a name."""
        if not _is_file(name):
            return self
        path = Path(name)
        try:
            table = tomllib.loads(path.read_text(encoding="utf-8"))
        except OSError as error:
            raise ShelfError(f"{path}: cannot be read ({error.strerror})") from None
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise ShelfError(f"{path}: is not valid TOML ({error})") from None
        if self.substrate_tables.get(str(table.get("name"))) == table:  # on this shelf already, shifted or not
            return self
        try:
            return self.including_table(table)
        except ShelfError as error:
            raise ShelfError(*(f"{path}: {fault}" for fault in error.faults)) from None

    def including_table(self, table: Mapping) -> "Shelf":
        """The shelf with a substrate and its species added, from the tables of a substrate file."""
        extended = _extended(self, substrates=[table])
        faults = faults_of_values(extended[name] for name in extended.names() if name not in self)
        if faults:
            raise ShelfError(*faults)
        return extended


def _is_file(name: str | Path) -> bool:
    return isinstance(name, Path) or name.endswith(".toml")


def _extended(
    shelf: Shelf,
    groups: Iterable[Mapping] = (),
    shared: Iterable[Mapping] = (),
    substrates: Iterable[Mapping] = (),
) -> Shelf:
    """A new shelf with more records, species, shared reactions and substrates; refuses all faults at once.

    Species stand in the table `species` of a group of constants or of a substrate.
    """
    groups, shared, substrates = list(groups), list(shared), list(substrates)
    faults = [fault for table in shared for fault in faults_of_shape(table, is_substrate=False)]
    faults += [fault for table in substrates for fault in faults_of_shape(table, is_substrate=True)]
    if faults:
        raise ShelfError(*faults)
    taken, species = {*shelf._substance_names}, {}
    for table in (*groups, *substrates):
        for name, entry in table.get("species", {}).items():
            names = {alias.lower() for alias in (name, *entry.get("synonyms", ()))}
            faults += [f"{alias}: already a substance on the shelf" for alias in sorted(names & taken)]
            taken |= names
            species[name] = entry
    for kind, tables, known in (
        ("substrate", substrates, shelf.substrate_tables),
        ("set of shared reactions", shared, shelf.shared_tables),
    ):
        faults += [f"{t['name']}: already a {kind} on the shelf" for t in tables if t["name"] in known]
    if faults:
        raise ShelfError(*faults)
    entries: dict[str, Mapping] = {}
    collect: list[tuple[Callable[..., Mapping[str, Mapping]], tuple]] = [
        *(
            (record_entries, ({key: group[key] for key in group if key not in NOT_RECORDS},))
            for group in groups
        ),
        *((species_entries, item) for item in species.items()),
        *((_reaction_entries, (table,)) for table in (*shared, *substrates)),
    ]
    for function, arguments in collect:
        try:
            entries.update(function(*arguments))
        except ShelfError as error:
            faults += error.faults
    return _checked(shelf, entries, species, shared, substrates, faults)


def _reaction_entries(table: Mapping) -> dict[str, Mapping]:
    return {name: reaction_entry(name, entry) for name, entry in record_tables(table).items()}


def _checked(
    shelf: Shelf,
    entries: Mapping[str, Mapping],
    species: Mapping[str, Mapping],
    shared: list[Mapping],
    substrates: list[Mapping],
    faults: list[str],
) -> Shelf:
    """Build the records, then every new substance and substrate once: nothing unsound gets on the shelf."""
    bare = {name: entry for name, entry in entries.items() if name.startswith("element.")}
    elements, more = build_records(bare, {}, shelf.records)
    faults = faults + more
    extended = replace(
        shelf,
        records={**shelf.records, **elements},
        species_tables={**shelf.species_tables, **species},
        shared_tables={**shelf.shared_tables, **{table["name"]: table for table in shared}},
        substrate_tables={**shelf.substrate_tables, **{table["name"]: table for table in substrates}},
    )
    masses = {}
    for name in species:
        try:
            masses[name] = extended.substance(name).molar_mass
        except ShelfError as error:
            faults += error.faults
    others = {name: entry for name, entry in entries.items() if name not in bare}
    records, more = build_records(others, masses, extended.records)
    faults += more
    if faults:
        raise ShelfError(*faults)
    extended = replace(extended, records={**extended.records, **records})
    for table in substrates:
        try:
            extended.substrate(table["name"])
        except ShelfError as error:
            faults += error.faults
    if faults:
        raise ShelfError(*faults)
    return extended


def _tables(folder: str) -> list[dict]:
    """The contents of every TOML file of a folder of the package, in the order of their names."""
    found: list[Traversable] = sorted(files("kinetics.data").joinpath(folder).iterdir(), key=lambda f: f.name)
    return [tomllib.loads(file.read_text(encoding="utf-8")) for file in found if file.name.endswith(".toml")]


@cache
def load_shelf() -> Shelf:
    """The shelf as delivered, read once."""
    groups = _tables("constants")
    components = {name: parts for group in groups for name, parts in group.get("component", {}).items()}
    empty = Shelf({}, components, {}, {}, {})
    return _extended(empty, groups, _tables("shared_reactions"), _tables("substrates"))
