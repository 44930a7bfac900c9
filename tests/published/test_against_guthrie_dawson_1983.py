"""Prenal and hydroxide at 25 degC against J. P. Guthrie, B. A. Dawson, Can. J. Chem. 61 (1983) 171.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/guthrie_dawson_1983.toml.
The abstract also says that from the ketol the enal rises first and then falls "20-fold slower", at the rate of its
disappearance when charged as such. The method adds 0.2 %: the integration keeps six figures, and the products go back to
ketol as k23 x 40 L/mol x their product, which at the end of the ketol's run (2e-6 mol/L of each against 1e-8 of ketol, half
the acetaldehyde hydrated) is 0.7 % of what leaves it.
"""

from pathlib import Path

import numpy as np
import pytest
from comparing import assert_agreement, entries_of
from experiments import concentration, course, first_order, slow_and_fast
from scipy.optimize import curve_fit

from kinetics.analysis.checks import Check

K12, K21, K23 = 3.42e-3, 8.32e-3, 5.64e-2
ENAL = "3-methyl-2-butenal"
METHOD = 2e-3


@pytest.mark.parametrize(("check", "at", "published"), entries_of("guthrie_dawson_1983"))
def test_guthrie_dawson_1983(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)


def test_the_slow_eigenvalue_of_the_table_is_that_of_the_published_constants() -> None:
    [value] = {published for check, _, published in (e.values for e in entries_of("guthrie_dawson_1983"))
               if check.measure == "first-order constant"}  # fmt: skip
    assert value == pytest.approx(slow_and_fast(K12, K21, K23)[0], rel=2e-4)


def test_the_two_phases_from_the_ketol(tmp_path: Path) -> None:
    """Biexponential: rise and fall about twenty to one (15 to 25), the fall at the rate of the enal alone."""
    run = course("prenal_ketol", tmp_path)
    time, enal, base = run["time_s"], concentration(run, ENAL), run["hydroxide_mol_per_L"][0]

    def two_phases(t: np.ndarray, size: float, slow: float, fast: float) -> np.ndarray:
        return size * (np.exp(-slow * t) - np.exp(-fast * t))

    (_, slow, fast), _ = curve_fit(two_phases, time, enal / enal.max(), (1.0, 2e-4, 5e-3))
    expected = slow_and_fast(K12, K21, K23)
    assert slow / base == pytest.approx(expected[0], rel=METHOD + 0.003)
    assert fast / base == pytest.approx(expected[1], rel=METHOD + 0.003)
    assert 15.0 < fast / slow < 25.0
    alone = course("prenal_cleavage", tmp_path)
    left = concentration(alone, ENAL)
    falling = first_order(alone["time_s"], left, (alone["time_s"] > 1500.0) & (left > 0.5 * left[0]))
    assert slow == pytest.approx(falling, rel=METHOD)
