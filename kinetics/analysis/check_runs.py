"""Numbers read out of simulated experiments: fitted constants, ends of closed flasks, amounts at a time.

The experiments are the tables [batch.NAME] of a file of checks: scenarios without a title, held at one temperature where
they say nothing else; `only` names the mechanisms that act, `shifts` the constants moved (in standard uncertainties), and a
substrate that is a file stands in kinetics/data/invented.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from importlib.resources import files
from math import log, nan, prod, sqrt
from typing import Any

import numpy as np

from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.flask.mechanisms import SWITCHES, Mechanisms
from kinetics.run.reading import read_document
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario
from kinetics.run.simulation import simulate

Subject = Mapping[str, Any]
INVENTED = files("kinetics.data").joinpath("invented")
NOT_SCENARIO = ("only", "shifts", "rtol")
CLOSED = 1e-9  # balances of carbon, hydrogen, oxygen and charge
SLACK = 1e-6  # of conversion and yield: the integrator's


def scenario_of(batch: Mapping[str, Any], t_C: float = 25.0) -> Scenario:
    """The scenario of a batch, held at t_C [degC] from the first moment where it says nothing else."""
    held = {
        "start": f"{t_C} degC",
        "temperature": f"{t_C} degC",
        "ramp": "0 min",
        "cooling": "0 min",
        "altitude": "0 m",
    }
    document = {key: value for key, value in batch.items() if key not in NOT_SCENARIO}
    document["heating"] = held | document.get("heating", {})
    if document["substrate"].endswith(".toml"):
        document["substrate"] = str(INVENTED.joinpath(document["substrate"]))
    return read_document({"title": "a check", "condenser": {"coolant": "15 degC"}} | document)


def experiment(shelf: Shelf, batch: Mapping[str, Any], t_C: float = 25.0, hours: float | None = None) -> Run:
    """The run of a batch; with `hours` its output times are that hour of the hold and the end. Raises its failure."""
    return _experiment(shelf, json.dumps(batch), t_C, hours)


@cache
def _experiment(shelf: Shelf, batch_json: str, t_C: float, hours: float | None) -> Run:
    batch = json.loads(batch_json)
    scenario = scenario_of(batch, t_C)
    switches: dict[str, Any] = {name: name in batch.get("only", SWITCHES) for name in SWITCHES}
    times = None if hours is None else [scenario.heating.ramp_s + 3600.0 * hours]
    settings = {"rtol": batch["rtol"]} if "rtol" in batch else {}
    run = simulate(
        scenario,
        shelf=shelf.shifted(batch.get("shifts", {})),
        mechanisms=Mechanisms(**switches),
        times=times,
        **settings,
    )
    if run.failure is not None:
        raise run.failure
    return run


def batch_of(subject: Subject) -> Mapping[str, Any]:
    """The batch that the subject names in `of`."""
    return subject["batches"][subject["of"]]


def molar(run: Run, species: str) -> np.ndarray:
    """Concentration in the water [mol/L]."""
    return run.series.flask_mol[species] / run.series.water_L


# ---------------------------------------------------------------- fitting


def rate_constants(time: np.ndarray, growth: np.ndarray, drivers: Sequence[np.ndarray]) -> np.ndarray:
    """k_j of d growth/dt = sum k_j driver_j, by least squares on the integrated equation (cubic splines)."""
    from scipy.interpolate import CubicSpline

    integrals = [CubicSpline(time, driver).antiderivative()(time) for driver in drivers]
    answer, *_ = np.linalg.lstsq(np.array(integrals).T, growth - growth[0], rcond=None)
    return answer


def first_order_constant(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """-d ln(amount)/dt over [OH-] [L/mol/s] of a species, by a straight line.

    From `after_s` on, where `below` and `above` of it are left.
    """
    run = experiment(shelf, batch_of(subject), t_C)
    amount, time = run.series.flask_mol[subject["species"]], run.series.time_s
    left = amount / amount[0]
    window = (time > subject.get("after_s", -1.0)) & (left > subject["above"]) & (left <= subject.get("below", 1.0))
    slope = np.polyfit(time[window], np.log(amount[window]), 1)[0]
    return float(-slope / run.series.hydroxide_mol_per_L[0])


def activation_energy(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """Of the first-order constant [kJ/mol], from 2.5 K below and above."""
    low, high = t_C - 2.5, t_C + 2.5
    ratio = first_order_constant(shelf, subject, high) / first_order_constant(shelf, subject, low)
    R = shelf["physics.gas_constant"].value
    return R * log(ratio) / (1.0 / (low + CELSIUS_ZERO_K) - 1.0 / (high + CELSIUS_ZERO_K)) / 1000.0


def aldol_constants(shelf: Shelf, subject: Subject, t_C: float) -> tuple[float, float]:
    """k21 and k23 [L/mol/s] from a batch of pure aldol H: rise of the enal E, fall of E + H, the products' return counted.

    `species` names enal, aldol and the two products; the fit goes on until a tenth of the aldol is left.
    """
    run = experiment(shelf, batch_of(subject), t_C)
    enal, aldol, *products = (molar(run, name) for name in subject["species"])
    keep = aldol > 0.1 * aldol[0]
    time, base = run.series.time_s[keep], run.series.hydroxide_mol_per_L[keep]
    enal, aldol, together = enal[keep], aldol[keep], prod(c[keep] for c in products)
    k21, _ = rate_constants(time, enal, [aldol * base, -enal * base])
    k23, _ = rate_constants(time, enal + aldol, [-aldol * base, together * base])
    return float(k21), float(k23)


def fitted_constant(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """k12, k21 or k23 [L/mol/s] or K = k12/k21 of E <-> H -> P: `constant`, from the batches `of` (H) and `slope` (E).

    k12 closes the characteristic equation: s (k12 + k21 + k23 - s) = k12 k23 with s the slope of the enal.
    """
    k21, k23 = aldol_constants(shelf, subject, t_C)
    of_enal = {"batches": subject["batches"], "species": subject["species"][0], **subject["slope"]}
    s = first_order_constant(shelf, of_enal, t_C)
    k12 = s * (k21 + k23 - s) / (k23 - s)
    return {"k12": k12, "k21": k21, "k23": k23, "K": k12 / k21}[subject["constant"]]


def both_readings(shelf: Shelf, t_C: float) -> float:
    """From a constant on total acetaldehyde to the geometric mean of that and the one on free acetaldehyde [1]."""
    return sqrt(1.0 + shelf["acetaldehyde.hydration"](t_C + CELSIUS_ZERO_K, FLOATS))


def addition_constant(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """k [L2/mol2/s] on total acetaldehyde of P + A -> H, from the first minutes of P and A in lye."""
    run = experiment(shelf, batch_of(subject), t_C)
    enal, aldol, *products = (molar(run, name) for name in subject["species"])
    base = run.series.hydroxide_mol_per_L
    forward, _ = rate_constants(run.series.time_s, enal + aldol, [prod(products) * base, -aldol * base])
    return float(forward)


def condensation_constant(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """E/(P A) [L/mol] on total acetaldehyde at the end."""
    run = experiment(shelf, batch_of(subject), t_C)
    enal, _, *products = (float(molar(run, name)[-1]) for name in subject["species"])
    return enal / prod(products)


# ---------------------------------------------------------------- closed flasks


def mass_action(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """Mass-action ratio at the end over the ledger's K(T) [1], of the equilibrium named; acetaldehyde counts free."""
    batch, T = batch_of(subject), t_C + CELSIUS_ZERO_K
    run = experiment(shelf, batch, t_C)
    entry = next(e for e in shelf.substrate(batch["substrate"]).equilibria if e.name == subject["equilibrium"])
    K = entry.K.value * np.exp(-1e3 * entry.dH.value / shelf["physics.gas_constant"].value * (1.0 / T - 1.0 / 298.15))
    ratio = 1.0
    for name, nu in entry.stoichiometry.items():
        if name != "water":
            hydrated = shelf[f"{name}.hydration"](T, FLOATS) if f"{name}.hydration" in shelf else 0.0
            ratio *= (float(molar(run, name)[-1]) / (1.0 + hydrated)) ** nu
    return float(ratio / K)


