"""The base: what to weigh, what a baked batch holds, how alkaline the liquor is cold and hot, and why caustic differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import exp, log
from typing import NamedTuple

from kinetics.analysis.baking import bicarbonate_to_bake
from kinetics.chemistry.speciation import Totals, speciate
from kinetics.chemistry.volatility import MOLAR_MASS_WATER
from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.balance import activity_model
from kinetics.flask.conditions import conditions_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import CARBON, STRONG_IONS, WATER, Network, build_network
from kinetics.run.plan import boil_point_of, sum_of_components
from kinetics.run.reading_charges import BAKED, BICARBONATE, CARBONATE
from kinetics.run.scenario import Charge, Scenario

ONE_CARBONATE = ("sodium carbonate", "sodium carbonate monohydrate", "sodium carbonate decahydrate", "potassium carbonate")
CAUSTIC = "sodium hydroxide"
COMPARED = (*ONE_CARBONATE, "sodium bicarbonate", "calcium hydroxide", CAUSTIC, "potassium hydroxide")
STRONGEST = 4.0  # mol of metal per kg of water: the activity model is sound to 2 mol/kg of carbonate
WEAKEST = 1e-7
NEGLIGIBLE = 1e-5  # mol/L of hydroxide: a liquor below it has no base to speak of


# ---------------------------------------------------------------- the liquor, through the engine's speciation


class Liquor(NamedTuple):
    """Acid-base state at one temperature [K]; pH is at that temperature."""

    temperature_K: float
    pH: float
    hydroxide_mol_per_L: float


@dataclass(frozen=True)
class Bench:
    """A scenario's liquor without its organics, on which bases are tried."""

    scenario: Scenario
    network: Network
    shelf: Shelf
    rest: Mapping[str, float]  # formal components [mol] without any base
    bases: tuple[Charge, ...]

    def hot_K(self, amounts: Mapping[str, float]) -> float:
        """Temperature of the hold [K]: the liquor's own boil point where it boils."""
        boil_K = boil_point_of(amounts, self.scenario, self.network, self.shelf)
        hold_K = self.scenario.heating.hold_K
        return boil_K if hold_K is None or (hold_K >= boil_K and not self.scenario.vessel.closed) else hold_K

    def liquor(self, amounts: Mapping[str, float], T: float | None = None) -> Liquor:
        """State of a liquor with these components [mol] at T [K], hot where None."""
        T = self.hot_K(amounts) if T is None else T
        kg = amounts[WATER] * MOLAR_MASS_WATER
        sodium, potassium, calcium, chloride = (amounts.get(ion, 0.0) / kg for ion in STRONG_IONS)
        alkali = sodium + potassium
        acids = tuple(amounts.get(self.network.species[i], 0.0) / kg for i in self.network.acids)
        conditions = conditions_at(self.network, self.shelf, T, potassium / (alkali + 1e-300), FLOATS)
        totals = Totals(alkali, calcium, chloride, amounts.get(CARBON, 0.0) / kg, acids)
        state = speciate(totals, conditions.acid_base, activity_model(self.network, conditions, FLOATS), FLOATS)
        return Liquor(T, state.pH, state.hydroxide * conditions.density / 1000.0)

    def charged(self) -> dict[str, float]:
        """The components [mol] with the bases as charged."""
        return added(self.rest, sum_of_components(self.bases))

    def with_base(self, name: str, amount_mol: float) -> dict[str, float]:
        """The components [mol] with this base in place of those charged."""
        components = self.shelf.substance(name).components
        return added(self.rest, {key: nu * amount_mol for key, nu in components.items()})


def added(first: Mapping[str, float], second: Mapping[str, float]) -> dict[str, float]:
    """Two sets of components [mol] together."""
    return {key: first.get(key, 0.0) + second.get(key, 0.0) for key in {**first, **second}}


def bench_of(scenario: Scenario, shelf: Shelf | None = None) -> Bench:
    """The liquor of a scenario's charge; additions on the way do not count."""
    shelf = (shelf or load_shelf()).including(scenario.substrate)
    network = build_network(shelf.substrate(scenario.substrate), shelf, Mechanisms())
    bases = tuple(charge for charge in scenario.charges if is_base(charge.substance, shelf))
    return Bench(scenario, network, shelf, sum_of_components(c for c in scenario.charges if c not in bases), bases)


