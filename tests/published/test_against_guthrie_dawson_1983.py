"""Prenal and hydroxide at 25 degC against J. P. Guthrie, B. A. Dawson, Can. J. Chem. 61 (1983) 171.

The abstract gives k12 3.42e-3, k21 8.32e-3, k23 5.64e-2 L/mol/s and K(hydration) 0.41, and says that from the ketol the
enal rises first and then falls "20-fold slower", at the rate of its disappearance when charged as such.
The printed figures of K round by 1.2 %, those of the rate constants by 0.15 % at most. The method adds 0.2 %: the
integration keeps six figures, and the products go back to ketol as k23 x 40 L/mol x their product, which at the end of
the ketol's run (2e-6 mol/L of each against 1e-8 of ketol, half the acetaldehyde hydrated) is 0.7 % of what leaves it.
"""

from pathlib import Path

import numpy as np
import pytest
from experiments import concentration, course, first_order, rate_constants, slow_and_fast
from scipy.optimize import curve_fit

K12, K21, K23, K_HYDRATION = 3.42e-3, 8.32e-3, 5.64e-2, 0.41
ENAL, KETOL = "3-methyl-2-butenal", "3-hydroxy-3-methylbutanal"
METHOD = 2e-3


def three_constants(run: dict[str, np.ndarray]) -> tuple[float, float, float]:
    """k12, k21, k23 by regression over the run, the return of the products counted."""
    enal, ketol, base = concentration(run, ENAL), concentration(run, KETOL), run["hydroxide_mol_per_L"]
    k21, k12 = rate_constants(run["time_s"], enal, [ketol * base, -enal * base])
    products = concentration(run, "acetone") * concentration(run, "acetaldehyde")
    k23 = rate_constants(run["time_s"], enal + ketol, [-ketol * base, products * base])[0]
    return k12, k21, k23


def test_the_three_constants_from_the_ketol(tmp_path: Path) -> None:
    k12, k21, k23 = three_constants(course("prenal_ketol", tmp_path))
    assert k12 == pytest.approx(K12, rel=METHOD + 0.0015)
    assert k23 == pytest.approx(K23, rel=METHOD + 0.001)
    assert k21 == pytest.approx(K21, rel=METHOD + 0.012)
    assert k12 / k21 == pytest.approx(K_HYDRATION, rel=METHOD + 0.012)


def test_the_enal_disappears_in_first_order(tmp_path: Path) -> None:
    """The slow eigenvalue of the published constants, and one slope from 90 to 30 % of the enal."""
    run = course("prenal_cleavage", tmp_path)
    time, enal, base = run["time_s"], concentration(run, ENAL), run["hydroxide_mol_per_L"][0]
    early = first_order(time, enal, (time > 1500.0) & (enal > 0.5 * enal[0])) / base
    late = first_order(time, enal, (enal < 0.5 * enal[0]) & (enal > 0.3 * enal[0])) / base
    assert early == pytest.approx(slow_and_fast(K12, K21, K23)[0], rel=METHOD + 0.002)
    assert late == pytest.approx(early, rel=METHOD)


def test_the_two_phases_from_the_ketol(tmp_path: Path) -> None:
    """Biexponential: rise and fall about twenty to one (15 to 25), the fall at the rate of the enal alone."""
    run = course("prenal_ketol", tmp_path)
    time, enal, base = run["time_s"], concentration(run, ENAL), run["hydroxide_mol_per_L"][0]

    def two_phases(t: np.ndarray, size: float, slow: float, fast: float) -> np.ndarray:
        return size * (np.exp(-slow * t) - np.exp(-fast * t))

    guess = (enal.max(), 2e-4, 5e-3)
    (_, slow, fast), _ = curve_fit(two_phases, time, enal / enal.max(), (1.0, *guess[1:]))
    expected = slow_and_fast(K12, K21, K23)
    assert slow / base == pytest.approx(expected[0], rel=METHOD + 0.003)
    assert fast / base == pytest.approx(expected[1], rel=METHOD + 0.003)
    assert 15.0 < fast / slow < 25.0
    alone = course("prenal_cleavage", tmp_path)
    left = concentration(alone, ENAL)
    falling = first_order(alone["time_s"], left, (alone["time_s"] > 1500.0) & (left > 0.5 * left[0]))
    assert slow == pytest.approx(falling, rel=METHOD)