def ends_apart(shelf: Shelf, subject: Subject, t_C: float) -> float:
    """Largest |ln| of the ratio of a species' amounts at the ends of the batches `of` and `other` [1]."""
    ends = [experiment(shelf, subject["batches"][subject[key]], t_C).series.flask_mol for key in ("of", "other")]
    return max(abs(log(ends[0][name][-1] / ends[1][name][-1])) for name in subject["species"])


# ---------------------------------------------------------------- courses


def share_at(shelf: Shelf, subject: Subject, hours: float) -> float:
    """Amount of a species in the flask at that time of the hold, over what was charged of the substrate [1]."""
    batch = batch_of(subject)
    series = experiment(shelf, batch, subject.get("t_C", 25.0), hours).series
    charged = series.flask_mol[subject["charged"]][0]
    return float(series.flask_mol[subject["species"]][_position(series.time_s, hours)] / charged)


def conversion_at(shelf: Shelf, subject: Subject, hours: float) -> float:
    """Conversion at that hour of the hold [1]."""
    batch = batch_of(subject)
    run = experiment(shelf, batch, hours=hours)
    ramp_h = scenario_of(batch).heating.ramp_s / 3600.0
    assert run.series.conversion is not None
    return float(run.series.conversion[_position(run.series.time_s, ramp_h + hours)])


