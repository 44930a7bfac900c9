"""25 C, dilute, strong hydroxide: -d ln E/dt tends to [OH-] k12 k23/(k21 + k23) once H is steady."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm

import kinetics

E, H, P = "cinnamaldehyde", "3-hydroxy-3-phenylpropanal", "benzaldehyde"
R = 8.314462618
# Guthrie, Cooper, Cossar, Dawson & Taylor, Can. J. Chem. 62 (1984) 1441, 25 C [L/mol/s]; k23 has its exponent from closure
K12, K_HYDRATION, K23 = 2.02e-3, 4.42e-3, 9.08e-2
K21 = K12 / K_HYDRATION
COMPOSITE = K12 * K23 / (K21 + K23)


def run(batch, only, t_C: float, hold_s: float, times):
    """1e-5 mol/L of the enal in tenth-molar lye, the aldol addition and all side steps off."""
    charge = {"water": "997 g", E: "0.01 mmol", "sodium hydroxide": "100 mmol"}
    heating = {"start": f"{t_C} degC", "temperature": f"{t_C} degC", "hold": f"{hold_s} s"}
    scenario = batch(charge, heating=heating, vessel={"closed": True})
    return kinetics.simulate(scenario, mechanisms=only(), rtol=1e-9, times=times).series


def slow_eigenvalue(k12: float, k21: float, k23: float) -> float:
    """Of E <-> H -> P per [OH-]: half of s - sqrt(s^2 - 4 k12 k23), s = k12 + k21 + k23, written without
    cancellation."""
    s = k12 + k21 + k23
    return 2.0 * k12 * k23 / (s + np.sqrt(s * s - 4.0 * k12 * k23))


def test_hydroxide_is_the_lye(batch, only) -> None:
    series = run(batch, only, 25.0, 100.0, [])
    assert series.hydroxide_mol_per_L[0] == pytest.approx(0.1, rel=2e-3)
    assert series.hydroxide_mol_per_L[-1] == pytest.approx(series.hydroxide_mol_per_L[0], rel=1e-8)


def test_slope_is_the_slow_eigenvalue(batch, only) -> None:
    """After 600 s (33 times the fast time constant) to 1e-6 relative; the composite to its own error,
    k12/(k21 + k23)."""
    series = run(batch, only, 25.0, 30000.0, [600.0, 30000.0])
    E_mol, t, oh = series.flask_mol[E], series.time_s, series.hydroxide_mol_per_L[-1]
    slope = np.log(E_mol[1] / E_mol[2]) / (t[2] - t[1])
    assert slope == pytest.approx(oh * slow_eigenvalue(K12, K21, K23), rel=1e-6)
    assert slope == pytest.approx(oh * COMPOSITE, rel=K12 / (K21 + K23))
    assert COMPOSITE == pytest.approx(3.35e-4, rel=2e-3)


def test_whole_course_is_the_matrix_exponential(batch, only) -> None:
    """E, H and P from the first second on, each to 1e-6 of the charge of 1e-5 mol; H to 1e-5 of itself once
    it is steady."""
    times = [1.0, 5.0, 20.0, 100.0, 1000.0, 20000.0]
    series = run(batch, only, 25.0, 40000.0, times)
    oh = series.hydroxide_mol_per_L[0]
    A = np.array([[-K12, K21, 0.0], [K12, -K21 - K23, 0.0], [0.0, K23, 0.0]]) * oh
    for k, t in enumerate(series.time_s):
        expected = expm(A * t) @ np.array([1e-5, 0.0, 0.0])
        found = [series.flask_mol[s][k] for s in (E, H, P)]
        assert found == pytest.approx(expected.tolist(), rel=1e-6, abs=1e-11)
    assert series.flask_mol[H][-1] == pytest.approx((expm(A * 40000.0) @ [1e-5, 0, 0])[1], rel=1e-5)


@pytest.mark.parametrize("t_C", [10.0, 60.0, 100.0])
def test_composite_keeps_70_kJ_per_mol(batch, only, t_C: float) -> None:
    """The slope per [OH-] at other temperatures over that at 25 C, within the steady state's own error
    (k12/(k21 + k23))."""
    T = t_C + 273.15
    k_c = COMPOSITE * np.exp(-70e3 / R * (1 / T - 1 / 298.15))
    K = K_HYDRATION * np.exp(25e3 / R * (1 / T - 1 / 298.15))  # -25 kJ/mol, estimate
    partition = K21 / K23  # kept: the two steps of H are taken to have one activation energy
    k12 = k_c * (1.0 + partition)
    k21, k23 = k12 / K, k12 / K / partition
    life = 1.0 / (0.1 * k_c)
    series = run(batch, only, t_C, 2.0 * life, [0.5 * life, 1.5 * life])
    E_mol, t = series.flask_mol[E], series.time_s
    slope = np.log(E_mol[1] / E_mol[2]) / (t[2] - t[1]) / series.hydroxide_mol_per_L[-1]
    assert slope == pytest.approx(slow_eigenvalue(k12, k21, k23), rel=1e-6)
    assert slope == pytest.approx(k_c, rel=k12 / (k21 + k23))


@pytest.mark.parametrize("base", ["sodium hydroxide", "potassium hydroxide"])
def test_rate_is_proportional_to_the_hydroxide(batch, only, base: str) -> None:
    """First order in hydroxide: twice the lye, twice the slope per mol/L counted."""
    slopes = []
    for amount in (50, 100):
        charge = {"water": "997 g", E: "0.01 mmol", base: f"{amount} mmol"}
        heating = {"start": "25 degC", "temperature": "25 degC", "hold": "10000 s"}
        scenario = batch(charge, heating=heating, vessel={"closed": True})
        series = kinetics.simulate(scenario, mechanisms=only(), rtol=1e-9, times=[2000.0]).series
        slopes.append(
            np.log(series.flask_mol[E][1] / series.flask_mol[E][2]) / 8000.0 / series.hydroxide_mol_per_L[-1]
        )
    assert slopes[1] == pytest.approx(slopes[0], rel=1e-6)
