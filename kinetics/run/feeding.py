"""What a feed amounts to: the aldehyde in bark, in an oil or in a layer of oil, with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log

from kinetics.data.namespace import FLOATS
from kinetics.data.records import Record
from kinetics.data.shelf import Shelf
from kinetics.data.units import ROOM_TEMPERATURE_K
from kinetics.run.scenario import Feed


@dataclass(frozen=True)
class Fed:
    """Aldehyde of a feed: its mass [kg] and relative standard uncertainty [1], the oil [kg] and its aldehyde [1].

    missing: keys of [feed] that are neither given nor on the shelf; the numbers mean nothing while there are any.
    """

    mass_kg: float
    uncertainty: float
    oil_kg: float
    fraction: float
    assumed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def titrated_fraction(titre_L: float, titrant: float, taken: float, molar_mass_g: float, sample_kg: float) -> float:
    """Mass fraction of aldehyde in a sample [1] from a titration: w = c V M/(nu m).

    titre V [L], titrant c [mol/L], taken nu [mol of titrant per mol of aldehyde], molar mass M [g/mol], sample m [kg].
    Hydroxylammonium chloride sets one acid free for each carbonyl (nu = 1; ISO 1279). Other carbonyls count as well.
    """
    return titrant * titre_L * molar_mass_g * 1e-3 / (taken * sample_kg)


def spread(record: Record) -> float:
    """Relative standard uncertainty [1] of a record of one number."""
    return log(record.factor) if record.factor is not None else (record.sigma or 0.0) / record.value


def fed_aldehyde(feed: Feed, substance: str, shelf: Shelf) -> Fed:
    """The aldehyde in a feed: m = oil x fraction; oil = bark x content x recovery, as weighed, or layer x density.

    What the feed leaves open comes from the shelf; relative uncertainties add in quadrature, unless the feed tells its own.
    """
    parts: list[float] = []
    assumed: list[str] = []
    missing: list[str] = []

    def either(given: float | None, key: str, *names: str) -> float:
        """The number given, else that of the first of the records on the shelf."""
        if given is not None:
            return given
        name = next((name for name in names if name in shelf), None)
        if name is None:
            missing.append(key)
            return 1.0
        record = shelf[name]
        parts.append(spread(record))
        assumed.append(f"feed.{key} is not given: {record.quantity} is taken as {record.value:g}.")
        return record.value

    if feed.oil_kg is not None:
        oil = feed.oil_kg
    elif feed.layer_L is not None:
        density = shelf.substance(substance).density
        parts.append(shelf["feed.reading"].value)
        oil = feed.layer_L * 1e-3 * (density(ROOM_TEMPERATURE_K, FLOATS) if density is not None else 1000.0)
    else:
        content = either(feed.oil_content, "oil_content", f"feed.{substance}.oil_content")
        oil = (feed.bark_kg or 0.0) * content * either(feed.recovery, "recovery", "feed.recovery")
    if feed.titration is not None and feed.sample_kg and feed.titre_L and feed.titrant_mol_per_L:
        taken = 1.0 if feed.titration == "hydroxylamine" else shelf["feed.bisulfite_taken"].value
        M = shelf.substance(substance).molar_mass
        fraction = titrated_fraction(feed.titre_L, feed.titrant_mol_per_L, taken, M, feed.sample_kg)
        parts.append(shelf["feed.titration"].value)
        if feed.titration == "bisulfite":
            parts.append(spread(shelf["feed.bisulfite_taken"]))
    else:
        fraction = either(feed.aldehyde, "aldehyde", f"feed.{substance}.aldehyde")
    uncertainty = hypot(*parts) if feed.uncertainty is None else feed.uncertainty
    return Fed(oil * fraction, uncertainty, oil, fraction, tuple(assumed), tuple(missing))