def _position(time_s: np.ndarray, hours: float) -> int:
    return int(np.argmin(np.abs(time_s - 3600.0 * hours)))


def sensible_conversion(shelf: Shelf, subject: Subject, hours: float) -> float:
    """Conversion after a hold of so many hours with `base` of sodium hydroxide [1]; not a number unless the run is sensible.

    That is: it comes to its end; carbon, hydrogen, oxygen and charge close; nothing is negative; conversion and yield lie
    between 0 and 1 and the yield is no larger.
    """
    batch = batch_of(subject)
    charge = batch["charge"] | {"sodium hydroxide": subject["base"]}
    run = experiment(shelf, {**batch, "charge": charge, "heating": batch["heating"] | {"hold": f"{hours} h"}})
    series, closure = run.series, run.closure
    assert series.conversion is not None and series.yield_ is not None
    faults = (
        max(closure.carbon, closure.hydrogen, closure.oxygen, closure.charge) > CLOSED,
        min(amount.min() for amount in series.flask_mol.values()) < -SLACK * series.flask_mol["cinnamaldehyde"][0],
        series.conversion.min() < -SLACK or series.conversion.max() > 1.0 + SLACK,
        series.yield_.min() < -SLACK or (series.yield_ > series.conversion + SLACK).any(),
    )
    return nan if any(faults) else float(series.conversion[-1])


RUN_MEASURES: Mapping[str, Callable[[Shelf, Any, float], float]] = {
    "first-order constant": first_order_constant,
    "activation energy": activation_energy,
    "fitted constant": fitted_constant,
    "addition constant, both readings": lambda shelf, subject, t_C: (
        both_readings(shelf, t_C) * addition_constant(shelf, subject, t_C)
    ),
    "condensation constant, both readings": lambda shelf, subject, t_C: (
        both_readings(shelf, t_C) * condensation_constant(shelf, subject, t_C)
    ),
    "mass action": mass_action,
    "ends apart": ends_apart,
    "share in the flask": share_at,
    "conversion": conversion_at,
    "sensible conversion": sensible_conversion,
}
