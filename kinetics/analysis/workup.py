"""From the cold flask to the bottle, as an expectation: steam, salt, parting, drying, pouring, a distillation, air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp

from kinetics.analysis.distillation import Course, boiling_temperature, distil, simple_distillation
from kinetics.chemistry.solubility import setschenow_factor
from kinetics.chemistry.volatility import MOLAR_MASS_WATER, free_fraction
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.flask.conditions import partial_pressures
from kinetics.flask.network import WATER, Network, has
from kinetics.flask.oil import equilibrium_oil
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

MOST_OF_THE_WATER = 0.9  # steam comes from the liquor's own water; below a tenth of it one stops in any case
SALT = "sodium chloride"
VERDICTS = {  # in words
    "floats": "the oil floats",
    "sinks": "the oil sinks",
    "hangs": "the oil hangs in the water and parts badly",
    "none": "no oil: all of it is dissolved",
}


@dataclass(frozen=True)
class Practice:
    """The work-up in numbers: the scenario's where it says, else the shelf's guesses of the trade."""

    separation_K: float
    steam: bool
    recovered: float
    distillate_L: float | None
    salted: bool
    drying_loss: float
    transfer_loss: float
    exposure_s: float
    pressure_Pa: float | None
    cut: float


def practice_of(scenario: Scenario, shelf: Shelf) -> Practice:
    """What is done, in the words of the scenario and of the shelf."""
    w = scenario.workup

    def either(value: float | None, name: str, factor: float = 1.0, offset: float = 0.0) -> float:
        return factor * shelf[f"workup.{name}"].value + offset if value is None else value

    return Practice(
        either(w.separation_K, "separation_temperature", offset=CELSIUS_ZERO_K),
        w.steam is not False,
        either(w.recovered, "recovered"),
        w.distillate_L,
        w.salt != "none",
        either(w.drying_loss, "drying_loss"),
        either(w.transfer_loss, "transfer_loss"),
        either(w.exposure_s, "exposure", 3600.0),
        w.pressure_Pa,
        either(w.cut, "cut"),
    )


@dataclass(frozen=True)
class Salts:
    """Dissolved salt [mol/L of the water phase] that drives organics out: carbonate, and 1:1 salts."""

    carbonate: float = 0.0
    univalent: float = 0.0

    def times(self, factor: float) -> Salts:
        return Salts(factor * self.carbonate, factor * self.univalent)


@dataclass(frozen=True)
class Parted:
    """Oil and water beside each other: the oil [mol], volumes [L], densities [kg/m3], where the oil goes."""

    oil_mol: Mapping[str, float]
    water_L: float
    water_density: float
    oil_density: float | None
    verdict: str


@dataclass(frozen=True)
class Steam:
    """The steam distillation: distillate as water at 20 degC [L], its course, what is over [mol]."""

    distillate_L: float
    course: Course
    over_mol: Mapping[str, float]
    two_liquids_until_L: float
    reached: bool


@dataclass(frozen=True)
class Result:
    """What the work-up makes of the flask. places: where everything ends, in order, species by species [mol]."""

    practice: Practice
    cold: Parted  # the flask's content, as it stands at the end
    steam: Steam | None
    unsalted: Parted
    parted: Parted
    distilled: Course | None
    places: Mapping[str, Mapping[str, float]]
    bottle: Mapping[str, float]
    notes: tuple[str, ...]


# ---------------------------------------------------------------- parting oil and water


def saturated_brine(water_kg: float, T: float, shelf: Shelf) -> tuple[float, float]:
    """Salt in a saturated brine [mol per L of brine], and the volume of the brine [L]; T [K]."""
    salt_kg = 0.01 * shelf["brine.sodium_chloride_solubility"](T, FLOATS) * water_kg
    litres = 1000.0 * (water_kg + salt_kg) / shelf["brine.sodium_chloride_density"].value
    return 1000.0 * salt_kg / shelf.substance(SALT).molar_mass / litres, litres


def density_of_oil(oil_mol: Mapping[str, float], shelf: Shelf) -> float | None:
    """Density [kg/m3] of an oil at 20 degC, volumes added up; None where there is none or one is not known."""
    masses = {name: amount * shelf.substance(name).molar_mass for name, amount in oil_mol.items() if amount > 0.0}
    if not masses or not all(has(shelf, name, "density") for name in masses):
        return None
    return sum(masses.values()) / sum(mass / shelf[f"{name}.density"].value for name, mass in masses.items())


def verdict(oil: float | None, water: float, hanging: float) -> str:
    """Whether an oil "floats", "hangs" or "sinks" in water of that density [kg/m3]; "none" without oil."""
    if oil is None:
        return "none"
    return "hangs" if abs(oil - water) < hanging else "floats" if oil < water else "sinks"


def part(
    amounts: Mapping[str, float], water_kg: float, T: float, salts: Salts, salted: bool, density: float, shelf: Shelf
) -> Parted:
    """Oil and water in equilibrium at T [K]: c_i = z_i S_i/f_i, the oil ideal, salting-out by Setschenow.

    amounts [mol] in both; salts already in the water; salted: sodium chloride to saturation beside them; density: of
    the water with those salts [kg/m3]. In brine beyond some 2 mol/L Setschenow's law is stretched.
    """
    litres = 1000.0 * water_kg / shelf["water.density"](T, FLOATS)
    if salted:
        chloride, brine_L = saturated_brine(water_kg, T, shelf)
        salts = Salts(salts.carbonate * litres / brine_L, salts.univalent * litres / brine_L + chloride)
        density += shelf["brine.sodium_chloride_density"].value - shelf["water.density"](T, FLOATS)
        litres = brine_L
    formers = [name for name in amounts if has(shelf, name, "solubility")]
    capacities = [shelf[f"{name}.solubility"](T, FLOATS) / salting(name, salts, shelf) * litres for name in formers]
    oil = dict(zip(formers, equilibrium_oil([amounts[name] for name in formers], capacities))) if formers else {}
    oil = {name: amount for name, amount in oil.items() if amount > 0.0}
    heavy = density_of_oil(oil, shelf)
    return Parted(oil, litres, density, heavy, verdict(heavy, density, shelf["workup.hang_difference"].value) if oil else "none")


def salting(name: str, salts: Salts, shelf: Shelf) -> float:
    """Setschenow's factor [1] of a substance; 1 where its constants are not known."""
    kc, ks = (shelf[f"{name}.{key}"](298.15, FLOATS) if has(shelf, name, key) else 0.0 for key in
              ("setschenow_carbonate", "setschenow_salt"))  # fmt: skip
    return setschenow_factor(kc, ks, salts.carbonate, salts.univalent, FLOATS)


