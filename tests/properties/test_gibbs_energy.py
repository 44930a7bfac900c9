"""No closed flask ever climbs in Gibbs energy, from any start, and every loop of steps closes at every temperature.

Potentials are put together here from the ledger's records, not from the engine's rate constants:

    mu_i = mu0_i + RT ln(f_i c_i)             in the water (f_i: what is not hydrated; salt's factor in mu0 of the oil)
    mu_i = mu0_i + RT ln(z_i S_i/gamma_i)     in the oil, z_i = o_i/(nucleus + sum o)

with mu0 from sum_i nu_i mu0_i = -RT ln K of each equilibrium. Water counts as 1 in every K, hydroxide is a catalyst, and
what cannot run backwards (Cannizzaro, oxidation) is off.
"""

from __future__ import annotations

from math import log, log10
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import SUBSTRATES, powers, profile

from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.balance import Balance
from kinetics.flask.conditions import conditions_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network
from kinetics.run.integrate import integrate
from kinetics.run.reading import read_document
from kinetics.run.scenario import Scenario

R, REFERENCE_K, LN10 = 8.31446261815324, 298.15, log(10.0)
REVERSIBLE = Mechanisms(cannizzaro=False, oxidation=False)
SHELF = load_shelf()


def standard_potentials(shelf: Shelf, substrate: str, species: tuple[str, ...], T: float) -> np.ndarray:
    """mu0/RT of each species [1] that give every equilibrium of the ledger its K at T [K] (van 't Hoff)."""
    ledger = shelf.substrate(substrate).equilibria
    nu = np.array([[e.stoichiometry.get(name, 0.0) for name in species] for e in ledger])
    heat = np.array([1e3 * e.dH.value for e in ledger])
    ln_K = np.log([e.K.value for e in ledger]) - heat / R * (1.0 / T - 1.0 / REFERENCE_K)
    assert all(e.dCp is None for e in ledger)
    return np.linalg.lstsq(nu, -ln_K, rcond=None)[0]


