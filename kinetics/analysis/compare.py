"""Scenarios and their options side by side: what each gives, takes and costs, best first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from kinetics.analysis.base import is_base
from kinetics.analysis.runs import HOUR_S, Job, Outcome, Progress, run_jobs
from kinetics.data.faults import Fault, RefusedInput, listed, nearest, quoted
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.substances import weighted_sum
from kinetics.run.reading_changes import flattened
from kinetics.run.result import Summary, plain
from kinetics.run.scenario import Charge, Scenario

AS_WRITTEN = "as written"
NEARLY = 0.9  # of the final conversion
MEASURES = (
    "product_g",
    "byproduct_left_g",
    "hours_to_90_percent",
    "base_g",
    "base_mol_per_mol",
    "boil_energy_kJ",
)
KEYS = (*(f.name.rstrip("_") for f in fields(Summary)), *MEASURES)
LESS_IS_BETTER = {
    "hold_h",
    "byproduct_in_flask_mol",
    "byproduct_left_mol",
    "byproduct_left_g",
    "product_vented_g",
    "unreacted_g",
    "substrate_left_g",
    "hours_to_90_percent",
    "base_g",
    "base_mol_per_mol",
    "boil_energy_kJ",
}


class OrderError(RefusedInput):
    """No such number to put the options in order by."""

    def __init__(self, fault: Fault) -> None:
        self.faults = (fault,)
        super().__init__(fault)


@dataclass(frozen=True)
class Variant:
    """A scenario to be compared.

    changes: the dotted keys in which it differs from the first, None where it does not write the key;
    own: those in which an option differs from its own file, otherwise the same.
    """

    name: str
    scenario: Scenario
    changes: Mapping[str, object]
    own: Mapping[str, object]


@dataclass(frozen=True, eq=False)
class Compared:
    """A variant with what came of it.

    position: its place in the order written; summary: the keys of KEYS, each value None where the run failed.
    """

    position: int
    variant: Variant
    outcome: Outcome
    summary: Mapping[str, float | None]

    def to_json(self) -> dict[str, Any]:
        """The variant as plain lists, numbers and text."""
        return {
            "name": self.variant.name,
            "changes": dict(self.variant.changes),
            "summary": dict(self.summary),
            "failure": self.outcome.failure,
        }


def compare(
    scenarios: Sequence[Scenario],
    by: str = "yield",
    *,
    shifts: tuple[tuple[str, float], ...] = (),
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    whole: bool = False,
) -> list[Compared]:
    """The scenarios and all their options, best first by a key of KEYS; what has no value comes last.

    Best is the most, except for the keys in LESS_IS_BETTER. whole: keep each Run; the rest as in `run_jobs`.
    Raises OrderError.
    """
    check_order(by)
    variants = variants_of(scenarios)
    jobs = [Job(variant.scenario, shifts=shifts, key=k, whole=whole) for k, variant in enumerate(variants)]
    outcomes = run_jobs(jobs, workers, executor, progress)
    compared = [
        Compared(k, variant, outcome, measured(variant.scenario, outcome))
        for k, (variant, outcome) in enumerate(zip(variants, outcomes, strict=True))
    ]
    return sorted(compared, key=lambda one: _rank(one.summary[by], by))


def check_order(by: str) -> None:
    """Raise OrderError, with the nearest name, for what is no key of KEYS."""
    if by not in KEYS:
        near = nearest(by, KEYS)
        raise OrderError(Fault("--by", listed(KEYS), quoted(by), f"Did you mean {near}?" if near else ""))


def _rank(value: float | None, by: str) -> tuple[bool, float]:
    if value is None:
        return True, 0.0
    return False, value if by in LESS_IS_BETTER else -value


def variants_of(scenarios: Sequence[Scenario]) -> list[Variant]:
    """Each scenario and its options, in the order written, under names that differ.

    One scenario is called "as written" and its options by their names; of several each is called by its
    title, and options by title and name. Of several, changes are counted from the first.
    """
    alone = len(scenarios) == 1
    found: list[Variant] = []
    for scenario in scenarios:
        changes = differences(scenarios[0].document, scenario.document)
        found.append(Variant(AS_WRITTEN if alone else scenario.title, scenario, changes, changes))
        for option in scenario.options:
            name = option.name if alone else f"{scenario.title}: {option.name}"
            changed = scenario.option(option.name)
            found.append(Variant(name, changed, {**changes, **option.changes}, option.changes))
    files = [one.scenario.path.name if one.scenario.path else "" for one in found]
    names = distinct([one.name for one in found], files)
    return [replace(one, name=name) for one, name in zip(found, names, strict=True)]


def differences(first: Mapping[str, Any], other: Mapping[str, Any]) -> dict[str, object]:
    """The dotted keys in which one scenario document differs from another, title and options aside."""
    one, two = (
        flattened({key: value for key, value in document.items() if key not in ("title", "option")})
        for document in (first, other)
    )
    return {key: two.get(key) for key in {**two, **one} if one.get(key) != two.get(key)}


def distinct(names: Sequence[str], files: Sequence[str]) -> list[str]:
    """The names, those that occur more than once with their file beside them, or else with a number."""
    result: list[str] = []
    for name, file in zip(names, files, strict=True):
        shared = names.count(name) > 1
        candidate = f"{name} ({file})" if shared and file else name
        number, wanted = 1, candidate
        while candidate in result or (number > 1 and candidate in names):
            number += 1
            candidate = f"{wanted} ({number})"
        result.append(candidate)
    return result


def measured(scenario: Scenario, outcome: Outcome) -> dict[str, float | None]:
    """The summary of a run with the measures of a comparison added: the keys of KEYS.

    product_g: in the flask or taken off [g]; byproduct_left_g: what left, as mass [g]; hours_to_90_percent:
    see hours_to_nearly; base_g and base_mol_per_mol: base charged and added [g], and per substrate [mol/mol];
    boil_energy_kJ: see boil_energy_J. Every value is None where the run failed.
    """
    end = outcome.summary
    if end is None or outcome.failure is not None:
        return dict.fromkeys(KEYS)
    shelf = load_shelf().including(scenario.substrate)
    substrate = load_shelf().substrate(scenario.substrate)
    by_product, boil_K = substrate.by_product, outcome.boil_K
    grams_left = end.byproduct_left_mol * shelf.substance(by_product).molar_mass if by_product else None
    base_mol, base_g = base_used(scenario, shelf)
    charged = sum(charge.components_mol.get(substrate.substrate, 0.0) for charge in all_charges(scenario))
    return {
        **plain(end),
        "product_g": end.product_in_flask_g + end.product_taken_off_g,
        "byproduct_left_g": grams_left,
        "hours_to_90_percent": hours_to_nearly(outcome),
        "base_g": base_g,
        "base_mol_per_mol": base_mol / charged if charged > 0.0 else None,
        "boil_energy_kJ": None if boil_K is None else boil_energy_J(scenario, boil_K, shelf) / 1e3,
    }


def hours_to_nearly(outcome: Outcome) -> float | None:
    """Time from the start of the hold after which the conversion stays above NEARLY of its final value [h].

    0 where that is so before the hold begins; None without a conversion.
    """
    values = outcome.conversion
    if values is None or not len(values) or not values[-1] > 0.0:
        return None
    wanted = NEARLY * values[-1]
    below = np.flatnonzero(~(values >= wanted))  # where there is no value yet counts as below
    if not len(below):
        return 0.0
    last = int(below[-1])
    start = values[last] if np.isfinite(values[last]) else 0.0
    share = (wanted - start) / (values[last + 1] - start)
    reached_s = outcome.time_s[last] + share * (outcome.time_s[last + 1] - outcome.time_s[last])
    return max(0.0, float(reached_s - outcome.hold_start_s) / HOUR_S)


def all_charges(scenario: Scenario) -> Iterable[Charge]:
    """What is charged and what is added later."""
    yield from scenario.charges
    for addition in scenario.additions:
        yield from addition.charges


def base_used(scenario: Scenario, shelf: Shelf) -> tuple[float, float]:
    """Base charged and added: amount [mol] and mass [g], both of the pure substances."""
    bases = [charge for charge in all_charges(scenario) if is_base(charge.substance, shelf)]
    return sum(charge.amount_mol for charge in bases), sum(mass_g(charge, shelf) for charge in bases)


def mass_g(charge: Charge, shelf: Shelf) -> float:
    """Mass of a charge's pure substance [g], from the elements of its formal components."""
    elements = {
        name: shelf.components[name] if name in shelf.components else shelf.substance(name).elements
        for name in charge.components_mol
    }
    counts = weighted_sum(charge.components_mol, elements)
    return sum(count * shelf[f"element.{element}"].value for element, count in counts.items())


def boil_energy_J(scenario: Scenario, boil_K: float, shelf: Shelf) -> float:
    """Heat that raises the vapour of the whole hold: E = n' t dH(T) [J], n' the boil-up, t the hold.

    boil_K: boil point of the liquor [K]. Heating up, and what the flask loses to the room, come on top.
    2.5 mL/min for 8 h: 2700 kJ. 0 below the boil.
    """
    heating = scenario.heating
    return heating.boil_up_mol_per_s * heating.hold_s * shelf["water.vaporisation_enthalpy"](boil_K, FLOATS)
