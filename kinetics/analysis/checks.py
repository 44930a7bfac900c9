"""Published values beside ours: what is compared, from which source, how far apart the two may lie and why.

The published numbers stand in kinetics/data/checks, one file for each authority; nothing in them is computed here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import log, nan, sqrt
from typing import Any

from kinetics.analysis.check_runs import RUN_MEASURES
from kinetics.analysis.check_workup import WORKUP_MEASURES
from kinetics.analysis.initial_value_problems import PROBLEMS, end_state, order_of_convergence
from kinetics.chemistry.pitzer import PitzerParameters, pitzer_activities
from kinetics.chemistry.speciation import Speciation, Totals, speciate
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.balance import activity_model
from kinetics.flask.boil import boil_point, saturation_temperature
from kinetics.flask.conditions import Conditions, conditions_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import STRONG_IONS, Network, build_network
from kinetics.run.integrate import NumericalFailure
from kinetics.run.reading_conditions import pressure_at_altitude

CELSIUS_ZERO_K = 273.15
STANDARD_PRESSURE_PA = 101325.0
HEAT_OF_FUSION = 6007.0  # J/mol at 0 degC, IAPWS R10-06(2009)
HEAT_CAPACITY_OF_FUSION = 38.2  # J/mol/K at 0 degC, water less ice, of the same
LN10 = log(10.0)
STATUSES = ("read", "from memory", "closed form", "common practice")  # seen in print, not seen, exact, in no print
Published = float | tuple[float, float]


@dataclass(frozen=True)
class Check:
    """One published table against the model.

    authority: the stem of its file; source: the publication; status: one of STATUSES; measure: what of ours it is
    compared with (a key of MEASURES), of `subject`; at: unit of the first column of `points`, the second being
    published, in `unit` (a band where there are two); tolerance: largest difference [unit, or 1 where `relative`];
    argued: why so much; fails: why the check is known to fail, empty where it should hold.
    """

    authority: str
    source: str
    status: str
    what: str
    unit: str
    measure: str
    at: str
    tolerance: float
    argued: str
    points: tuple[tuple[float, Published], ...]
    subject: Any = None
    relative: bool = False
    fails: str = ""

    def ours(self, at: float, shelf: Shelf | None = None) -> float:
        """The model's value [unit] for an entry of the first column; not a number where the run for it failed."""
        try:
            return MEASURES[self.measure](shelf or load_shelf(), self.subject, at)
        except NumericalFailure:
            return nan

    def apart(self, ours: float, published: Published) -> float:
        """Ours less published (the nearest of a band) [unit], the logarithm of their ratio where that is meant."""
        ends = band_of(published)
        nearest = min(max(ours, ends[0]), ends[-1])
        return log(ours / nearest) if self.relative else ours - nearest

    def deviation(self, at: float, published: Published, shelf: Shelf | None = None) -> float:
        """How far ours lies apart from what is published for an entry of the first column."""
        return self.apart(self.ours(at, shelf), published)


def band_of(published: Published) -> tuple[float, ...]:
    """The ends of a band, or the one number."""
    return published if isinstance(published, tuple) else (published,)


@cache
def load_checks() -> tuple[Check, ...]:
    """Every check, in the order of the files and within them."""
    folder = sorted(files("kinetics.data").joinpath("checks").iterdir(), key=lambda file: file.name)
    found = []
    for file in folder:
        table = tomllib.loads(file.read_text(encoding="utf-8"))
        shared = {"authority": file.name.removesuffix(".toml"), "source": table["source"], "status": table["status"]}
        for entry in table["check"]:
            for one in entry.pop("each", [{}]):
                found.append(_check({**shared, **entry}, one, table.get("batch")))
    return tuple(found)


def _check(entry: dict[str, Any], one: Mapping[str, Any], batches: Mapping[str, Any] | None) -> Check:
    """The check of an entry, or of one of the variants in its `each`: fields that differ, subjects put together.

    `what` may name parts of the subject in braces; the file's batches become part of it.
    """
    whole = {**entry, **one}
    if isinstance(whole.get("subject"), dict):
        whole["subject"] = {**entry.get("subject", {}), **whole["subject"]}
        whole["what"] = whole["what"].format_map(whole["subject"])
        if batches:
            whole["subject"]["batches"] = batches
    points = [[float(value) for value in point] for point in whole["points"]]
    whole["points"] = tuple((at, (rest[0], rest[1]) if len(rest) > 1 else rest[0]) for at, *rest in points)
    return Check(**whole)


# ---------------------------------------------------------------- liquors


@cache
def network_of(shelf: Shelf) -> Network:
    return build_network(shelf.substrate("cinnamaldehyde"), shelf, Mechanisms())


