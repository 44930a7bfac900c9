"""The same model as one plain script for one batch at a time, with scipy's BDF: a second implementation and a rival.

Written from the description of the physics alone, without looking at the engine, so that an error in one shows
as a difference from the other. Numbers come from the shelf and scenarios from the reader; every equation is here and
in `rival_ions`. Not covered: calcium hydroxide and cinnamic acid.

    course = solve(kinetics.read_scenario("scenarios/common_practice.toml"), shelf, times_s)
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import exp, log

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from kinetics.data.shelf import Shelf
from kinetics.data.substrate import Equilibrium
from kinetics.run.scenario import Addition, Charge, Scenario

from .rival_ions import ANIONS, CATIONS, CHARGE, WATER_KG, Heat, Mixing, charge_balance, pitzer

R = 8.31446261815324
SALTS = ("inorganic carbon", "water", "sodium", "potassium", "chloride")


@dataclass
class Course:
    """The output: times [s], temperature [K], pH, the amounts in the flask, in the oil and gone [mol]."""

    time_s: np.ndarray
    temperature_K: np.ndarray
    pH: np.ndarray
    flask: dict[str, np.ndarray]
    oil: dict[str, np.ndarray]
    vented: dict[str, np.ndarray]
    taken: dict[str, np.ndarray]
    conversion: np.ndarray | None
    yield_: np.ndarray | None
    evaluations: int = 0


@dataclass
class Liquor:
    """The water phase of one moment: temperature, hydroxide [mol/L], pH and what the salts do to the rest."""

    heat: Heat
    volume: float
    hydroxide: float
    pH: float
    water_activity: float
    co2_pressure: float
    carbonate: float  # mol/L
    uni_univalent: float  # mol/L of other salts


@dataclass
class Model:
    """One batch: which species there are, which reactions, and the equations of its balances."""

    scenario: Scenario
    shelf: Shelf
    gammas: np.ndarray = field(default_factory=lambda: np.zeros(len(ANIONS) + 3))
    evaluations: int = 0
    boil_K: float = 373.15
    ln_a_H: float = -20.0

    def __post_init__(self) -> None:
        substrate = self.substrate = self.shelf.substrate(self.scenario.substrate)
        extra = [
            n
            for c in (*self.scenario.charges, *(c for a in self.scenario.additions for c in a.charges))
            for n in c.components_mol
        ]
        self.organics = list(dict.fromkeys([*substrate.species, *(n for n in extra if n not in SALTS)]))
        self.names = [*self.organics, *SALTS]
        records = self.shelf.records
        self.oils = [s for s in self.organics if f"{s}.solubility" in records]
        self.volatiles = [
            s
            for s in self.organics
            if f"{s}.henry" in records or (s in self.oils and f"{s}.vapour_pressure" in records)
        ] + ["inorganic carbon"]
        self.at = {name: i for i, name in enumerate(self.names)}
        self.oil_at = [self.at[s] for s in self.oils]
        self.volatile_at = [self.at[s] for s in self.volatiles]
        self.setschenow = np.array(
            [
                [
                    records[key](298.15) if (key := f"{s}.setschenow_{kind}") in records else 0.0
                    for kind in ("carbonate", "salt")
                ]
                for s in self.organics
            ]
        )
        self.stoichiometry = np.zeros((len(substrate.steps), len(self.names)))
        for j, step in enumerate(substrate.steps):
            for name, nu in step.stoichiometry.items():
                if name != "oxygen":
                    self.stoichiometry[j, self.at[name]] = nu
        equilibria = np.zeros((len(substrate.equilibria), len(self.names)))
        for i, equilibrium in enumerate(substrate.equilibria):
            for name, nu in equilibrium.stoichiometry.items():
                equilibria[i, self.at[name]] = nu
        self.combination = [np.linalg.lstsq(equilibria.T, row, rcond=None)[0] for row in self.stoichiometry]
        self.heats: dict[float, Heat] = {}
        self.mixing = Mixing(self.shelf)
        c = self.scenario.condenser
        self.ring = Heat(self, c.coolant_K + c.approach_K)
        hydrate = np.append(self.ring.K_hydrate, np.zeros(len(SALTS)))
        self.K_ring = self.ring.K_volatile / (1 + hydrate[self.volatile_at])

    def heat(self, T: float) -> Heat:
        if T not in self.heats:
            if len(self.heats) > 500:
                self.heats.clear()
            self.heats[T] = Heat(self, T).ready_ions()
        return self.heats[T]

    def constants(self, T: float) -> tuple[np.ndarray, np.ndarray]:
        """k and K of every step at T: Arrhenius, van 't Hoff, and the composite that its two steps share."""

        def arrhenius(Ea: float, T0: float = 298.15) -> float:
            return exp(-1000 * Ea / R * (1 / T - 1 / T0))

        def ln_K(e: Equilibrium, T: float) -> float:
            dCp = e.dCp.value if e.dCp else 0.0
            return (
                log(e.K.value)
                - 1000 * e.dH.value / R * (1 / T - 1 / 298.15)
                + dCp / R * (log(T / 298.15) + 298.15 / T - 1)
            )

        def K_of(j: int, T: float) -> float:
            return exp(sum(n * ln_K(e, T) for n, e in zip(self.combination[j], self.substrate.equilibria)))

        steps, composite = self.substrate.steps, self.substrate.composite
        K = np.array([K_of(j, T) if step.reversible else np.inf for j, step in enumerate(steps)])
        k = np.array([s.k.value * arrhenius(s.Ea.value, s.reference_K) if s.Ea else np.nan for s in steps])
        if composite:
            first, second = ([s.name for s in steps].index(n) for n in (composite.first, composite.second))
            ratio_25 = steps[first].k.value / K_of(first, 298.15) / steps[second].k.value
            ratio = ratio_25 * arrhenius(composite.partition_difference.value)
            k[first] = steps[first].k.value / (1 + ratio_25) * arrhenius(composite.Ea.value) * (1 + ratio)
            k[second] = k[first] / K[first] / ratio
        return k, K

    def liquor(self, n: np.ndarray, T: float, boiling: bool) -> Liquor:
        """[OH-], pH and water activity from the charge balance; the temperature too where the flask boils."""
        kg = n[self.at["water"]] * WATER_KG
        acid = n[self.at["benzoic acid"]] if "benzoic acid" in self.at else 0.0
        totals = [x / kg for x in (*(n[self.at[s]] for s in ("inorganic carbon", *CATIONS, "chloride")), acid)]
        cation, gammas, P = np.array(totals[1:3]), self.gammas, self.scenario.heating.pressure_Pa
        T = self.boil_K if boiling else T
        for _ in range(200):
            h = self.heat(T)
            self.ln_a_H, anion, dissolved = charge_balance(h, totals, np.exp(gammas).tolist(), self.ln_a_H)
            activities = pitzer(h, cation, anion)
            change, gammas, dT = activities - gammas, activities, 0.0
            if boiling:  # Clausius-Clapeyron steps to a_w p(T) = P
                dT = log(P / (exp(gammas[-1]) * h.p_water)) * R * T**2 / 40650.0
                T += dT
            if abs(change).max() < 1e-12 and abs(dT) < 1e-10:
                break
        else:
            raise RuntimeError("the activities do not settle")
        self.gammas, self.boil_K = gammas, T if boiling else self.boil_K
        per_L, ln_co2, ln_water = h.rho / 1000, gammas[-3], gammas[-1]
        co2_pressure = dissolved * WATER_KG * exp(ln_co2) * h.K_volatile[-1]  # as a share of the pressure
        univalent = (anion @ CHARGE - 2 * anion[2]) * per_L
        pH = -self.ln_a_H / log(10)
        return Liquor(h, kg / per_L, anion[0] * per_L, pH, exp(ln_water), co2_pressure, anion[2] * per_L, univalent)

    def condense(self, steam: float, organic: np.ndarray, gas: float) -> tuple[np.ndarray, float, float]:
        """One flash at the top of the ring: what escapes of each volatile, of water, and the water that returns."""
        ring, P = self.ring, self.scenario.heating.pressure_Pa
        y_w = ring.p_water / P
        K, x_sat, oily = self.K_ring, ring.x_saturated, ring.x_saturated < 1
        if steam * (1 - y_w) <= y_w * (gas + organic.sum()):  # too little steam to wet the gas: all of it leaves
            return organic, steam, 0.0

        def escaping(G: float) -> np.ndarray:
            L = max(steam - G * y_w, 0.0)
            returned = x_sat[oily] * (L + K[oily] * G)

            def excess(O: float) -> float:
                return (organic[oily] / (returned + O)).sum() - 1

            O = brentq(excess, 0.0, organic.sum(), xtol=1e-25, rtol=1e-13) if excess(0.0) > 0 else 0.0
            return organic * K * G / (L + K * G + np.where(oily, O / x_sat, 0.0))

        top = (gas + organic.sum()) / (1 - y_w)
        G = brentq(lambda G: G * (1 - y_w) - gas - escaping(G).sum(), 0.0, top, xtol=1e-22, rtol=1e-13) if gas else 0.0
        return escaping(G), G * y_w, steam - G * y_w

    def rates(self, t: float, y: np.ndarray, stage: Stage) -> np.ndarray:
        """d/dt of the amounts in the flask, in the oil, vented and taken off."""
        self.evaluations += 1
        n, oil, _, _ = self.split(y)
        w = self.liquor(n, stage.temperature(t), stage.boils)
        h, N = w.heat, len(self.organics)
        dissolved = n[:N].copy()
        dissolved[self.oil_at] -= oil
        c = dissolved / w.volume
        free = c / (1 + h.K_hydrate)
        salting = 10 ** (self.setschenow @ (w.carbonate, w.uni_univalent))
        c_of = dict(zip(self.organics, free), hydroxide=w.hydroxide)
        dn = w.volume * (self.reactions(c_of, h) @ self.stoichiometry)

        solubility = h.solubility / salting[self.oil_at]
        share = c[self.oil_at] / solubility
        share /= max(1.0, share.sum())
        seed = 1e-8  # mol of oil in equilibrium with the water, from which an oil can grow
        there = np.maximum(oil, 0.0)
        z = (there + seed * share) / (there.sum() + seed)
        doil = self.scenario.vessel.k_La_per_s * w.volume * (c[self.oil_at] - z * solubility)
        doil += stage.inflow[self.oil_at]

        vent, taken = np.zeros(len(self.names)), np.zeros(len(self.names))
        ring = self.scenario.condenser
        if not self.scenario.vessel.closed and (stage.boils or ring.sweep_mol_per_s):
            boil_up, gas = self.scenario.heating.boil_up_mol_per_s, ring.sweep_mol_per_s
            y_w = w.water_activity * h.p_water / self.scenario.heating.pressure_Pa
            steam = boil_up
            if not stage.boils:  # gas saturated with what the liquor gives off
                steam = gas * y_w / max(1 - y_w, 1e-9)
                steam = min(steam, boil_up) if boil_up else steam
            gone_organic = [
                free[i] * salting[i] / h.water_mol_L * K if i < N else w.co2_pressure
                for i, K in zip(self.volatile_at, h.K_volatile)
            ]
            organic = steam / y_w * np.maximum(gone_organic, 0.0)
            escaped, wet, back = self.condense(steam, organic, ring.air_exchange_mol_per_s + gas)
            vent[self.volatile_at], vent[self.at["water"]] = escaped, wet
            if stage.boils and back > 0:
                drawn = min(ring.take_off_mol_per_s, back)
                taken[self.volatile_at] = (organic - escaped) * drawn / back
                taken[self.at["water"]] = drawn
                if ring.make_up:
                    dn[self.at["water"]] += drawn
        dn += stage.inflow - vent - taken
        return np.concatenate([dn, doil, vent, taken])

    def reactions(self, c: dict[str, float], h: Heat) -> np.ndarray:
        """Rate of each step [mol/L/s] from free concentrations: forward less reverse, reverse = k/K."""
        ring, closed, rates = self.scenario.condenser, self.scenario.vessel.closed, []
        for step, k, K in zip(self.substrate.steps, h.k, h.K):
            forward = k * np.prod([c[name] ** order for name, order in step.orders.items()])
            if step.mechanism == "oxidation":
                gas = ring.air_exchange_mol_per_s + ring.sweep_mol_per_s
                air = gas - (ring.sweep_mol_per_s if ring.sweep_gas == "inert" else 0.0)
                forward *= 0.0 if closed or not gas else air / gas
            reverse = 0.0
            if step.reversible:
                products = [c[n] ** nu for n, nu in step.stoichiometry.items() if nu > 0 and n != "water"]
                reverse = k / K * np.prod(products) * c["hydroxide"] ** step.orders.get("hydroxide", 0)
            rates.append(forward - reverse)
        return np.array(rates)

    def settled_oil(self, n: np.ndarray, T: float) -> np.ndarray:
        """The oil [mol] in equilibrium with the water at the start."""
        w, amount = self.liquor(n, T, boiling=False), n[self.oil_at]
        salting = 10 ** (self.setschenow @ (w.carbonate, w.uni_univalent))
        holds = w.volume * w.heat.solubility / salting[self.oil_at]
        if (amount / holds).sum() <= 1:
            return 0 * amount
        oil = brentq(lambda O: (amount / (holds + O)).sum() - 1, 0.0, amount.sum())
        return amount * oil / (holds + oil)

    def split(self, y: np.ndarray) -> tuple[np.ndarray, ...]:
        n, o = len(self.names), len(self.oils)
        return y[:n], y[n : n + o], y[n + o : 2 * n + o], y[2 * n + o :]

    def amounts(self, charges: Iterable[Charge]) -> np.ndarray:
        """The formal components of some charges [mol]."""
        n = np.zeros(len(self.names))
        for charge in charges:
            for name, amount in charge.components_mol.items():
                n[self.at[name]] += amount
        return n


