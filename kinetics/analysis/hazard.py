"""What the batch gives off and what that asks of the air and of a trap; why the vessel is never closed."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import exp

import numpy as np

from kinetics.chemistry.volatility import free_fraction
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.substances import elements_of
from kinetics.data.units import CELSIUS_ZERO_K, GAS_CONSTANT_J_PER_MOL_K, ROOM_TEMPERATURE_K, STANDARD_PRESSURE_PA
from kinetics.flask.network import WATER
from kinetics.run.notices import caution_texts
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

OF_FLAMMABLE = 0.1  # the part of the lower flammable limit that is allowed: common practice, no source
KEPT = 0.9  # of the vapour, by a trap of water: a choice
BISULFITE = {"sodium bisulfite": ("NaHSO3", 1.0), "sodium metabisulfite": ("Na2S2O5", 0.5)}  # formula, mol per mol
PER_MILLION = 1e-6
TRAPPED = "acetaldehyde"


# ---------------------------------------------------------------- equations


def vapour_volume(amount_mol: float, temperature_K: float, pressure_Pa: float) -> float:
    """Volume of a vapour as an ideal gas: V = n R T/p [m3], or a flow [m3/s] of n [mol/s]. 1 mol at 20 degC: 0.02406."""
    return amount_mol * GAS_CONSTANT_J_PER_MOL_K * temperature_K / pressure_Pa


def dilution_air(vapour: float, limit: float, mixing: float) -> float:
    """Clean air that keeps a vapour below a limit, steadily: Q = K G/C.

    vapour: G, volume flow of the vapour; Q comes in its unit; limit: C, volume fraction [1]; mixing: K [1], 1 for a
    well-mixed box, up to 10. Good to the mixing factor. Source: ACGIH, Industrial Ventilation, dilution ventilation.
    """
    return mixing * vapour / limit


def steady_fraction(vapour: float, air: float, mixing: float) -> float:
    """Volume fraction [1] that a vapour reaches in a flow of clean air: C = K G/Q, both flows in one unit."""
    return mixing * vapour / air


def kept_by_water(passes: float) -> float:
    """Part [1] of a steady feed that water still holds at the end: (1 - e^-x)/x.

    passes: x = gas led through/(H p V), how often the gas could have carried off what the water holds [1], above 0.
    One stage, well mixed, in equilibrium, dn/dt = F - G n/(H p V); V of water, H its Henry solubility, G the gas.
    """
    return (1.0 - exp(-passes)) / passes


def trap_water(gas_mol: float, henry: float, pressure_Pa: float, kept: float) -> float:
    """Water [L] that keeps the part `kept` [1] of a soluble vapour, from kept_by_water.

    gas_mol: all gas led through [mol]; henry: solubility with the hydrate [mol/m3/Pa]; pressure [Pa].
    """
    from scipy.optimize import brentq

    passes = brentq(lambda x: kept_by_water(x) - kept, 1e-9, 1e3, xtol=1e-12)
    return 1000.0 * gas_mol / (passes * henry * pressure_Pa)


def closed_pressure(water_Pa: float, air_Pa: float, solute_Pa: float, filled_K: float, hot_K: float) -> float:
    """Pressure in a closed vessel [Pa]: water's vapour, the air heated from `filled_K` to `hot_K`, the solute's vapour.

    p = p_w(T) + p_air T/T0 + p_s; the room for gas is taken as constant and the solute as still all dissolved.
    """
    return water_Pa + air_Pa * hot_K / filled_K + solute_Pa


def molar_mass_of(formula: str, shelf: Shelf) -> float:
    """Molar mass [g/mol] of a formula, from the shelf's atomic weights."""
    return sum(count * shelf[f"element.{element}"].value for element, count in elements_of(formula).items())


# ---------------------------------------------------------------- what a run gives off


@dataclass(frozen=True)
class Need:
    """Clean air that keeps to one limit at the peak: name of the limit, its volume fraction [1], flow [m3/h], source."""

    limit: str
    fraction: float
    air_m3_per_h: float
    source: str


