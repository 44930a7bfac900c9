"""From a scenario to a programme: what is in the flask at the start, and the segments between one kink and the next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from kinetics.chemistry.speciation import Totals
from kinetics.chemistry.volatility import MOLAR_MASS_WATER
from kinetics.data.namespace import FLOATS, Namespace
from kinetics.data.shelf import Shelf
from kinetics.flask.balance import Surroundings
from kinetics.flask.boil import boil_point
from kinetics.flask.network import CARBON, STRONG_IONS, WATER, Network
from kinetics.flask.programme import MOST_VAPOUR, Segment
from kinetics.run.scenario import Addition, Charge, Scenario

SHORTEST_S = 1e-6  # kinks closer than this are one


def sum_of_components(charges: Iterable[Charge], factors: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Formal components [mol] of some charges together; `factors` multiply the amounts of the substances they name."""
    total: dict[str, Any] = {}
    for charge in charges:
        factor = (factors or {}).get(charge.substance, 1.0)
        for name, amount in charge.components_mol.items():
            total[name] = total.get(name, 0.0) + amount * factor
    return total


def surroundings_of(scenario: Scenario) -> Surroundings:
    """Vessel, condenser and air of a scenario."""
    heating, condenser = scenario.heating, scenario.condenser
    return Surroundings(
        heating.pressure_Pa,
        heating.boil_up_mol_per_s,
        scenario.vessel.k_La_per_s,
        condenser.air_exchange_mol_per_s,
        condenser.sweep_mol_per_s,
        condenser.sweep_gas == "air",
        condenser.take_off_mol_per_s,
        condenser.make_up,
        condenser.coolant_K + condenser.approach_K,
        scenario.vessel.closed,
    )


def boil_point_of(
    amounts: Mapping[str, Any], scenario: Scenario, network: Network, shelf: Shelf, m: Namespace = FLOATS
) -> Any:
    """Boil point [K] of a liquor with these formal components [mol]."""
    water_kg = amounts[WATER] * MOLAR_MASS_WATER
    sodium, potassium, calcium, chloride = (m.maximum(amounts.get(ion, 0.0), 0.0) / water_kg for ion in STRONG_IONS)
    alkali = sodium + potassium
    acids = tuple(m.maximum(amounts.get(network.species[i], 0.0), 0.0) / water_kg for i in network.acids)
    totals = Totals(alkali, calcium, chloride, m.maximum(amounts.get(CARBON, 0.0), 0.0) / water_kg, acids)
    fraction = potassium / (alkali + 1e-300)
    return boil_point(scenario.heating.pressure_Pa, totals, fraction, network, shelf, m)


