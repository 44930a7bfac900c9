"""What a measurement should have shown: the value of a measured quantity from the state of a flask.

One source for a single run (plain floats) and for many samples at once (arrays).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from kinetics.analysis.ensemble import samples_of
from kinetics.analysis.executors import spread
from kinetics.chemistry.speciation import Totals, speciate
from kinetics.chemistry.volatility import MOLAR_MASS_WATER
from kinetics.data.namespace import ARRAYS, FLOATS, Namespace
from kinetics.data.shelf import Shelf
from kinetics.flask.balance import activity_model
from kinetics.flask.conditions import conditions_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import Network
from kinetics.flask.programme import Segment
from kinetics.run.batch import integrate_batch
from kinetics.run.integrate import Trajectory
from kinetics.run.plan import Planner, total_added
from kinetics.run.scenario import Scenario

Array = np.ndarray
POINTS = 128  # integrated at a time: a fixed number, so that the result does not depend on the workers
PREDICTION_RTOL = 1e-4  # of the integration: errors below a hundredth of the usual standard deviations


@dataclass(frozen=True)
class Moment:
    """A flask at one instant: the state vector y [mol] at time_s [s] and what is needed to read it."""

    network: Network
    shelf: Shelf
    time_s: float
    y: Sequence[Any]
    segments: Sequence[Segment]
    initial: Mapping[str, Any]
    m: Namespace = field(default_factory=lambda: FLOATS)

    def flask(self, name: str) -> Any:
        """In the flask, oil and water together [mol]."""
        return self.y[self.network.position(name)]

    def oils(self) -> list[tuple[str, Any]]:
        """Name and amount in the oil [mol]."""
        first = len(self.network.species)
        return [(self.network.species[i], self.y[first + k]) for k, i in enumerate(self.network.oils)]

    def gone(self, name: str, taken_only: bool = False) -> Any:
        """Left by the vent and with the distillate [mol], or with the distillate alone."""
        network = self.network
        leaving = [*network.volatiles, network.water]
        if network.position(name) not in leaving:
            return 0.0
        vent = len(network.species) + len(network.oils) + leaving.index(network.position(name))
        taken = self.y[vent + len(leaving)]
        return taken if taken_only else taken + self.y[vent]

    def came(self, name: str) -> Any:
        """Charged and added until now [mol]."""
        return total_added(self.segments, self.initial, name, self.time_s)

    def pH(self, temperature_K: float) -> Any:
        """pH of the liquor brought to that temperature [K], nothing lost on the way."""
        network, m = self.network, self.m
        segment = next((s for s in self.segments if self.time_s <= s.end_s), self.segments[-1])
        sodium, potassium, calcium, chloride = segment.strong_ions(self.time_s)
        water_kg = self.y[network.water] * MOLAR_MASS_WATER
        fraction = potassium / (sodium + potassium + 1e-300)
        conditions = conditions_at(network, self.shelf, temperature_K, fraction, m)
        totals = Totals(
            (sodium + potassium) / water_kg,
            calcium / water_kg,
            chloride / water_kg,
            self.y[network.carbon] / water_kg,
            tuple(self.y[i] / water_kg for i in network.acids),
        )
        return speciate(totals, conditions.acid_base, activity_model(network, conditions, m), m).pH


def moment_of(trajectory: Trajectory, shelf: Shelf, position: int) -> Moment:
    """The moment at one output time of a single run; `shelf` is the one it was computed with."""
    state, time_s = trajectory.states[position], trajectory.times[position]
    return Moment(trajectory.network, shelf, time_s, state, trajectory.segments, trajectory.initial)


@dataclass(frozen=True)
class Details:
    """What else a measured value depends on: temperature of a pH [K], response factor of an area ratio [1]."""

    temperature_K: float | None = None
    response_factor: float | None = None


def conversion(at: Moment, details: Details) -> Any:
    """Part of the charged and added substrate that is substrate no longer [1]."""
    name = at.network.substrate.substrate
    return 1.0 - (at.flask(name) + at.gone(name)) / at.came(name)


def product_yield(at: Moment, details: Details) -> Any:
    """Product formed, in the flask or taken off, per substrate charged and added [1]."""
    substrate = at.network.substrate
    made = at.flask(substrate.product) + at.gone(substrate.product, True) - at.came(substrate.product)
    return made / (substrate.product_per_substrate * at.came(substrate.substrate))


def enal_fraction(at: Moment, details: Details) -> Any:
    """Mole fraction of the substrate in what an extraction of the flask brings: no by-product, no acids [1]."""
    network, substrate = at.network, at.network.substrate
    acids = {network.species[i] for i in network.acids}
    unseen = acids | ({substrate.by_product} - {substrate.product})
    extracted = [at.flask(name) for name in substrate.species if name not in unseen]
    return at.flask(substrate.substrate) / sum(extracted)


def area_ratio(at: Moment, details: Details) -> Any:
    """Peak area of the product over that of the substrate, in the flask: response factor times n_P/n_E [1]."""
    substrate = at.network.substrate
    return details.response_factor * at.flask(substrate.product) / at.flask(substrate.substrate)


def pH(at: Moment, details: Details) -> Any:
    """pH at the temperature of the measurement."""
    assert details.temperature_K is not None
    return at.pH(details.temperature_K)


def oil_mass(at: Moment, details: Details) -> Any:
    """Mass of the oil in the flask [g]."""
    nothing = 0.0 * at.y[at.network.water]  # for every sample, where nothing forms an oil
    return sum((amount * at.shelf.substance(name).molar_mass for name, amount in at.oils()), nothing)


def byproduct_in_trap(at: Moment, details: Details) -> Any:
    """By-product that has left the flask, by the vent and with the distillate [mol]."""
    return at.gone(at.network.substrate.by_product) + 0.0 * at.y[at.network.water]


@dataclass(frozen=True)
class Quantity:
    """What can be measured: meaning, house unit, the kinds of unit it may come in, and its usual uncertainty.

    per_cent: a fraction, which may come in %; smallest and largest: what a value can be at all; usual_sd and
    usual_relative: standard deviation where none is given, the larger of the two (common practice, no source).
    """

    predict: Callable[[Moment, Details], Any]
    words: str
    unit: str
    usual_sd: float
    usual_relative: float = 0.0
    kinds: tuple[str, ...] = ()
    per_cent: bool = False
    smallest: float = 0.0
    largest: float = np.inf


FRACTION: dict[str, Any] = {"unit": "1", "usual_sd": 0.02, "per_cent": True, "smallest": -0.1, "largest": 1.1}
QUANTITIES = {
    "conversion": Quantity(conversion, "conversion", **FRACTION),
    "yield": Quantity(product_yield, "yield", **FRACTION),
    "enal fraction": Quantity(enal_fraction, "mole fraction of substrate in the organic part", **FRACTION),
    "area ratio": Quantity(area_ratio, "peak area of product over substrate", "1", 0.01, 0.05),
    "pH": Quantity(pH, "pH", "1", 0.1, smallest=-2.0, largest=16.0),
    "oil mass": Quantity(oil_mass, "mass of the oil", "g", 0.02, 0.1, ("mass",)),
    "byproduct in trap": Quantity(
        byproduct_in_trap, "by-product that left", "mol", 1e-4, 0.1, ("amount", "mass")
    ),
}


@dataclass(frozen=True)
class Asked:
    """One value to be predicted: of which run (position in the list), when [s from the start], what."""

    run: int
    time_s: float
    quantity: str
    details: Details = Details()


def cut_at(scenario: Scenario, time_s: float) -> Scenario:
    """The scenario without what comes after the last time that matters, where that lies in the hold."""
    heating = scenario.heating
    hold = max(time_s - heating.ramp_s, 1.0)
    if hold >= heating.hold_s:
        return scenario
    return replace(scenario, heating=replace(heating, hold_s=hold, cooling_s=0.0))


@dataclass(frozen=True)
class Task:
    """Values to be predicted of one run at some points z (names, points), in any process; fields as in Predictor."""

    scenario: Scenario
    asked: Sequence[Asked]
    names: Sequence[str]
    z: Array
    shelf: Shelf
    mechanisms: Mechanisms
    rtol: float


def predict(task: Task) -> Array:
    """The values (values, points); NaN where a point failed."""
    times = sorted({one.time_s for one in task.asked})
    cut = cut_at(task.scenario, times[-1])
    shelf = task.shelf.including(cut.substrate)
    known = [k for k, name in enumerate(task.names) if name in shelf or name.startswith("charge.")]
    samples = samples_of(cut, shelf, [task.names[k] for k in known], task.z[known])
    batch = integrate_batch(cut, shelf, samples, times, task.mechanisms, task.rtol)
    moved = shelf.shifted(samples.shifts)
    planner = Planner(cut, batch.network, moved, ARRAYS, samples.amounts)
    segments = planner.plan()
    rows = []
    for one in task.asked:
        y = list(batch.states[times.index(one.time_s)])
        moment = Moment(batch.network, moved, one.time_s, y, segments, planner.initial, ARRAYS)
        with np.errstate(all="ignore"):  # a sample that failed is NaN
            rows.append(QUANTITIES[one.quantity].predict(moment, one.details))
    return np.array(rows)


class Predictor:
    """Predicts all values asked for at many points z (names, points) at once, (values, points); NaN where it failed.

    z counts standard uncertainties of the shelf's constants and the scenario's settings, named as in
    `kinetics.analysis.ensemble`. executor: any, left open; None for this process alone.
    """

    def __init__(
        self,
        scenarios: Sequence[Scenario],
        asked: Sequence[Asked],
        names: Sequence[str],
        shelf: Shelf,
        mechanisms: Mechanisms | None = None,
        rtol: float = PREDICTION_RTOL,
        executor: Executor | None = None,
    ) -> None:
        self.scenarios, self.asked, self.names = tuple(scenarios), tuple(asked), tuple(names)
        self.shelf, self.mechanisms, self.rtol = shelf, mechanisms or Mechanisms(), rtol
        self.executor = executor

    def naming(self, names: Sequence[str]) -> Predictor:
        """The same predictor for other parameters."""
        return Predictor(self.scenarios, self.asked, names, self.shelf, self.mechanisms, self.rtol, self.executor)

    def __call__(self, z: Array) -> Array:
        places, tasks = [], []
        for position, scenario in enumerate(self.scenarios):
            rows = [k for k, one in enumerate(self.asked) if one.run == position]
            for start in range(0, z.shape[1] if rows else 0, POINTS):
                part = z[:, start : start + POINTS]
                asked = [self.asked[k] for k in rows]
                places.append(np.ix_(rows, range(start, start + part.shape[1])))
                tasks.append(Task(scenario, asked, self.names, part, self.shelf, self.mechanisms, self.rtol))
        result = np.full((len(self.asked), z.shape[1]), np.nan)
        for place, values in zip(places, spread(predict, tasks, executor=self.executor)):
            result[place] = values
        return result
