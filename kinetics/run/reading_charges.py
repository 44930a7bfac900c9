"""Reading what goes into the flask: charges by mass, volume or amount, and additions on the way."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from kinetics.data.faults import QuantityError, listed, quoted
from kinetics.data.namespace import FLOATS
from kinetics.data.units import ROOM_TEMPERATURE_K, bare_number, quantity, quantity_of
from kinetics.run.reading_changes import join_key
from kinetics.run.reading_keys import BAKED_PORTION, PORTION, SCHEDULE
from kinetics.run.reading_tables import Findings, did_you_mean, read_value, unknown_key
from kinetics.run.scenario import Addition, Charge

if TYPE_CHECKING:
    from kinetics.data.shelf import Shelf
    from kinetics.data.substances import Substance

BAKED = "baked sodium bicarbonate"
BICARBONATE, CARBONATE = "sodium bicarbonate", "sodium carbonate"
MINERAL = {"water", "inorganic carbon", "sodium", "potassium", "calcium", "chloride"}
LEAST_WATER_MOL = 0.055  # about 1 mL
MOST_CHARGE_KG = 100.0
FRACTIONS = {  # least, most and what to call it
    "purity": (1e-6, 1.0, "a fraction above 0 and up to 1, such as 0.82"),
    "converted": (0.0, 1.0, "a fraction from 0 to 1, such as 0.9"),
    "uncertainty": (0.0, 1.0, "a relative uncertainty from 0 to 1, such as 0.1"),
}


class ChargeReader:
    """Reads charges for one substrate.

    network: the organic species that may be charged, None if unknown; others_exist: whether there are
    substances beside those on the shelf that could not be read, so that a strange name may be right.
    """

    def __init__(
        self, shelf: Shelf, network: Iterable[str] | None, findings: Findings, others_exist: bool = False
    ) -> None:
        self.shelf, self.findings, self.others_exist = shelf, findings, others_exist
        self.network = None if network is None else tuple(network)

    def read(self, table: Mapping[str, Any], section: str, others: Iterable[str] = ()) -> tuple[Charge, ...]:
        """The charges of a table of substances, without those at fault; others: keys that stand beside."""
        others = tuple(others)
        names: dict[str, str] = {}
        charges = []
        for name, value in table.items():
            if name in others:
                continue
            key = join_key(*section.split("."), name)
            if (usual := usual_name(self.shelf, name)) in names:
                came = f'both "{names[usual]}" and "{name}"'
                self.findings.fault(key, f"{usual} under one of its names", came)
            names[usual] = name
            charge = self._charge(key, name, value, others)
            if charge is not None:
                charges.append(charge)
        return tuple(charges)

    def _charge(self, key: str, name: str, value: object, others: tuple[str, ...]) -> Charge | None:
        """One charge, or None with the faults noted."""
        found_before = len(self.findings.faults)
        usual = usual_name(self.shelf, name)
        baked = usual == BAKED
        parts = self._substances(key, name, others)
        is_table = isinstance(value, Mapping)
        portion = dict(value) if isinstance(value, Mapping) else {"amount": value}
        known = BAKED_PORTION if baked else PORTION
        for part in portion:
            if part not in known:
                unknown_key(key, part, known, self.findings)
        if "amount" not in portion:
            self.findings.fault(f"{key}.amount", 'what is charged, such as "4 g"', "nothing")
        purity = self._number(key, portion, "purity", 1.0)
        converted = self._number(key, portion, "converted", 1.0)
        spread = self._number(key, portion, "uncertainty", 0.0)
        amounts: tuple[float, ...] = ()
        if parts and "amount" in portion:
            try:
                amounts = self._amounts(parts, portion["amount"], baked, converted)
            except QuantityError as error:
                self.findings.faults.append(error.at(f"{key}.amount" if is_table else key))
        if len(self.findings.faults) > found_before:
            return None
        if purity < 1.0:
            rest = f"{1 - purity:.3g} of the {name} at {key} is something else"
            self.findings.assume(f"A fraction of {rest}: it is left out, as inert.")
        if baked and "converted" not in portion:
            self.findings.assume(
                f"{key}.converted is not given: all bicarbonate is taken as turned to carbonate."
            )
        components: dict[str, float] = {}
        for substance, amount in zip(parts, amounts, strict=True):
            for component, count in substance.components.items():
                components[component] = components.get(component, 0.0) + count * amount * purity
        text = " ".join(str(portion["amount"]).split())
        return Charge(usual, components, sum(amounts) * purity, purity, spread, text)

    def _substances(self, key: str, name: str, others: tuple[str, ...]) -> tuple[Substance, ...]:
        """What a charged name stands for, on the shelf and at home in the network; empty if it is not."""
        usual, names = usual_name(self.shelf, name), known_names(self.shelf)
        if usual == BAKED:
            return self.shelf.substance(CARBONATE), self.shelf.substance(BICARBONATE)
        if usual not in names:
            if not self.others_exist:
                expected = listed([*others, "a substance on the shelf"])
                self.findings.fault(key, expected, quoted(name), did_you_mean(name, (*others, *names)))
            return ()
        substance = self.shelf.substance(usual)
        if self.network is not None and not set(substance.components) <= MINERAL | set(self.network):
            expected = f"a base, a salt, or a species of the substrate's network ({', '.join(self.network)})"
            self.findings.fault(key, expected, f"{quoted(name)}, which has no part in that network")
            return ()
        return (substance,)

    def _amounts(
        self, parts: tuple[Substance, ...], written: object, baked: bool, converted: float
    ) -> tuple[float, ...]:
        """The amount of each of `parts` [mol] in the amount written; raises QuantityError."""
        amounts: tuple[float, ...]
        if baked:
            carbonate, bicarbonate = (part.molar_mass * 1e-3 for part in parts)
            mass_kg = quantity(written, "mass")
            amounts = baked_amounts(mass_kg, converted, bicarbonate, carbonate)
        else:
            (substance,) = parts
            density, molar_mass_kg = substance.density, substance.molar_mass * 1e-3
            kinds = ("mass", "amount") if density is None else ("mass", "volume", "amount")
            kind, value = quantity_of(written, kinds)
            if kind == "volume" and density is not None:
                value *= density(ROOM_TEMPERATURE_K, FLOATS) * 1e-3  # L times kg/m3
            mass_kg = value * molar_mass_kg if kind == "amount" else value
            amounts = (mass_kg / molar_mass_kg,)
        if mass_kg > MOST_CHARGE_KG:
            raise QuantityError(f"at most {MOST_CHARGE_KG:g} kg of one substance", quoted(written))
        return amounts

    def _number(self, key: str, portion: Mapping[str, Any], part: str, default: float) -> float:
        """A bare number of a charge; at fault it is noted and the default stands in."""
        least, most, expected = FRACTIONS[part]
        try:
            number = bare_number(portion.get(part, default), expected)
            if not least <= number <= most:
                raise QuantityError(expected, quoted(portion[part]))
        except QuantityError as error:
            self.findings.faults.append(error.at(f"{key}.{part}"))
            return default
        return number


def baked_amounts(
    mass_kg: float, converted: float, bicarbonate_kg_per_mol: float, carbonate_kg_per_mol: float
) -> tuple[float, float]:
    """Sodium carbonate and leftover bicarbonate [mol] in bicarbonate baked until a part of it is converted.

    2 NaHCO3 -> Na2CO3 + CO2 + H2O, the gases gone: n0 = m/(x Mc/2 + (1 - x) Mb), of which n0 x/2 is carbonate
    and n0 (1 - x) bicarbonate. mass_kg: of the baked product [kg], >= 0; converted: x, from 0 to 1;
    bicarbonate_kg_per_mol and carbonate_kg_per_mol: molar masses [kg/mol].
    """
    before = mass_kg / (converted * carbonate_kg_per_mol / 2 + (1 - converted) * bicarbonate_kg_per_mol)
    return before * converted / 2, before * (1 - converted)


@lru_cache(maxsize=8)
def known_names(shelf: Shelf) -> dict[str, str]:
    """Every name a charge may have, synonyms included, with the usual name of what it stands for."""
    names = {BAKED: BAKED}
    for substance in map(shelf.substance, shelf.substances()):
        if substance.kind != "gas":
            names |= dict.fromkeys((substance.name, *substance.synonyms), substance.name)
    return names


@lru_cache(maxsize=8)
def _by_small_letters(shelf: Shelf) -> dict[str, str]:
    return {name.lower(): usual for name, usual in known_names(shelf).items()}


def usual_name(shelf: Shelf, name: str) -> str:
    """The usual name of a substance, capitals ignored; any other word as it is."""
    return _by_small_letters(shelf).get(name.lower(), name)


def check_water(
    charges: Iterable[Charge], table: Mapping[str, Any], shelf: Shelf, findings: Findings
) -> None:
    """Note a flask without water, or with too little to speak of a water phase."""
    written = [value for name, value in table.items() if usual_name(shelf, name) == "water"]
    amounts = [charge.amount_mol for charge in charges if charge.substance == "water"]
    if not written:
        findings.fault("charge.water", 'the water, such as "400 mL"', "nothing")
    elif amounts and sum(amounts) < LEAST_WATER_MOL:
        findings.fault("charge.water", "at least 1 mL of water", quoted(written[0]))


def read_additions(
    document: Mapping[str, Any], hold_s: float | None, reader: ChargeReader
) -> tuple[Addition, ...]:
    """The additions, in order of time; hold_s: the time of the hold [s], None where that is at fault."""
    findings = reader.findings
    entries = document.get("addition", [])
    if not isinstance(entries, list):
        hint = "Write [[addition]], with two pairs of brackets." if isinstance(entries, Mapping) else ""
        findings.fault("addition", "a list of tables", quoted(entries), hint)
        return ()
    additions = []
    for number, entry in enumerate(entries, 1):
        addition = _addition(f"addition.{number}", entry, hold_s, reader)
        if addition is not None:
            additions.append(addition)
    return tuple(sorted(additions, key=lambda addition: addition.at_s))


def _addition(key: str, entry: object, hold_s: float | None, reader: ChargeReader) -> Addition | None:
    """One addition, or None with the faults noted."""
    findings = reader.findings
    if not isinstance(entry, Mapping):
        findings.fault(key, "a table", quoted(entry))
        return None
    charges = reader.read(entry, key, SCHEDULE)
    if not set(entry) - set(SCHEDULE):
        findings.fault(key, 'at least one substance, such as water = "50 mL"', "none")
    over = entry.get("over", SCHEDULE["over"].default)
    over_s = read_value(f"{key}.over", SCHEDULE["over"], over, findings)
    if "at" not in entry:
        findings.fault(f"{key}.at", 'a time after the start of the hold, such as "2 h"', "nothing")
        return None
    at_s = read_value(f"{key}.at", SCHEDULE["at"], entry["at"], findings)
    if at_s is None or over_s is None:
        return None
    if hold_s is not None and (at_s + over_s > hold_s * (1 + 1e-9) or at_s >= hold_s):
        expected = f"an addition that falls within the hold of {hold_s / 3600:g} h, before its end"
        findings.fault(f"{key}.at", expected, f"one that ends after {(at_s + over_s) / 3600:g} h")
    return Addition(at_s, over_s, charges)