@dataclass
class Stage:
    """A stretch of the programme on which nothing jumps."""

    start: float
    end: float
    T_start: float
    T_end: float
    boils: bool
    inflow: np.ndarray
    sudden: np.ndarray

    def temperature(self, t: float) -> float:
        if self.end == self.start:
            return self.T_start
        return self.T_start + (self.T_end - self.T_start) * (t - self.start) / (self.end - self.start)


def stages_of(model: Model, n: np.ndarray) -> list[Stage]:
    """Heat-up, hold, cool-down, cut at the additions."""
    heating, additions = model.scenario.heating, model.scenario.additions
    boil_point = model.liquor(n, 373.15, boiling=True).heat.T
    boils = not model.scenario.vessel.closed and (heating.hold_K is None or heating.hold_K >= boil_point)
    T = boil_point if boils or heating.hold_K is None else heating.hold_K
    begin, end = heating.ramp_s, heating.ramp_s + heating.hold_s
    finish = end + heating.cooling_s
    ramps = {0.0, begin, end, finish}
    cuts = sorted(ramps | {min(begin + a.at_s + d, finish) for a in additions for d in (0.0, a.over_s)})

    def T_at(t: float) -> float:
        return float(np.interp(t, [0.0, begin, end, finish], [heating.start_K, T, T, heating.start_K]))

    stages = []
    for a, b in pairwise(cuts):
        holds = begin <= a < end
        inflow = sum((model.amounts(x.charges) / x.over_s for x in additions if _flows(x, begin, a)), 0 * n)
        sudden = sum((model.amounts(x.charges) for x in additions if not x.over_s and begin + x.at_s == a), 0 * n)
        stages.append(Stage(a, b, T if holds else T_at(a), T if holds else T_at(b), holds and boils, inflow, sudden))
    return stages


