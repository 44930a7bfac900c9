"""What if: a batch computed over a grid of its settings, interpolated between, and the error of that measured.

Along each setting the values are joined by the polynomial through all nodes (Lagrange), in a coordinate in which they
run smoothly: the logarithm of the base, the logarithm of all dry gas through the condenser, the coolant's temperature
as it is. Product gone with the gas is interpolated as its logarithm, for it spans decades. Along the hold the points
stand ever wider apart and are joined by straight lines over the square root of time. The page's script does the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import product
from math import log, prod
from typing import Any

import numpy as np

from kinetics.analysis.base import is_base
from kinetics.analysis.ceiling import charged_mol, substrate_of
from kinetics.analysis.hours import longest_hold_h
from kinetics.analysis.runs import HOUR_S, Job, Outcome, Progress, run_jobs
from kinetics.data.shelf import load_shelf
from kinetics.data.units import CELSIUS_ZERO_K, GAS_MOLAR_VOLUME_M3
from kinetics.run.scenario import Charge, Scenario

ML_PER_MIN = 1e-6 / 60.0 / GAS_MOLAR_VOLUME_M3  # of dry gas at 20 degC and 101325 Pa [mol/s]
RTOL = 1e-5
NODES = {"base": 4, "coolant": 5, "sweep": 4}
HOLD_NODES = 33
LEAST_HOLD_H = 12.0
STOPS = 48
NEAR = 0.25  # of the distance between nodes
HELD_OUT = 12  # runs between the nodes that measure the error
FLOOR = 1e-5  # of the charge: product vented below this is nothing
QUANTITIES = ("conversion", "made", "vented", "escaped")
Array = np.ndarray
Shifts = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Setting:
    """One slider: values at its nodes, in the unit shown; own: that of the batch as read.

    offset: the coordinate is log(value + offset), or the value itself where it is None.
    """

    key: str
    label: str
    unit: str
    nodes: tuple[float, ...]
    own: float
    offset: float | None = None

    def coordinate(self, value: float) -> float:
        return value if self.offset is None else log(value + self.offset)

    def value(self, coordinate: float) -> float:
        return coordinate if self.offset is None else float(np.exp(coordinate)) - self.offset

    @property
    def stops(self) -> list[float]:
        """The values at which the slider rests: some forty round ones, and the batch's own."""
        low, high = self.coordinate(self.nodes[0]), self.coordinate(self.nodes[-1])
        evenly = [self.value(low + (high - low) * k / STOPS) for k in range(STOPS + 1)]
        rounded = {float(f"{value:.2g}") if self.key == "base" else float(round(value)) for value in evenly}
        return sorted({v for v in rounded if self.nodes[0] <= v <= self.nodes[-1]} | {self.own})

    def weights(self, value: float) -> Array:
        """What each node counts at a value: w_i = prod_(j not i) (x - x_j)/(x_i - x_j)."""
        x, at = self.coordinate(value), [self.coordinate(node) for node in self.nodes]
        return np.array([prod((x - b) / (a - b) for b in at if b != a) for a in at])


