"""Everything that depends on temperature alone, at one temperature: constants of acid-base, rates, two liquids, vapour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from kinetics.chemistry.ledger import step_constant, van_t_hoff
from kinetics.chemistry.pitzer import PitzerParameters, debye_huckel_slope
from kinetics.chemistry.rates import arrhenius, consecutive_constants
from kinetics.chemistry.speciation import AcidBaseConstants
from kinetics.chemistry.volatility import MOLAR_MASS_WATER, free_fraction, henry_of_oil
from kinetics.data.namespace import Namespace
from kinetics.data.shelf import Shelf
from kinetics.flask.network import Network, has

ANIONS = ("hydroxide", "bicarbonate", "carbonate", "chloride")


class Conditions(NamedTuple):
    """Values at one temperature; lists follow the order of the network's species, steps, oils or volatiles."""

    temperature: Any  # K
    litres_per_mol: Any  # of water
    density: Any  # of water, kg/m3
    water_pressure: Any  # of pure water, Pa
    acid_base: AcidBaseConstants
    debye_huckel: Any
    pitzer: PitzerParameters
    free: list[Any]  # fraction of each species present as such (1 without hydrate)
    forward: list[Any]  # rate constants, L/mol/s to the order of the step
    reverse: list[Any]
    saturation: list[Any]  # of each oil in pure water, mol/L
    partial_pressure: list[Any]  # of each volatile over 1 mol/L of it in pure water, Pa L/mol


def mean_parameters(shelf: Shelf, T: Any, potassium_fraction: Any, debye_huckel: Any, m: Namespace) -> PitzerParameters:
    """Pitzer's parameters at T [K] as the mean over sodium and potassium, weighted by their amounts."""
    K, Na = potassium_fraction, 1.0 - potassium_fraction

    def pair(anion: str, parameter: str) -> Any:
        return Na * shelf[f"pitzer.sodium_{anion}.{parameter}"](T, m) + K * shelf[
            f"pitzer.potassium_{anion}.{parameter}"
        ](T, m)

    def psi(ions: str) -> Any:  # a triple that is not on the shelf has none
        name = f"pitzer.psi.{ions}"
        return shelf[name].value if name in shelf else 0.0

    def mean_psi(anions: str) -> Any:
        return Na * psi(f"sodium_{anions}") + K * psi(f"potassium_{anions}")

    def theta(ions: str) -> Any:
        return shelf[f"pitzer.theta.{ions}"].value

    charge_root = (1.0, 1.0, 2.0**0.5, 1.0)
    metals = [psi(f"sodium_potassium_{anion}") * K * Na for anion in ANIONS]
    return PitzerParameters(
        debye_huckel,
        tuple(pair(anion, "beta0") for anion in ANIONS),
        tuple(pair(anion, "beta1") for anion in ANIONS),
        tuple(pair(anion, "Cphi") / (2.0 * root) for anion, root in zip(ANIONS, charge_root)),
        theta("hydroxide_carbonate"),
        theta("bicarbonate_carbonate"),
        theta("chloride_hydroxide"),
        theta("chloride_carbonate"),
        theta("chloride_bicarbonate"),
        mean_psi("hydroxide_carbonate"),
        mean_psi("bicarbonate_carbonate"),
        mean_psi("chloride_hydroxide"),
        mean_psi("chloride_carbonate"),
        mean_psi("chloride_bicarbonate"),
        tuple(metals),
        theta("sodium_potassium") * K * Na,
    )


def calcium_hydroxide_product(solubility: Any, debye_huckel: Any, m: Namespace) -> Any:
    """Solubility product a_Ca a_OH^2 of lime from its solubility in pure water [mol/kg], by Debye-Hueckel activities."""
    root = m.sqrt(3.0 * solubility)
    f = -debye_huckel * (root / (1.0 + 1.2 * root) + 2.0 / 1.2 * m.log(1.0 + 1.2 * root))
    return 4.0 * solubility**3 * m.exp(6.0 * f)


