"""Baking bicarbonate: 2 NaHCO3 -> Na2CO3 + CO2 + H2O, and what the loss of mass tells."""

from __future__ import annotations

from dataclasses import dataclass

from kinetics.data.faults import QuantityError
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.run.reading_charges import BICARBONATE, CARBONATE, baked_amounts


def bicarbonate_to_bake(carbonate_g: float, converted: float, bicarbonate_M: float, carbonate_M: float) -> float:
    """Bicarbonate [g] that gives a mass of carbonate when baked: m = 2 Mb/Mc m_c/x.

    carbonate_g: wanted [g]; converted: x, the fraction that turns, above 0 to 1; molar masses Mb, Mc [g/mol].
    Exact stoichiometry; 1 g of carbonate takes 1.585 g.
    """
    return 2.0 * bicarbonate_M / carbonate_M * carbonate_g / converted


def largest_loss(bicarbonate_M: float, carbonate_M: float) -> float:
    """Loss of mass [1] of bicarbonate baked through: 1 - Mc/(2 Mb), molar masses [g/mol]; 0.369."""
    return 1.0 - carbonate_M / (2.0 * bicarbonate_M)


def converted_fraction(before_g: float, after_g: float, bicarbonate_M: float, carbonate_M: float) -> float:
    """Fraction of the bicarbonate that turned to carbonate, from its loss of mass: x = (1 - m/m0)/(1 - Mc/(2 Mb)).

    before_g, after_g: m0 and m [g], dry; molar masses Mb, Mc [g/mol]. Above 1 where something else was lost (moisture).
    """
    return (1.0 - after_g / before_g) / largest_loss(bicarbonate_M, carbonate_M)


@dataclass(frozen=True)
class Baked:
    """What a batch of baked bicarbonate holds [g]."""

    before_g: float
    after_g: float
    converted: float
    carbonate_g: float
    bicarbonate_g: float


def baked_batch(before_g: float, after_g: float, shelf: Shelf | None = None) -> Baked:
    """What is in a batch that weighed `before_g` as bicarbonate and `after_g` [g] baked. Raises QuantityError."""
    shelf = shelf or load_shelf()
    carbonate_M, bicarbonate_M = (shelf.substance(name).molar_mass for name in (CARBONATE, BICARBONATE))
    least = before_g * (1.0 - largest_loss(bicarbonate_M, carbonate_M))
    if not 0.0 < before_g or not least * (1.0 - 1e-9) <= after_g <= before_g:
        expected = f"between {least:.4g} g (baked through) and the {before_g:g} g that went in"
        hint = "A larger loss is moisture or a spill: dry the bicarbonate before it is weighed."
        raise QuantityError(expected, f"{after_g:g} g after baking", hint)
    converted = min(converted_fraction(before_g, after_g, bicarbonate_M, carbonate_M), 1.0)
    carbonate, rest = baked_amounts(after_g, converted, bicarbonate_M, carbonate_M)
    return Baked(before_g, after_g, converted, carbonate * carbonate_M, rest * bicarbonate_M)