@dataclass(frozen=True)
class Grid:
    """The values at the nodes (one axis for each setting, the last for the hold) and how well they are interpolated.

    hold_h: times of the hold [h]; values: conversion, product made, log of product vented, by-product escaped, each
    per charge [1]; charge_mol: substrate charged and added up to each time [mol]; gram: product per mole of charge
    [g/mol]; errors: {number shown: (largest, root mean square)} at held-out runs; runs: how many were computed.
    """

    settings: tuple[Setting, ...]
    hold_h: Array
    own_hold_h: float
    values: Mapping[str, Array]
    charge_mol: Array
    gram: float
    errors: Mapping[str, tuple[float, float]]
    runs: int
    held_out: int

    def course(self, at: Mapping[str, float]) -> dict[str, Array]:
        """What is shown, over hold_h, at these settings (the batch's own for those not named)."""
        found = {name: self.values[name] for name in QUANTITIES}
        for setting in self.settings:
            weights = setting.weights(at.get(setting.key, setting.own))
            found = {name: np.tensordot(weights, values, (0, 0)) for name, values in found.items()}
        return shown_of(found)

    def at(self, hold_h: Any, at: Mapping[str, float]) -> dict[str, Any]:
        """The numbers shown after these hours of hold."""
        roots = np.sqrt(self.hold_h)
        return {name: np.interp(np.sqrt(hold_h), roots, values) for name, values in self.course(at).items()}

    @property
    def hold_stops(self) -> list[float]:
        """The hours at which their slider rests: quarters of an hour, and the hours of the batch."""
        end = float(self.hold_h[-1])
        step = 0.25 if end >= 6.0 else end / 48.0
        return sorted({float(h) for h in np.arange(0.0, end + 1e-9, step)} | {self.own_hold_h})

    def to_json(self) -> dict[str, Any]:
        """What the page's script works with."""
        return {
            "settings": [
                {"key": s.key, "nodes": [s.coordinate(node) for node in s.nodes], "offset": s.offset, "own": s.own,
                 "stops": s.stops, "unit": s.unit}
                for s in self.settings
            ],
            "hold": self.hold_h.tolist(),
            "holdStops": self.hold_stops,
            "ownHold": self.own_hold_h,
            "floor": FLOOR,
            "values": {name: np.round(values, 6).ravel().tolist() for name, values in self.values.items()},
            "grams": (self.charge_mol * self.gram).tolist(),
            "millimoles": (1e3 * self.charge_mol).tolist(),
        }  # fmt: skip


def shown_of(values: Mapping[str, Array]) -> dict[str, Array]:
    """The numbers shown, each from 0 to 1 of the charge, from those interpolated."""
    gone = np.maximum(np.exp(values["vented"]) - FLOOR, 0.0)
    return {
        "conversion": np.clip(values["conversion"], 0.0, 1.0),
        "yield": np.clip(values["made"] - gone, 0.0, 1.0),
        "escaped": np.clip(values["escaped"], 0.0, None),
    }


def nodes_around(own: float, low: float, high: float, count: int) -> list[float]:
    """Evenly spaced values from low to high, `count` or one more, with `own` among them.

    The range is widened to hold `own`, or begins or ends there where it nearly does; else the nearest inner value
    is moved to `own`.
    """
    low, high = min(low, own), max(high, own)
    nodes = [float(node) for node in np.linspace(low, high, count)]
    k = min(range(count), key=lambda i: abs(nodes[i] - own))
    if k in (0, count - 1) and abs(nodes[k] - own) > NEAR * (high - low) / (count - 1):
        if count == 2:
            return [low, own, high]
        k = min(max(k, 1), count - 2)
    nodes[k] = own
    return nodes


def is_charged_base(charge: Charge) -> bool:
    return is_base(charge.substance, load_shelf())


def settings_of(scenario: Scenario, boil_K: float, nodes: Mapping[str, int]) -> tuple[Setting, ...]:
    """The sliders that mean something in this scenario, beside the hours."""
    found = []
    condenser, closed = scenario.condenser, scenario.vessel.closed
    bases = [charge for charge in scenario.charges if is_charged_base(charge)]
    if bases:
        grams = sum(mass_g(charge) for charge in bases)
        logs = nodes_around(log(grams), log(grams / 8.0), log(4.0 * grams), nodes["base"])
        names = " and ".join(charge.substance for charge in bases)
        masses = tuple(grams if at == log(grams) else float(np.exp(at)) for at in logs)
        found.append(Setting("base", f"Base: {names}", "g", masses, grams, 0.0))
    if not closed and (scenario.heating.boil_up_mol_per_s > 0.0 or condenser.sweep_mol_per_s > 0.0):
        own = condenser.coolant_K - CELSIUS_ZERO_K
        hottest = min(45.0, boil_K - CELSIUS_ZERO_K - condenser.approach_K - 10.0)
        temperatures = tuple(nodes_around(own, 5.0, max(hottest, own), nodes["coolant"]))
        found.append(Setting("coolant", "Coolant", "°C", temperatures, own))
    if not closed:
        own = condenser.sweep_mol_per_s / ML_PER_MIN
        air = max(condenser.air_exchange_mol_per_s / ML_PER_MIN, 1.0)
        logs = nodes_around(log(own + air), log(air), log(max(50.0, 2.0 * own) + air), nodes["sweep"])
        flows = tuple(own if at == log(own + air) else round(float(np.exp(at)) - air, 9) for at in logs)
        found.append(Setting("sweep", "Sweep of gas", "mL/min", flows, own, air))
    return tuple(found)