def _flows(addition: Addition, begin: float, t: float) -> bool:
    start = begin + addition.at_s
    return addition.over_s > 0 and start <= t < start + addition.over_s


def solve(
    scenario: Scenario,
    shelf: Shelf,
    times_s: Sequence[float] | np.ndarray,
    rtol: float = 1e-6,
    atol: float = 1e-11,
    settled: bool = True,
) -> Course:
    """The course of a batch at the times asked [s from the start of the ramp].

    settled: whether oil and water start in equilibrium; else what is charged starts as oil and dissolves at k_La.
    """
    model = Model(scenario, shelf)
    n = model.amounts(scenario.charges)
    stages = stages_of(model, n)
    y = np.concatenate([n, model.settled_oil(n, stages[0].T_start) if settled else n[model.oil_at], 0 * n, 0 * n])
    times = np.asarray(times_s, dtype=float)
    columns, T, pH = np.zeros((len(y), len(times))), np.zeros(len(times)), np.zeros(len(times))
    for stage in stages:
        y = y + np.concatenate([stage.sudden, stage.sudden[model.oil_at], 0 * n, 0 * n])
        inside = np.flatnonzero((times > stage.start) & (times <= stage.end) | (times == 0.0) & (stage is stages[0]))
        wanted = np.unique([*times[inside], stage.end])
        found = solve_ivp(model.rates, (stage.start, stage.end), y, "BDF", wanted, args=(stage,), rtol=rtol, atol=atol)
        if not found.success:
            raise RuntimeError(found.message)
        y = found.y[:, -1]
        for i in inside:
            columns[:, i] = found.y[:, np.searchsorted(wanted, times[i])]
            w = model.liquor(columns[: len(n), i], stage.temperature(times[i]), stage.boils)
            T[i], pH[i] = w.heat.T, w.pH
    flask, oil, vented, taken = model.split(columns)
    s = model.substrate

    def brought_in(name: str) -> np.ndarray:
        i, total = model.at[name], np.full(len(times), n[model.at[name]])
        for stage in stages:
            total += (times > stage.start) * stage.sudden[i]
            total += np.clip(times - stage.start, 0, stage.end - stage.start) * stage.inflow[i]
        return total

    put_in = brought_in(s.substrate)
    conversion = yield_ = None
    if put_in[-1] > 0:
        E, P = model.at[s.substrate], model.at[s.product]
        conversion = 1 - (flask[E] + vented[E] + taken[E]) / put_in
        yield_ = (flask[P] + taken[P] - brought_in(s.product)) / put_in / s.product_per_substrate
    named = [dict(zip(model.names, rows)) for rows in (flask, vented, taken)]
    return Course(
        times,
        T,
        pH,
        named[0],
        dict(zip(model.oils, oil)),
        named[1],
        named[2],
        conversion,
        yield_,
        model.evaluations,
    )