# ---------------------------------------------------------------- steam


def steam_distillation(
    amounts: Mapping[str, float], water_mol: float, salts: Salts, pressure_Pa: float, practice: Practice,
    product: str, network: Network, shelf: Shelf,
) -> Steam:  # fmt: skip
    """Boil the liquor down with its own water until the practice says stop: dn_i/dD = -p_i/p_w, D the water over [mol].

    p_i is the pressure over the water phase, c_i S_i^-1 f_i p_i,sat: with oil beside the water it is z_i p_i,sat, so that
    two liquids and one follow from the same line. The boil point is where the pressures add up.
    """
    places = {network.species[i]: i for i in network.volatiles if i != network.carbon}
    names = [name for name in amounts if name in places]
    oily = [name for name in names if has(shelf, name, "solubility")]
    water_pressure, density = shelf["water.saturation_pressure"], shelf["water.density"]
    free = {name: free_fraction(shelf[f"{name}.hydration"](370.0, FLOATS)) for name in names if has(shelf, name, "hydration")}
    room_L = 1000.0 * MOLAR_MASS_WATER / density(293.15, FLOATS)
    position = names.index(product)

    def liquids(n: Sequence[float], water: float, T: float) -> tuple[list[float], float]:
        """Water-phase concentrations times Setschenow's factor [mol/L], and the oil [mol]."""
        litres = 1000.0 * MOLAR_MASS_WATER * water / density(T, FLOATS)
        more = salts.times(water_mol / water)
        factor = {name: salting(name, more, shelf) for name in names}
        inside = dict(zip(names, n))
        capacities = [shelf[f"{name}.solubility"](T, FLOATS) / factor[name] * litres for name in oily]
        oil = dict(zip(oily, equilibrium_oil([inside[name] for name in oily], capacities)))
        return [(inside[name] - oil.get(name, 0.0)) / litres * factor[name] for name in names], sum(oil.values())

    def escape(D: float, n: Sequence[float]) -> tuple[list[float], float]:
        def pressures(T: float) -> list[float]:
            c, _ = liquids(n, water_mol - D, T)
            unit = partial_pressures(network, shelf, [places[name] for name in names], T, FLOATS)
            return [p * ci * free.get(name, 1.0) for p, ci, name in zip(unit, c, names)]

        T = boiling_temperature(lambda T: sum(pressures(T)) + water_pressure(T, FLOATS), pressure_Pa, 280.0, 390.0)
        return [p / water_pressure(T, FLOATS) for p in pressures(T)], T

    def stop(n: Sequence[float], D: float) -> float:
        if practice.distillate_L is not None:
            return practice.distillate_L - D * room_L
        return n[position] - (1.0 - practice.recovered) * amounts[product]

    start = {name: amounts[name] for name in names}
    course = distil(start, escape, MOST_OF_THE_WATER * water_mol, stop)
    two = [
        D
        for k, D in enumerate(course.over)
        if liquids([course.left[name][k] for name in names], water_mol - D, course.temperature_K[k])[1] > 0.0
    ]
    over = {name: start[name] - float(course.left[name][-1]) for name in names}
    return Steam(float(course.over[-1]) * room_L, course, over, (max(two) if two else 0.0) * room_L, course.reached)