def mass_g(charge: Charge) -> float:
    """Mass of the pure substance [g]."""
    from kinetics.analysis.compare import mass_g as mass

    return mass(charge, load_shelf())


def with_settings(scenario: Scenario, hold_h: float, at: Mapping[str, float]) -> Scenario:
    """The scenario with these settings, held for so long, ending hot."""
    charges, condenser = scenario.charges, scenario.condenser
    if "base" in at:
        factor = at["base"] / sum(mass_g(charge) for charge in charges if is_charged_base(charge))
        charges = tuple(scaled(charge, factor) if is_charged_base(charge) else charge for charge in charges)
    if "coolant" in at:
        condenser = replace(condenser, coolant_K=at["coolant"] + CELSIUS_ZERO_K)
    if "sweep" in at:
        condenser = replace(condenser, sweep_mol_per_s=at["sweep"] * ML_PER_MIN)
    heating = replace(scenario.heating, hold_s=hold_h * HOUR_S, cooling_s=0.0)
    return replace(scenario, charges=charges, condenser=condenser, heating=heating, options=())


def scaled(charge: Charge, factor: float) -> Charge:
    """So many times a charge."""
    parts = {name: factor * amount for name, amount in charge.components_mol.items()}
    return replace(charge, components_mol=parts, amount_mol=factor * charge.amount_mol)


def hold_times(scenario: Scenario) -> Array:
    """Times of the hold [h], from its start to well past its planned end, denser where more happens."""
    planned = scenario.heating.hold_s / HOUR_S
    longest = min(max(LEAST_HOLD_H, 2.0 * planned), longest_hold_h(scenario))
    times: Array = longest * np.linspace(0.0, 1.0, HOLD_NODES) ** 2
    return times


def job_for(scenario: Scenario, hold_h: Array, at: Mapping[str, float], shifts: Shifts) -> Job:
    times = tuple(float(t) for t in scenario.heating.ramp_s + hold_h * HOUR_S)
    return Job(with_settings(scenario, float(hold_h[-1]), at), shifts=shifts, times=times, rtol=RTOL, whole=True)


def interpolated_from(outcome: Outcome, scenario: Scenario, hold_h: Array) -> dict[str, Array]:
    """The quantities that are interpolated, from one run, at these times of the hold [h]."""
    assert outcome.run is not None and outcome.conversion is not None and outcome.yield_ is not None
    substrate, series = substrate_of(scenario), outcome.run.series
    nothing = np.zeros_like(series.time_s)
    product_ = substrate.product
    charge = charge_at(scenario, (series.time_s - scenario.heating.ramp_s) / HOUR_S)
    with np.errstate(divide="ignore", invalid="ignore"):
        vented = series.left_mol.get(product_, nothing) - series.taken_off_mol.get(product_, nothing)
        vented = np.maximum(vented / (substrate.product_per_substrate * charge), 0.0)
        escaped = series.left_mol.get(substrate.by_product, nothing) / charge
    whole = dict(zip(QUANTITIES, (outcome.conversion, outcome.yield_ + vented, np.log(vented + FLOOR), escaped)))
    times = scenario.heating.ramp_s + hold_h * HOUR_S
    return {name: np.interp(times, series.time_s, values) for name, values in whole.items()}