@dataclass(frozen=True)
class Release:
    """What leaves of one vapour: total, peak (mean over one step of the output) and when, its part of the vent gas.

    vent_fraction: mole fraction in the gas that leaves at the peak [1]; flammable: lower flammable limit [1], None if
    not on the shelf; reached: volume fraction in the air given, None where none is given.
    """

    species: str
    total_mol: float
    total_g: float
    vapour_L: float
    peak_g_per_h: float
    peak_at_h: float
    vent_fraction: float
    flammable: float | None
    needs: tuple[Need, ...]
    reached: float | None


@dataclass(frozen=True)
class Trap:
    """What a trap for the acetaldehyde must hold: bisulfite [g] by stoichiometry, or water [L] at `water_K`."""

    amount_mol: float
    bisulfite_g: Mapping[str, float]
    excess: float
    water_L: float
    water_K: float
    kept: float


@dataclass(frozen=True)
class Closed:
    """What a closed vessel would hold at the hold temperature [Pa]."""

    temperature_K: float
    water_Pa: float
    air_Pa: float
    solute_Pa: float
    total_Pa: float


@dataclass(frozen=True)
class HazardReport:
    """Everything about air, trap and pressure, with the statements and cautions that belong to it.

    together_m3_per_h: clean air for all short-term limits at once, harms taken as additive and peaks as simultaneous.
    """

    title: str
    mixing: float
    together_m3_per_h: float
    face_velocity_m_per_s: float
    air_m3_per_h: float | None
    releases: tuple[Release, ...]
    trap: Trap | None
    closed: Closed
    statements: tuple[tuple[str, str, str], ...]  # substance, codes with words, source
    cautions: tuple[str, ...]


def hazard_report(run: Run, scenario: Scenario, shelf: Shelf | None = None) -> HazardReport:
    """What a run asks of the room."""
    shelf = (shelf or load_shelf()).including(scenario.substrate)
    hazard = scenario.hazard
    mixing = hazard.mixing or shelf["ventilation.mixing_factor"].value
    names = [name for name in run.series.left_mol if f"limit.{name}.short_term" in shelf]
    found = (release(name, run, scenario, mixing, shelf) for name in names)
    releases = tuple(sorted((r for r in found if r.total_mol > 0.0), key=lambda r: -r.total_g))
    cautions = dict.fromkeys((*run.cautions, *([caution_texts()["trap"]] if releases else [])))
    return HazardReport(
        run.title,
        mixing,
        sum(release.needs[-1].air_m3_per_h for release in releases),
        shelf["ventilation.face_velocity"].value,
        None if hazard.air_m3_per_s is None else 3600.0 * hazard.air_m3_per_s,
        releases,
        trap_for(run, scenario, shelf) if any(r.species == TRAPPED for r in releases) else None,
        closed_vessel(run, scenario, shelf),
        statements_of(run, scenario),
        tuple(cautions),
    )


def vented(run: Run, name: str) -> np.ndarray:
    """What has gone into the air until each output time [mol], without what was taken off as distillate."""
    return run.series.left_mol[name] - run.series.taken_off_mol.get(name, 0.0)


def dry_gas(scenario: Scenario) -> float:
    """Dry gas through the top of the condenser [mol/s]."""
    return scenario.condenser.air_exchange_mol_per_s + scenario.condenser.sweep_mol_per_s


def release(name: str, run: Run, scenario: Scenario, mixing: float, shelf: Shelf) -> Release:
    """What leaves of one vapour, and the clean air that it asks for."""
    time, gone = run.series.time_s, vented(run, name)
    rates = np.diff(gone) / np.diff(time)
    peak = int(np.argmax(rates))
    rate = float(rates[peak])
    others = sum(float(np.diff(vented(run, other))[peak] / np.diff(time)[peak]) for other in run.series.left_mol)
    grams = shelf.substance(name).molar_mass
    flow = vapour_volume(rate, ROOM_TEMPERATURE_K, STANDARD_PRESSURE_PA)
    needs = tuple(
        Need(label, limit, 3600.0 * dilution_air(flow, limit, mixing), shelf[key].source)
        for label, limit, key in limits_of(name, shelf)
    )
    flammable = f"limit.{name}.lower_flammable"
    air = scenario.hazard.air_m3_per_s
    return Release(
        name,
        float(gone[-1]),
        float(gone[-1]) * grams,
        1000.0 * vapour_volume(float(gone[-1]), ROOM_TEMPERATURE_K, STANDARD_PRESSURE_PA),
        3600.0 * rate * grams,
        float(time[peak + 1]) / 3600.0,
        rate / (others + dry_gas(scenario)) if rate > 0.0 else 0.0,
        0.01 * shelf[flammable].value if flammable in shelf else None,
        needs,
        None if air is None else steady_fraction(flow, air, mixing),
    )


