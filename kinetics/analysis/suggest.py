"""The next sample: which quantity, measured when, would narrow a prediction most.

Linearised at the best point: with the posterior covariance C, the gradient g of the prediction and h of a candidate
measurement of standard deviation s, the variance g'Cg would become g'Cg - (g'Ch)^2 / (h'Ch + s^2).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np

from kinetics.analysis.calibrate import STEP
from kinetics.analysis.calibration_file import Calibration
from kinetics.analysis.calibration_report import Calibrated
from kinetics.analysis.fitting import Problem
from kinetics.analysis.predictions import QUANTITIES, Asked, Details, Predictor
from kinetics.data.faults import Fault, RefusedInput, listed, nearest, quoted
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.units import ROOM_TEMPERATURE_K
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.scenario import Scenario

Array = np.ndarray
TIMES = 12  # candidate moments
ROUND_S = 300.0  # moments in whole five minutes
NEARLY = 0.8  # of the best gain: the earliest moment with that much is named as well


class TargetError(RefusedInput):
    """A prediction that cannot be asked for."""


@dataclass(frozen=True)
class Candidate:
    """One possible measurement: what, when [s from the start of the heating], and what the variance would become.

    sd_before, sd_after: standard deviation of the prediction now, and expected with this measurement.
    """

    quantity: str
    time_s: float
    measurement_sd: float
    sd_before: float
    sd_after: float

    @property
    def variance_removed(self) -> float:
        """Part of the prediction's variance that would go [1]."""
        return 1.0 - (self.sd_after / self.sd_before) ** 2 if self.sd_before > 0.0 else 0.0


@dataclass(frozen=True)
class Suggestion:
    """The best next measurement, the earliest that is nearly as good, and the best of each quantity."""

    target: str
    run: str
    best: Candidate
    earliest: Candidate
    by_quantity: tuple[Candidate, ...]

    def to_json(self) -> dict[str, Any]:
        def plain(one: Candidate) -> dict[str, Any]:
            return vars(one) | {"variance_removed": one.variance_removed}

        return {
            "target": self.target,
            "run": self.run,
            "best": plain(self.best),
            "earliest": plain(self.earliest),
            "by_quantity": [plain(one) for one in self.by_quantity],
        }


def variance_after(covariance: Array, target: Array, candidate: Array, sd: float) -> tuple[float, float]:
    """Variance of a linear prediction now and expected after one more measurement (the formula of this module).

    covariance (n, n) of the parameters; target, candidate (n,): gradients; sd of the measurement, in its own unit.
    For one parameter of variance 1, measured directly with sd 1, it falls from 1 to one half.
    """
    now = float(target @ covariance @ target)
    shared = float(target @ covariance @ candidate)
    return now, now - shared**2 / (float(candidate @ covariance @ candidate) + sd**2)


def check_target(name: str) -> None:
    """Refuse a prediction that is not one of the quantities. Raises TargetError."""
    if name not in QUANTITIES:
        near = nearest(name, QUANTITIES)
        hint = f'Did you mean "{near}"?' if near else ""
        raise TargetError(str(Fault("--suggest", listed(QUANTITIES), quoted(name), hint)))


def candidate_times(scenario: Scenario, after_s: float) -> list[float]:
    """Moments that are still to come, up to the end of the hold, evenly spaced."""
    heating = scenario.heating
    first = max(after_s, heating.ramp_s)
    last = heating.ramp_s + heating.hold_s
    count = min(TIMES, int((last - first) // ROUND_S))
    return [ROUND_S * round((first + (last - first) * k / count) / ROUND_S) for k in range(1, count + 1)]


def suggest(
    calibrated: Calibrated,
    target: str,
    shelf: Shelf | None = None,
    mechanisms: Mechanisms | None = None,
    executor: Executor | None = None,
) -> Suggestion | None:
    """The next measurement of the last run measured, for the target at that run's end.

    Samples are taken as the calibration's measurements were (standard deviation, response factor, temperature of a
    pH), or in the usual way. None where the run is over.
    """
    check_target(target)
    items = calibrated.measurements.items
    position = max(item.asked.run for item in items)
    scenario = calibrated.measurements.scenarios[position]
    mine = [item for item in items if item.asked.run == position]
    times = candidate_times(scenario, max(item.asked.time_s for item in mine))
    if not times:
        return None
    asked, spreads = [], []
    for quantity, known in QUANTITIES.items():
        same = [item for item in items if item.asked.quantity == quantity]
        details = same[-1].asked.details if same else Details(ROOM_TEMPERATURE_K, 1.0)
        asked += [Asked(0, time_s, quantity, details) for time_s in times]
        relative = [item.sd / abs(item.value) for item in same if known.usual_relative and item.value]
        spreads.append((np.median([item.sd for item in same]) if same else known.usual_sd,
                        np.median(relative) if relative else known.usual_relative))  # fmt: skip
    end_s = scenario.heating.ramp_s + scenario.heating.hold_s + scenario.heating.cooling_s
    details = next((one.details for one in asked if one.quantity == target), Details())
    shelf = shelf or load_shelf()
    values, jacobian, covariance = linearised(
        scenario, [*asked, Asked(0, end_s, target, details)], calibrated.calibration, shelf, mechanisms, executor
    )
    candidates = []
    for k, one in enumerate(asked):
        usual, relative_sd = spreads[list(QUANTITIES).index(one.quantity)]
        known = QUANTITIES[one.quantity]
        sd = (
            float(max(known.usual_sd, relative_sd * abs(values[k]))) if known.usual_relative else float(usual)
        )
        now, then = variance_after(covariance, jacobian[-1], jacobian[k], sd)
        candidates.append(Candidate(one.quantity, one.time_s, sd, now**0.5, max(then, 0.0) ** 0.5))
    best = max(candidates, key=lambda one: one.variance_removed)
    enough = [one for one in candidates if one.variance_removed >= NEARLY * best.variance_removed]
    earliest = min(enough, key=lambda one: (one.time_s, -one.variance_removed))
    each = [
        max((one for one in candidates if one.quantity == q), key=lambda one: one.variance_removed)
        for q in QUANTITIES
    ]
    each.sort(key=lambda one: -one.variance_removed)
    return Suggestion(target, mine[-1].run, best, earliest, tuple(each))


def linearised(
    scenario: Scenario,
    asked: Sequence[Asked],
    calibration: Calibration,
    shelf: Shelf,
    mechanisms: Mechanisms | None = None,
    executor: Executor | None = None,
) -> tuple[Array, Array, Array]:
    """Values, Jacobian and covariance over all that is uncertain of a scenario, at the best point."""
    prior = calibration.prior_for(scenario, shelf, mechanisms)
    predictor = Predictor([scenario], asked, prior.names, shelf, mechanisms, executor=executor)
    nothing = np.zeros(len(asked))
    values, jacobian = Problem(predictor, nothing, np.ones(len(asked)), step=STEP).linearised(
        prior.mean[None]
    )
    return values[0], jacobian[0], prior.root @ prior.root.T