def charge_at(scenario: Scenario, hold_h: Array) -> Array:
    """Substrate charged and added up to these times of the hold [mol]."""
    species = substrate_of(scenario).substrate
    return np.array([charged_mol(scenario, species, max(h, 0.0) * HOUR_S) for h in hold_h])


def compute_grid(
    scenario: Scenario,
    boil_K: float,
    nodes: Mapping[str, int] = NODES,
    shifts: Shifts = (),
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Grid | str:
    """The grid of a scenario that has a conversion, or why there is none. boil_K: its boil point [K]; shifts: see Job."""
    settings, hold_h = settings_of(scenario, boil_K, nodes), hold_times(scenario)
    points = list(product(*(setting.nodes for setting in settings)))
    keys = [setting.key for setting in settings]
    between_h = np.unique(np.concatenate([hold_h, 0.5 * (hold_h[1:] + hold_h[:-1])]))
    held_out = held_out_points(settings)
    jobs = [job_for(scenario, hold_h, dict(zip(keys, point)), shifts) for point in points]
    jobs += [job_for(scenario, between_h, point, shifts) for point in held_out]
    outcomes = run_jobs(jobs, 1, executor, progress)
    failed = [outcome.failure for outcome in outcomes if outcome.failure is not None]
    if failed:
        return f"{len(failed)} of the {len(jobs)} runs it needs failed, the first: {failed[0]}"
    found = [interpolated_from(outcome, scenario, hold_h) for outcome in outcomes[: len(points)]]
    shape = (*(len(setting.nodes) for setting in settings), len(hold_h))
    values = {name: np.array([one[name] for one in found]).reshape(shape) for name in QUANTITIES}
    if not all(np.isfinite(array).all() for array in values.values()):
        return "nothing of the substrate is in the flask when the hold begins"
    substrate = substrate_of(scenario)
    grams = load_shelf().including(scenario.substrate).substance(substrate.product).molar_mass
    grid = Grid(
        settings,
        hold_h,
        scenario.heating.hold_s / HOUR_S,
        values,
        charge_at(scenario, hold_h),
        substrate.product_per_substrate * grams,
        {},
        len(jobs),
        len(held_out),
    )
    truths = [shown_of(interpolated_from(o, scenario, between_h)) for o in outcomes[len(points) :]]
    return replace(grid, errors=errors_of(grid, held_out, between_h, truths))


def held_out_points(settings: Sequence[Setting]) -> list[dict[str, float]]:
    """Settings between the nodes, spread evenly over the whole range in the coordinates (a Halton sequence)."""
    if not settings:
        return [{}]
    from scipy.stats import qmc

    unit = qmc.Halton(len(settings), scramble=False).random(HELD_OUT + 1)[1:]
    points = []
    for row in unit:
        point = {}
        for setting, share in zip(settings, row, strict=True):
            low, high = setting.coordinate(setting.nodes[0]), setting.coordinate(setting.nodes[-1])
            point[setting.key] = setting.value(low + float(share) * (high - low))
        points.append(point)
    return points


def errors_of(
    grid: Grid, points: Sequence[Mapping[str, float]], hold_h: Array, truths: Sequence[Mapping[str, Array]]
) -> dict[str, tuple[float, float]]:
    """Largest and root mean square error of each number shown, over all times of the held-out runs."""
    pairs = [(grid.at(hold_h, point), truth) for point, truth in zip(points, truths, strict=True)]
    errors = {}
    for name in pairs[0][1]:
        off = np.array([guess[name] - truth[name] for guess, truth in pairs])
        errors[name] = float(np.max(np.abs(off))), float(np.sqrt(np.mean(off**2)))
    return errors