class Planner:
    """Keeps the running account of what the programme has put in, and lays the segments one after another."""

    def __init__(
        self,
        scenario: Scenario,
        network: Network,
        shelf: Shelf,
        m: Namespace = FLOATS,
        factors: Mapping[str, Any] | None = None,
    ) -> None:
        self.scenario, self.network, self.shelf = scenario, network, shelf
        self.m, self.factors = m, factors
        self.amounts = sum_of_components(scenario.charges, factors)
        self.initial = dict(self.amounts)
        self.segments: list[Segment] = []
        self.time = 0.0
        heating = scenario.heating
        self.boil_K = self.boil_point(self.amounts)
        above = heating.hold_K is None or bool(np.all(heating.hold_K >= self.boil_K))
        self.boiling = above and not scenario.vessel.closed
        self.hold_K: Any = self.boil_K if heating.hold_K is None or self.boiling else heating.hold_K
        condenser = scenario.condenser
        take_off = self.boiling and network.mechanisms.take_off and not condenser.make_up
        self.water_loss = condenser.take_off_mol_per_s if take_off else 0.0

    def boil_point(self, amounts: Mapping[str, Any]) -> Any:
        """Boil point [K] of the liquor with these amounts [mol]."""
        return boil_point_of(amounts, self.scenario, self.network, self.shelf, self.m)

    def lay(self, stage: str, duration: float, start_K: Any, end_K: Any, over: Mapping[str, Any],
            sudden: Mapping[str, Any]) -> None:  # fmt: skip
        """Add a segment; `over` are rates of feed [mol/s], `sudden` the amounts [mol] that fall in at its start."""
        boiling = stage == "hold" and self.boiling
        for name, amount in sudden.items():
            self.amounts[name] = self.amounts.get(name, 0.0) + amount
        before = dict(self.amounts)
        for name, rate in over.items():
            self.amounts[name] = self.amounts.get(name, 0.0) + rate * duration
        drain = self.water_loss if boiling else 0.0
        self.amounts[WATER] -= drain * duration
        if boiling:
            start_K = self.boil_point(before)
            changed = any(ion in over for ion in STRONG_IONS) or bool(np.any(self.amounts[WATER] != before[WATER]))
            self.boil_K = end_K = self.boil_point(self.amounts) if changed else start_K
        self.segments.append(
            Segment(
                stage,
                self.time,
                self.time + duration,
                start_K,
                end_K,
                boiling,
                {ion: before.get(ion, 0.0) for ion in STRONG_IONS},
                {ion: over[ion] for ion in STRONG_IONS if ion in over},
                {name: rate for name, rate in over.items() if name not in STRONG_IONS},
                {name: amount for name, amount in sudden.items() if name not in STRONG_IONS},
                before[WATER] * MOLAR_MASS_WATER,
                (self.amounts[WATER] - before[WATER]) * MOLAR_MASS_WATER / duration,
                max(self.scenario.heating.boil_up_mol_per_s, 1e-30) if self.boiling else MOST_VAPOUR,
            )
        )
        self.time += duration

    def plan(self) -> list[Segment]:
        """Heat-up, hold cut at the additions, cool-down."""
        heating = self.scenario.heating
        start_K = heating.start_K
        if heating.ramp_s > SHORTEST_S:
            self.lay("heating", heating.ramp_s, start_K, self.hold_K, {}, {})
        for begin, end, sudden, over in self.hold_pieces():
            self.lay("hold", end - begin, self.hold_K, self.hold_K, over, sudden)
        if heating.cooling_s > SHORTEST_S:
            last = self.boil_K if self.boiling else self.hold_K
            self.lay("cooling", heating.cooling_s, last, start_K, {}, {})
        return self.segments

    def hold_pieces(self) -> Iterable[tuple[float, float, dict[str, Any], dict[str, Any]]]:
        """(begin, end, sudden, over): the pieces of the hold [s from its start] with what is added at or during each."""
        hold = self.scenario.heating.hold_s
        additions: list[tuple[Addition, dict[str, Any]]] = [
            (a, sum_of_components(a.charges, self.factors)) for a in self.scenario.additions
        ]
        cuts = {0.0, hold}
        for addition, _ in additions:
            cuts |= {min(addition.at_s, hold), min(addition.at_s + addition.over_s, hold)}
        times = sorted(cuts)
        times = [t for t, after in zip(times, [*times[1:], float("inf")]) if after - t > SHORTEST_S or t == hold]
        for begin, end in pairwise(times):
            sudden: dict[str, Any] = {}
            over: dict[str, Any] = {}
            for addition, parts in additions:
                at, span = addition.at_s, addition.over_s
                for name, amount in parts.items():
                    if span <= SHORTEST_S and begin - SHORTEST_S <= at < end - SHORTEST_S:
                        sudden[name] = sudden.get(name, 0.0) + amount
                    elif span > SHORTEST_S and at < end - SHORTEST_S and at + span > begin + SHORTEST_S:
                        over[name] = over.get(name, 0.0) + amount / span
            yield begin, end, sudden, over


def total_added(segments: Iterable[Segment], initial: Mapping[str, Any], name: str, t: float) -> Any:
    """Amount [mol] of a component charged and added up to time t [s]; a sudden addition counts after its moment."""
    total: Any = initial.get(name, 0.0)
    for segment in segments:
        if t > segment.start_s:
            total = total + segment.sudden.get(name, 0.0)
            total = total + segment.feed.get(name, 0.0) * (min(t, segment.end_s) - segment.start_s)
    return total


