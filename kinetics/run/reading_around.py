"""Reading the job around the flask: the optional tables feed, hazard and workup."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kinetics.data.faults import listed, quoted
from kinetics.data.shelf import Shelf
from kinetics.data.substrate import Substrate
from kinetics.run.feeding import Fed, fed_aldehyde, index_at_20
from kinetics.run.reading_charges import usual_name
from kinetics.run.reading_keys import SECTIONS
from kinetics.run.reading_tables import Findings, Section, did_you_mean
from kinetics.run.scenario import Feed, Hazard, Workup

FEED = "feed"  # stands for the number in the charge of the substrate
TELLS_APART = 0.01  # difference of two refractive indices below which a reading says nothing of their mixture
FIELDS = {  # of the records, where the name is not that of the key and a unit
    "air": "air_m3_per_s",
    "trap_temperature": "trap_K",
    "separation": "separation_K",
    "titrant": "titrant_mol_per_L",
    "read_at": "read_at_K",
}
UNITS = {"mass": "_kg", "volume": "_L", "time": "_s", "pressure": "_Pa"}


def values_of(name: str, document: Mapping[str, Any], findings: Findings) -> dict[str, Any]:
    """The values of an optional table by the names of its record; None for what is not given or at fault."""
    section = Section(name, document, findings)
    keys = SECTIONS[name].items()
    return {FIELDS.get(key, key + UNITS.get(entry.kind, "")): section.values.get(key) for key, entry in keys}


def read_hazard(document: Mapping[str, Any], findings: Findings) -> Hazard:
    """The air around the flask."""
    return Hazard(**values_of("hazard", document, findings))


def read_workup(document: Mapping[str, Any], findings: Findings) -> Workup:
    """What is done with the flask's content; a cut without a distillation is a fault."""
    work = Workup(**values_of("workup", document, findings))
    if work.cut is not None and work.pressure_Pa is None:
        findings.fault("workup.cut", 'a pressure beside it, such as pressure = "2 kPa"', "a cut alone")
    if work.steam is False and (work.recovered or work.distillate_L):
        key = "recovered" if work.recovered else "distillate"
        findings.fault(f"workup.{key}", "nothing, there being no steam distillation", "a value")
    return work


def read_feed(document: Mapping[str, Any], findings: Findings) -> Feed | None:
    """Where the aldehyde comes from, None where the file does not say; a measurement wants all its readings."""
    if "feed" not in document:
        return None
    before = len(findings.faults)
    feed = Feed(**values_of("feed", document, findings))
    if len(findings.faults) > before:
        return feed
    if feed.bark_kg is feed.oil_kg is feed.layer_L is None:
        findings.fault("feed", 'bark = "100 g", oil = "1.8 g" or layer = "1.7 mL"', "none of them")
    readings = {"sample": feed.sample_kg, "titre": feed.titre_L, "titrant": feed.titrant_mol_per_L, "titration": feed.titration}
    missing = [key for key, value in readings.items() if value is None]
    if 0 < len(missing) < len(readings):
        findings.fault(f"feed.{missing[0]}", "all of sample, titre, titrant and titration", "nothing")
    if feed.beside is None and (feed.refractive_index or feed.read_at_K):
        findings.fault("feed.beside", 'the other liquid in the oil, such as "benzaldehyde"', "nothing")
    if feed.refractive_index is None and (feed.beside or feed.read_at_K):
        findings.fault("feed.refractive_index", "the refractive index n_D of the oil, such as 1.601", "nothing")
    return feed


def check_refraction(feed: Feed, name: str, shelf: Shelf, findings: Findings) -> None:
    """Note a refractive index that does not tell how much of `name` an oil of two liquids holds."""
    pure = {
        one: shelf[f"{one}.refractive_index"].value
        for one in shelf.substances()
        if f"{one}.refractive_index" in shelf and f"{one}.density" in shelf
    }
    if name not in pure:
        findings.fault("feed.refractive_index", f"another reading, that of pure {name} not being on the shelf", "this one")
        return
    able = [one for one, index in pure.items() if abs(index - pure[name]) >= TELLS_APART]
    other = usual_name(shelf, feed.beside or "")
    if other not in able:
        expected = f"a liquid that its refractive index tells from {name}: {listed(map(quoted, able))}"
        findings.fault("feed.beside", expected, quoted(feed.beside), did_you_mean(feed.beside, able))
        return
    n = index_at_20(feed, shelf)
    if n == pure[other] or not min(pure[name], pure[other]) <= n <= max(pure[name], pure[other]):
        ends = sorted((pure[one], one) for one in (name, other))
        between = " and ".join(f"{index:.4f} ({one})" for index, one in ends)
        findings.fault("feed.refractive_index", f"one that is at 20 degC between {between}", f"{n:.4f} at 20 degC")


def judged(feed: Feed, name: str, shelf: Shelf, findings: Findings) -> Fed | None:
    """The aldehyde `name` of a feed; None where it cannot be told, with the reason among the faults."""
    before = len(findings.faults)
    if feed.refractive_index is not None:
        check_refraction(feed, name, shelf, findings)
    if len(findings.faults) > before:
        return None
    fed = fed_aldehyde(feed, name, shelf)
    for key in fed.missing:
        findings.fault(f"feed.{key}", f"a number, none being on the shelf for {name}", "nothing")
    if fed.fraction > 1.0:
        findings.fault("feed.titre", "a titration that finds no more aldehyde than oil", f"{100 * fed.fraction:.3g} %")
    return fed if len(findings.faults) == before else None


def with_feed(
    table: Mapping[str, Any], feed: Feed | None, substrate: Substrate | None, shelf: Shelf, findings: Findings
) -> Mapping[str, Any]:
    """The table of charges, "feed" replaced by the aldehyde of [feed]; what stands for nothing is noted and left out."""
    sound = not any(fault.key.startswith("feed") for fault in findings.faults)
    fed = None
    if sound and feed is not None and substrate is not None:
        fed = judged(feed, substrate.substrate, shelf, findings)
    keys = [name for name, value in table.items() if value == FEED]
    if not keys or substrate is None:
        return table
    charges = {name: value for name, value in table.items() if name not in keys}
    name = keys[0]
    if usual_name(shelf, name) != substrate.substrate or len(keys) > 1:
        findings.fault(f"charge.{keys[-1]}", f'"{FEED}" for {substrate.substrate} alone', quoted(FEED))
        return charges
    if feed is None:
        findings.fault(f"charge.{name}", 'a table [feed] in the file, such as oil = "1.8 g" in it', "none")
    if fed is None or fed.mass_kg <= 0.0:
        return charges
    for sentence in fed.assumed:
        findings.assume(sentence)
    if feed is not None and feed.beside is not None:
        rest = 1e3 * (fed.oil_kg - fed.mass_kg)
        findings.assume(f"feed: the {rest:.3g} g of {shelf.substance(feed.beside).name} in the oil are not charged unless [charge] says so.")
    amount = {"amount": f"{1e3 * fed.mass_kg:.6g} g", "uncertainty": min(fed.uncertainty, 1.0)}
    return {key: amount if key == name else value for key, value in table.items()}