def limits_of(name: str, shelf: Shelf) -> list[tuple[str, float, str]]:
    """The limits to keep to: words, volume fraction [1], record; the short-term one last."""
    found = []
    if f"limit.{name}.lower_flammable" in shelf:
        record = shelf[f"limit.{name}.lower_flammable"]
        found.append(("a tenth of the lower flammable limit", OF_FLAMMABLE * 0.01 * record.value, record.name))
    record = shelf[f"limit.{name}.short_term"]
    found.append((f"the short-term limit of {record.value:g} mL/m3", PER_MILLION * record.value, record.name))
    return found


def trap_for(run: Run, scenario: Scenario, shelf: Shelf) -> Trap:
    """A trap for all the acetaldehyde that leaves: NaHSO3 + RCHO -> the addition compound, 1:1; or cold water."""
    amount = float(vented(run, TRAPPED)[-1])
    excess = shelf["trap.excess"].value
    T = scenario.hazard.trap_K or shelf["trap.temperature"].value + CELSIUS_ZERO_K
    henry = shelf[f"{TRAPPED}.henry"](T, FLOATS) / free_fraction(shelf[f"{TRAPPED}.hydration"](T, FLOATS))
    hot_s = sum(s.end_s - s.start_s for s in run.trajectory.segments if s.stage == "hold") if run.trajectory else 0.0
    gas = dry_gas(scenario) * hot_s + amount
    return Trap(
        amount,
        {name: excess * share * amount * molar_mass_of(formula, shelf) for name, (formula, share) in BISULFITE.items()},
        excess,
        trap_water(gas, henry, scenario.heating.pressure_Pa, KEPT),
        T,
        KEPT,
    )


def closed_vessel(run: Run, scenario: Scenario, shelf: Shelf) -> Closed:
    """Pressure of a closed vessel at the hold temperature, with all acetaldehyde of the run still in its water."""
    hot = [k for k, stage in enumerate(run.series.stage) if stage == "hold"] or [len(run.series.stage) - 1]
    T, end = float(run.series.temperature_K[hot[-1]]), hot[-1]
    start_K = scenario.heating.start_K
    solute = 0.0
    if TRAPPED in run.series.flask_mol:
        amount = float(run.series.flask_mol[TRAPPED][end] + run.series.left_mol.get(TRAPPED, np.zeros(end + 1))[end])
        free = free_fraction(shelf[f"{TRAPPED}.hydration"](T, FLOATS))
        solute = 1000.0 * amount / float(run.series.water_L[end]) * free / shelf[f"{TRAPPED}.henry"](T, FLOATS)
    saturation = shelf["water.saturation_pressure"]
    water, air = saturation(T, FLOATS), scenario.heating.pressure_Pa - saturation(start_K, FLOATS)
    return Closed(T, water, air * T / start_K, solute, closed_pressure(water, air, solute, start_K, T))


# ---------------------------------------------------------------- statements


@cache
def statement_texts() -> Mapping[str, tuple[str, str]]:
    """GHS statements of the shelf by substance: codes with words, and their source."""
    text = files("kinetics.data").joinpath("cautions.toml").read_text(encoding="utf-8")
    return {
        entry["substance"]: ("; ".join(f"{code} {words}" for code, words in entry["codes"].items()), entry["source"])
        for entry in tomllib.loads(text)["statement"]
    }


def statements_of(run: Run, scenario: Scenario) -> tuple[tuple[str, str, str], ...]:
    """The statements of what is charged and of what forms, in the order of the charge."""
    charged = [c.substance for c in (*scenario.charges, *(c for a in scenario.additions for c in a.charges))]
    charged = ["sodium carbonate" if name == "baked sodium bicarbonate" else name for name in charged]
    formed = [name for name in run.series.flask_mol if name not in (*charged, WATER)]
    texts = statement_texts()
    return tuple((name, *texts[name]) for name in dict.fromkeys((*charged, *formed)) if name in texts)
