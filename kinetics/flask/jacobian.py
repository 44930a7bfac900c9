"""The Jacobian of the balance equations, d rhs_i / d y_j [1/s], by the chain rule.

Each term of `kinetics.flask.balance` is differentiated as it stands there; only what the acid-base state does to the
rest (hydroxide, salting out, the pressures of carbon dioxide and water) is taken by difference, in the few amounts
that it depends on: water, inorganic carbon and the organic acids.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from kinetics.chemistry.speciation import is_nothing
from kinetics.data.namespace import Namespace
from kinetics.flask.condenser import flash, flash_slopes

if TYPE_CHECKING:
    from kinetics.flask.balance import Balance, State

INCREMENT, LEAST = 1e-5, 1e-8  # of the amount itself, and of the amount of water
TOLERANCE = 1e-9  # of the acid-base states whose difference is taken

Column = dict[int, Any]  # derivatives by the position of what changes
Matrix = list[list[Any]]


def jacobian(balance: Balance, t: Any, y: Sequence[Any]) -> Matrix:
    """Rows of derivatives of the balance's rates at time t [s] and state y [mol]: numbers, or arrays over the samples."""
    network = balance.network
    count, oils = len(network.species), network.oils
    conditions = balance.constant or balance.conditions_at(balance.segment.temperature(t))
    state = balance.state(t, y, TOLERANCE, conditions)
    memory = balance.memory.speciation
    base = seen(balance, state)
    answers: dict[int, list[Any]] = {}
    for j in (network.water, network.carbon, *network.acids):
        moved = list(y)
        moved[j] = y[j] + (INCREMENT * abs(y[j]) + LEAST * y[network.water])
        by = 1.0 / (moved[j] - y[j])
        other = seen(balance, balance.state(t, moved, TOLERANCE, conditions))
        answers[j] = [(after - before) * by for after, before in zip(other, base)]
        balance.memory.speciation = memory
    concentration = [n / state.volume for n in y[:count]]
    for k, i in enumerate(oils):
        concentration[i] = (y[i] - y[count + k]) / state.volume
    parts = Parts(balance, state, y, concentration, base, answers)
    rows: Matrix = [[0.0] * len(y) for _ in y]
    parts.add_reaction(rows)
    parts.add_transfer(rows)
    if balance.vapour:
        parts.add_losses(rows)
    return rows


def seen(balance: Balance, state: State) -> list[Any]:
    """What the rates see of the acid-base state: hydroxide, the pressures of CO2 and water, the salting factors."""
    factor = balance.salting_factors(state)
    carbon_dioxide = balance.carbon_dioxide_pressure(state) if balance.network.carbon in balance.network.volatiles else 0.0
    return [state.hydroxide, carbon_dioxide, balance.water_pressure(state), *(factor[i] for i in balance.salted)]


