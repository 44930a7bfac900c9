"""A substrate's species and steps, compiled to positions in lists: what the balance equations loop over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from kinetics.chemistry.ledger import combination
from kinetics.data.shelf import Shelf
from kinetics.data.substrate import Substrate
from kinetics.flask.mechanisms import Mechanisms

CARBON, WATER, OXYGEN = "inorganic carbon", "water", "oxygen"
STRONG_IONS = ("sodium", "potassium", "calcium", "chloride")


class CompiledStep(NamedTuple):
    """One step by positions: rate = (forward k prod c - reverse k prod c) [OH-]^order, per litre of water phase."""

    name: str
    mechanism: str
    hydroxide_order: float
    reactants: tuple[int, ...]  # a species of order 2 stands twice
    products: tuple[int, ...]
    stoichiometry: tuple[tuple[int, float], ...]
    oxygen: float  # mol of O2 drawn from the air per mol
    from_air: bool
    reversible: bool
    ledger: tuple[float, ...]  # how often each equilibrium of the ledger enters


@dataclass(frozen=True)
class Network:
    """What stands where. `species` are the organics, then inorganic carbon (as CO2), then water."""

    substrate: Substrate
    mechanisms: Mechanisms
    species: tuple[str, ...]
    steps: tuple[CompiledStep, ...]
    oils: tuple[int, ...]  # species that form oil
    volatiles: tuple[int, ...]  # species that evaporate, inorganic carbon among them
    acids: tuple[int, ...]
    hydrates: tuple[int, ...]  # species beside their gem-diol

    @property
    def carbon(self) -> int:
        return len(self.species) - 2

    @property
    def water(self) -> int:
        return len(self.species) - 1

    def position(self, name: str) -> int:
        return self.species.index(name)


def has(shelf: Shelf, species: str, quantity: str) -> bool:
    """Whether the shelf knows a property; one that is absent means that the species does not do it."""
    return f"{species}.{quantity}" in shelf


def build_network(substrate: Substrate, shelf: Shelf, mechanisms: Mechanisms) -> Network:
    """Compile a substrate with the mechanisms that act; `shelf` is the one the substrate came from."""
    species = (*substrate.species, CARBON, WATER)
    place = {name: i for i, name in enumerate(species)}
    ledger = [equilibrium.stoichiometry for equilibrium in substrate.equilibria]
    steps = []
    for step in substrate.steps:
        if not mechanisms.acts(step.mechanism):
            continue
        reactants: list[int] = []
        for name, order in step.orders.items():
            if name != "hydroxide":
                reactants += [place[name]] * round(order)
        products: list[int] = []
        for name, coefficient in step.stoichiometry.items():
            if coefficient > 0 and name not in (WATER, OXYGEN):
                products += [place[name]] * round(coefficient)
        sets_free = step.mechanism == "cleavage" and substrate.by_product in step.stoichiometry
        reversible = step.reversible and (mechanisms.reverse_cleavage or not sets_free)
        ample = step.reversible and not mechanisms.hydroxide_shortage  # at 1 mol/L the factor [OH-]^order is 1
        steps.append(
            CompiledStep(
                step.name,
                step.mechanism,
                0.0 if ample else step.orders.get("hydroxide", 0.0),
                tuple(reactants),
                tuple(products),
                tuple((place[s], nu) for s, nu in step.stoichiometry.items() if s != OXYGEN),
                -step.stoichiometry.get(OXYGEN, 0.0),
                step.mechanism == "oxidation",
                reversible,
                combination(step.stoichiometry, ledger, step.name) if step.reversible else (),
            )
        )
    organics = range(len(substrate.species))
    evaporates = [
        i for i in organics if has(shelf, species[i], "henry") or (has(shelf, species[i], "vapour_pressure")
        and has(shelf, species[i], "solubility"))
    ]  # fmt: skip
    kept = {place[substrate.substrate], place[substrate.product]}
    if substrate.product == substrate.by_product:
        kept.discard(place[substrate.product])
    volatiles = [i for i in evaporates if mechanisms.venting and (mechanisms.product_venting or i not in kept)]
    if mechanisms.carbon_dioxide_loss:
        volatiles.append(len(substrate.species))
    return Network(
        substrate,
        mechanisms,
        species,
        tuple(steps),
        tuple(i for i in organics if mechanisms.oil_phase and has(shelf, species[i], "solubility")),
        tuple(volatiles),
        tuple(i for i in organics if has(shelf, species[i], "pKa")),
        tuple(i for i in organics if has(shelf, species[i], "hydration")),
    )
