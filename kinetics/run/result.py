"""What a run gives back: summary, course in time, closure of the balances, notices. Names mirror the JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from kinetics.data.shelf import Shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.flask.network import STRONG_IONS, WATER
from kinetics.run.integrate import NumericalFailure, Trajectory
from kinetics.run.plan import total_added

FINAL_TOLERANCE = 1e-12  # of ln[OH-] in what is reported


@dataclass(frozen=True)
class Summary:
    """The numbers at the end of the run (after the cool-down). None where a number has no meaning.

    conversion: part of the charged and added substrate that is no longer substrate (in flask or vent) [1];
    yield_: product formed, in the flask or taken off, per substrate [1]; selectivity: their ratio [1];
    by_product amounts [mol]; masses of the product in the flask and unreacted substrate [g]; pH_start at the start
    temperature, pH_hot at the start of the hold, pH_end at the end, each at its own temperature.
    """

    conversion: float | None
    yield_: float | None
    selectivity: float | None
    hold_h: float
    boil_point_degC: float
    pH_start: float
    pH_hot: float
    pH_end: float
    hydroxide_hot_mol_per_L: float
    byproduct_in_flask_mol: float
    byproduct_left_mol: float
    product_in_flask_g: float
    product_in_oil_g: float
    product_taken_off_g: float
    product_vented_g: float
    unreacted_g: float
    substrate_left_g: float
    water_left_in_flask_L: float


@dataclass(frozen=True)
class Series:
    """The course in time; arrays of one length, and of that length for each species [mol]."""

    time_s: np.ndarray
    temperature_K: np.ndarray
    pH: np.ndarray
    hydroxide_mol_per_L: np.ndarray
    water_L: np.ndarray
    oil_mol: np.ndarray
    conversion: np.ndarray | None
    yield_: np.ndarray | None
    flask_mol: Mapping[str, np.ndarray]
    left_mol: Mapping[str, np.ndarray]
    oil_by_species_mol: Mapping[str, np.ndarray]
    taken_off_mol: Mapping[str, np.ndarray]
    oxygen_drawn_mol: np.ndarray
    stage: tuple[str, ...]


@dataclass(frozen=True)
class Closure:
    """Largest relative error of each balance over all output times [1]: what is and has left against what came in."""

    carbon: float
    hydrogen: float
    oxygen: float
    charge: float


@dataclass(frozen=True)
class Run:
    """One computed batch. `failure` is None where the programme was run to its end."""

    title: str
    substrate: str
    summary: Summary
    series: Series
    closure: Closure
    notices: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    failure: NumericalFailure | None = None
    trajectory: Trajectory | None = field(default=None, repr=False, compare=False)

    def to_json(self) -> dict[str, Any]:
        """The run as plain lists, numbers and text; what is not known is None."""
        return {
            "title": self.title,
            "substrate": self.substrate,
            "status": "done" if self.failure is None else str(self.failure),
            "notices": list(self.notices),
            "cautions": list(self.cautions),
            "summary": plain(self.summary),
            "series": plain(self.series),
            "closure": plain(self.closure),
        }


def plain(value: Any) -> Any:
    """Records, mappings and arrays as what JSON has; not-a-number becomes None; yield_ becomes yield."""
    if hasattr(value, "__dataclass_fields__"):
        return {f.name.rstrip("_"): plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {key: plain(v) for key, v in value.items()}
    if isinstance(value, np.ndarray | tuple | list):
        return [plain(v) for v in (value.tolist() if isinstance(value, np.ndarray) else value)]
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value


def series_of(trajectory: Trajectory, amounts_in: Mapping[str, np.ndarray]) -> tuple[Series, float]:
    """The course in time from the state vectors, and the largest relative imbalance of charge."""
    network = trajectory.network
    states = np.array(trajectory.states)
    times = np.array(trajectory.times)
    count, oils, volatiles = len(network.species), network.oils, network.volatiles
    columns = []
    imbalance = 0.0
    for t, y, balance in zip(trajectory.times, trajectory.states, trajectory.balances):
        state = balance.state(t, y, FINAL_TOLERANCE)
        s = state.speciation
        imbalance = max(imbalance, abs(s.charge_imbalance(state.totals)))
        if not s.converged:
            imbalance = 1.0
        columns.append((state.conditions.temperature, s.pH, state.hydroxide, state.volume))
    temperature, pH, hydroxide, water_L = np.array(columns).T
    vent_at = count + len(oils)
    taken_at = vent_at + len(volatiles) + 1
    leaving = [*(network.species[i] for i in volatiles), WATER]
    vented = {name: states[:, vent_at + k] for k, name in enumerate(leaving)}
    taken = {name: states[:, taken_at + k] for k, name in enumerate(leaving)}
    flask = {name: states[:, i] for i, name in enumerate(network.species)}
    flask |= {ion: amounts_in[ion] for ion in STRONG_IONS if np.any(amounts_in[ion] != 0.0)}
    substrate, product = network.substrate.substrate, network.substrate.product
    zero = np.zeros_like(times)
    charged = amounts_in[substrate]
    conversion = formed = None
    if charged[-1] > 0.0:
        with np.errstate(divide="ignore", invalid="ignore"):
            gone = taken.get(substrate, zero) + vented.get(substrate, zero)
            conversion = (charged - flask[substrate] - gone) / charged
            made = flask[product] + taken.get(product, zero) - amounts_in[product]
            formed = made / (network.substrate.product_per_substrate * charged)
    series = Series(
        times,
        temperature,
        pH,
        hydroxide,
        water_L,
        states[:, count : count + len(oils)].sum(axis=1),
        conversion,
        formed,
        flask,
        {name: vented[name] + taken[name] for name in leaving},
        {network.species[i]: states[:, count + k] for k, i in enumerate(oils)},
        taken,
        states[:, -1],
        tuple(balance.segment.stage for balance in trajectory.balances),
    )
    return series, imbalance


def amounts_put_in(trajectory: Trajectory) -> dict[str, np.ndarray]:
    """Charged and added up to each output time, by formal component [mol]."""
    names = {*trajectory.network.species, *STRONG_IONS}
    result = {
        name: np.array([total_added(trajectory.segments, trajectory.initial, name, t) for t in trajectory.times])
        for name in names
    }
    for ion in STRONG_IONS:
        result[ion] = np.array(
            [dict(zip(STRONG_IONS, b.segment.strong_ions(t)))[ion] for t, b in zip(trajectory.times, trajectory.balances)]
        )
    return result


def closure_of(
    trajectory: Trajectory, series: Series, amounts_in: Mapping[str, np.ndarray], imbalance: float, shelf: Shelf
) -> Closure:
    """Elements in the flask and gone, against elements charged, added and drawn from the air."""
    make_up = trajectory.surroundings.make_up
    errors = {}
    for element in ("C", "H", "O"):
        came: Any = 0.0
        present: Any = 0.0
        for name in trajectory.network.species:
            count = elements_of_component(shelf, name).get(element, 0.0)
            if count:
                came = came + count * amounts_in[name]
                present = present + count * (series.flask_mol[name] + series.left_mol.get(name, 0.0))
        if element == "O":
            came = came + 2.0 * series.oxygen_drawn_mol
        if make_up:
            came = came + {"C": 0.0, "H": 2.0, "O": 1.0}[element] * series.taken_off_mol[WATER]
        largest = float(np.max(np.abs(came)))
        errors[element] = float(np.max(np.abs(present - came))) / largest if largest > 0.0 else 0.0
    return Closure(errors["C"], errors["H"], errors["O"], imbalance)


def elements_of_component(shelf: Shelf, name: str) -> Mapping[str, float]:
    """Elements of a species, or of a formal component such as inorganic carbon (counted as CO2)."""
    formal = shelf.components.get(name)
    return formal if formal is not None else shelf.substance(name).elements


def summary_of(trajectory: Trajectory, series: Series, hold_h: float, shelf: Shelf) -> Summary:
    """The numbers at the end."""
    substrate = trajectory.network.substrate
    grams = {name: shelf.substance(name).molar_mass for name in (substrate.substrate, substrate.product)}

    def last(amounts: Mapping[str, np.ndarray], name: str) -> float:
        return float(amounts[name][-1]) if name in amounts else 0.0

    def final(values: np.ndarray | None) -> float | None:
        return None if values is None or not np.isfinite(values[-1]) else float(values[-1])

    conversion, formed = final(series.conversion), final(series.yield_)
    usable = conversion is not None and formed is not None and conversion > 1e-9
    hot = max((k for k, stage in enumerate(series.stage) if stage == "heating"), default=0)  # its end is the hold's start
    product = substrate.product
    taken = last(series.taken_off_mol, product)
    return Summary(
        conversion,
        formed,
        formed / conversion if usable else None,  # type: ignore[operator]
        hold_h,
        trajectory.boil_K - CELSIUS_ZERO_K,
        float(series.pH[0]),
        float(series.pH[hot]),
        float(series.pH[-1]),
        float(series.hydroxide_mol_per_L[hot]),
        last(series.flask_mol, substrate.by_product),
        last(series.left_mol, substrate.by_product),
        last(series.flask_mol, product) * grams[product],
        last(series.oil_by_species_mol, product) * grams[product],
        taken * grams[product],
        (last(series.left_mol, product) - taken) * grams[product],
        last(series.flask_mol, substrate.substrate) * grams[substrate.substrate],
        last(series.left_mol, substrate.substrate) * grams[substrate.substrate],
        float(series.water_L[-1]),
    )


def assemble(
    title: str, hold_h: float, trajectory: Trajectory, shelf: Shelf, notices: Sequence[str], cautions: Sequence[str]
) -> Run:
    """A Run from the integrated states."""
    amounts_in = amounts_put_in(trajectory)
    series, imbalance = series_of(trajectory, amounts_in)
    return Run(
        title,
        trajectory.network.substrate.name,
        summary_of(trajectory, series, hold_h, shelf),
        series,
        closure_of(trajectory, series, amounts_in, imbalance, shelf),
        tuple(notices),
        tuple(cautions),
        trajectory.failure,
        trajectory,
    )


