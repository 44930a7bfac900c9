"""Invented networks whose course has a closed form, through a scenario and the integration path of every single run.

The substrates are files (kinetics/data/invented), the batches those of the dossier (kinetics/data/checks/closed_forms.toml);
the reactions run in water at 40 C and no water takes part, so the volume stays what it was.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from kinetics.analysis import check_runs
from kinetics.analysis.checks import load_checks
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import load_shelf
from kinetics.run.batch import Samples, integrate_batch
from kinetics.run.integrate import RTOL, Trajectory, integrate
from kinetics.run.scenario import Scenario

T_C, T = 40.0, 313.15
CHARGED, WATER = 0.2, 55.5  # mol
HOLD_S = 7200.0
SHELF = load_shelf()
LITRES = WATER * 18.015268 / SHELF["water.density"](T, FLOATS)  # molar mass: IAPWS
DOSSIER = [check for check in load_checks() if check.authority == "closed_forms" and "t_C" in check.subject]
BATCHES = DOSSIER[0].subject["batches"]
K1, K2 = 6e-4, 2.5e-4  # 1/s
K_ISOMERS, K_SPLIT = 1.7, 0.05  # 1, mol/L


def isomers_course(t: np.ndarray) -> dict[str, np.ndarray]:
    """A <-> B: x = x_eq (1 - exp(-(k + k/K) t)), x_eq = K/(1 + K)."""
    x = CHARGED * K_ISOMERS / (1.0 + K_ISOMERS) * -np.expm1(-K1 * (1.0 + 1.0 / K_ISOMERS) * t)
    return {"alpha": CHARGED - x, "beta": x}


def chain_course(t: np.ndarray) -> dict[str, np.ndarray]:
    """A -> B -> C: B = k1/(k2 - k1) (exp(-k1 t) - exp(-k2 t))."""
    a = CHARGED * np.exp(-K1 * t)
    b = CHARGED * K1 / (K2 - K1) * (np.exp(-K1 * t) - np.exp(-K2 * t))
    return {"alpha": a, "beta": b, "gamma": CHARGED - a - b}


def split_course(t: np.ndarray) -> dict[str, np.ndarray]:
    """A <-> B + C: dc/dt = k (a - c) - (k/K) c^2 = (k/K) (p - c)(c - q), p > 0 > q the roots of c^2 + K c = K a.

    ln((c - q)/(p - c)) rises by (k/K) (p - q) t, so c = p q (1 - e)/(q - p e) with e = exp(-(k/K)(p - q) t).
    """
    a, K = CHARGED / LITRES, K_SPLIT
    root = np.sqrt(0.25 * K * K + K * a)
    p, q = root - 0.5 * K, -root - 0.5 * K
    e = np.exp(-K1 / K * (p - q) * t)
    x = LITRES * p * q * (1.0 - e) / (q - p * e)
    return {"alpha": CHARGED - x, "half": x, "rest": x}


CASES = {"isomers": isomers_course, "chain": chain_course, "split": split_course}
TIMES = np.linspace(0.0, HOLD_S, 25)


def scenario_of(case: str) -> Scenario:
    """The batch of the dossier of that name."""
    return check_runs.scenario_of(BATCHES[case], T_C)


def worst(course: Trajectory, exact: Callable[[np.ndarray], dict[str, np.ndarray]]) -> float:
    """Largest deviation over times and species, of the charge."""
    assert course.failure is None
    amounts, expected = np.array(course.states), exact(np.array(course.times))
    return max(np.abs(amounts[:, course.network.position(n)] - x).max() for n, x in expected.items()) / CHARGED


@pytest.mark.parametrize("case", CASES)
def test_course_is_the_closed_form(case: str) -> None:
    """Within ten times the relative tolerance of 1e-6, at every output time."""
    course = integrate(scenario_of(case), times=TIMES.tolist())
    assert len(course.times) == len(TIMES)
    assert worst(course, CASES[case]) <= 10.0 * RTOL


def test_the_dossier_lists_the_closed_form() -> None:
    """Each share in closed_forms.toml, to its eight digits."""
    assert {check.subject["of"] for check in DOSSIER} == set(CASES)
    for check in DOSSIER:
        hours, shares = np.array(check.points).T
        exact = CASES[check.subject["of"]](3600.0 * hours)[check.subject["species"]] / CHARGED
        assert shares == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize("case", CASES)
def test_error_goes_with_the_tolerance(case: str) -> None:
    """From 1e-4 to 1e-8 in steps of ten the error stays within thirty times the tolerance, and falls a thousandfold."""
    scenario, exact = scenario_of(case), CASES[case]
    tolerances = [1e-4, 1e-5, 1e-6, 1e-7, 1e-8]
    errors = [worst(integrate(scenario, rtol=rtol, times=TIMES.tolist()), exact) for rtol in tolerances]
    assert all(error <= 30.0 * rtol for error, rtol in zip(errors, tolerances)), errors
    assert errors[-1] <= 1e-3 * errors[0], errors


@pytest.mark.parametrize("case", CASES)
def test_batch_path_is_the_closed_form_and_the_single_run(case: str) -> None:
    """The array path at 1e-6: within ten times that of the closed form, and within twenty of the single run."""
    scenario, exact = scenario_of(case), CASES[case]
    batch = integrate_batch(scenario, SHELF, Samples(2), TIMES.tolist())
    assert not batch.failures
    single = integrate(scenario, times=TIMES.tolist())
    for name, x in exact(TIMES).items():
        i = batch.network.position(name)
        for k in range(2):
            assert np.abs(batch.states[:, i, k] - x).max() <= 10.0 * RTOL * CHARGED
            assert np.abs(batch.states[:, i, k] - np.array(single.states)[:, i]).max() <= 20.0 * RTOL * CHARGED