class Parts:
    """The terms of the rates at one state, each with its derivatives."""

    def __init__(
        self, balance: Balance, state: State, y: Sequence[Any], concentration: Sequence[Any], base: list[Any],
        answers: dict[int, list[Any]],
    ) -> None:  # fmt: skip
        network = balance.network
        self.balance, self.state, self.y, self.concentration = balance, state, y, concentration
        self.oil_of = {i: len(network.species) + k for k, i in enumerate(network.oils)}
        self.hydroxide_by, self.carbon_dioxide_by, self.water_pressure_by = (
            {j: answer[k] for j, answer in answers.items()} for k in range(3)
        )
        self.factor = dict(zip(balance.salted, base[3:]))
        self.factor_by = {
            i: {j: answer[3 + k] for j, answer in answers.items()} for k, i in enumerate(balance.salted)
        }

    def of_concentration(self, i: int, slope: Any) -> Iterator[tuple[int, Any]]:
        """Derivatives of a quantity with this slope in the concentration of species i, with the water's volume."""
        per_mole = slope / self.state.volume
        yield i, per_mole
        if i in self.oil_of:
            yield self.oil_of[i], -per_mole
        yield self.balance.network.water, -slope * self.concentration[i] / self.y[self.balance.network.water]

    def add_reaction(self, rows: Matrix) -> None:
        """Rate = (k_f prod c - k_r prod c) [OH-]^p V: by each concentration, by hydroxide, by the volume."""
        balance, state = self.balance, self.state
        water, free = balance.network.water, state.conditions.free
        active = [c * f for c, f in zip(self.concentration, free)]
        for step, forward, reverse in zip(balance.network.steps, state.conditions.forward, state.conditions.reverse):
            scale: Any = state.volume * balance.air_fraction if step.from_air else state.volume
            if step.hydroxide_order != 0.0:
                scale = scale * state.hydroxide**step.hydroxide_order
            rate, slopes = 0.0, Column()
            for k, places in ((forward, step.reactants), (-reverse, step.products if step.reversible else ())):
                if not places:
                    continue
                whole = k * scale
                for q, i in enumerate(places):
                    slope = k * scale * free[i]
                    for other in (*places[:q], *places[q + 1 :]):
                        slope = slope * active[other]
                    slopes[i] = slopes.get(i, 0.0) + slope
                    whole = whole * active[i]
                rate = rate + whole
            column: Column = {water: rate / self.y[water]}
            for i, slope in slopes.items():
                add(column, self.of_concentration(i, slope))
            if step.hydroxide_order != 0.0:
                per_hydroxide = step.hydroxide_order * rate / state.hydroxide
                add(column, ((j, per_hydroxide * by) for j, by in self.hydroxide_by.items()))
            affected = [*step.stoichiometry, (len(rows) - 1, step.oxygen)] if step.oxygen else step.stoichiometry
            for row, nu in affected:
                add(rows[row], ((j, nu * by) for j, by in column.items()))

    def add_transfer(self, rows: Matrix) -> None:
        """Rate = k_La V (c - z S/f), z = o / (nucleus + sum o): by c, by f, by every oil, by the volume."""
        balance, state, y = self.balance, self.state, self.y
        m, water = balance.m, balance.network.water
        amounts = {i: y[k] for i, k in self.oil_of.items()}
        total = balance.nucleus
        for o in amounts.values():
            total = total + m.maximum(o, 0.0)
        counts = {i: m.where(o > 0.0, 1.0, 0.0) for i, o in amounts.items()}  # whether it counts in the sum
        flow = balance.k_La * state.volume
        for (i, o), saturation in zip(amounts.items(), state.conditions.saturation):
            row = rows[self.oil_of[i]]
            solubility = saturation / self.factor[i]
            held = o / total * solubility
            add(row, self.of_concentration(i, flow))
            add(row, [(water, flow * (self.concentration[i] - held) / y[water])])
            add(row, ((j, flow * held / self.factor[i] * by) for j, by in self.factor_by[i].items()))
            add(row, [(self.oil_of[i], -flow * solubility / total)])
            add(row, ((self.oil_of[n], flow * held / total * count) for n, count in counts.items()))

    def add_losses(self, rows: Matrix) -> None:
        """What leaves by the vent and is taken off: by the vapour of each volatile and of water, then by the state."""
        balance, network, s = self.balance, self.balance.network, self.balance.surroundings
        m, volatiles = balance.m, self.balance.network.volatiles
        pressures, by = self.pressures()
        water_pressure, water, water_by = balance.water_pressure(self.state), s.boil_up, Column()
        if not balance.segment.boiling:
            water, water_by = self.swept_water(water_pressure, pressures, by)
        ratio = water / water_pressure
        vapour = [p * ratio for p in pressures]
        K, inverse, water_fraction = balance.condensing
        dry_gas = s.air_exchange + s.sweep
        split = flash(water, vapour, K, inverse, dry_gas, water_fraction, m, balance.memory.flash, TOLERANCE)
        slopes = flash_slopes(split, water, vapour, K, inverse, water_fraction, m)
        first = len(network.species) + len(network.oils)
        vented, drawn_off = first, first + len(volatiles) + 1
        part, part_slope = take_off_part(balance.take_off, split.condensate, m)
        returning = [*(v - e for v, e in zip(vapour, split.escaping)), split.condensate]
        for j in {*by, *water_by}:
            flows = [by[j].get(k, 0.0) * ratio if j in by else 0.0 for k in range(len(volatiles))]
            more_water = water_by.get(j, 0.0)
            if water_by:
                change = (more_water - ratio * self.water_pressure_by.get(j, 0.0)) / water_pressure
                flows = [flow + p * change for flow, p in zip(flows, pressures)]
            gone, condensate = slopes(flows, more_water)
            for k, i in enumerate((*volatiles, network.water)):
                rows[vented + k][j] = gone[k]
                lost = gone[k]
                if not is_nothing(balance.take_off):
                    back = flows[k] - gone[k] if k < len(volatiles) else condensate
                    off = back * part + returning[k] * part_slope * condensate
                    rows[drawn_off + k][j] = off
                    if not (i == network.water and s.make_up):
                        lost = lost + off
                rows[i][j] = rows[i][j] - lost

    def pressures(self) -> tuple[list[Any], dict[int, Column]]:
        """Partial pressures [Pa] of the volatiles, and by each amount their derivatives, by the volatile's place."""
        balance, state = self.balance, self.state
        pressures = balance.pressures(state, self.concentration, self.factor)
        by: dict[int, Column] = {}
        for k, i in enumerate(balance.network.volatiles):
            column: Column = {}
            if i == balance.network.carbon:
                add(column, self.carbon_dioxide_by.items())
            else:
                per_concentration = state.conditions.free[i] * self.factor[i] * state.conditions.partial_pressure[k]
                add(column, self.of_concentration(i, per_concentration))
                relative = pressures[k] / self.factor[i]
                add(column, ((j, relative * slope) for j, slope in self.factor_by[i].items()))
            for j, slope in column.items():
                by.setdefault(j, {})[k] = slope
        return pressures, by

    def swept_water(self, water_pressure: Any, pressures: Sequence[Any], by: dict[int, Column]) -> tuple[Any, Column]:
        """Water [mol/s] that a sweep carries, W^-8 = x^-8 + W_max^-8 with x = sweep p_w/(P - p), and its derivatives."""
        balance = self.balance
        vapour_pressure = sum(pressures, water_pressure)
        water = balance.swept_water(water_pressure, vapour_pressure)
        room = balance.m.maximum(balance.surroundings.pressure - vapour_pressure, 0.0)
        per_pressure = 1.0 / (balance.surroundings.sweep * water_pressure)
        inverse = room * per_pressure
        slope = -water * (water * inverse) ** 7 * water  # dW/d(1/x)
        column: Column = {}
        for j in {*by, *self.water_pressure_by}:
            wetter = self.water_pressure_by.get(j, 0.0)
            all_vapours = sum(by.get(j, {}).values(), wetter)
            less_room = balance.m.where(room > 0.0, all_vapours * per_pressure, 0.0)
            column[j] = -slope * (less_room + inverse * wetter / water_pressure)
        return water, column


def take_off_part(take_off: Any, condensate: Any, m: Namespace) -> tuple[Any, Any]:
    """Part of the condensate that is taken off, and its derivative by the condensate [s/mol]."""
    part = m.minimum(take_off / (condensate + 1e-30), 1.0)
    return part, m.where(part < 1.0, -part / (condensate + 1e-30), 0.0)


def add(column: Any, slopes: Iterable[tuple[int, Any]]) -> None:
    """Add derivatives to a row or column of them."""
    for j, slope in slopes:
        column[j] = column.get(j, 0.0) + slope if isinstance(column, dict) else column[j] + slope
