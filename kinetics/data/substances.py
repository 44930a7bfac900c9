"""Substances: what can be charged or formed, with its formula, molar mass and formal components."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from kinetics.data.records import Record, ShelfError, hint, is_number

KINDS = ("organic", "base", "salt", "acid", "water", "gas")
TOKEN = re.compile(r"([A-Z][a-z]?|\(|\))(\d*)")


@dataclass(frozen=True)
class Substance:
    """A substance on the shelf.

    molar_mass is in g/mol, computed from the formula; density [kg/m3] holds at 20 C, None if not known;
    components are the formal components [mol per mol] that the substance brings into the liquor.
    """

    name: str
    synonyms: tuple[str, ...]
    formula: str
    kind: str
    elements: Mapping[str, float]
    components: Mapping[str, float]
    molar_mass: float
    density: Record | None


def elements_of(formula: str) -> dict[str, float]:
    """Count of each element in a formula such as "Ca(OH)2" or "Na2CO3.10H2O"."""
    counts: dict[str, float] = {}
    for part in formula.split("."):
        multiplier, body = re.fullmatch(r"(\d*)(.*)", part).groups()  # type: ignore[union-attr]
        if not body or TOKEN.sub("", body):
            raise ShelfError(f'formula: expected one such as "Na2CO3.10H2O", came "{formula}"')
        for element, count in _tally(body, formula).items():
            counts[element] = counts.get(element, 0) + count * int(multiplier or 1)
    return counts


def _tally(body: str, formula: str) -> dict[str, float]:
    """Count the elements of one part of a formula; brackets may be nested."""
    levels: list[dict[str, float]] = [{}]
    for symbol, number in TOKEN.findall(body):
        if symbol == "(":
            levels.append({})
            continue
        if symbol == ")" and len(levels) == 1:
            raise ShelfError(f'formula: a bracket closes that never opened in "{formula}"')
        group = levels.pop() if symbol == ")" else {symbol: 1}
        for element, count in group.items():
            levels[-1][element] = levels[-1].get(element, 0) + count * int(number or 1)
    if len(levels) > 1:
        raise ShelfError(f'formula: a bracket opens that never closes in "{formula}"')
    return levels[0]


def weighted_sum(
    amounts: Mapping[str, float], elements: Mapping[str, Mapping[str, float]]
) -> dict[str, float]:
    """Elements in a mixture of `amounts` of things whose elements are given; what cancels is left out."""
    total: dict[str, float] = {}
    for name, amount in amounts.items():
        for element, count in elements[name].items():
            total[element] = total.get(element, 0.0) + amount * count
    return {element: count for element, count in total.items() if abs(count) > 1e-9}


def faults_of_species(name: str, table: object) -> list[str]:
    """What is of the wrong kind in the table of a species."""
    if not isinstance(table, dict):
        return [f"species.{name}: expected a table, came {table!r}"]
    faults = []
    formula, synonyms, components = (table.get(key) for key in ("formula", "synonyms", "components"))
    try:
        elements_of(formula if isinstance(formula, str) else "")
    except ShelfError:
        faults.append(f'{name}.formula: expected one such as "Na2CO3.10H2O", came {formula!r}')
    if synonyms is not None and not (
        isinstance(synonyms, list) and all(isinstance(synonym, str) for synonym in synonyms)
    ):
        faults.append(f"{name}.synonyms: expected a list of names, came {synonyms!r}")
    if components is not None and not isinstance(components, dict):
        faults.append(f"{name}.components: expected a table, came {components!r}")
    return faults


def build_substance(
    name: str,
    table: Mapping,
    atomic_weights: Mapping[str, float],
    formal: Mapping[str, Mapping[str, float]],
    density: Record | None,
) -> Substance:
    """The substance of one table of the shelf; `formal` gives the elements of each formal component.

    An organic species or an organic acid is its own component where none are named.
    """
    faults = faults_of_species(name, table)
    if faults:
        raise ShelfError(*faults)
    elements = elements_of(table["formula"])
    components = dict(table.get("components", {name: 1.0}))
    faults = [
        f"{name}.formula: no atomic weight on the shelf for {e}" for e in elements if e not in atomic_weights
    ]
    kind = table.get("kind")
    if kind not in KINDS:
        faults.append(f"{name}.kind: expected one of {', '.join(KINDS)}, came {kind!r}")
    known = {**formal, name: elements}
    for component, amount in components.items():
        if component not in known:
            faults.append(f"{name}.components: {component} is no formal component{hint(component, known)}")
        elif not is_number(amount):
            faults.append(f"{name}.components.{component}: expected a number, came {amount!r}")
    if not faults and weighted_sum({**components, "": -1.0}, {**known, "": elements}):
        faults.append(f"{name}.components: their elements do not add up to {table['formula']}")
    if faults:
        raise ShelfError(*faults)
    molar_mass = sum(count * atomic_weights[element] for element, count in elements.items())
    synonyms = tuple(table.get("synonyms", ()))
    return Substance(name, synonyms, table["formula"], str(kind), elements, components, molar_mass, density)
