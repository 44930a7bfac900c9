"""What can be wrong with an input: a frozen record for each fault, and the errors that carry them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

SHOWN_CHARACTERS = 60  # how much of an offending text a message quotes


@dataclass(frozen=True)
class Fault:
    """One fault of an input: at which key, what was expected there, what came, and a way out.

    expected and came are phrases ('a time, such as "8 h"'; '"3 mL", which is a volume');
    hint is a whole sentence or empty.
    """

    key: str
    expected: str
    came: str
    hint: str = ""

    def __str__(self) -> str:
        where = f"{self.key}: " if self.key else ""
        hint = f" {self.hint}" if self.hint else ""
        return printable(f"{where}expected {self.expected}; came {self.came}.{hint}")


class RefusedInput(Exception):
    """Something the user gave cannot be accepted; the base of every error of that kind."""


class QuantityError(RefusedInput):
    """A text that is not the quantity it should be."""

    def __init__(self, expected: str, came: str, hint: str = "") -> None:
        self.expected, self.came, self.hint = expected, came, hint
        super().__init__(expected, came, hint)

    def at(self, key: str) -> Fault:
        """The fault this error amounts to at `key`."""
        return Fault(key, self.expected, self.came, self.hint)

    def __str__(self) -> str:
        return str(self.at(""))


class ScenarioError(RefusedInput):
    """A scenario that cannot be accepted, with every fault found in it and where it came from."""

    def __init__(self, faults: Iterable[Fault], where: str = "") -> None:
        self.faults, self.where = tuple(faults), where
        super().__init__(self.faults, where)

    def __str__(self) -> str:
        count = "1 fault" if len(self.faults) == 1 else f"{len(self.faults)} faults"
        return "\n  ".join([f"{self.where or 'The scenario'} has {count}.", *map(str, self.faults)])


def printable(text: str) -> str:
    """A text with everything a terminal might obey, or cannot show, spelt out."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def quoted(value: object) -> str:
    """How a message shows a value that came: what kind of thing it is, or its text cut short."""
    match value:
        case bool():
            return f"the truth value {str(value).lower()}"
        case int() | float():
            too_large = isinstance(value, int) and abs(value) > 1e300
            return "a number too large to use" if too_large else f"the bare number {value:.6g}"
        case str():
            line = printable(value)
            return f'"{line[:SHOWN_CHARACTERS]}{"..." if len(line) > SHOWN_CHARACTERS else ""}"'
        case dict():
            return "a table"
        case list() | tuple():
            return "a list"
        case None:
            return "nothing"
    return f"a {type(value).__name__}"


def listed(words: Iterable[str], last: str = "or") -> str:
    """Words as a list in a sentence: 'a, b or c'."""
    *head, tail = words
    return f"{', '.join(head)} {last} {tail}" if head else tail


def nearest(name: str, names: Iterable[str]) -> str:
    """The one of `names` that `name` begins, or is closest to, capitals ignored; empty if none is close."""
    by_lower = {known.lower(): known for known in names}
    longer = [known for known in by_lower if len(name) > 4 and known.startswith(name.lower())]
    close = sorted(longer, key=len) or get_close_matches(name.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else ""