def is_base(name: str, shelf: Shelf) -> bool:
    """Whether a charged name is a base; bicarbonate baked to carbonate is none on the shelf, and counts."""
    return name == BAKED or shelf.substance(name).kind == "base"


def root_in_logarithm(function: Callable[[float], float], low: float, high: float) -> float | None:
    """Where a function of x changes sign between `low` and `high`, sought in ln x; None where it does not."""
    from scipy.optimize import brentq

    if function(low) * function(high) > 0.0:
        return None
    return exp(brentq(lambda u: function(exp(u)), log(low), log(high), xtol=1e-10))


def amount_for_hydroxide(bench: Bench, name: str, hydroxide: float) -> float | None:
    """Amount of a base [mol] that gives `hydroxide` [mol/L] at the hold, at its own boil point; None if none does.

    Sought up to 4 mol/kg of metal, where the activity model ends.
    """
    metal = sum(bench.shelf.substance(name).components.get(ion, 0.0) for ion in STRONG_IONS[:3])
    per_kg = bench.rest[WATER] * MOLAR_MASS_WATER / metal
    return root_in_logarithm(
        lambda n: log(bench.liquor(bench.with_base(name, n)).hydroxide_mol_per_L / hydroxide),
        WEAKEST * per_kg,
        STRONGEST * per_kg,
    )


def acid_to_halve(bench: Bench, amounts: Mapping[str, float]) -> float | None:
    """Strong acid [mol] that halves the hydroxide of a hot liquor at its temperature: the reserve of the base."""
    T = bench.hot_K(amounts)
    half = 0.5 * bench.liquor(amounts, T).hydroxide_mol_per_L
    metal = sum(amounts.get(ion, 0.0) * charge for ion, charge in zip(STRONG_IONS, (1.0, 1.0, 2.0)))

    def excess(n: float) -> float:
        return log(bench.liquor(added(amounts, {"chloride": n}), T).hydroxide_mol_per_L / half)

    return root_in_logarithm(excess, 1e-9 * metal, metal) if metal > 0.0 else None


# ---------------------------------------------------------------- the report


@dataclass(frozen=True)
class Weighed:
    """A base with its mass [g] and amount [mol], and mol per mol of the aldehyde; None where nothing reaches it."""

    name: str
    mass_g: float | None
    amount_mol: float | None
    per_aldehyde: float | None
    note: str = ""


@dataclass(frozen=True)
class Caustic:
    """Sodium hydroxide in place of the base: reserve [mol of acid], and the same weight of it.

    reserve and caustic_reserve: acid that halves the hot hydroxide, of the base charged and of caustic with as much
    hydroxide; times: hydroxide of the same weight of caustic over that of the base, and so the rate of Cannizzaro's
    reaction, which is first order in hydroxide.
    """

    reserve_mol: float | None
    caustic_reserve_mol: float | None
    same_weight_hydroxide_mol_per_L: float
    times: float


@dataclass(frozen=True)
class BaseReport:
    """What is worth knowing of the base of a scenario.

    same_carbonate: the weights that hold as much carbonate as the charge, and the bicarbonate to bake for it [g];
    same_hydroxide: what gives the same hot hydroxide.
    """

    title: str
    aldehyde: str
    aldehyde_mol: float
    charged: tuple[Weighed, ...]
    cold: Liquor
    hot: Liquor
    same_carbonate: tuple[Weighed, ...]
    bake_g: float | None
    same_hydroxide: tuple[Weighed, ...]
    caustic: Caustic | None


