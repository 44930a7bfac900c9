"""The balance equations of the flask: what each species gains by reaction and feed, and loses to the vent and the take-off.

    d n_i / dt = V sum_s nu_is r_s + feed_i - vent_i - take-off_i        (in the flask, oil and water together)
    d o_i / dt = feed_i - k_La V (z_i S_i - c_i)                          (of that, in the oil: what is added is oil at first)

One source for plain floats (one run) and for arrays of samples: no branch on a value, only on the programme.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, fields
from typing import Any, NamedTuple

import numpy as np

from kinetics.chemistry.davies import davies_activities
from kinetics.chemistry.ledger import REFERENCE_K
from kinetics.chemistry.pitzer import pitzer_activities
from kinetics.chemistry.solubility import setschenow_factor
from kinetics.chemistry.speciation import IDEAL, ActivityModel, Speciation, Totals, is_nothing, speciate
from kinetics.chemistry.volatility import MOLAR_MASS_WATER, water_concentration
from kinetics.data.namespace import Namespace
from kinetics.data.shelf import Shelf
from kinetics.flask.condenser import Flash, flash
from kinetics.flask.conditions import Conditions, conditions_at, partial_pressures
from kinetics.flask.interpolation import ConditionsAlong
from kinetics.flask.jacobian import jacobian
from kinetics.flask.network import Network, has
from kinetics.flask.programme import Segment

INNER_TOLERANCE = 1e-12  # of ln[OH-] and of the flows at the condenser, unless the integration asks for less
FAST_TRANSFER = 1.0  # 1/s, "as good as equilibrium" beside reactions of minutes


def activity_model(network: Network, conditions: Conditions, m: Namespace) -> ActivityModel:
    """The ion activity model of the network's mechanisms, at these conditions."""
    match network.mechanisms.activity:
        case "pitzer":
            return lambda M, ca, oh, hco3, co3, cl, a: pitzer_activities(
                M, ca, oh, hco3, co3, cl, a, conditions.pitzer, m
            )
        case "davies":
            return lambda M, ca, oh, hco3, co3, cl, a: davies_activities(
                M, ca, oh, hco3, co3, cl, a, conditions.debye_huckel, m
            )
        case _:
            return lambda *molalities: IDEAL


class Surroundings(NamedTuple):
    """Vessel, condenser and air, in house units (flows mol/s)."""

    pressure: Any  # Pa
    boil_up: Any
    k_La: Any  # 1/s
    air_exchange: Any
    sweep: Any
    sweep_is_air: bool
    take_off: Any
    make_up: bool
    condenser_K: Any
    closed: bool


class Condensing(NamedTuple):
    """The condenser's constants: lists follow the network's volatiles."""

    K: list[Any]  # y/x, of all forms together
    inverse_saturation: list[Any]  # 1/x_sat, 0 where it mixes or where condensate oil is switched off
    water_fraction: Any


def condensing_at(network: Network, shelf: Shelf, T: Any, pressure: Any, m: Namespace) -> Condensing:
    """Volatilities and saturations at the temperature T [K] of the top of the condenser."""
    water = water_concentration(shelf["water.density"](T, m))
    conditions = conditions_at(network, shelf, T, 0.0, m)
    K, inverse = [], []
    for i, p in zip(network.volatiles, partial_pressures(network, shelf, network.volatiles, T, m)):
        K.append(p * conditions.free[i] * water / pressure)
        oily = network.mechanisms.condensate_oil and has(shelf, network.species[i], "solubility")
        inverse.append(water / shelf[f"{network.species[i]}.solubility"](T, m) if oily else 0.0)
    return Condensing(K, inverse, conditions.water_pressure / pressure)


@dataclass
class Memory:
    """The last inner solutions, from which the next ones start; they change the speed, not the answer."""

    speciation: Speciation | None = None
    flash: Flash | None = None


