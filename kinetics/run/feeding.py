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


def refraction(index: float) -> float:
    """Refraction of a liquid by volume [1] from its refractive index: (n^2 - 1)/(n^2 + 2). Benzaldehyde, 1.5463: 0.3168.

    H. A. Lorentz, Ann. Phys. 9 (1880) 641; L. Lorenz, Ann. Phys. 11 (1880) 70.
    """
    return (index**2 - 1.0) / (index**2 + 2.0)


def refracted_fraction(index: float, pure: float, other: float, density: float, other_density: float) -> float:
    """Mass fraction of a liquid in its mixture with another [1], from refractive indices [1] at one temperature.

    refraction(n) = phi refraction(n_pure) + (1 - phi) refraction(n_other) (Lorentz and Lorenz), phi the volume fraction,
    volumes adding up, and w = phi rho/(phi rho + (1 - phi) rho_other), densities [kg/m3]. Below 0 or above 1 where the
    index lies outside those of the two. Good to about 0.01 of phi where the liquids are alike.
    """
    phi = (refraction(index) - refraction(other)) / (refraction(pure) - refraction(other))
    return phi * density / (phi * density + (1.0 - phi) * other_density)


def index_at_20(feed: Feed, shelf: Shelf) -> float:
    """The refractive index that was read, carried to 20 degC [1]: n20 = n - s (T - 20 degC), s about -4.5e-4 per K."""
    assert feed.refractive_index is not None
    read_at = ROOM_TEMPERATURE_K if feed.read_at_K is None else feed.read_at_K
    return feed.refractive_index - shelf["feed.refractive_slope"].value * (read_at - ROOM_TEMPERATURE_K)


def refracted(feed: Feed, substance: str, other: str, shelf: Shelf) -> tuple[float, float]:
    """Mass fraction of the aldehyde by the refractive index [1], and its standard uncertainty [1].

    Reading, carrying to 20 degC and both pure indices are moved by their own, and add in quadrature with the rule's.
    """
    n, slope = index_at_20(feed, shelf), shelf["feed.refractive_slope"]
    carried = (slope.sigma or 0.0) * ((feed.read_at_K or ROOM_TEMPERATURE_K) - ROOM_TEMPERATURE_K)
    pure, beside = (shelf[f"{name}.refractive_index"] for name in (substance, other))
    densities = [shelf[f"{name}.density"].value for name in (substance, other)]
    cases = [
        (n, pure, beside),
        (n + shelf["feed.refractive_reading"].value, pure, beside),
        (n + carried, pure, beside),
        (n, pure.shifted(1.0), beside),
        (n, pure, beside.shifted(1.0)),
    ]
    w, *moved = [refracted_fraction(index, one.value, two.value, *densities) for index, one, two in cases]
    return w, hypot(shelf["feed.refractive_rule"].value, *(other - w for other in moved))


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
        assumed.append(f"feed.{key} is not given: {record.quantity} is taken as {record.value:g} ({record.source}).")
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
    elif feed.refractive_index is not None and feed.beside is not None:
        fraction, sigma = refracted(feed, substance, shelf.substance(feed.beside).name, shelf)
        parts.append(sigma / fraction if fraction > 0.0 else 1.0)
        if feed.read_at_K is None:
            assumed.append("feed.read_at is not given: the temperature of the refractive index is taken as 20 degC.")
    else:
        fraction = either(feed.aldehyde, "aldehyde", f"feed.{substance}.aldehyde")
    uncertainty = hypot(*parts) if feed.uncertainty is None else feed.uncertainty
    return Fed(oil * fraction, uncertainty, oil, fraction, tuple(assumed), tuple(missing))