def rate_constants(network: Network, T: Any, m: Namespace) -> tuple[list[Any], list[Any]]:
    """Forward and reverse rate constants of the network's steps at T [K]; reverse = forward / K from the ledger."""
    substrate = network.substrate
    equilibria = substrate.equilibria

    def ledger_constants(temperature: Any) -> list[Any]:
        return [
            van_t_hoff(
                e.K.value, 1000.0 * e.dH.value, 0.0 if e.dCp is None else e.dCp.value, temperature, m
            )
            for e in equilibria
        ]

    constants = ledger_constants(T)
    records = {step.name: step for step in substrate.steps}
    weights = {step.name: step.ledger for step in network.steps}
    shared: dict[str, Any] = {}
    if substrate.composite is not None:
        c = substrate.composite
        first, second = records[c.first], records[c.second]
        at_reference = ledger_constants(first.reference_K)
        shared[c.first], shared[c.second] = consecutive_constants(
            first.k.value,
            step_constant(weights[c.first], at_reference),
            second.k.value,
            step_constant(weights[c.first], constants),
            1000.0 * c.Ea.value,
            1000.0 * c.partition_difference.value,
            first.reference_K,
            T,
            m,
        )
    forward, reverse = [], []
    for step in network.steps:
        record = records[step.name]
        k = shared.get(step.name)
        if k is None:
            assert record.Ea is not None, "the shelf gives every step outside the composite one"
            k = arrhenius(record.k.value, 1000.0 * record.Ea.value, record.reference_K, T, m)
        forward.append(k)
        reverse.append(k / step_constant(step.ledger, constants) if step.reversible else 0.0)
    return forward, reverse


def conditions_at(network: Network, shelf: Shelf, T: Any, potassium_fraction: Any, m: Namespace) -> Conditions:
    """All of `Conditions` at temperature T [K]; `potassium_fraction` is that of the alkali metal [1]."""
    names = network.species
    density = shelf["water.density"](T, m)
    slope = debye_huckel_slope(density, shelf["water.permittivity"](T, m), T)
    LN10 = 2.302585092994046

    def ten_to_minus(name: str) -> Any:
        return m.exp(-LN10 * shelf[name](T, m))

    salting = shelf["pitzer.lambda.carbon dioxide_sodium"].value * (1.0 - potassium_fraction)
    salting = salting + shelf["pitzer.lambda.carbon dioxide_potassium"].value * potassium_fraction
    acid_base = AcidBaseConstants(
        ten_to_minus("water.pKw"),
        ten_to_minus("carbonic.pK1"),
        ten_to_minus("carbonic.pK2"),
        tuple(ten_to_minus(f"{names[i]}.pKa") for i in network.acids),
        calcium_hydroxide_product(shelf["calcium hydroxide.solubility"](T, m), slope, m),
        2.0 * salting,
    )
    free: list[Any] = [1.0] * len(names)
    for i in network.hydrates:
        free[i] = free_fraction(shelf[f"{names[i]}.hydration"](T, m))
    forward, reverse = rate_constants(network, T, m)
    return Conditions(
        T,
        1000.0 * MOLAR_MASS_WATER / density,
        density,
        shelf["water.saturation_pressure"](T, m),
        acid_base,
        slope,
        mean_parameters(shelf, T, potassium_fraction, slope, m),
        free,
        forward,
        reverse,
        [shelf[f"{names[i]}.solubility"](T, m) for i in network.oils],
        partial_pressures(network, shelf, network.volatiles, T, m),
    )


def partial_pressures(network: Network, shelf: Shelf, positions: Sequence[int], T: Any, m: Namespace) -> list[Any]:
    """Pressure of each species over 1 mol/L of it in pure water [Pa L/mol], the inverse of Henry's solubility.

    CO2: Henry's pressure per mole fraction times the mole fraction of 1 mol/L. Oils: the vapour pressure of the
    oil over its solubility. Others: the shelf's Henry constant (of the free aldehyde where there is a hydrate).
    """
    pressures = []
    for i in positions:
        name = network.species[i]
        if i == network.carbon:
            litres = 1000.0 * MOLAR_MASS_WATER / shelf["water.density"](T, m)
            pressures.append(shelf["carbon dioxide.henry_pressure"](T, m) * litres)
        elif has(shelf, name, "henry"):
            pressures.append(1000.0 / shelf[f"{name}.henry"](T, m))
        else:
            H = henry_of_oil(shelf[f"{name}.solubility"](T, m), shelf[f"{name}.vapour_pressure"](T, m))
            pressures.append(1.0 / H)
    return pressures
