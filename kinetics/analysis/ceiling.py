"""Where the chemistry comes to rest while nothing leaves: a flask's contents, shut in and given time enough."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from kinetics.analysis.runs import Job, Outcome
from kinetics.data.faults import Fault, ScenarioError
from kinetics.data.shelf import load_shelf
from kinetics.data.substrate import Substrate
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.scenario import Charge, Scenario

HOUR_S = 3600.0
REST_S = 24.0 * HOUR_S  # a day and a night; a carbonate liquor at the boil comes to rest within the first hours
REST_TIMES_S = (0.1 * REST_S, 0.2 * REST_S, 0.5 * REST_S, REST_S)
MOVES = 1e-6  # of the charge
NUDGE = 1e-5  # of the fragments, put back together: an integrator started at rest to the last digit finds no step
IRREVERSIBLE = ("cannizzaro", "oxidation")  # in a rest without end these would eat everything
ALL_ACT = Mechanisms()


def without(mechanisms: Mechanisms, switches: Iterable[str]) -> Mechanisms:
    """The mechanisms with these switched off."""
    off: dict[str, Any] = dict.fromkeys(switches, False)
    return replace(mechanisms, **off)


def substrate_of(scenario: Scenario) -> Substrate:
    """The substrate a scenario cleaves."""
    return load_shelf().substrate(scenario.substrate)


def charged_mol(scenario: Scenario, species: str, hold_s: float | None = None) -> float:
    """Amount of a species charged, and added in the first `hold_s` of the hold [s] (all of it if None) [mol]."""
    total = sum(charge.components_mol.get(species, 0.0) for charge in scenario.charges)
    for addition in scenario.additions:
        amount = sum(charge.components_mol.get(species, 0.0) for charge in addition.charges)
        since = float("inf") if hold_s is None else hold_s - addition.at_s
        if since > 0.0:
            total += amount * (min(since / addition.over_s, 1.0) if addition.over_s > 0.0 else 1.0)
    return total


def require_substrate(scenario: Scenario) -> Substrate:
    """The substrate; raises ScenarioError where none of it is charged, so that there is no conversion to speak of."""
    substrate = substrate_of(scenario)
    if charged_mol(scenario, substrate.substrate) <= 0.0:
        fault = Fault("charge", f"some {substrate.substrate}, for there to be a conversion", "none")
        raise ScenarioError([fault], str(scenario.path or scenario.title))
    return substrate


def up_to(scenario: Scenario, hold_s: float) -> Scenario:
    """The scenario as far as `hold_s` into its hold [s], without the cool-down; what is added later is left out."""
    early = tuple(addition for addition in scenario.additions if addition.at_s < hold_s)
    return replace(
        scenario, heating=replace(scenario.heating, hold_s=hold_s, cooling_s=0.0), additions=early, options=()
    )


def shut_in(scenario: Scenario, contents_mol: Mapping[str, float], temperature_K: float) -> Scenario:
    """A closed flask with these contents (formal components [mol]), held for REST_S at `temperature_K` [K].

    A calculation only, as every closed vessel here: it asks where the chemistry would stop if nothing left.
    """
    contents = {name: max(amount, 0.0) for name, amount in contents_mol.items()}
    substrate = substrate_of(scenario)
    fragments = {substrate.product: substrate.product_per_substrate, substrate.by_product: 1.0}
    nudge = NUDGE * min(contents.get(name, 0.0) / nu for name, nu in fragments.items())
    contents[substrate.substrate] = contents.get(substrate.substrate, 0.0) + nudge
    for name, nu in fragments.items():
        contents[name] = contents.get(name, 0.0) - nu * nudge
    heating = replace(
        scenario.heating, start_K=temperature_K, hold_K=temperature_K, ramp_s=0.0, hold_s=REST_S, cooling_s=0.0
    )
    return replace(
        scenario,
        charges=(Charge("contents of the flask", contents, 0.0),),
        heating=heating,
        vessel=replace(scenario.vessel, closed=True),
        additions=(),
        options=(),
    )


def come_to_rest(outcome: Outcome) -> Outcome:
    """The outcome of a shut-in flask; one that stopped short counts where nothing had moved for long by then.

    Once all is at rest nothing but rounding is left to integrate, at which an implicit method can come to a halt.
    """
    if outcome.failure is not None and outcome.conversion is not None and len(outcome.conversion) > 1:
        if abs(outcome.conversion[-1] - outcome.conversion[-2]) < MOVES:
            return replace(outcome, failure=None)
    return outcome


def plateau_job(scenario: Scenario, temperature_K: float, mechanisms: Mechanisms, key: str) -> Job:
    """The run whose end is the equilibrium plateau: everything charged and added, and nothing ever leaving.

    Where it stops does not depend on how fast it gets there, so it is let go as fast as with ample hydroxide.
    """
    contents: dict[str, float] = {}
    for charge in [*scenario.charges, *(c for addition in scenario.additions for c in addition.charges)]:
        for name, amount in charge.components_mol.items():
            contents[name] = contents.get(name, 0.0) + amount
    at_ease = without(mechanisms, ("hydroxide_shortage", *IRREVERSIBLE))
    return Job(shut_in(scenario, contents, temperature_K), at_ease, times=REST_TIMES_S, key=key)
