"""Reading the job around the flask: the optional tables feed, hazard and workup."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kinetics.data.faults import quoted
from kinetics.data.shelf import Shelf
from kinetics.data.substrate import Substrate
from kinetics.run.feeding import fed_aldehyde
from kinetics.run.reading_charges import usual_name
from kinetics.run.reading_keys import SECTIONS
from kinetics.run.reading_tables import Findings, Section
from kinetics.run.scenario import Feed, Hazard, Workup

FEED = "feed"  # stands for the number in the charge of the substrate
FIELDS = {  # of the records, where the name is not that of the key and a unit
    "air": "air_m3_per_s",
    "trap_temperature": "trap_K",
    "separation": "separation_K",
    "titrant": "titrant_mol_per_L",
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
    """Where the aldehyde comes from, None where the file does not say; a titration wants all its readings."""
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
    return feed


def with_feed(
    table: Mapping[str, Any], feed: Feed | None, substrate: Substrate | None, shelf: Shelf, findings: Findings
) -> Mapping[str, Any]:
    """The table of charges, "feed" replaced by the aldehyde of [feed]; what stands for nothing is noted and left out."""
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
        return charges
    fed = fed_aldehyde(feed, substrate.substrate, shelf)
    for key in fed.missing:
        findings.fault(f"feed.{key}", f"a number, none being on the shelf for {substrate.substrate}", "nothing")
    if fed.fraction > 1.0:
        findings.fault("feed.titre", "a titration that finds no more aldehyde than oil", f"{100 * fed.fraction:.3g} %")
    if fed.missing or fed.fraction > 1.0 or fed.mass_kg <= 0.0:
        return charges
    for sentence in fed.assumed:
        findings.assume(sentence)
    amount = {"amount": f"{1e3 * fed.mass_kg:.12g} g", "uncertainty": min(fed.uncertainty, 1.0)}
    return {key: amount if key == name else value for key, value in table.items()}