class State(NamedTuple):
    """What the balance equations see at one instant (for output as well as for the rates)."""

    conditions: Conditions
    totals: Totals
    speciation: Speciation
    water_kg: Any
    volume: Any  # of the water phase, L
    hydroxide: Any  # mol/L


class Balance:
    """The right-hand side during one segment of the programme.

    The state vector holds, in mol: the flask's species, the oils, what left by the vent (volatiles, then water), what
    was taken off (the same), and the oxygen drawn from the air.
    """

    def __init__(
        self,
        network: Network,
        shelf: Shelf,
        surroundings: Surroundings,
        condensing: Condensing,
        segment: Segment,
        nucleus: Any,
        m: Namespace,
        memory: Memory | None = None,
        tolerance: float = INNER_TOLERANCE,
    ) -> None:
        self.network, self.shelf, self.surroundings = network, shelf, surroundings
        self.condensing, self.segment, self.nucleus, self.m = condensing, segment, nucleus, m
        self.memory = memory or Memory()
        self.tolerance = tolerance
        names, s = network.species, surroundings
        self.feed = [segment.feed.get(name, 0.0) for name in names]
        self.salting_carbonate, self.salting_salt = (
            [shelf[f"{name}.{k}"](REFERENCE_K, m) if has(shelf, name, k) else 0.0 for name in names]
            for k in ("setschenow_carbonate", "setschenow_salt")
        )
        self.salted = sorted({i for i in (*network.oils, *network.volatiles) if i != network.carbon})
        self.vapour = not s.closed and (segment.boiling or not is_nothing(s.sweep))
        take_off = segment.boiling and network.mechanisms.take_off and not s.closed
        self.take_off = s.take_off if take_off else 0.0
        self.k_La = s.k_La if network.mechanisms.transfer_resistance else FAST_TRANSFER
        air = s.air_exchange + (s.sweep if s.sweep_is_air else 0.0)
        self.air_fraction = 0.0 if s.closed else air / (s.air_exchange + s.sweep + 1e-30)
        self.constant: Conditions | None = None
        self.along: ConditionsAlong | None = None
        if segment.isothermal:
            self.constant = self.exact_conditions(segment.start_K)
        else:
            ends = np.array([np.min(segment.start_K), np.max(segment.start_K), np.min(segment.end_K), np.max(segment.end_K)])
            self.along = ConditionsAlong(self.exact_conditions, float(ends.min()), float(ends.max()))

    def take(self, keep: np.ndarray) -> Balance:
        """The same balance for the samples at the positions `keep`."""
        result = copy(self)
        for name in ("surroundings", "condensing", "nucleus", "feed", "salting_carbonate", "salting_salt",
                     "take_off", "k_La", "air_fraction", "constant"):  # fmt: skip
            setattr(result, name, taken(getattr(self, name), keep))
        segment = {f.name: taken(getattr(self.segment, f.name), keep) for f in fields(self.segment)}
        if self.segment.isothermal:
            segment["end_K"] = segment["start_K"]
        result.segment = type(self.segment)(**segment)
        result.memory = Memory(taken(self.memory.speciation, keep), taken(self.memory.flash, keep))
        if self.along is not None:
            result.along = self.along.take(keep)
        return result

    def conditions_at(self, T: Any) -> Conditions:
        """Conditions at T [K], from the table of this segment where the temperature changes."""
        return self.exact_conditions(T) if self.along is None else self.along(T)

    def exact_conditions(self, T: Any) -> Conditions:
        """Conditions at T [K] from the correlations themselves."""
        return conditions_at(self.network, self.shelf, T, self.segment.potassium_fraction, self.m)

    def state(
        self, t: Any, y: Sequence[Any], tolerance: float | None = None, conditions: Conditions | None = None
    ) -> State:
        """Acid-base state and volumes at time t [s] for the state vector y [mol]."""
        segment, network, m = self.segment, self.network, self.m
        conditions = conditions or self.constant or self.conditions_at(segment.temperature(t))
        water_kg = y[network.water] * MOLAR_MASS_WATER
        sodium, potassium, calcium, chloride = segment.strong_ions(t)
        totals = Totals(
            (sodium + potassium) / water_kg,
            calcium if is_nothing(calcium) else calcium / water_kg,
            chloride if is_nothing(chloride) else chloride / water_kg,
            y[network.carbon] / water_kg,
            tuple([y[i] / water_kg for i in network.acids]),
        )
        speciation = speciate(
            totals, conditions.acid_base, activity_model(network, conditions, m), m,
            self.memory.speciation, tolerance or self.tolerance,
        )  # fmt: skip
        self.memory.speciation = speciation
        volume = y[network.water] * conditions.litres_per_mol
        return State(
            conditions, totals, speciation, water_kg, volume, speciation.hydroxide * water_kg / volume
        )

    def jacobian(self, t: Any, y: Sequence[Any]) -> list[list[Any]]:
        """Derivatives d rhs_i / d y_j [1/s], as rows of numbers or arrays over the samples."""
        return jacobian(self, t, y)

    def rhs(self, t: Any, y: Sequence[Any]) -> list[Any]:
        """Rates of change [mol/s] of the state vector, in its order."""
        network = self.network
        state = self.state(t, y)
        volume = state.volume
        count, oils = len(network.species), network.oils
        water_phase = [n / volume for n in y[:count]]
        for k, i in enumerate(oils):
            water_phase[i] = (y[i] - y[count + k]) / volume
        factor = self.salting_factors(state)
        change, drawn = self.reaction(state, water_phase)
        oil_change = self.transfer(state, y[count : count + len(oils)], water_phase, factor)
        vent, taken = self.losses(state, water_phase, factor)
        for k, i in enumerate((*network.volatiles, network.water)):
            change[i] = change[i] - vent[k] - taken[k]
        if self.surroundings.make_up:
            change[network.water] = change[network.water] + taken[-1]
        return [*change, *oil_change, *vent, *taken, drawn]

    def salting_factors(self, state: State) -> dict[int, Any]:
        """Setschenow's factor of each species that forms oil or evaporates."""
        if not self.network.mechanisms.salting_out:
            return dict.fromkeys(self.salted, 1.0)
        per_litre = state.water_kg / state.volume
        s = state.speciation
        carbonate = s.carbonate * per_litre
        univalent = (s.bicarbonate + s.hydroxide + s.organic + state.totals.chloride) * per_litre
        return {
            i: setschenow_factor(self.salting_carbonate[i], self.salting_salt[i], carbonate, univalent, self.m)
            for i in self.salted
        }

    def reaction(self, state: State, concentration: Sequence[Any]) -> tuple[list[Any], Any]:
        """Change of each species by reaction and feed [mol/s], and the oxygen drawn from the air [mol/s]."""
        conditions = state.conditions
        free = [c * f for c, f in zip(concentration, conditions.free)]
        change, drawn = list(self.feed), 0.0
        for step, forward, reverse in zip(self.network.steps, conditions.forward, conditions.reverse):
            rate = forward
            for i in step.reactants:
                rate = rate * free[i]
            if step.reversible:
                back = reverse
                for i in step.products:
                    back = back * free[i]
                rate = rate - back
            if step.hydroxide_order == 1.0:
                rate = rate * state.hydroxide
            elif step.hydroxide_order != 0.0:
                rate = rate * state.hydroxide**step.hydroxide_order
            rate = rate * (state.volume * self.air_fraction if step.from_air else state.volume)
            for i, nu in step.stoichiometry:
                change[i] = change[i] + nu * rate
            if step.oxygen:
                drawn = drawn + step.oxygen * rate
        return change, drawn

    def transfer(
        self, state: State, oil: Sequence[Any], concentration: Sequence[Any], factor: dict[int, Any]
    ) -> list[Any]:
        """Change of each oil [mol/s]. The tiny nucleus lets oil appear and vanish without a jump or a branch."""
        total = self.nucleus
        for o in oil:
            total = total + self.m.maximum(o, 0.0)  # below -nucleus the share would turn over, and the oil run away
        rate = self.k_La * state.volume
        return [
            self.feed[i] + rate * (concentration[i] - o / total * saturation / factor[i])
            for i, o, saturation in zip(self.network.oils, oil, state.conditions.saturation)
        ]

    def losses(
        self, state: State, concentration: Sequence[Any], factor: dict[int, Any]
    ) -> tuple[list[Any], list[Any]]:
        """Vented and taken off [mol/s]: the network's volatiles, then water."""
        network, s, m = self.network, self.surroundings, self.m
        if not self.vapour:
            nothing = [0.0] * (len(network.volatiles) + 1)
            return nothing, list(nothing)
        pressures = self.pressures(state, concentration, factor)
        water_pressure, water = self.water_pressure(state), s.boil_up
        if not self.segment.boiling:
            water = self.swept_water(water_pressure, sum(pressures, water_pressure))
        vapour = [pressure * water / water_pressure for pressure in pressures]
        dry_gas = s.air_exchange + s.sweep
        K, inverse_saturation, water_fraction = self.condensing
        split = flash(
            water, vapour, K, inverse_saturation, dry_gas, water_fraction, m, self.memory.flash, self.tolerance
        )
        self.memory.flash = split
        vent = [*split.escaping, split.water_escaping]
        part = m.minimum(self.take_off / (split.condensate + 1e-30), 1.0)
        taken = [(v - e) * part for v, e in zip(vapour, split.escaping)]
        return vent, [*taken, split.condensate * part]

    def pressures(self, state: State, concentration: Sequence[Any], factor: dict[int, Any]) -> list[Any]:
        """Partial pressure [Pa] of each volatile over the liquor."""
        return [
            self.carbon_dioxide_pressure(state)
            if i == self.network.carbon
            else concentration[i] * state.conditions.free[i] * factor[i] * unit_pressure
            for i, unit_pressure in zip(self.network.volatiles, state.conditions.partial_pressure)
        ]

    def carbon_dioxide_pressure(self, state: State) -> Any:
        """Pressure of carbon dioxide [Pa] over the liquor."""
        salting = self.m.exp(state.conditions.acid_base.ln_carbon_dioxide * state.totals.alkali)
        concentration = state.speciation.carbon_dioxide * state.water_kg / state.volume
        return concentration * salting * state.conditions.partial_pressure[self.network.volatiles.index(self.network.carbon)]

    def water_pressure(self, state: State) -> Any:
        """Pressure of water [Pa] over the liquor: all of the pressure at the boil."""
        if self.segment.boiling:
            return self.surroundings.pressure
        return state.conditions.water_pressure * self.m.exp(state.speciation.activities.ln_water)

    def swept_water(self, water_pressure: Any, vapour_pressure: Any) -> Any:
        """Water [mol/s] that a sweep carries out of the flask below the boil, of this pressure among all vapours' [Pa].

        The gas leaves saturated: sweep p_w / (P - p_vapour), but no more than the heat can raise. The lesser of the two
        is taken without a kink, within 0.1 % of it up to half of the limit.
        """
        room = self.m.maximum(self.surroundings.pressure - vapour_pressure, 0.0)
        inverse = room / (self.surroundings.sweep * water_pressure)
        return self.m.exp(-0.125 * self.m.log(inverse**8 + self.segment.most_vapour**-8))


def taken(value: Any, keep: np.ndarray) -> Any:
    """A value, or a structure of values, with every array over the samples cut to the positions `keep`."""
    if isinstance(value, np.ndarray):
        return value[..., keep] if value.ndim else value
    if isinstance(value, Mapping):
        return {key: taken(part, keep) for key, part in value.items()}
    if isinstance(value, tuple | list):
        parts = [taken(part, keep) for part in value]
        if hasattr(value, "_make"):
            return value._make(parts)
        return parts if isinstance(value, list) else tuple(parts)
    return value
