"""Numbers of the job around the flask that are set beside published ones: stoichiometry, ventilation, distillation, recovery."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import nan
from typing import Any

from kinetics.analysis.baking import largest_loss
from kinetics.analysis.check_runs import batch_of, experiment, scenario_of
from kinetics.analysis.distillation import boiling_temperature, rayleigh_left, simple_distillation
from kinetics.analysis.hazard import PER_MILLION, dilution_air, vapour_volume
from kinetics.analysis.ledger import ledger_of
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf
from kinetics.data.units import CELSIUS_ZERO_K, STANDARD_PRESSURE_PA
from kinetics.run.feeding import titrated_fraction
from kinetics.run.reading_charges import BICARBONATE, CARBONATE

Subject = Mapping[str, Any]
MMHG_PA = STANDARD_PRESSURE_PA / 760.0


def boiling_point(shelf: Shelf, species: str, mmHg: float) -> float:
    """Boiling point [degC] at a pressure [mmHg]."""
    return boiling_temperature(lambda T: shelf[f"{species}.vapour_pressure"](T, FLOATS), mmHg * MMHG_PA) - CELSIUS_ZERO_K


def titration_equivalent(shelf: Shelf, species: str, titrant: float) -> float:
    """Aldehyde [mg] that 1 mL of a hydroxylamine titration tells, titrant [mol/L]."""
    return 1000.0 * titrated_fraction(1e-3, titrant, 1.0, shelf.substance(species).molar_mass, 1e-3)


def calcination_loss(shelf: Shelf, _: Any, converted: float) -> float:
    """Loss of mass [%] of bicarbonate of which the part `converted` [1] has turned to carbonate."""
    carbonate_M, bicarbonate_M = (shelf.substance(name).molar_mass for name in (CARBONATE, BICARBONATE))
    return 100.0 * converted * largest_loss(bicarbonate_M, carbonate_M)


def ventilation(_: Shelf, subject: Subject, mixing: float) -> float:
    """Dilution air [m3/h] for `mol_per_h` of a vapour at `t_C` [degC] and a limit of `ppm` [mL/m3]."""
    vapour = vapour_volume(subject["mol_per_h"], subject["t_C"] + CELSIUS_ZERO_K, STANDARD_PRESSURE_PA)
    return dilution_air(vapour, PER_MILLION * subject["ppm"], mixing)


def distilled(_: Shelf, subject: Subject, left: float) -> float:
    """What is left of the faster of two [1] once `left` [1] of the slower is, integrated at one relative `volatility`."""
    amounts, masses, alpha = {"fast": 0.4, "slow": 0.6}, {"fast": 78.0, "slow": 92.0}, subject["volatility"]

    def slow(T: float, m: Any) -> float:
        return float(m.exp(24.0 - 6000.0 / T))

    ends = {"fast": rayleigh_left(left, alpha), "slow": left}  # tells where to stop
    whole, rest = (sum(masses[n] * amounts[n] * part[n] for n in amounts) for part in (dict.fromkeys(amounts, 1.0), ends))
    pressures = {"fast": lambda T, m: alpha * slow(T, m), "slow": slow}
    course = simple_distillation(amounts, masses, pressures, 5000.0, 1.0 - rest / whole)
    return float(course.left["fast"][-1] / amounts["fast"])


def overall(shelf: Shelf, subject: Subject, hours: float) -> float:
    """Product in the bottle per product that there could be [1], after a batch with a hold of so many hours."""
    batch = batch_of(subject)
    batch = {**batch, "heating": {**batch["heating"], "hold": f"{hours:g} h"}}
    share = ledger_of(experiment(shelf, batch), scenario_of(batch), shelf).overall
    return nan if share is None else float(share)


WORKUP_MEASURES: Mapping[str, Callable[[Shelf, Any, float], float]] = {
    "boiling point": boiling_point,
    "titration equivalent": titration_equivalent,
    "calcination loss": calcination_loss,
    "dilution air": ventilation,
    "simple distillation": distilled,
    "overall": overall,
}
