"""Before the flask: what the bark or the oil brings, and whether it dissolves, cold and at the boil."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.units import ROOM_TEMPERATURE_K
from kinetics.flask.boil import saturation_temperature
from kinetics.flask.network import WATER
from kinetics.flask.oil import equilibrium_oil
from kinetics.run.feeding import Fed, fed_aldehyde
from kinetics.run.plan import sum_of_components
from kinetics.run.scenario import Scenario


@dataclass(frozen=True)
class Dissolved:
    """An aldehyde in water at one temperature: what the water holds and what floats or sinks as oil [g]."""

    temperature_K: float
    in_water_g: float
    in_oil_g: float


@dataclass(frozen=True)
class FeedReport:
    """What the feed brings: the aldehyde [g], its relative uncertainty, the oil, and where the aldehyde is.

    flask: in the charged water, at 20 degC and at the boil, salt left out; distillate: in the water that came over with
    the oil, at 20 degC, None where its volume is not given.
    """

    aldehyde: str
    aldehyde_g: float
    uncertainty: float
    oil_g: float
    fraction: float
    flask: tuple[Dissolved, ...]
    distillate: Dissolved | None
    assumed: tuple[str, ...]


def dissolved(name: str, mass_g: float, water_L: float, T: float, shelf: Shelf) -> Dissolved:
    """Mass in the water and as oil [g] of one aldehyde beside `water_L` [L, cold] at T [K]: at most S V dissolves.

    The water keeps its mass and grows with T. No salt: carbonate lets some 5 % less dissolve for each 0.05 mol/L.
    """
    density = shelf["water.density"]
    litres = water_L * density(ROOM_TEMPERATURE_K, FLOATS) / density(T, FLOATS)
    M = shelf.substance(name).molar_mass
    (oil,) = equilibrium_oil([mass_g / M], [shelf[f"{name}.solubility"](T, FLOATS) * litres])
    return Dissolved(T, mass_g - M * oil, M * oil)


def feed_report(scenario: Scenario, shelf: Shelf | None = None) -> FeedReport | None:
    """What a scenario's feed brings; None where it has none, or its aldehyde no solubility on the shelf."""
    shelf = (shelf or load_shelf()).including(scenario.substrate)
    name = shelf.substrate(scenario.substrate).substrate
    if scenario.feed is None or f"{name}.solubility" not in shelf:
        return None
    fed: Fed = fed_aldehyde(scenario.feed, name, shelf)
    water: Mapping[str, float] = sum_of_components(scenario.charges)
    mass = 1e3 * fed.mass_kg
    litres = water[WATER] * shelf.substance(WATER).molar_mass / shelf["water.density"](ROOM_TEMPERATURE_K, FLOATS)
    boil = saturation_temperature(scenario.heating.pressure_Pa, shelf)
    volume = scenario.feed.distillate_L
    return FeedReport(
        name,
        mass,
        fed.uncertainty,
        1e3 * fed.oil_kg,
        fed.fraction,
        tuple(dissolved(name, mass, litres, T, shelf) for T in (ROOM_TEMPERATURE_K, boil)),
        None if volume is None else dissolved(name, mass, volume, ROOM_TEMPERATURE_K, shelf),
        fed.assumed,
    )
