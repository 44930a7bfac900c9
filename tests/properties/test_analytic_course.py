"""Invented networks whose course has a closed form, through a scenario and the integration path of every single run.

The substrates are files; the reactions run in water at 40 C and no water takes part, so the volume stays what it was.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import load_shelf
from kinetics.run.batch import Samples, integrate_batch
from kinetics.run.integrate import RTOL, Trajectory, integrate
from kinetics.run.reading import read_document
from kinetics.run.scenario import Scenario

T_C, T = 40.0, 313.15
CHARGED, WATER = 0.2, 55.5  # mol
HOLD_S = 7200.0
SHELF = load_shelf()
LITRES = WATER * 18.015268 / SHELF["water.density"](T, FLOATS)  # molar mass: IAPWS
HEAD = """
name = "{name}"
title = "Invented species"
substrate = "alpha"
product = "{product}"
by_product = "{by_product}"
[common]
sigma = 0.0
status = "estimate"
source = "invented"
[species]
alpha = {{formula = "C8H8O4", kind = "organic"}}
beta = {{formula = "C8H8O4", kind = "organic"}}
gamma = {{formula = "C8H8O4", kind = "organic"}}
half = {{formula = "C3H4O2", kind = "organic"}}
rest = {{formula = "C5H4O2", kind = "organic"}}
"""
STEP = """
[[step]]
name = "{name}"
mechanism = "cleavage"
stoichiometry = {{{stoichiometry}}}
orders = {{{reactant} = 1}}
reference_K = 313.15
reversible = {reversible}
k = {{value = {k}, unit = "1/s"}}
Ea = {{value = 50.0, unit = "kJ/mol"}}
"""
EQUILIBRIUM = """
[[equilibrium]]
name = "only"
stoichiometry = {{{stoichiometry}}}
K = {{value = {K}, unit = "{unit}"}}
dH = {{value = 0.0, unit = "kJ/mol"}}
"""
K1, K2 = 6e-4, 2.5e-4  # 1/s
K_ISOMERS, K_SPLIT = 1.7, 0.05  # 1, mol/L


def isomers() -> str:
    step = STEP.format(name="there", stoichiometry="alpha = -1, beta = 1", reactant="alpha", reversible="true", k=K1)
    ledger = EQUILIBRIUM.format(stoichiometry="alpha = -1, beta = 1", K=K_ISOMERS, unit="1")
    return HEAD.format(name="isomers", product="beta", by_product="") + ledger + step


def isomers_course(t: np.ndarray) -> dict[str, np.ndarray]:
    """A <-> B: x = x_eq (1 - exp(-(k + k/K) t)), x_eq = K/(1 + K)."""
    x = CHARGED * K_ISOMERS / (1.0 + K_ISOMERS) * -np.expm1(-K1 * (1.0 + 1.0 / K_ISOMERS) * t)
    return {"alpha": CHARGED - x, "beta": x}


def chain() -> str:
    first = STEP.format(name="first", stoichiometry="alpha = -1, beta = 1", reactant="alpha", reversible="false", k=K1)
    second = STEP.format(name="second", stoichiometry="beta = -1, gamma = 1", reactant="beta", reversible="false", k=K2)
    return HEAD.format(name="chain", product="gamma", by_product="") + first + second


def chain_course(t: np.ndarray) -> dict[str, np.ndarray]:
    """A -> B -> C: B = k1/(k2 - k1) (exp(-k1 t) - exp(-k2 t))."""
    a = CHARGED * np.exp(-K1 * t)
    b = CHARGED * K1 / (K2 - K1) * (np.exp(-K1 * t) - np.exp(-K2 * t))
    return {"alpha": a, "beta": b, "gamma": CHARGED - a - b}


def split() -> str:
    parts = "alpha = -1, half = 1, rest = 1"
    ledger = EQUILIBRIUM.format(stoichiometry=parts, K=K_SPLIT, unit="mol/L")
    step = STEP.format(name="apart", stoichiometry=parts, reactant="alpha", reversible="true", k=K1)
    return HEAD.format(name="split", product="half", by_product="rest") + ledger + step


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


CASES = {"A <-> B": (isomers, isomers_course), "A -> B -> C": (chain, chain_course), "A <-> B + C": (split, split_course)}
TIMES = np.linspace(0.0, HOLD_S, 25)


def scenario_of(text: str, folder: Path) -> Scenario:
    path = folder / "invented.toml"
    path.write_text(text, encoding="utf-8")
    return read_document(
        {
            "title": "a closed form",
            "substrate": str(path),
            "charge": {"water": f"{WATER} mol", "alpha": f"{CHARGED} mol"},
            "heating": {"start": f"{T_C} degC", "ramp": "0 min", "cooling": "0 min", "hold": f"{HOLD_S / 60.0} min",
                        "temperature": f"{T_C} degC"},
            "vessel": {"closed": True, "stirring": "gentle"},
        }
    )  # fmt: skip


def worst(course: Trajectory, exact: Callable[[np.ndarray], dict[str, np.ndarray]]) -> float:
    """Largest deviation over times and species, of the charge."""
    assert course.failure is None
    amounts, expected = np.array(course.states), exact(np.array(course.times))
    return max(np.abs(amounts[:, course.network.position(n)] - x).max() for n, x in expected.items()) / CHARGED


@pytest.mark.parametrize("case", CASES)
def test_course_is_the_closed_form(case: str, tmp_path: Path) -> None:
    """Within ten times the relative tolerance of 1e-6, at every output time."""
    text, exact = CASES[case]
    course = integrate(scenario_of(text(), tmp_path), times=TIMES.tolist())
    assert len(course.times) == len(TIMES)
    assert worst(course, exact) <= 10.0 * RTOL


@pytest.mark.parametrize("case", CASES)
def test_error_goes_with_the_tolerance(case: str, tmp_path: Path) -> None:
    """From 1e-4 to 1e-8 in steps of ten the error stays within thirty times the tolerance, and falls a thousandfold."""
    text, exact = CASES[case]
    scenario = scenario_of(text(), tmp_path)
    tolerances = [1e-4, 1e-5, 1e-6, 1e-7, 1e-8]
    errors = [worst(integrate(scenario, rtol=rtol, times=TIMES.tolist()), exact) for rtol in tolerances]
    assert all(error <= 30.0 * rtol for error, rtol in zip(errors, tolerances)), errors
    assert errors[-1] <= 1e-3 * errors[0], errors


@pytest.mark.parametrize("case", CASES)
def test_batch_path_is_the_closed_form_and_the_single_run(case: str, tmp_path: Path) -> None:
    """The array path at 1e-6: within ten times that of the closed form, and within twenty of the single run."""
    text, exact = CASES[case]
    scenario = scenario_of(text(), tmp_path)
    batch = integrate_batch(scenario, SHELF, Samples(2), TIMES.tolist())
    assert not batch.failures
    single = integrate(scenario, times=TIMES.tolist())
    for name, x in exact(TIMES).items():
        i = batch.network.position(name)
        for k in range(2):
            assert np.abs(batch.states[:, i, k] - x).max() <= 10.0 * RTOL * CHARGED
            assert np.abs(batch.states[:, i, k] - np.array(single.states)[:, i]).max() <= 20.0 * RTOL * CHARGED