def base_report(scenario: Scenario, shelf: Shelf | None = None) -> BaseReport:
    """Everything about the base in a scenario's charge."""
    bench = bench_of(scenario, shelf)
    shelf, aldehyde = bench.shelf, bench.network.substrate.substrate
    aldehyde_mol = bench.rest.get(aldehyde, 0.0)

    def per_aldehyde(amount_mol: float) -> float | None:
        return amount_mol / aldehyde_mol if aldehyde_mol > 0.0 else None

    def weighed(name: str, amount_mol: float | None, note: str = "") -> Weighed:
        if amount_mol is None:
            return Weighed(name, None, None, None, note)
        return Weighed(name, amount_mol * shelf.substance(name).molar_mass, amount_mol, per_aldehyde(amount_mol), note)

    charged = bench.charged()
    hot = bench.liquor(charged)
    weights = [mass_g(charge, shelf) for charge in bench.bases]
    carbonate = sum(carbonate_in(charge) for charge in bench.bases)
    bake = None
    if carbonate > 0.0:
        M = [shelf.substance(name).molar_mass for name in (BICARBONATE, CARBONATE)]
        bake = bicarbonate_to_bake(carbonate * M[1], 1.0, *M)
    others: tuple[Weighed, ...] = ()
    caustic = None
    if hot.hydroxide_mol_per_L > NEGLIGIBLE:
        amounts = {name: amount_for_hydroxide(bench, name, hot.hydroxide_mol_per_L) for name in COMPARED}
        others = tuple(weighed(name, n, "" if n is not None else out_of_reach(name)) for name, n in amounts.items())
        caustic = caustic_beside(bench, hot, sum(weights), amounts[CAUSTIC])
    return BaseReport(
        scenario.title,
        aldehyde,
        aldehyde_mol,
        tuple(
            Weighed(c.substance, weight, c.amount_mol, per_aldehyde(c.amount_mol), holding(c, shelf))
            for c, weight in zip(bench.bases, weights)
        ),
        bench.liquor(charged, scenario.heating.start_K),
        hot,
        tuple(weighed(name, carbonate) for name in ONE_CARBONATE) if carbonate > 0.0 else (),
        bake,
        others,
        caustic,
    )


def out_of_reach(name: str) -> str:
    """Why a base does not give the hydroxide asked for."""
    if "bicarbonate" in name:
        return "not by itself: it has to lose carbon dioxide first, by baking or by long boiling"
    return "not within what it dissolves, or what the activity model covers"


def caustic_beside(bench: Bench, hot: Liquor, weight_g: float, same_mol: float | None) -> Caustic:
    """Caustic soda beside the base as charged, once with the same hydroxide and once with the same weight."""
    as_heavy = bench.liquor(bench.with_base(CAUSTIC, weight_g / bench.shelf.substance(CAUSTIC).molar_mass))
    return Caustic(
        acid_to_halve(bench, bench.charged()),
        None if same_mol is None else acid_to_halve(bench, bench.with_base(CAUSTIC, same_mol)),
        as_heavy.hydroxide_mol_per_L,
        as_heavy.hydroxide_mol_per_L / hot.hydroxide_mol_per_L,
    )


def carbonate_in(charge: Charge) -> float:
    """Carbonate [mol] in a charge: all of a carbonate; of baked bicarbonate what exceeds one sodium for each."""
    if charge.substance == BAKED:
        return charge.components_mol["sodium"] - charge.amount_mol
    return charge.amount_mol if charge.substance in ONE_CARBONATE else 0.0


def mass_g(charge: Charge, shelf: Shelf) -> float:
    """Mass [g] of a base as charged, without what is not it."""
    if charge.substance != BAKED:
        return charge.amount_mol * shelf.substance(charge.substance).molar_mass
    carbonate = carbonate_in(charge)
    masses = [shelf.substance(name).molar_mass for name in (CARBONATE, BICARBONATE)]
    return carbonate * masses[0] + (charge.amount_mol - carbonate) * masses[1]


def holding(charge: Charge, shelf: Shelf) -> str:
    """What a charge of baked bicarbonate holds, in words; nothing for other bases."""
    if charge.substance != BAKED:
        return ""
    carbonate = carbonate_in(charge) * shelf.substance(CARBONATE).molar_mass
    return f"{carbonate:.3g} g of carbonate, {mass_g(charge, shelf) - carbonate:.3g} g of bicarbonate"
