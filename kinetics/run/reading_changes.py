"""Scenario documents with some of their dotted keys changed, and dotted keys themselves."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping
from typing import Any

from kinetics.data.faults import Fault, ScenarioError, quoted
from kinetics.run.reading_keys import RIVALS

KEY_PART = re.compile(r'"([^"]*)"|([^."]+)')
WHOLE_KEY = re.compile(rf"(?:{KEY_PART.pattern})(?:\.(?:{KEY_PART.pattern}))*")
MISSING = object()


def split_key(key: str) -> tuple[str, ...]:
    """The parts of a dotted key; a part that holds a point stands in quotation marks."""
    if not WHOLE_KEY.fullmatch(key):
        return (key,)
    return tuple(in_quotes or plain for in_quotes, plain in KEY_PART.findall(key))


def join_key(*parts: str) -> str:
    """The dotted key of these parts."""
    return ".".join(f'"{part}"' if "." in part or not part else part for part in parts)


def flattened(table: Mapping[str, Any], *path: str) -> dict[str, object]:
    """A nested table as dotted keys: {"heating": {"hold": "5 h"}} is {"heating.hold": "5 h"}."""
    flat: dict[str, object] = {}
    for key, value in table.items():
        if isinstance(value, Mapping) and value:
            flat |= flattened(value, *path, key)
        else:
            flat[join_key(*path, key)] = value
    return flat


def lookup(document: Mapping[str, Any], key: str, usual_name: Callable[[str], str]) -> Any:
    """The value of a dotted key in a document, or MISSING; a substance answers to any of its names."""
    node: Any = document
    for part in split_key(key):
        if isinstance(node, list) and part.isdecimal() and 1 <= int(part) <= len(node):
            node = node[int(part) - 1]
        elif isinstance(node, Mapping) and (slot := _slot(node, part, usual_name)) in node:
            node = node[slot]
        else:
            return MISSING
    return node


def _slot(table: Mapping[str, Any], part: str, usual_name: Callable[[str], str]) -> str:
    """The key of `table` that means `part`: a synonym of it, or itself."""
    return next((known for known in table if usual_name(known) == usual_name(part)), part)


def changed(
    document: Mapping[str, Any], changes: Mapping[str, object], usual_name: Callable[[str], str]
) -> dict[str, Any]:
    """A copy of `document` with the dotted keys of `changes` set; rival readings of a set key are dropped.

    usual_name gives a substance's name on the shelf, so that a synonym changes the charge it means.
    Raises ScenarioError for an addition that does not exist.
    """
    result = copy.deepcopy(dict(document))
    for key, value in changes.items():
        if split_key(key)[0] == "option":
            raise ScenarioError([Fault(key, "a key of the scenario itself", "one of its options")])
        _set(result, split_key(key), copy.deepcopy(value), usual_name, key)
    touched = {split_key(key)[:2] for key in changes}
    for section, readings in RIVALS:
        set_now = [keys for keys in readings if any((section, key) in touched for key in keys)]
        table = result.get(section)
        if set_now and isinstance(table, dict):
            for rival in (key for keys in readings if keys not in set_now for key in keys):
                table.pop(rival, None)
    return result


def no_such_entry(key: str, count: int, number: str) -> Fault:
    """The fault of a key that asks for an addition the scenario does not have."""
    known = (
        f"the number of an addition, from 1 to {count}" if count else "no addition, the scenario having none"
    )
    return Fault(key, known, quoted(number))


def _set(node: Any, path: tuple[str, ...], value: object, usual_name: Callable[[str], str], key: str) -> None:
    """Set what `path` leads to below `node`; where need be a charge's bare amount becomes a table."""
    part, *rest = path
    slot: Any
    if isinstance(node, list):
        if not (part.isdecimal() and 1 <= int(part) <= len(node)):
            raise ScenarioError([no_such_entry(key, len(node), part)])
        slot, there = int(part) - 1, node[int(part) - 1]
    else:
        slot = _slot(node, part, usual_name)
        there = node.get(slot)
    if rest:
        if there is None:
            there = node[slot] = [] if slot == "addition" else {}
        elif not isinstance(there, (dict, list)):
            there = node[slot] = {"amount": there}
        _set(there, tuple(rest), value, usual_name, key)
    elif isinstance(there, dict) and "amount" in there and not isinstance(value, dict):
        there["amount"] = value
    else:
        node[slot] = value
