"""What keeps a batch from complete conversion: each mechanism idealised in every combination, and a fair share of it.

An idealised mechanism costs nothing: the reverse of the cleavage, the oil, the side steps and the losses are switched
off; the hydroxide is ample (1 mol/L in the rates); and time is ample, which means that what is in the flask at the end
is shut in and kept hot for a day and a night more, so that its chemistry comes to rest. Time that only lets more
by-product escape is therefore not counted as time but as what it is, by-product held back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from kinetics.analysis.ceiling import (
    IRREVERSIBLE,
    REST_TIMES_S,
    charged_mol,
    come_to_rest,
    shut_in,
    substrate_of,
    without,
)
from kinetics.analysis.runs import Job, Outcome
from kinetics.analysis.shapley import coalitions, shapley_values
from kinetics.data.shelf import load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network
from kinetics.run.integrate import NumericalFailure
from kinetics.run.scenario import Scenario

BY_PRODUCT = "by-product held back"
HYDROXIDE = "too little hydroxide"
TIME = "too little time"
OIL = "oil that does not dissolve"
CROSSED = "crossed aldol holding the enal"
OWN_ALDOLS = "by-product held as its own aldols"
LOST = "product lost or degraded"
OTHER = "other"

SWITCHES: Mapping[str, tuple[str, ...]] = {
    BY_PRODUCT: ("reverse_cleavage",),
    HYDROXIDE: ("hydroxide_shortage",),
    TIME: (),
    OIL: ("oil_phase",),
    CROSSED: ("crossed_aldol",),
    OWN_ALDOLS: ("self_aldol",),
    LOST: ("product_venting", "cannizzaro", "oxidation"),
}

Runner = Callable[[Sequence[Job]], list[Outcome]]
Coalition = frozenset[str]


@dataclass(frozen=True)
class Shares:
    """The shortfall of conversion and of yield at the end of the hold, hot, shared out [parts of the charge].

    of_conversion and of_yield: {mechanism: share}, "other" being what all idealised together still leave; they add
    up to 1 - conversion and 1 - yield. Negative: the mechanism helps. hot: the state with nothing idealised.
    """

    conversion: float
    yield_: float
    of_conversion: Mapping[str, float]
    of_yield: Mapping[str, float]
    hot: Outcome


def idealised(mechanisms: Mechanisms, group: Coalition) -> Mechanisms:
    """The mechanisms with those of a group idealised (time is not among the switches)."""
    return without(mechanisms, (switch for name in group for switch in SWITCHES[name]))


def acting(scenario: Scenario, mechanisms: Mechanisms) -> list[str]:
    """The mechanisms that can cost something here: those that change the network, and time."""
    shelf = load_shelf().including(scenario.substrate)
    substrate = substrate_of(scenario)

    def structure(group: Coalition) -> tuple[object, ...]:
        network = build_network(substrate, shelf, idealised(mechanisms, group))
        return network.steps, network.oils, network.volatiles

    real = structure(frozenset())
    return [name for name in SWITCHES if name == TIME or structure(frozenset([name])) != real]


def completed(outcome: Outcome, doing: str) -> Outcome:
    """The outcome; raises NumericalFailure where the run stopped short."""
    if outcome.failure is not None or outcome.summary is None:
        reached = float(outcome.time_s[-1]) if len(outcome.time_s) else 0.0
        raise NumericalFailure(f"{doing}: {outcome.failure}", reached)
    return outcome


class Sharing:
    """The runs that the shares need, in two rounds: to the end of the hold, then shut in where time is ample."""

    def __init__(self, scenario: Scenario, mechanisms: Mechanisms, shifts: tuple[tuple[str, float], ...] = ()) -> None:
        """scenario: one that ends with its hold (see ceiling.up_to)."""
        self.scenario, self.mechanisms, self.shifts = scenario, mechanisms, shifts
        self.players = acting(scenario, mechanisms)
        self.groups = list(coalitions([name for name in self.players if name != TIME]))

    def first_jobs(self) -> list[Job]:
        """One run for each combination of the mechanisms that are switches."""
        heating = self.scenario.heating
        end = (heating.ramp_s + heating.hold_s,)
        return [
            Job(self.scenario, idealised(self.mechanisms, group), self.shifts, end, key=group) for group in self.groups
        ]

    def second_jobs(self, first: Sequence[Outcome]) -> list[Job]:
        """The contents of each of these flasks shut in, hot, for a day and a night."""
        jobs = []
        for group, outcome in zip(self.groups, first, strict=True):
            completed(outcome, f"with {', '.join(sorted(group)) or 'nothing'} idealised")
            still = shut_in(self.scenario, outcome.flask_end_mol, float(outcome.temperature_K[-1]))
            mechanisms = without(idealised(self.mechanisms, group), IRREVERSIBLE)
            jobs.append(Job(still, mechanisms, self.shifts, REST_TIMES_S, key=group))
        return jobs

    def shares(self, first: Sequence[Outcome], second: Sequence[Outcome]) -> Shares:
        """The shares from the outcomes of both rounds."""
        conversion: dict[Coalition, float] = {}
        formed: dict[Coalition, float] = {}
        for group, before, after in zip(self.groups, first, second, strict=True):
            completed(come_to_rest(after), f"coming to rest with {', '.join(sorted(group)) or 'nothing'} idealised")
            conversion[group], formed[group] = achieved(before)
            rested = at_rest(self.scenario, before, after)
            conversion[group | {TIME}], formed[group | {TIME}] = rested
        return Shares(
            conversion[frozenset()],
            formed[frozenset()],
            with_other(self.players, conversion),
            with_other(self.players, formed),
            first[0],
        )


def achieved(outcome: Outcome) -> tuple[float, float]:
    """Conversion and yield at the end of a run [1]."""
    assert outcome.conversion is not None and outcome.yield_ is not None
    return float(outcome.conversion[-1]), float(outcome.yield_[-1])


def at_rest(scenario: Scenario, before: Outcome, after: Outcome) -> tuple[float, float]:
    """Conversion and yield [1] once the contents of `before` have come to rest as in `after`."""
    substrate = substrate_of(scenario)
    charged = charged_mol(scenario, substrate.substrate)

    def gained(species: str) -> float:
        return (after.flask_end_mol[species] - before.flask_end_mol[species]) / charged

    conversion, formed = achieved(before)
    formed += gained(substrate.product) / substrate.product_per_substrate
    return conversion - gained(substrate.substrate), formed


def with_other(players: Sequence[str], worth: Mapping[Coalition, float]) -> dict[str, float]:
    """The Shapley values of the players, 0 for a mechanism that does not act, and what is left over as "other"."""
    values = shapley_values(players, worth)
    shares = {name: values.get(name, 0.0) for name in SWITCHES}
    return shares | {OTHER: 1.0 - worth[frozenset(players)]}
