"""Cinnamaldehyde and hydroxide at 25 degC against Guthrie and others, Can. J. Chem. 62 (1984) 1441.

The abstract gives K(hydration) 4.42e-3; k12 2.02e-3 (2.20e-3 in English, which does not close), k21 0.456,
k23 9.08e-2 L/mol/s; from benzaldehyde and acetaldehyde k(aldol) 0.63 L2/mol2/s and K(condensation) 1480 L/mol.
Its printed figures round k12 by 0.25, k21 by 0.11, K by 0.11 %: k12/K and k21 are 0.22 % apart in print.
To this the method adds less than 0.1 %: the integration keeps six figures, and what comes back from the products is
under 4e-4 of the aldol at these concentrations.
"""

from pathlib import Path

import numpy as np
import pytest
from experiments import FOLDER, concentration, course, first_order, rate_constants, slow_and_fast

import kinetics

K_HYDRATION, K12, K21, K23 = 4.42e-3, 2.02e-3, 0.456, 9.08e-2
K_ALDOL, K_CONDENSATION = 0.63, 1480.0
ENAL, ALDOL = "cinnamaldehyde", "3-hydroxy-3-phenylpropanal"
METHOD, PRINT = 1e-3, 3e-3


def test_the_enal_falls_by_the_composite_constant(tmp_path: Path) -> None:
    """-d ln E/dt over [OH-] once the aldol is steady, to a tenth of the enal."""
    run = course("cinnamaldehyde_cleavage", tmp_path)
    time, hydroxide = run["time_s"], run["hydroxide_mol_per_L"]
    enal = concentration(run, ENAL)
    slope = first_order(time, enal, (time > 200.0) & (enal > 0.9 * enal[0]))
    assert slope / hydroxide[0] == pytest.approx(slow_and_fast(K12, K21, K23)[0], rel=PRINT)
    assert slope / hydroxide[0] == pytest.approx(K12 * K23 / (K21 + K23), rel=PRINT + K12 / (K21 + K23))


def test_first_order_in_hydroxide() -> None:
    """Rate law of J. D. Wright, J. Abbot, Int. J. Chem. Kinet. 25 (1993) 901: half the base, half the rate."""
    scenario = kinetics.read_scenario(FOLDER / "cinnamaldehyde_cleavage.toml")
    constants = []
    for variant in (scenario, scenario.option("half the hydroxide")):
        series = kinetics.simulate(variant).series
        enal = series.flask_mol[ENAL]
        slope = first_order(series.time_s, enal, (series.time_s > 400.0) & (enal > 0.95 * enal[0]))
        constants.append(slope / series.hydroxide_mol_per_L[0])
    assert constants[1] == pytest.approx(constants[0], rel=METHOD)


def test_the_aldol_parts_as_published(tmp_path: Path) -> None:
    """k21 and k23 from one run, by regression of the enal's rise and the aldol's fall, to 90 % of the aldol gone."""
    run = course("cinnamaldehyde_aldol", tmp_path)
    enal, aldol = concentration(run, ENAL), concentration(run, ALDOL)
    keep = aldol > 0.1 * aldol[0]
    time, base = run["time_s"][keep], run["hydroxide_mol_per_L"][keep]
    enal, aldol = enal[keep], aldol[keep]
    backward, forward = rate_constants(time, enal, [aldol * base, -enal * base])
    _, cleavage = rate_constants(time, enal + aldol, [np.zeros_like(aldol), -aldol * base])
    assert backward == pytest.approx(K21, rel=PRINT)
    assert cleavage == pytest.approx(K23, rel=METHOD + 0.0006)
    assert forward == pytest.approx(K12, rel=0.05)  # a tenth of the enal's change: the weakest of the three


def test_hydration_equilibrium(tmp_path: Path) -> None:
    """k12/k21, from the composite of one run and the shares of the other: 4.42e-3, printed to 0.11 %."""
    run = course("cinnamaldehyde_cleavage", tmp_path)
    enal, time = concentration(run, ENAL), run["time_s"]
    slope = first_order(time, enal, (time > 200.0) & (enal > 0.9 * enal[0])) / run["hydroxide_mol_per_L"][0]
    parts = course("cinnamaldehyde_aldol", tmp_path)
    e, h = concentration(parts, ENAL), concentration(parts, ALDOL)
    keep = h > 0.1 * h[0]
    t, base = parts["time_s"][keep], parts["hydroxide_mol_per_L"][keep]
    k21, k12 = rate_constants(t, e[keep], [h[keep] * base, -e[keep] * base])
    k23 = rate_constants(t, (e + h)[keep], [-h[keep] * base])[0]
    k12 = slope * (slope - k21 - k23) / (slope - k23)  # from the characteristic equation of E <-> H -> P
    assert k12 / k21 == pytest.approx(K_HYDRATION, rel=0.0011 + 2 * METHOD)


def addition(tmp_path: Path) -> float:
    """k(aldol) [L2/mol2/s] on total acetaldehyde, from the first minutes of acetaldehyde in alkaline benzaldehyde."""
    run = course("benzaldehyde_acetaldehyde", tmp_path)
    product, carrier = concentration(run, "benzaldehyde"), concentration(run, "acetaldehyde")
    enal, aldol, base = concentration(run, ENAL), concentration(run, ALDOL), run["hydroxide_mol_per_L"]
    forward, backward = rate_constants(
        run["time_s"], enal + aldol, [product * carrier * base, -aldol * base]
    )
    assert backward == pytest.approx(K23, rel=5e-3)
    return float(forward)


def test_the_addition_brackets_the_published_constant(tmp_path: Path) -> None:
    """Free and total acetaldehyde differ by 2.06; the abstract does not say which, and the model stands midway.

    Ours follows from K 1480 L/mol, the paper's own number from its rates: in print the two are 6 % apart (test below);
    0.63 is printed to 0.8 %.
    """
    total = addition(tmp_path)
    free = total * (1.0 + 1.06)
    assert total < K_ALDOL < free
    assert np.sqrt(total * free) == pytest.approx(K_ALDOL, rel=0.07)


def test_the_published_constants_close_among_themselves() -> None:
    """K(condensation) = k(aldol)/(k23 K(hydration)): 1570 against 1480 printed, 6 % apart, under two standard
    uncertainties of k(aldol) (15 %) alone. 0.098 in place of 0.0908 would close, but both languages print 9.08."""
    closing = K_ALDOL / (K23 * K_HYDRATION)
    assert closing == pytest.approx(1570.0, abs=1.0)
    assert abs(np.log(closing / K_CONDENSATION)) < 0.15


def test_condensation_equilibrium() -> None:
    """E/(P A) after ten days with the side steps off, which the paper's small charge of acetaldehyde avoids.

    1480 L/mol as the geometric mean of the free and the total reading: K 4.7e-4 mol/L is printed to 1 %.
    """
    scenario = kinetics.read_scenario(FOLDER / "benzaldehyde_acetaldehyde.toml").option("to equilibrium")
    three_steps = kinetics.Mechanisms(self_aldol=False, crossed_aldol=False, cannizzaro=False, oxidation=False)
    run = kinetics.simulate(scenario, mechanisms=three_steps)
    last = {name: amount[-1] / run.series.water_L[-1] for name, amount in run.series.flask_mol.items()}
    total = last[ENAL] / (last["benzaldehyde"] * last["acetaldehyde"])
    assert total < K_CONDENSATION < 2.06 * total
    assert np.sqrt(2.06) * total == pytest.approx(K_CONDENSATION, rel=0.011)
