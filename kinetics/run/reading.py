"""From a scenario file to a checked Scenario, or to one error with every fault of the file in it."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from kinetics.data.faults import Fault, RefusedInput, ScenarioError, listed, quoted
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.substrate import Substrate
from kinetics.run.reading_around import read_feed, read_hazard, read_workup, with_feed
from kinetics.run.reading_changes import MISSING, changed, flattened, lookup, no_such_entry, split_key
from kinetics.run.reading_charges import ChargeReader, check_water, known_names, read_additions, usual_name
from kinetics.run.reading_conditions import ConditionReader
from kinetics.run.reading_keys import SECTIONS, TOP_LEVEL
from kinetics.run.reading_tables import Findings, did_you_mean, table_of, unknown_key
from kinetics.run.scenario import Option, Scenario

LARGEST_FILE_BYTES = 1_000_000


def read_scenario(path: str | Path) -> Scenario:
    """The scenario in the TOML file at `path`. Raises ScenarioError with every fault found in it."""
    path = Path(path)
    return parse_scenario(_text_of(path), str(path), path)


def parse_scenario(text: str, where: str = "the scenario", path: Path | None = None) -> Scenario:
    """The scenario in a TOML text. where: what messages call it; path: the file it came from, if any."""
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, _, place = str(error).removesuffix(")").partition(" (at ")
        fault = Fault(place, "text that follows the rules of TOML", f"a break of them ({what.lower()})")
        raise ScenarioError([fault], where) from None
    except (ValueError, RecursionError):  # a number or a nesting too long for Python
        fault = Fault("", "text that follows the rules of TOML", "numbers or brackets without end")
        raise ScenarioError([fault], where) from None
    return read_document(document, where, path)


def read_document(
    document: Mapping[str, Any],
    where: str = "the scenario",
    path: Path | None = None,
    check_options: bool = True,
) -> Scenario:
    """The scenario in a document as the TOML reader gives it; check_options: try each option as well."""
    findings = Findings()
    scenario = _read(document, path, findings)
    if check_options:
        faults_of_base = set(findings.faults)
        for option in scenario.options:
            findings.faults += _faults_of_option(document, path, option, faults_of_base)
    if findings.faults:
        raise ScenarioError(findings.faults, where)
    return scenario


def _read(document: Mapping[str, Any], path: Path | None, findings: Findings) -> Scenario:
    """Everything in the document; what is at fault is noted, and something sound stands in for it."""
    for key in document:
        if key not in TOP_LEVEL:
            unknown_key("", key, TOP_LEVEL, findings)
    title = document.get("title", path.stem if path else "untitled")
    if not isinstance(title, str) or not title.strip():
        findings.fault("title", "a line of text in quotation marks", quoted(title))
    elif "title" not in document:
        findings.assume(f"title is not given: it is taken as {title}.")
    shelf, substrate, substrate_name = _substrate(document, path, findings)
    network = None if substrate is None else substrate.species
    own_species = substrate is None and str(document.get("substrate")).endswith(".toml")
    reader = ChargeReader(shelf, network, findings, own_species)
    conditions = ConditionReader(document, shelf, findings)
    charge_table = table_of(document.get("charge", {}), "charge", findings)
    feed = read_feed(document, findings)
    charge_table = with_feed(charge_table, feed, substrate, shelf, findings)
    charges = reader.read(charge_table, "charge")
    if isinstance(document.get("charge", {}), Mapping):
        check_water(charges, charge_table, shelf, findings)
    heating, vessel = conditions.heating(), conditions.vessel()
    additions = read_additions(document, heating.hold_s if conditions.hot.sound("hold") else None, reader)
    condenser = conditions.condenser(heating.boil_up_mol_per_s)
    conditions.check_dryness(charges, additions, condenser)
    return Scenario(
        title=title,
        substrate=substrate_name,
        charges=charges,
        heating=heating,
        vessel=vessel,
        condenser=condenser,
        additions=additions,
        options=_options(document, findings),
        assumed=tuple(findings.assumed),
        document=copy.deepcopy(dict(document)),
        path=path,
        feed=feed,
        hazard=read_hazard(document, findings),
        workup=read_workup(document, findings),
    )


def _text_of(path: Path) -> str:
    """The text of a scenario file; raises ScenarioError where there is none to read."""
    expected = "a scenario file"
    try:
        if path.is_dir():
            raise ScenarioError([Fault("", expected, "a folder")], str(path))
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
        if len(content) > LARGEST_FILE_BYTES:
            raise ScenarioError([Fault("", f"{expected} of up to 1 MB", "a larger one")], str(path))
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        hint = "Save the file as UTF-8."
        raise ScenarioError([Fault(f"line {line}", "UTF-8 text", "other bytes", hint)], str(path)) from None
    except FileNotFoundError:
        close = did_you_mean(path.name, _neighbours(path))
        raise ScenarioError([Fault("", expected, "a path with no file at it", close)], str(path)) from None
    except (OSError, ValueError) as error:
        raise ScenarioError([Fault("", expected, f"one that cannot be read: {error}")], str(path)) from None


def _neighbours(path: Path) -> list[str]:
    """The scenario files beside a path, for a hint."""
    try:
        return [file.name for file in path.parent.glob("*.toml")]
    except OSError:
        return []


def _substrate(
    document: Mapping[str, Any], path: Path | None, findings: Findings
) -> tuple[Shelf, Substrate | None, str]:
    """The substrate the document names, its name or path, and the shelf it stands on.

    A name that ends in .toml is the path of a substrate file, seen from the scenario's own folder.
    """
    shelf, name = load_shelf(), document.get("substrate")
    expected = f"{listed(map(quoted, shelf.substrates()))}, or the path of a substrate file"
    if not isinstance(name, str):
        findings.fault("substrate", expected, quoted(name))
        return shelf, None, ""
    is_file = name.endswith(".toml")
    try:
        if is_file:
            file = path.parent / name if path else Path(name)
            shelf = shelf.including(file)
            return shelf, shelf.substrate(shelf.substrates()[-1]), str(file)
        substrate = shelf.substrate(name)
        return shelf, substrate, substrate.name
    except (RefusedInput, ValueError) as error:  # ValueError: a path that no file can have
        why = f", which is refused ({'; '.join(map(str, error.args))})" if is_file else ""
        hint = "" if is_file else did_you_mean(name, shelf.substrates())
        findings.fault("substrate", expected, f"{quoted(name)}{why}", hint)
        return load_shelf(), None, ""


def _options(document: Mapping[str, Any], findings: Findings) -> tuple[Option, ...]:
    """The options, each with the dotted keys it changes; one without a name or a change is a fault."""
    entries = document.get("option", [])
    if not isinstance(entries, list):
        hint = "Write [[option]], with two pairs of brackets." if isinstance(entries, Mapping) else ""
        findings.fault("option", "a list of tables", quoted(entries), hint)
        return ()
    options: list[Option] = []
    for number, entry in enumerate(entries, 1):
        if not isinstance(entry, Mapping):
            findings.fault(f"option.{number}", "a table", quoted(entry))
            continue
        name = entry.get("name")
        if not isinstance(name, str) or not name.strip():
            expected = 'the name of the option, such as "twice the carbonate"'
            findings.fault(f"option.{number}.name", expected, quoted(name))
            name = f"option.{number}"
        elif name in [option.name for option in options]:
            findings.fault(f"option.{number}.name", "a name no other option has", f"{quoted(name)} once more")
        changes = flattened({key: value for key, value in entry.items() if key != "name"})
        if not changes:
            expected = 'at least one key it changes, such as heating.hold = "5 h"'
            findings.fault(f"option.{number}", expected, "none")
        options.append(Option(name, changes))
    return tuple(options)


def _faults_of_option(
    document: Mapping[str, Any], path: Path | None, option: Option, known: set[Fault]
) -> list[Fault]:
    """What is wrong with the scenario once the option has changed it and was not before."""
    shelf, findings = load_shelf(), Findings()
    try:
        _read(changed(document, option.changes, lambda name: usual_name(shelf, name)), path, findings)
    except ScenarioError as error:
        findings.faults += error.faults
    return [
        replace(fault, key=f"option {quoted(option.name)}, {fault.key}")
        for fault in dict.fromkeys(findings.faults)
        if fault not in known
    ]


def read_changed(scenario: Scenario, changes: Mapping[str, object]) -> Scenario:
    """The scenario whose document has these dotted keys changed; see Scenario.with_changes."""
    shelf = load_shelf()
    document = changed(scenario.document, changes, lambda name: usual_name(shelf, name))
    return read_document(document, _where(scenario), scenario.path, check_options=False)


def read_option(scenario: Scenario, name: str) -> Scenario:
    """The scenario with the changes of its option `name`."""
    for option in scenario.options:
        if option.name == name:
            return read_changed(scenario, option.changes)
    names = [option.name for option in scenario.options]
    expected = f"one of the options {listed(map(quoted, names))}" if names else "a scenario with options"
    fault = Fault("option", expected, quoted(name), did_you_mean(name, names))
    raise ScenarioError([fault], _where(scenario))


def written_value(scenario: Scenario, key: str) -> object:
    """What a dotted key holds in the scenario's document, else its default, else None."""
    findings, shelf = Findings(), load_shelf()
    value = lookup(scenario.document, key, lambda name: usual_name(shelf, name))
    if value is not MISSING:
        return copy.deepcopy(value)
    match split_key(key):
        case (section, name) if section in SECTIONS:
            if name in SECTIONS[section]:
                return SECTIONS[section][name].default
            unknown_key(section, name, SECTIONS[section], findings)
        case ("charge", name):
            if name in known_names(shelf):
                return None
            hint = did_you_mean(name, known_names(shelf))
            findings.fault(key, "a substance on the shelf", quoted(name), hint)
        case ("addition", number, *_):
            findings.faults.append(no_such_entry(key, len(scenario.additions), number))
        case (name,) if name in TOP_LEVEL:
            return scenario.title if name == "title" else None
        case parts:
            unknown_key("", parts[0], TOP_LEVEL, findings)
    raise ScenarioError(findings.faults, _where(scenario))


def _where(scenario: Scenario) -> str:
    return str(scenario.path or scenario.title)
