"""Equilibrium constants, their loops and temperatures; rate constants and the composite activation energy."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from scipy.integrate import quad

from kinetics.chemistry.ledger import LedgerError, combination, step_constant, van_t_hoff
from kinetics.chemistry.rates import arrhenius, composite_constant, consecutive_constants
from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.data.shelf import Shelf
from kinetics.flask.conditions import conditions_at, rate_constants
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network

R = 1.380649e-23 * 6.02214076e23  # J/(mol K), exact by the definition of 2019


@pytest.mark.parametrize(("enthalpy", "heat_capacity"), [(29e3, 0.0), (-25e3, 150.0), (10e3, -207.0)])
@pytest.mark.parametrize("T", [273.15, 298.15, 333.15, 373.15, 423.15])
def test_van_t_hoff_against_the_gibbs_helmholtz_equation(
    enthalpy: float, heat_capacity: float, T: float
) -> None:
    """d ln K/dT = (dH + dCp (T - T0))/(R T^2), integrated numerically."""
    expected, _ = quad(
        lambda t: (enthalpy + heat_capacity * (t - 298.15)) / (R * t * t),
        298.15,
        T,
        epsabs=1e-13,
        epsrel=1e-13,
    )
    assert log(van_t_hoff(2.5, enthalpy, heat_capacity, T, FLOATS) / 2.5) == pytest.approx(
        expected, abs=1e-11
    )


@pytest.mark.parametrize("name", ["cinnamaldehyde", "prenal", "citral", "diacetone alcohol"])
@pytest.mark.parametrize("T", [288.15, 333.15, 373.15])
def test_every_step_and_its_reverse_share_the_ledger(shelf: Shelf, name: str, T: float) -> None:
    """k/k_reverse of each step from activities in a state where every equilibrium of the ledger holds.

    Free energies are given to the species by solving the ledger for them; each step's K then follows from
    its own stoichiometry, whatever combination the code found.
    """
    substrate = shelf.substrate(name)
    network = build_network(substrate, shelf, Mechanisms())
    conditions = conditions_at(network, shelf, T, 0.0, FLOATS)
    species = sorted({s for e in substrate.equilibria for s in e.stoichiometry})
    nu = np.array([[e.stoichiometry.get(s, 0.0) for s in species] for e in substrate.equilibria])
    ln_K = np.array(
        [
            log(e.K.value) - 1e3 * e.dH.value / R * (1 / T - 1 / 298.15)
            for e in substrate.equilibria
            if e.dCp is None
        ]
    )
    assert len(ln_K) == len(substrate.equilibria)
    energy = dict(zip(species, np.linalg.lstsq(nu, -ln_K, rcond=None)[0]))
    steps = {s.name: s for s in substrate.steps}
    checked = 0
    for step, forward, reverse in zip(network.steps, conditions.forward, conditions.reverse):
        if step.reversible:
            K = exp(-sum(n * energy[s] for s, n in steps[step.name].stoichiometry.items()))
            assert forward / reverse == pytest.approx(K, rel=1e-9)
            checked += 1
        else:
            assert reverse == 0.0
    assert checked == sum(s.reversible for s in substrate.steps) > 0


def test_a_loop_of_steps_comes_to_one() -> None:
    """A -> B -> C -> A from a ledger of two reactions written otherwise: the product of the three is 1
    exactly enough."""
    ledger = [{"A": -1.0, "C": 1.0}, {"C": 2.0, "B": -2.0}]
    constants = [3.7, 1e-5]
    loop = [{"A": -1.0, "B": 1.0}, {"B": -1.0, "C": 1.0}, {"C": -1.0, "A": 1.0}]
    product = 1.0
    for step in loop:
        product *= step_constant(combination(step, ledger), constants)
    assert product == pytest.approx(1.0, rel=1e-12)
    assert step_constant(combination(loop[1], ledger), constants) == pytest.approx(1e-5**0.5, rel=1e-12)


def test_constant_of_a_step_by_hand() -> None:
    """3^2 x 4 / 5, what has no weight left out."""
    assert step_constant((2.0, 1.0, -1.0, 0.0), (3.0, 4.0, 5.0, 7.0)) == pytest.approx(36.0 / 5.0, rel=1e-14)


def test_a_step_off_the_ledger_is_refused() -> None:
    with pytest.raises(LedgerError, match="lost"):
        combination({"A": -1.0, "D": 1.0}, [{"A": -1.0, "B": 1.0}], "lost")
    with pytest.raises(LedgerError, match="half"):  # A and B close, D does not
        combination({"A": -1.0, "B": 1.0, "D": 1.0}, [{"A": -1.0, "B": 1.0}], "half")


def test_arrhenius_against_its_differential_equation() -> None:
    """d ln k/dT = Ea/(R T^2)."""
    T, h = 350.0, 1e-3
    k = [arrhenius(0.5, 70e3, 298.15, t, FLOATS) for t in (T - h, T, T + h)]
    assert (log(k[2]) - log(k[0])) / (2 * h) == pytest.approx(70e3 / (R * T * T), rel=1e-8)
    assert arrhenius(0.5, 70e3, 298.15, 298.15, FLOATS) == 0.5


@pytest.mark.parametrize("difference", [-20e3, 0.0, 35e3])
@pytest.mark.parametrize("T", [288.15, 333.15, 373.15])
def test_composite_keeps_its_activation_energy_whatever_the_split(difference: float, T: float) -> None:
    """Cinnamaldehyde at 25 C: 2.02e-3, 4.42e-3, 9.08e-2 (Guthrie et al., Can. J. Chem. 62 (1984) 1441); K1
    as it will."""
    k12, K1_reference, k23 = 2.02e-3, 4.42e-3, 9.08e-2
    K1 = K1_reference * exp(25e3 / R * (1 / T - 1 / 298.15))
    a, b = consecutive_constants(k12, K1_reference, k23, K1, 70e3, difference, 298.15, T, FLOATS)
    k21 = a / K1
    at_25 = k12 * k23 / (k12 / K1_reference + k23)
    assert at_25 == pytest.approx(3.35e-4, rel=2e-3)
    assert composite_constant(a, k21, b) == pytest.approx(
        at_25 * exp(-70e3 / R * (1 / T - 1 / 298.15)), rel=1e-13
    )
    partition = k12 / K1_reference / k23 * exp(-difference / R * (1 / T - 1 / 298.15))
    assert k21 / b == pytest.approx(partition, rel=1e-13)


def test_consecutive_constants_come_back_at_the_reference() -> None:
    found = consecutive_constants(2.02e-3, 4.42e-3, 9.08e-2, 4.42e-3, 70e3, 12e3, 298.15, 298.15, FLOATS)
    assert found == pytest.approx((2.02e-3, 9.08e-2), rel=1e-14)


def test_arrays_give_what_floats_give() -> None:
    T = np.linspace(280.0, 380.0, 9)
    together = van_t_hoff(2.0, -2e4, 120.0, T, ARRAYS), arrhenius(0.1, 5e4, 298.15, T, ARRAYS)
    for i, t in enumerate(map(float, T)):
        alone = van_t_hoff(2.0, -2e4, 120.0, t, FLOATS), arrhenius(0.1, 5e4, 298.15, t, FLOATS)
        assert [float(x[i]) for x in together] == pytest.approx(alone, rel=1e-13)


def test_heat_capacity_of_an_equilibrium_reaches_the_reverse_constant(shelf: Shelf) -> None:
    """No shipped equilibrium has one yet: the cleavage is given 150 J/(mol K), which at 100 C is worth exp(0.43)."""
    substrate = shelf.substrate("citral")
    (cleavage,) = (e for e in substrate.equilibria if e.name == "cleavage")
    heat_capacity = replace(cleavage.dH, name="dCp", unit="J/mol/K", coefficients=(150.0,))
    bent = replace(
        substrate,
        equilibria=tuple(replace(e, dCp=heat_capacity) if e is cleavage else e for e in substrate.equilibria),
    )
    T = 373.15
    (forward, reverse), (same, lower) = (
        tuple(constants[0] for constants in rate_constants(build_network(s, shelf, Mechanisms()), T, FLOATS))
        for s in (substrate, bent)
    )
    assert same == forward
    assert reverse / lower == pytest.approx(exp(150.0 / R * (log(T / 298.15) + 298.15 / T - 1.0)), rel=1e-12)


def test_partition_of_the_intermediate_is_read_in_kJ(shelf: Shelf) -> None:
    """A difference of 20 kJ/mol on the shelf moves k21/k23 from 25 to 100 C by exp(-20e3/R (1/T - 1/T0)) and leaves the
    composite."""
    substrate = shelf.substrate("cinnamaldehyde")
    composite = substrate.composite
    assert composite is not None
    moved = replace(composite, partition_difference=replace(composite.partition_difference, coefficients=(20.0,)))
    partition, whole = [], []
    for c in (composite, moved):
        network = build_network(replace(substrate, composite=c), shelf, Mechanisms())
        forward, reverse = rate_constants(network, 373.15, FLOATS)
        at = {s.name: k for k, s in enumerate(network.steps)}
        k12, k21, k23 = forward[at[c.first]], reverse[at[c.first]], forward[at[c.second]]
        partition.append(k21 / k23)
        whole.append(composite_constant(k12, k21, k23))
    assert partition[1] / partition[0] == pytest.approx(exp(-20e3 / R * (1 / 373.15 - 1 / 298.15)), rel=1e-9)
    assert whole[1] == pytest.approx(whole[0], rel=1e-9)


def test_every_step_follows_the_activation_energy_of_its_record(shelf: Shelf) -> None:
    """exp(-Ea/R (1/T - 1/T0)) in kJ/mol as on the shelf, of the composite for the two steps that share one."""
    substrate = shelf.substrate("cinnamaldehyde")
    c = substrate.composite
    assert c is not None
    network, T = build_network(substrate, shelf, Mechanisms()), 350.0
    found = dict(zip((s.name for s in network.steps), zip(*rate_constants(network, T, FLOATS))))
    alone = [s for s in substrate.steps if s.Ea is not None]
    assert len(alone) == len(network.steps) - 2
    for step in alone:
        law = step.k.value * exp(-1e3 * step.Ea.value / R * (1.0 / T - 1.0 / step.reference_K))
        assert found[step.name][0] == pytest.approx(law, rel=1e-12)
    (k12, k21), (k23, _) = found[c.first], found[c.second]
    first, second = (next(s for s in substrate.steps if s.name == name) for name in (c.first, c.second))
    K1 = next(e.K.value for e in substrate.equilibria if e.stoichiometry == first.stoichiometry)
    at_25 = composite_constant(first.k.value, first.k.value / K1, second.k.value)
    law = at_25 * exp(-1e3 * c.Ea.value / R * (1.0 / T - 1.0 / 298.15))
    assert composite_constant(k12, k21, k23) == pytest.approx(law, rel=1e-9)