# ---------------------------------------------------------------- the whole way


def work_up(run: Run, scenario: Scenario, shelf: Shelf) -> Result:
    """Follow the content of the flask to the bottle; what is lost on the way is told by place."""
    assert run.trajectory is not None, "a work-up starts from a run with its trajectory"
    network, practice = run.trajectory.network, practice_of(scenario, shelf)
    substrate = network.substrate
    product = substrate.product
    flask = {name: max(float(run.series.flask_mol[name][-1]), 0.0) for name in network.species[: network.carbon]}
    water_mol = float(run.series.flask_mol[WATER][-1])
    salts, density = liquor_of(run, practice.separation_K, shelf)
    T, kg = practice.separation_K, water_mol * MOLAR_MASS_WATER
    notes = []
    places: dict[str, Mapping[str, float]] = {}
    cold = part(flask, kg, T, salts, False, density, shelf)
    steam, worked = None, flask
    if practice.steam and flask[product] > 0.0:
        steam = steam_distillation(flask, water_mol, salts, scenario.heating.pressure_Pa, practice, product, network, shelf)
        worked = {name: steam.over_mol.get(name, 0.0) for name in flask}
        places["left in the still"] = difference(flask, worked)
        kg, salts = steam.distillate_L * shelf["water.density"](293.15, FLOATS) / 1000.0, Salts()
        density = shelf["water.density"](T, FLOATS)
        if not steam.reached:
            notes.append("the steam distillation ran out of water before its stop")
    unsalted = part(worked, kg, T, salts, False, density, shelf)
    parted = part(worked, kg, T, salts, True, density, shelf) if practice.salted else unsalted
    oil = {name: parted.oil_mol.get(name, 0.0) for name in flask}
    places["in the water layer"] = difference(worked, oil)
    for place, loss in (("in the drying agent", practice.drying_loss), ("on the glass", practice.transfer_loss)):
        kept = {name: (1.0 - loss) * amount for name, amount in oil.items()}
        places[place], oil = difference(oil, kept), kept
    distilled = None
    if practice.pressure_Pa is not None and oil[product] > 0.0:
        masses = {name: shelf.substance(name).molar_mass for name in oil}
        pressures = {name: shelf[f"{name}.vapour_pressure"] for name in oil if has(shelf, name, "vapour_pressure")}
        present = {name: amount for name, amount in oil.items() if amount > 0.0}
        distilled = simple_distillation(present, masses, pressures, practice.pressure_Pa, practice.cut)
        left = {name: float(distilled.left[name][-1]) if name in distilled.left else 0.0 for name in oil}
        places["left in the distilling flask"], oil = left, difference(oil, left)
    acid, lost = turned_to_acid(oil[product], practice.exposure_s, network, shelf)
    if acid:
        places["turned to acid by the air"] = {acid: lost}
        oil = {**oil, product: oil[product] - lost}
    return Result(practice, cold, steam, unsalted, parted, distilled, places, oil, tuple(notes))


def difference(before: Mapping[str, float], after: Mapping[str, float]) -> dict[str, float]:
    """What is lost from one to the other [mol]."""
    return {name: amount - after.get(name, 0.0) for name, amount in before.items()}


def turned_to_acid(product_mol: float, exposure_s: float, network: Network, shelf: Shelf) -> tuple[str, float]:
    """Name of the acid that air makes of the product, and how much [mol]: n (1 - e^-kt); no name where it makes none.

    k is that of the network's oxidation, an estimate for an air-swept flask at reflux.
    """
    for step in network.substrate.steps:
        if step.mechanism == "oxidation" and step.stoichiometry.get(network.substrate.product, 0.0) < 0.0:
            acid = next(name for name, nu in step.stoichiometry.items() if nu > 0.0)
            return acid, product_mol * (1.0 - exp(-step.k.value * exposure_s))
    return "", 0.0


def liquor_of(run: Run, T: float, shelf: Shelf) -> tuple[Salts, float]:
    """Salts [mol/L] in the flask at the end, and the density of its liquor at T [K]."""
    trajectory = run.trajectory
    assert trajectory is not None
    state = trajectory.balances[-1].state(trajectory.times[-1], trajectory.states[-1])
    s, per_litre = state.speciation, state.water_kg / state.volume
    univalent = s.bicarbonate + s.hydroxide + s.organic + state.totals.chloride
    dissolved = 0.5 * state.totals.alkali * shelf.substance("sodium carbonate").molar_mass * 1e-3  # kg per kg of water
    slope = shelf["liquor.carbonate_density_slope"].value
    density = shelf["water.density"](T, FLOATS) + slope * dissolved / (1.0 + dissolved)
    return Salts(s.carbonate * per_litre, univalent * per_litre), density
