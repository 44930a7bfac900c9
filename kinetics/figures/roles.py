"""What each species is in its network, and the look that goes with it in every figure."""

from __future__ import annotations

from kinetics.data.shelf import load_shelf
from kinetics.data.substrate import Substrate
from kinetics.figures.style import (
    AMBER,
    ASH,
    CHAIN,
    DOTS,
    INDIGO,
    INK,
    LAKE,
    LILAC,
    LONG,
    OLIVE,
    SHORT,
    WINE,
    Look,
)
from kinetics.flask.network import CARBON, STRONG_IONS, WATER
from kinetics.run.result import Run

ROLE_LOOKS = {
    "substrate": Look(INK),
    "intermediate": Look(INDIGO, SHORT),
    "crossed aldol": Look(WINE, CHAIN),
    "product": Look(AMBER, width=2.4),
    "by-product": Look(LAKE, LONG),
    "self aldol": Look(OLIVE, SHORT, 2.4),
    "further": Look(LILAC, DOTS, 2.4),
    "rest": Look(ASH),
}
ROLE_OF_MECHANISM = {"cleavage": "intermediate", "crossed aldol": "crossed aldol", "self aldol": "self aldol"}


def substrate_of(run: Run) -> Substrate:
    """The network of a run."""
    if run.trajectory is not None:
        return run.trajectory.network.substrate
    return load_shelf().substrate(run.substrate)


def organics(run: Run) -> list[str]:
    """The organic species of a run, in the order of its network."""
    return [name for name in run.series.flask_mol if name not in (CARBON, WATER, *STRONG_IONS)]


def role(substrate: Substrate, species: str) -> str:
    """What a species is: one of the keys of ROLE_LOOKS, from the step that forms it."""
    named = {
        substrate.by_product: "by-product",
        substrate.product: "product",
        substrate.substrate: "substrate",
    }
    if species in named:
        return named[species]
    for step in substrate.steps:
        if step.stoichiometry.get(species, 0.0) > 0.0:
            return ROLE_OF_MECHANISM.get(step.mechanism, "further")
    return "rest"


def crossed_aldols(run: Run) -> list[str]:
    """A sentence that tells what the species with the long name is, where there is one."""
    substrate = substrate_of(run)
    names = [name for name in organics(run) if role(substrate, name) == "crossed aldol"]
    return [
        f"{name}: the crossed aldol of {substrate.substrate} and {substrate.by_product}." for name in names
    ]
