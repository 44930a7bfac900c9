"""Reading one table of a scenario file against the table of keys, with every fault noted and none raised."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from kinetics.data.faults import Fault, QuantityError, listed, nearest, quoted
from kinetics.data.units import KINDS, bare_number, quantity
from kinetics.run.reading_changes import join_key
from kinetics.run.reading_keys import RIVALS, SECTIONS, TOP_LEVEL, Entry

ROUNDING = 1e-9  # relative; a limit written in another unit than the house's is still met


@dataclass
class Findings:
    """What reading has found so far: the faults, and a sentence for each thing that was assumed."""

    faults: list[Fault] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)

    def fault(self, key: str, expected: str, came: str, hint: str = "") -> None:
        self.faults.append(Fault(key, expected, came, hint))

    def assume(self, sentence: str) -> None:
        if sentence not in self.assumed:
            self.assumed.append(sentence)


def did_you_mean(name: object, names: Iterable[str]) -> str:
    """The hint that names the closest valid name, or nothing."""
    close = nearest(name, names) if isinstance(name, str) else ""
    return f'Did you mean "{close}"?' if close else ""


def table_of(value: object, key: str, findings: Findings) -> Mapping[str, Any]:
    """`value` if it is a table; otherwise a fault, and an empty table so that reading can go on."""
    if isinstance(value, Mapping):
        return value
    findings.fault(key, f"a table, written as [{key}] with one line for each key", quoted(value))
    return {}


def unknown_key(section: str, key: str, valid: Iterable[str], findings: Findings) -> None:
    """Note a key that nothing here is called, with the nearest that is, or the table it belongs to."""
    valid = tuple(valid)
    hint = did_you_mean(key, valid)
    home = next((name for name, keys in SECTIONS.items() if key in keys and name != section), "")
    if home:
        hint = f"It belongs under [{home}]."
    elif not hint and section and key in TOP_LEVEL:
        hint = "It belongs at the top of the file."
    where = f"{section}.{join_key(key)}" if section else join_key(key)
    findings.fault(where, listed(valid), f"an unknown key, {quoted(key)}", hint)


def read_value(key: str, entry: Entry, value: object, findings: Findings) -> Any:
    """The value of one key in house units (a flag or a choice as it is), or None where it is at fault."""
    try:
        return _checked(entry, value)
    except QuantityError as error:
        findings.faults.append(error.at(key))
        return None


def expectation(entry: Entry) -> str:
    """What a key takes, as a phrase for a message."""
    words = [f'"{word}"' for word in entry.choices]
    if entry.kind == "flag":
        return "true or false, without quotation marks"
    if entry.kind == "choice":
        return listed(words)
    if entry.kind == "substance":
        return f'a substance on the shelf, such as "{entry.example}"'
    if entry.kind == "number":
        return f"a number {entry.limits}, such as {entry.example}"
    kind = KINDS[entry.kind]
    limits = " ".join(filter(None, [kind.words, "above zero" if entry.above_zero else "", entry.limits]))
    return listed([*words, f'{limits}, such as "{entry.example or kind.example}"'])


def _checked(entry: Entry, value: object) -> object:
    """`value` read as the key's table line wants it; raises QuantityError."""
    expected = expectation(entry)
    if isinstance(value, bool) if entry.kind == "flag" else isinstance(value, str) and (
        value in entry.choices or entry.kind == "substance"
    ):
        return value
    if entry.kind in ("flag", "choice", "substance"):
        raise QuantityError(expected, quoted(value), did_you_mean(value, entry.choices))
    try:
        number = bare_number(value, expected) if entry.kind == "number" else quantity(value, entry.kind)
    except QuantityError as error:
        hint = did_you_mean(value, entry.choices) or error.hint
        raise QuantityError(expected, error.came, hint) from None
    slack = ROUNDING * max(abs(entry.least), abs(number))
    if not entry.least - slack <= number <= entry.most + slack or (entry.above_zero and number == 0):
        raise QuantityError(expected, quoted(value))
    return number


class Section:
    """One of the tables in SECTIONS as written, with what stands in for the keys it leaves out."""

    def __init__(self, name: str, document: Mapping[str, Any], findings: Findings) -> None:
        self.name, self.findings = name, findings
        table = document.get(name, {})
        self.written = table_of(table, name, findings)
        self.values: dict[str, Any] = {} if isinstance(table, Mapping) else dict.fromkeys(SECTIONS[name])
        for key, value in self.written.items():
            if key in SECTIONS[name]:
                self.values[key] = read_value(f"{name}.{key}", SECTIONS[name][key], value, findings)
            else:
                unknown_key(name, key, SECTIONS[name], findings)
        for section, readings in RIVALS:
            if section == name:
                self._one_of(readings)

    def _one_of(self, readings: tuple[tuple[str, ...], ...]) -> None:
        """Two readings of one quantity contradict each other, even where they happen to agree."""
        given = [key for keys in readings for key in keys if key in self.written]
        if sum(any(key in self.written for key in keys) for keys in readings) > 1:
            expected = f"only one of {listed(' with '.join(keys) for keys in readings)}"
            self.findings.fault(f"{self.name}.{given[-1]}", expected, f"{listed(given, 'and')} together")

    def has(self, key: str) -> bool:
        """Whether the file itself gives the key."""
        return key in self.written

    def sound(self, *keys: str) -> bool:
        """Whether none of the keys is at fault, so that what they say can be judged."""
        return not any(self.values.get(key, key) is None for key in keys)

    def spoil(self, key: str) -> None:
        """Count a key as at fault from now on, its value contradicting another."""
        self.values[key] = None

    def value(self, key: str, default: str | None = None, why: str = "", silent: bool = False) -> Any:
        """The key's value, or its default with a sentence saying so (and why).

        For a key at fault, its default or the example of its kind stands in, so that reading can go on.
        """
        if self.values.get(key) is not None:
            return self.values[key]
        entry, place = SECTIONS[self.name][key], f"{self.name}.{key}"
        standing_in = entry.default if default is None else default
        if standing_in is None:
            if key not in self.values:
                self.findings.fault(place, expectation(entry), "nothing")
                self.spoil(key)
            standing_in = entry.example or KINDS[entry.kind].example
        elif not silent:
            shown = str(standing_in).lower() if isinstance(standing_in, bool) else standing_in
            self.findings.assume(f"{place} is not given: {entry.words} is taken as {shown}{why}.")
        return read_value(place, entry, standing_in, self.findings)
