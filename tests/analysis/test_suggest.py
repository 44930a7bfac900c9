"""The next sample: the formula against conditioning of a joint normal, and the choice among candidates."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest

from kinetics.analysis import suggest as suggest_module
from kinetics.analysis.calibration_file import Calibration, Counted
from kinetics.analysis.measurements import Measurement, Measurements
from kinetics.analysis.predictions import QUANTITIES, Asked
from kinetics.analysis.suggest import (
    TargetError,
    candidate_times,
    check_target,
    linearised,
    suggest,
    variance_after,
)
from kinetics.data.shelf import Shelf
from kinetics.run.scenario import Scenario

AIR = "apparatus.air_exchange"


def test_expected_variance_is_that_of_the_conditioned_normal() -> None:
    """Against the inverse of the precision matrix with the measurement's information added."""
    rng = np.random.default_rng(3)
    root = rng.standard_normal((5, 5))
    covariance = root @ root.T
    g, h, sd = rng.standard_normal(5), rng.standard_normal(5), 0.7
    after = np.linalg.inv(np.linalg.inv(covariance) + np.outer(h, h) / sd**2)
    now, then = variance_after(covariance, g, h, sd)
    assert now == pytest.approx(g @ covariance @ g)
    assert then == pytest.approx(g @ after @ g)
    assert variance_after(np.eye(1), np.ones(1), np.ones(1), 1.0) == (1.0, 0.5)


@pytest.fixture
def demonstration(batch: Callable[..., Scenario]) -> Scenario:
    charge = {"water": "400 mL", "cinnamaldehyde": "1.5 g", "sodium carbonate": "4 g"}
    return batch(charge, heating={"hold": "2 h", "boil_up": "2.5 mL/min"})


def calibrated(scenario: Scenario, last_s: float = 1800.0):
    """A calibration that has the air exchange at 0.4 +- 0.5 after one sample of conversion."""
    item = Measurement(2, scenario.title, Asked(0, last_s, "conversion"), 0.6, 0.02)
    measurements = Measurements((item,), (scenario,))
    calibration = Calibration(
        "cinnamaldehyde", (AIR,), np.array([0.4]), np.array([[0.25]]), (Counted(3.0, None, None, (10.0,)),)
    )
    return SimpleNamespace(measurements=measurements, calibration=calibration)


def test_candidates_are_still_to_come_and_within_the_hold(demonstration: Scenario) -> None:
    times = candidate_times(demonstration, 1800.0)
    assert min(times) > 1800.0 and max(times) == demonstration.heating.hold_s
    assert times == sorted(times) and all(t % 300.0 == 0.0 for t in times)
    assert candidate_times(demonstration, demonstration.heating.hold_s) == []


def test_the_best_candidate_removes_most(monkeypatch: pytest.MonkeyPatch, demonstration: Scenario) -> None:
    """One parameter of variance 1: the candidate with the largest slope over its standard deviation wins."""

    def invented(scenario, asked, calibration, shelf, mechanisms=None, executor=None):
        slopes = [[0.01 * one.time_s / 3600.0 if one.quantity == "yield" else 0.001] for one in asked]
        slopes[-1] = [0.05]
        return np.full(len(asked), 0.5), np.array(slopes), np.eye(1)

    monkeypatch.setattr(suggest_module, "linearised", invented)
    found = suggest(calibrated(demonstration), "conversion")
    assert found is not None
    assert (found.best.quantity, found.best.time_s) == ("yield", 7200.0)
    assert found.best.variance_removed == pytest.approx(0.02**2 / (0.02**2 + 0.02**2))
    assert found.best.sd_before == pytest.approx(0.05)
    assert found.best.sd_after == pytest.approx(0.05 * np.sqrt(0.5))
    assert found.earliest.time_s == min(
        t for t in candidate_times(demonstration, 1800.0) if (r := (t / 7200.0) ** 2) / (1 + r) >= 0.8 * 0.5
    )
    assert found.by_quantity[0].quantity == "yield" and len(found.by_quantity) == len(QUANTITIES)
    assert found.to_json()["best"]["variance_removed"] == pytest.approx(0.5)


def test_gradients_are_taken_over_all_that_is_uncertain(demonstration: Scenario, shelf: Shelf) -> None:
    """The spread of the forecast from gradient and covariance, against samples run through the model."""
    from kinetics.analysis.ensemble import draw
    from kinetics.analysis.predictions import Predictor

    calibration = calibrated(demonstration).calibration
    asked = [Asked(0, 7200.0, "byproduct in trap")]
    values, slopes, covariance = linearised(demonstration, asked, calibration, shelf)
    spread = float(np.sqrt(slopes[0] @ covariance @ slopes[0]))
    prior = calibration.prior_for(demonstration, shelf)
    z = prior.mean[:, None] + 0.1 * (draw(prior, 64, 1) - prior.mean[:, None])  # close by, where it is linear
    samples = Predictor([demonstration], asked, prior.names, shelf)(z)[0]
    assert np.std(samples) / 0.1 == pytest.approx(spread, rel=0.25)  # 64 samples: 9 % standard error
    assert np.median(samples) == pytest.approx(values[0], rel=0.05)


def test_a_run_that_is_over_gets_no_suggestion(demonstration: Scenario) -> None:
    assert suggest(calibrated(demonstration, demonstration.heating.hold_s), "conversion") is None


def test_unknown_targets_are_refused() -> None:
    with pytest.raises(TargetError, match="conversion"):
        check_target("conversoin")
