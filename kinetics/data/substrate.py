"""Substrates: the reactions of one starting aldehyde or ketol, read from a file and checked as a network."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy

from kinetics.data.records import Record, ShelfError, hint, is_number
from kinetics.data.substances import faults_of_species, weighted_sum

NOT_ORGANIC = ("water", "oxygen", "hydroxide")
SUBSTRATE_KEYS = ("name", "title", "substrate", "product", "product_per_substrate", "by_product", "include")
NETWORK_KEYS = ("name", "equilibrium", "step", "composite", "species", "common")
EQUILIBRIUM_KEYS = ("name", "stoichiometry", "K", "dH", "dCp")
STEP_KEYS = ("name", "mechanism", "stoichiometry", "k", "reference_K", "Ea", "orders", "reversible")
COMPOSITE_KEYS = ("first", "second", "Ea", "partition_difference")
MECHANISMS = ("cleavage", "self aldol", "crossed aldol", "cannizzaro", "oxidation")


@dataclass(frozen=True)
class Equilibrium:
    """One independent reaction of the free-energy ledger, written with free (unhydrated) aldehydes.

    K is at 298.15 K, in mol/L to the power of the change of solutes (water counts as 1); dH is in kJ/mol,
    dCp in J/mol/K.
    """

    name: str
    stoichiometry: Mapping[str, float]
    K: Record
    dH: Record
    dCp: Record | None


@dataclass(frozen=True)
class Step:
    """One elementary step in the water phase: rate = k(T) times the product of concentrations [mol/L]^order.

    k is at reference_K; Ea is in kJ/mol, None where the step belongs to a composite that carries it.
    """

    name: str
    mechanism: str
    stoichiometry: Mapping[str, float]
    k: Record
    reference_K: float
    Ea: Record | None
    orders: Mapping[str, float]
    reversible: bool


@dataclass(frozen=True)
class Composite:
    """Two consecutive steps whose combination k12 k23/(k21 + k23) has the one known activation energy Ea.

    partition_difference is Ea(k21) - Ea(k23) [kJ/mol], back against forward, of the species between them.
    """

    first: str
    second: str
    Ea: Record
    partition_difference: Record


@dataclass(frozen=True)
class Substrate:
    """A network of species and reactions; species are all its organics, the substrate first."""

    name: str
    title: str
    substrate: str
    product: str
    product_per_substrate: float
    by_product: str
    species: tuple[str, ...]
    equilibria: tuple[Equilibrium, ...]
    steps: tuple[Step, ...]
    composite: Composite | None


def concentration_unit(power: float) -> str:
    """The unit of an equilibrium constant: (mol/L) to `power`."""
    if power == 0:
        return "1"
    exponent = "" if abs(power) == 1 else f"{abs(power):g}"
    return f"mol{exponent}/L{exponent}" if power > 0 else f"L{exponent}/mol{exponent}"


def rate_constant_unit(order: float) -> str:
    """The unit of a rate constant of an overall order: (mol/L)^(1 - order)/s."""
    return "1/s" if order == 1 else f"{concentration_unit(1 - order)}/s"


def record_tables(table: Mapping) -> dict[str, Mapping]:
    """Every record of a file of reactions, by its name `reaction.<file>.<kind>.<reaction>.<quantity>`."""
    found: dict[str, Mapping] = {}
    common = table.get("common", {})
    for kind, quantities in (("equilibrium", ("K", "dH", "dCp")), ("step", ("k", "Ea"))):
        for entry in table.get(kind, ()):
            for quantity in quantities:
                if quantity in entry:
                    found[record_name(table, kind, entry, quantity)] = {**common, **entry[quantity]}
    for quantity in ("Ea", "partition_difference"):
        if quantity in table.get("composite", {}):
            found[record_name(table, "composite", {}, quantity)] = {**common, **table["composite"][quantity]}
    return found


def record_name(table: Mapping, kind: str, entry: Mapping, quantity: str) -> str:
    """The full name of a record of a reaction."""
    return ".".join(
        part for part in ("reaction", table["name"], kind, entry.get("name", ""), quantity) if part
    )


def faults_of_shape(table: Mapping, is_substrate: bool) -> list[str]:
    """What is missing from a file of reactions, unknown in it or of the wrong kind."""
    where = str(table.get("name", "substrate file"))
    allowed = (*NETWORK_KEYS, *(SUBSTRATE_KEYS if is_substrate else ()))
    faults = _faults_of_keys(where, table, allowed, SUBSTRATE_KEYS[:4] if is_substrate else ("name",))
    for kind, keys, optional in (("equilibrium", EQUILIBRIUM_KEYS, ("dCp",)), ("step", STEP_KEYS, ("Ea",))):
        entries = table.get(kind, [])
        if not isinstance(entries, list):
            faults.append(f"{where}.{kind}: expected [[{kind}]] tables")
            continue
        for number, entry in enumerate(entries, 1):
            if not isinstance(entry, dict):
                faults.append(f"{where}.{kind}.{number}: expected a table, came {entry!r}")
                continue
            required = tuple(key for key in keys if key not in optional)
            faults += _faults_of_keys(f"{where}.{kind}.{entry.get('name', number)}", entry, keys, required)
    if isinstance(table.get("species"), dict):
        faults += [fault for item in table["species"].items() for fault in faults_of_species(*item)]
    if isinstance(table.get("composite"), dict):
        faults += _faults_of_keys(f"{where}.composite", table["composite"], COMPOSITE_KEYS, COMPOSITE_KEYS)
    return faults


WORDS = ("name", "title", "substrate", "product", "by_product", "mechanism", "first", "second")
TABLES = ("K", "dH", "dCp", "k", "Ea", "partition_difference", "stoichiometry", "orders")
TYPES: dict[str, tuple[str, Any]] = {
    **dict.fromkeys(WORDS, ("words", str)),
    **dict.fromkeys((*TABLES, "composite", "species", "common"), ("a table", dict)),
    "reversible": ("true or false", bool),
    "include": ("a list of names", list),
}


def _faults_of_keys(where: str, table: Mapping, allowed: Iterable[str], required: Iterable[str]) -> list[str]:
    faults = [f"{where}.{key}: unknown key{hint(key, allowed)}" for key in table if key not in allowed]
    faults += [f"{where}.{key}: missing" for key in required if key not in table]
    for key, (expected, kind) in TYPES.items():
        if key in table and key in allowed and not isinstance(table[key], kind):
            faults.append(f"{where}.{key}: expected {expected}, came {table[key]!r}")
    for key in ("reference_K", "product_per_substrate"):
        if key in table and not (is_number(table[key]) and table[key] > 0):
            faults.append(f"{where}.{key}: expected a number above 0, came {table[key]!r}")
    for key in ("stoichiometry", "orders"):
        if isinstance(table.get(key), dict):
            odd = {name: nu for name, nu in table[key].items() if not is_number(nu) or nu == 0}
            faults += [
                f"{where}.{key}.{name}: expected a number other than 0, came {nu!r}"
                for name, nu in odd.items()
            ]
    return faults


def build_substrate(
    table: Mapping,
    shared: Mapping[str, Mapping],
    records: Mapping[str, Record],
    elements: Mapping[str, Mapping[str, float]],
) -> Substrate:
    """The substrate of one file whose shape is sound; `shared` holds the reactions it may include.

    `elements` gives the elements of every species.
    """
    missing = [
        f"{table['name']}.include: no shared reactions {n!r}{hint(n, shared)}"
        for n in table.get("include", ())
        if not isinstance(n, str) or n not in shared
    ]
    if missing:
        raise ShelfError(*missing)
    sources = [table, *(shared[name] for name in table.get("include", ()))]
    equilibria = tuple(
        _equilibrium(source, entry, records) for source in sources for entry in source.get("equilibrium", ())
    )
    steps = tuple(_step(source, entry, records) for source in sources for entry in source.get("step", ()))
    composite = table.get("composite")
    reactions: tuple[Equilibrium | Step, ...] = (*equilibria, *steps)
    named = (name for reaction in reactions for name in reaction.stoichiometry)
    substrate = Substrate(
        name=table["name"],
        title=table["title"],
        substrate=table["substrate"],
        product=table["product"],
        product_per_substrate=float(table.get("product_per_substrate", 1.0)),
        by_product=table.get("by_product", ""),
        species=tuple(dict.fromkeys(n for n in (table["substrate"], *named) if n not in NOT_ORGANIC)),
        equilibria=equilibria,
        steps=steps,
        composite=composite
        and Composite(
            composite["first"],
            composite["second"],
            records[record_name(table, "composite", {}, "Ea")],
            records[record_name(table, "composite", {}, "partition_difference")],
        ),
    )
    faults = faults_of_network(substrate, elements)
    if faults:
        raise ShelfError(*(f"{substrate.name}.{fault}" for fault in faults))
    return substrate


def _equilibrium(table: Mapping, entry: Mapping, records: Mapping[str, Record]) -> Equilibrium:
    K, dH, dCp = (records.get(record_name(table, "equilibrium", entry, key)) for key in ("K", "dH", "dCp"))
    return Equilibrium(entry["name"], dict(entry["stoichiometry"]), K, dH, dCp)  # type: ignore[arg-type]


def _step(table: Mapping, entry: Mapping, records: Mapping[str, Record]) -> Step:
    return Step(
        name=entry["name"],
        mechanism=entry["mechanism"],
        stoichiometry=dict(entry["stoichiometry"]),
        k=records[record_name(table, "step", entry, "k")],
        reference_K=float(entry["reference_K"]),
        Ea=records.get(record_name(table, "step", entry, "Ea")),
        orders=dict(entry["orders"]),
        reversible=entry["reversible"],
    )


def faults_of_network(substrate: Substrate, elements: Mapping[str, Mapping[str, float]]) -> list[str]:
    """What is wrong with a network: unknown species, elements that do not balance, units, loops."""
    reactions: tuple[Equilibrium | Step, ...] = (*substrate.equilibria, *substrate.steps)
    faults = [fault for reaction in reactions for fault in _faults_of_balance(reaction, elements)]
    for kind, named in (("equilibrium", substrate.equilibria), ("step", substrate.steps)):
        names = [reaction.name for reaction in named]
        faults += [f"{kind}.{name}: given twice" for name in sorted(set(names)) if names.count(name) > 1]
    for role, sign in (("substrate", -1), ("product", 1), ("by_product", 1)):
        name = getattr(substrate, role)
        moved = [n for step in substrate.steps for n, nu in step.stoichiometry.items() if nu * sign > 0]
        if name not in moved and (name or role != "by_product"):
            verb = "consumes" if sign < 0 else "gives"
            faults.append(f"{role}: no step {verb} {name!r}{hint(name, moved)}")
    for equilibrium in substrate.equilibria:
        power = sum(nu for name, nu in equilibrium.stoichiometry.items() if name not in NOT_ORGANIC)
        faults += _fault_of_unit(
            f"equilibrium.{equilibrium.name}.K", equilibrium.K, concentration_unit(power)
        )
    for step in substrate.steps:
        faults += _faults_of_step(step, substrate)
    return faults + _faults_of_composite(substrate) + _faults_of_ledger(substrate)


def _faults_of_balance(
    reaction: Equilibrium | Step, elements: Mapping[str, Mapping[str, float]]
) -> list[str]:
    unknown = [name for name in reaction.stoichiometry if name not in elements]
    if unknown:
        return [
            f"{reaction.name}.stoichiometry: unknown species {name!r}{hint(name, elements)}"
            for name in unknown
        ]
    left_over = weighted_sum(reaction.stoichiometry, elements)
    if left_over:
        return [f"{reaction.name}.stoichiometry: elements do not balance, {left_over} left over"]
    return []


def _fault_of_unit(where: str, record: Record, expected: str) -> list[str]:
    faults = []
    if record.unit != expected:
        faults.append(
            f"{where}.unit: expected {expected!r} from the reaction as written, came {record.unit!r}"
        )
    if record.form != "constant" or not record.coefficients[0] > 0:
        faults.append(f"{where}: expected a positive constant, came {record.form} {record.coefficients!r}")
    return faults


def _faults_of_step(step: Step, substrate: Substrate) -> list[str]:
    where = f"step.{step.name}"
    faults = _fault_of_unit(f"{where}.k", step.k, rate_constant_unit(sum(step.orders.values())))
    if step.mechanism not in MECHANISMS:
        known = ", ".join(MECHANISMS)
        faults.append(f"{where}.mechanism: expected one of {known}, came {step.mechanism!r}")
    consumed = [name for name, nu in step.stoichiometry.items() if nu < 0]
    for name in step.orders:
        if name != "hydroxide" and name not in consumed:
            faults.append(f"{where}.orders: {name!r} is not consumed by the step{hint(name, consumed)}")
    in_composite = substrate.composite and step.name in (
        substrate.composite.first,
        substrate.composite.second,
    )
    if bool(in_composite) == (step.Ea is not None):
        faults.append(
            f"{where}.Ea: expected {'none, the composite carries it' if in_composite else 'one, came none'}"
        )
    return faults


def _faults_of_composite(substrate: Substrate) -> list[str]:
    if substrate.composite is None:
        return []
    names = [step.name for step in substrate.steps]
    pair = (substrate.composite.first, substrate.composite.second)
    return [f"composite: {name!r} is no step{hint(name, names)}" for name in pair if name not in names]


def _faults_of_ledger(substrate: Substrate) -> list[str]:
    """The equilibria must be independent, and every reversible step must be a combination of them."""
    columns = (*substrate.species, "water")

    def row(reaction: Equilibrium | Step) -> list[float]:
        return [reaction.stoichiometry.get(name, 0.0) for name in columns]

    ledger = [row(equilibrium) for equilibrium in substrate.equilibria]
    rank = int(numpy.linalg.matrix_rank(ledger)) if ledger else 0
    faults = []
    if rank < len(ledger):
        faults.append(f"equilibrium: {len(ledger)} are given but only {rank} are independent")
    for step in substrate.steps:
        if step.reversible and numpy.linalg.matrix_rank([*ledger, row(step)]) > rank:
            faults.append(f"step.{step.name}: reversible, but no combination of the equilibria gives it")
    return faults