def speciated(shelf: Shelf, T: float, alkali: float, carbon: float) -> tuple[Conditions, Speciation]:
    """Sodium carbonate liquor of these totals [mol/kg] at T [K]."""
    network = network_of(shelf)
    conditions = conditions_at(network, shelf, T, 0.0, FLOATS)
    totals = Totals(alkali, 0.0, 0.0, carbon, tuple(0.0 for _ in network.acids))
    state = speciate(totals, conditions.acid_base, activity_model(network, conditions, FLOATS), FLOATS)
    return conditions, state


def totals_of_salt(shelf: Shelf, salt: str, mass_percent: float) -> tuple[float, float]:
    """Sodium and inorganic carbon [mol per kg of water] of a solution of that many mass percent of a salt."""
    substance = shelf.substance(salt)
    molality = 1000.0 * mass_percent / (100.0 - mass_percent) / substance.molar_mass
    parts = substance.components
    if any(parts.get(ion) for ion in STRONG_IONS if ion != "sodium"):
        raise ValueError(f"{salt}: expected a salt of sodium")
    return molality * parts.get("sodium", 0.0), molality * parts.get("inorganic carbon", 0.0)


def exchanged(p: PitzerParameters) -> PitzerParameters:
    """The parameters with chloride and bicarbonate in each other's place; hydroxide, hardly there, meets neither."""

    def swap(four: tuple) -> tuple[Any, Any, Any, Any]:
        hydroxide, bicarbonate, carbonate, chloride = four
        return hydroxide, chloride, carbonate, bicarbonate

    return p._replace(
        beta0=swap(p.beta0),
        beta1=swap(p.beta1),
        C=swap(p.C),
        psi_metals=swap(p.psi_metals),
        theta_hco3_co3=p.theta_cl_co3,
        theta_cl_co3=p.theta_hco3_co3,
        psi_hco3_co3=p.psi_cl_co3,
        psi_cl_co3=p.psi_hco3_co3,
        theta_cl_oh=0.0,
        psi_cl_oh=0.0,
    )


def trace_chloride(alkali: float, state: Speciation, conditions: Conditions) -> float:
    """ln gamma of a trace of chloride in a carbonate buffer: that of bicarbonate in the exchanged mixture."""
    return pitzer_activities(
        alkali, 0.0, state.hydroxide, 0.0, state.carbonate, state.bicarbonate, 0.0, exchanged(conditions.pitzer), FLOATS
    ).ln_bicarbonate


def bates_guggenheim(ionic_strength: float, debye_huckel: float) -> float:
    """ln gamma of chloride by convention: -A I^1/2/(1 + 1.5 I^1/2), A = 3 A_phi. Pure Appl. Chem. 1 (1960) 163."""
    root = sqrt(ionic_strength)
    return -3.0 * debye_huckel * root / (1.0 + 1.5 * root)


# ---------------------------------------------------------------- what is compared


def conventional_pH(shelf: Shelf, buffer: Mapping[str, float], t_C: float) -> float:
    """pH on the NBS scale: p(a_H gamma_Cl) by Pitzer, plus log gamma_Cl by the convention."""
    conditions, state = speciated(shelf, t_C + CELSIUS_ZERO_K, **buffer)
    I = 0.5 * (buffer["alkali"] + state.hydroxide + state.bicarbonate + 4.0 * state.carbonate)
    convention = bates_guggenheim(I, conditions.debye_huckel)
    return state.pH + (convention - trace_chloride(buffer["alkali"], state, conditions)) / LN10


def freezing_point_depression(shelf: Shelf, salt: str, mass_percent: float) -> float:
    """Depression [K] at which ice has the activity of the liquor's water, by Newton from the activity at 0 degC."""
    _, state = speciated(shelf, CELSIUS_ZERO_K, *totals_of_salt(shelf, salt, mass_percent))
    R, T0, T = shelf["physics.gas_constant"].value, CELSIUS_ZERO_K, CELSIUS_ZERO_K - 1.0
    for _ in range(20):
        of_ice = HEAT_OF_FUSION / R * (1.0 / T0 - 1.0 / T) + HEAT_CAPACITY_OF_FUSION / R * (T0 / T - 1.0 - log(T0 / T))
        T -= (of_ice - state.activities.ln_water) / (HEAT_OF_FUSION / R / T**2)
    return T0 - T


def boil_point_rise(shelf: Shelf, salt: str, mass_percent: float) -> float:
    """Boil point of the liquor less that of water [K], both at 101325 Pa."""
    network = network_of(shelf)
    alkali, carbon = totals_of_salt(shelf, salt, mass_percent)
    totals = Totals(alkali, 0.0, 0.0, carbon, tuple(0.0 for _ in network.acids))
    T = boil_point(STANDARD_PRESSURE_PA, totals, 0.0, network, shelf)
    return T - saturation_temperature(STANDARD_PRESSURE_PA, shelf)