class Thermodynamics:
    """The Gibbs energy of a flask at one temperature, over RT [mol], and its slopes."""

    def __init__(self, balance: Balance, substrate: str, T: float) -> None:
        self.balance, network = balance, balance.network
        self.count, self.oils = network.carbon, network.oils
        self.organics = network.species[: self.count]
        self.mu0 = standard_potentials(SHELF, substrate, self.organics, T)
        hydrated = [f"{name}.hydration" for name in self.organics]
        self.free = np.array([1.0 / (1.0 + SHELF[n](T, FLOATS)) if n in SHELF else 1.0 for n in hydrated])
        self.saturation = np.array([SHELF[f"{self.organics[i]}.solubility"](T, FLOATS) for i in self.oils])
        self.salting = np.array(
            [SHELF[n].value if n in SHELF else 0.0 for n in (f"{self.organics[i]}.setschenow_salt" for i in self.oils)]
        )

    def split(self, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float, np.ndarray]:
        """Amounts in the water and in the oil [mol], litres of water, potential of each pure oil over RT."""
        state = self.balance.state(self.balance.segment.start_s, list(y))
        count = len(self.balance.network.species)
        oil = y[count : count + len(self.oils)]
        water = y[: self.count].copy()
        water[list(self.oils)] -= oil
        pure = np.log(self.saturation * self.free[list(self.oils)]) - LN10 * self.salting * state.hydroxide
        return water, oil, state.volume, self.mu0[list(self.oils)] + pure

    def energy(self, y: np.ndarray) -> float:
        """G/RT [mol] but for a constant; its slopes are the potentials. Nothing of a species counts nothing."""
        water, oil, volume, pure = self.split(y)
        total = self.balance.nucleus + oil.sum()
        here = water > 0.0
        dissolved = (water * (self.mu0 - 1.0))[here].sum()
        dissolved += (water[here] * np.log((self.free * water)[here] / volume)).sum()
        drops = oil > 0.0
        return dissolved + (oil * pure).sum() + (oil[drops] * np.log(oil[drops])).sum() - total * log(total)

    def potentials(self, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """mu/RT in the water and in the oil [1]."""
        water, oil, volume, pure = self.split(y)
        return self.mu0 + np.log(self.free * water / volume), pure + np.log(oil / (self.balance.nucleus + oil.sum()))


def lye(substrate: str, T_C: float, hold: str, amounts: dict[str, float], molality: float) -> Scenario:
    """Some species [mol] in a kilogram of water with sodium hydroxide, closed and held at once."""
    charge = {"water": "1 kg", "sodium hydroxide": f"{molality:.6g} mol"}
    return read_document(
        {
            "title": "closed",
            "substrate": substrate,
            "charge": charge | {name: f"{n:.6g} mol" for name, n in amounts.items() if n > 0.0},
            "heating": {"start": f"{T_C} degC", "ramp": "0 min", "hold": hold, "temperature": f"{T_C} degC",
                        "cooling": "0 min"},
            "vessel": {"closed": True, "stirring": "gentle"},
        }
    )  # fmt: skip


def amounts_of(substrate: str) -> st.SearchStrategy[dict[str, float]]:
    """Any of the network's species that can be charged, from nothing to a mole in a kilogram of water."""
    species = [n for n in SHELF.substrate(substrate).species if n not in ("benzoic acid", "benzyl alcohol")]
    amount = st.one_of(st.just(0.0), powers(1e-6, 1.0))
    return st.fixed_dictionaries(dict.fromkeys(species, amount)).filter(lambda a: sum(a.values()) > 0.0)


@pytest.mark.parametrize("substrate", sorted(SUBSTRATES))
@profile(6)
@given(data=st.data())
def test_a_closed_run_never_climbs(substrate: str, data: st.DataObject) -> None:
    """G falls from each output time to the next, down to a millionth of RT per mole of organics (the integrator's).

    One more allowance: the model takes water as 1 where solutes make it 1 - x, so a reaction that takes up water feels a
    drive that is off by x (their mole fraction), and G may rise by x^2 RT a mole near its end.
    """
    T_C = data.draw(st.floats(5.0, 99.0).map(round), label="T")
    amounts = data.draw(amounts_of(substrate), label="amounts")
    molality = data.draw(powers(1e-4, 1.0), label="lye")
    hold = f"{data.draw(powers(1.0, 12000.0))} min"
    course = integrate(lye(substrate, T_C, hold, amounts, molality), mechanisms=REVERSIBLE)
    assert course.failure is None
    gibbs = Thermodynamics(course.balances[-1], substrate, T_C + 273.15)
    energy = np.array([gibbs.energy(np.array(y)) for y in course.states])
    organics = sum(amounts.values())
    dissolved = max(gibbs.split(np.array(y))[0].sum() / y[course.network.water] for y in course.states)
    assert np.diff(energy).max() <= (1e-6 + dissolved**2) * organics


@pytest.mark.parametrize("substrate", sorted(SUBSTRATES))
@profile(25)
@given(data=st.data())
def test_at_any_state_every_rate_runs_downhill(substrate: str, data: st.DataObject) -> None:
    """sum mu_i dn_i/dt <= 0 over water and oil wherever the flask is, far from equilibrium or near, oil or none."""
    T_C = data.draw(st.floats(5.0, 99.0).map(round), label="T")
    amounts = {n: data.draw(powers(1e-12, 3.0), label=n) for n in SHELF.substrate(substrate).species}
    balance = balance_of(substrate, T_C, data.draw(powers(1e-4, 3.0), label="lye"))
    gibbs, network = Thermodynamics(balance, substrate, T_C + 273.15), balance.network
    y = np.array([amounts.get(n, 0.0) for n in network.species] + [0.0] * (len(network.oils)))
    y[network.water] = 55.5
    for k, i in enumerate(network.oils):
        y[len(network.species) + k] = y[i] * data.draw(st.floats(1e-9, 1.0 - 1e-9))
    y = np.append(y, np.zeros(2 * (len(network.volatiles) + 1) + 1))
    rates = np.array(balance.rhs(balance.segment.start_s, list(y)))
    count = len(network.species)
    in_oil, in_water = rates[count : count + len(network.oils)], rates[: network.carbon].copy()
    in_water[list(network.oils)] -= in_oil
    mu_water, mu_oil = gibbs.potentials(y)
    terms = np.concatenate([mu_water * in_water, mu_oil * in_oil])
    assert terms.sum() <= 1e-11 * np.abs(terms).sum()


def balance_of(substrate: str, T_C: float, molality: float) -> Balance:
    """The equations of a closed flask of lye at T_C [degC]."""
    name = SUBSTRATES[substrate][0]
    course = integrate(lye(substrate, T_C, "1 min", {name: 0.01}, molality), mechanisms=REVERSIBLE, times=())
    assert course.failure is None
    return course.balances[-1]


LOOP = """
name = "invented loop"
title = "Two roads to the same fragments (invented)"
substrate = "cinnamaldehyde"
product = "benzaldehyde"
by_product = "acetaldehyde"
[common]
sigma = 0.0
status = "estimate"
source = "invented"
[[equilibrium]]
name = "hydration"
stoichiometry = {cinnamaldehyde = -1, water = -1, "3-hydroxy-3-phenylpropanal" = 1}
K = {value = 4e-3, unit = "1"}
dH = {value = -25.0, unit = "kJ/mol"}
[[equilibrium]]
name = "retro-aldol, twice"
stoichiometry = {"3-hydroxy-3-phenylpropanal" = -2, benzaldehyde = 2, acetaldehyde = 2}
K = {value = 1e-2, unit = "mol2/L2"}
dH = {value = 108.0, unit = "kJ/mol"}
[[step]]
name = "hydration"
mechanism = "cleavage"
stoichiometry = {cinnamaldehyde = -1, water = -1, "3-hydroxy-3-phenylpropanal" = 1}
orders = {cinnamaldehyde = 1, hydroxide = 1}
reference_K = 298.15
reversible = true
k = {value = 2e-3, unit = "L/mol/s"}
Ea = {value = 60.0, unit = "kJ/mol"}
[[step]]
name = "retro-aldol"
mechanism = "cleavage"
stoichiometry = {"3-hydroxy-3-phenylpropanal" = -1, benzaldehyde = 1, acetaldehyde = 1}
orders = {"3-hydroxy-3-phenylpropanal" = 1, hydroxide = 1}
reference_K = 298.15
reversible = true
k = {value = 0.09, unit = "L/mol/s"}
Ea = {value = 75.0, unit = "kJ/mol"}
[[step]]
name = "directly"
mechanism = "cleavage"
stoichiometry = {cinnamaldehyde = -1, water = -1, benzaldehyde = 1, acetaldehyde = 1}
orders = {cinnamaldehyde = 1, hydroxide = 1}
reference_K = 313.15
reversible = true
k = {value = 1e-3, unit = "L/mol/s"}
Ea = {value = 50.0, unit = "kJ/mol"}
"""


@profile(20)
@given(T=st.floats(275.0, 420.0))
def test_a_loop_of_steps_comes_back_to_one(tmp_path_factory: pytest.TempPathFactory, T: float) -> None:
    """A network with two roads from the enal to its fragments: (kf/kr) along the one is (kf/kr) along the other."""
    path = Path(tmp_path_factory.getbasetemp()) / "loop.toml"
    path.write_text(LOOP, encoding="utf-8")
    shelf = SHELF.including(path)
    network = build_network(shelf.substrate("invented loop"), shelf, Mechanisms())
    conditions = conditions_at(network, shelf, T, 0.0, FLOATS)
    by_name = {s.name: f / r for s, f, r in zip(network.steps, conditions.forward, conditions.reverse)}
    around = by_name["hydration"] * by_name["retro-aldol"] / by_name["directly"]
    assert around == pytest.approx(1.0, rel=1e-12)
    assert log10(by_name["directly"]) == pytest.approx(
        log10(4e-3 * 1e-1) - (29e3 / R) * (1.0 / T - 1.0 / REFERENCE_K) / LN10, abs=1e-9
    )


@pytest.mark.parametrize("substrate", sorted(SUBSTRATES))
@profile(20)
@given(T=st.floats(275.0, 420.0))
def test_detailed_balance_of_every_step(substrate: str, T: float) -> None:
    """kf/kr of each reversible step from its own stoichiometry and the potentials of the ledger; loops of steps, if any.

    A loop is a vector of the null space of the steps' stoichiometries; around it the product of kf/kr is 1.
    """
    network = build_network(SHELF.substrate(substrate), SHELF, REVERSIBLE)
    conditions = conditions_at(network, SHELF, T, 0.0, FLOATS)
    steps = {s.name: s.stoichiometry for s in SHELF.substrate(substrate).steps}
    names = (*network.species[: network.carbon], "water")
    energy = dict(zip(names, standard_potentials(SHELF, substrate, names, T)))
    ln_ratio = []
    for step, forward, reverse in zip(network.steps, conditions.forward, conditions.reverse):
        assert step.reversible
        expected = -sum(nu * energy[name] for name, nu in steps[step.name].items())
        ln_ratio.append(log(forward / reverse))
        assert ln_ratio[-1] == pytest.approx(expected, abs=1e-9)
    matrix = np.array([[steps[s.name].get(n, 0.0) for n in energy] for s in network.steps])
    _, values, rows = np.linalg.svd(matrix.T)
    for loop in rows[np.count_nonzero(values > 1e-9) :]:
        assert loop @ np.array(ln_ratio) == pytest.approx(0.0, abs=1e-9)
