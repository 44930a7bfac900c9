"""Constants, substances and substrates as data with provenance, and the door for units."""

from kinetics.data.records import Record, ShelfError
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.substances import Substance
from kinetics.data.substrate import Composite, Equilibrium, Step, Substrate

__all__ = [
    "Composite",
    "Equilibrium",
    "Record",
    "Shelf",
    "ShelfError",
    "Step",
    "Substance",
    "Substrate",
    "load_shelf",
]