def henry(shelf: Shelf, species: str, T: float) -> float:
    """Solubility [mol/m3/Pa] of a gas, with its hydrate; of an oil its solubility over its vapour pressure."""
    if f"{species}.henry" in shelf:
        hydrated = shelf[f"{species}.hydration"](T, FLOATS) if f"{species}.hydration" in shelf else 0.0
        return shelf[f"{species}.henry"](T, FLOATS) * (1.0 + hydrated)
    return 1000.0 * shelf[f"{species}.solubility"](T, FLOATS) / shelf[f"{species}.vapour_pressure"](T, FLOATS)


def henry_slope(shelf: Shelf, species: str, t_C: float) -> float:
    """d ln H / d(1/T) [K] by a central difference of 1 K."""
    T = t_C + CELSIUS_ZERO_K
    return log(henry(shelf, species, T - 0.5) / henry(shelf, species, T + 0.5)) / (1.0 / (T - 0.5) - 1.0 / (T + 0.5))


def limiting_activity_coefficient(shelf: Shelf, species: str, t_C: float) -> float:
    """In water, on mole fractions [1]: c_w/S of what forms oil (as pure), c_w/(H p) of the others (free, not hydrated)."""
    T = t_C + CELSIUS_ZERO_K
    water = shelf["water.density"](T, FLOATS) / (1e-3 * shelf.substance("water").molar_mass)
    if f"{species}.henry" in shelf:
        return water / (shelf[f"{species}.henry"](T, FLOATS) * shelf[f"{species}.vapour_pressure"](T, FLOATS))
    return water / (1000.0 * shelf[f"{species}.solubility"](T, FLOATS))


def heteroazeotrope(shelf: Shelf, oil: str, pressure_kPa: float) -> tuple[float, float]:
    """Temperature [K] where water and an oil, each as pure, reach the pressure together; mass fraction of oil in the vapour."""
    of_oil, of_water = shelf[f"{oil}.vapour_pressure"], shelf["water.saturation_pressure"]
    T = 370.0
    for _ in range(30):
        total = of_oil(T, FLOATS) + of_water(T, FLOATS)
        later = of_oil(T + 0.01, FLOATS) + of_water(T + 0.01, FLOATS)
        T -= log(total / (1000.0 * pressure_kPa)) / (log(later / total) / 0.01)
    oil_mass = of_oil(T, FLOATS) * shelf.substance(oil).molar_mass
    return T, oil_mass / (oil_mass + of_water(T, FLOATS) * shelf.substance("water").molar_mass)


def error_over_tolerance(problem: str, path: str, rtol: float) -> float:
    """Largest error of the published components of an end state, in units of rtol (|y| + atol/rtol)."""
    check = next(c for c in load_checks() if c.measure == "end state" and c.subject["problem"] == problem)
    published = [(int(component) - 1, y) for component, y in check.points if isinstance(y, float)]
    end, smallest = end_state(problem, path, rtol), PROBLEMS[problem].atol
    return float(max(abs(end[k] - y) / (smallest[k] + abs(y)) for k, y in published)) / rtol


def exponent_of_error(problem: str, path: str, rtol: float) -> float:
    """d ln(error)/d ln(tolerance) between rtol and its hundredth [1]."""
    first, second = (error_over_tolerance(problem, path, tolerance) for tolerance in (rtol, 0.01 * rtol))
    return 1.0 + log(first / second) / log(100.0)


MEASURES: Mapping[str, Callable[[Shelf, Any, float], float]] = {
    "record": lambda shelf, name, t_C: shelf[name](t_C + CELSIUS_ZERO_K, FLOATS),
    "conventional pH": conventional_pH,
    "freezing point depression": freezing_point_depression,
    "boil point rise": boil_point_rise,
    "pressure at altitude": lambda shelf, _, height_m: pressure_at_altitude(height_m, shelf) / 1000.0,
    "boil point at altitude": lambda shelf, _, height_m: (
        saturation_temperature(pressure_at_altitude(height_m, shelf), shelf) - CELSIUS_ZERO_K
    ),
    "Henry solubility": lambda shelf, species, t_C: henry(shelf, species, t_C + CELSIUS_ZERO_K),
    "Henry slope": henry_slope,
    "limiting activity coefficient": lambda shelf, subject, t_C: limiting_activity_coefficient(
        shelf, subject["species"], t_C
    ),
    "heteroazeotrope": lambda shelf, oil, kPa: heteroazeotrope(shelf, oil, kPa)[0] - CELSIUS_ZERO_K,
    "heteroazeotrope mass percent": lambda shelf, oil, kPa: 100.0 * heteroazeotrope(shelf, oil, kPa)[1],
    "end state": lambda _, subject, component: float(
        end_state(subject["problem"], subject["path"])[int(component) - 1]
    ),
    "order of convergence": lambda _, subject, steps: order_of_convergence(subject["problem"], int(steps)),
    "exponent of the error": lambda _, subject, rtol: exponent_of_error(subject["problem"], subject["path"], rtol),
    **RUN_MEASURES,
    **WORKUP_MEASURES,
}
