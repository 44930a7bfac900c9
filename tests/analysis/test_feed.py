"""The feed: titration against molar masses of a library and a pharmacopoeia's factor, chains by hand, faults at once."""

from collections.abc import Callable
from math import hypot, log

import pytest

from kinetics.analysis.feed import dissolved, feed_report
from kinetics.data.faults import ScenarioError
from kinetics.data.shelf import Shelf
from kinetics.run.feeding import fed_aldehyde, refracted_fraction, refraction, titrated_fraction
from kinetics.run.reading import parse_scenario
from kinetics.run.scenario import Feed, Scenario

FILE = """
title = "invented"
substrate = "cinnamaldehyde"
[charge]
water = "400 mL"
cinnamaldehyde = "feed"
"sodium carbonate" = "4 g"
[heating]
hold = "1 h"
"""


def read(feed: str, text: str = FILE) -> Scenario:
    return parse_scenario(f"{text}\n{feed}")


def faults(feed: str, text: str = FILE) -> dict[str, str]:
    with pytest.raises(ScenarioError) as refused:
        read(feed, text)
    return {fault.key: fault.expected for fault in refused.value.faults}


def test_a_millilitre_of_half_normal_titrant_against_the_pharmacopoeia() -> None:
    """USP, lemon oil: each mL of 0.5 N is 76.12 mg of citral (M 152.24 then, 152.23 now)."""
    assert titrated_fraction(1e-3, 0.5, 1.0, 152.24, 76.12e-6) == pytest.approx(1.0, rel=1e-9)


def test_titrated_aldehyde_against_molar_masses_of_a_library(shelf: Shelf) -> None:
    """1 g of oil, 12.4 mL of 0.5 mol/L: 6.2 mmol of carbonyl."""
    chemicals = pytest.importorskip("chemicals")
    feed = Feed(oil_kg=2e-3, sample_kg=1e-3, titre_L=12.4e-3, titrant_mol_per_L=0.5, titration="hydroxylamine")
    fed = fed_aldehyde(feed, "cinnamaldehyde", shelf)
    M = chemicals.molecular_weight(chemicals.nested_formula_parser("C9H8O"))
    assert fed.fraction == pytest.approx(6.2e-3 * M, rel=5e-5)
    assert fed.mass_kg == pytest.approx(2e-3 * 6.2e-3 * M, rel=5e-5)
    assert fed.uncertainty == pytest.approx(0.02)
    doubled = fed_aldehyde(Feed(**{**vars(feed), "titration": "bisulfite"}), "cinnamaldehyde", shelf)
    assert doubled.fraction == pytest.approx(0.5 * fed.fraction)  # two for each enal
    assert doubled.uncertainty == pytest.approx(hypot(0.02, log(1.15)))


REFRACTED = '[feed]\noil = "2 g"\nrefractive_index = 1.601\nbeside = "benzaldehyde"\n'


def test_refraction_against_a_library() -> None:
    """Molar refraction of benzaldehyde over its molar volume."""
    chemicals = pytest.importorskip("chemicals")
    assert refraction(1.5463) == pytest.approx(chemicals.molar_refractivity_from_RI(1.5463, 1e-4) / 1e-4, rel=1e-12)


@pytest.mark.parametrize("mole_fraction", [0.1, 0.5, 0.9])
def test_a_mixture_whose_molar_refractions_add_up(mole_fraction: float) -> None:
    """Mixed by moles, with volumes and molar refractions adding up, the index comes from a library; the mass fraction goes back."""
    chemicals = pytest.importorskip("chemicals")
    masses, densities, indices = (132.162, 106.124), (1049.7, 1045.5), (1.6195, 1.5463)
    x = (mole_fraction, 1.0 - mole_fraction)
    volumes = [1e-3 * M / rho for M, rho in zip(masses, densities)]
    molar = sum(a * chemicals.molar_refractivity_from_RI(n, V) for a, n, V in zip(x, indices, volumes))
    index = chemicals.RI_from_molar_refractivity(molar, sum(a * V for a, V in zip(x, volumes)))
    expected = x[0] * masses[0] / (x[0] * masses[0] + x[1] * masses[1])
    assert refracted_fraction(index, *indices, *densities) == pytest.approx(expected, rel=1e-9)


def test_pure_liquids_are_the_ends() -> None:
    ends = [refracted_fraction(n, 1.6195, 1.5463, 1049.7, 1045.5) for n in (1.6195, 1.5463)]
    assert ends == [pytest.approx(1.0, abs=1e-12), pytest.approx(0.0, abs=1e-12)]


@pytest.mark.parametrize(
    ("name", "cas"),
    [
        ("benzaldehyde", "100-52-7"), ("cinnamaldehyde", "14371-10-9"), ("benzyl alcohol", "100-51-6"), ("acetone", "67-64-1"),
        ("6-methyl-5-hepten-2-one", "110-93-0"), ("3-methyl-2-butenal", "107-86-8"), ("diacetone alcohol", "123-42-2"),
    ],
)  # fmt: skip
def test_pure_refractive_indices_against_a_library(name: str, cas: str, shelf: Shelf) -> None:
    chemicals = pytest.importorskip("chemicals")
    index, T = chemicals.RI(cas)
    assert (shelf[f"{name}.refractive_index"].value, 293.15) == (pytest.approx(index, abs=1e-9), T)


def test_an_oil_by_its_refractive_index(shelf: Shelf) -> None:
    """Nearly linear between the pure ones: (1.601 - 1.5463)/(1.6195 - 1.5463) = 0.747 by volume; 2 points for the rule's bend.

    Standard uncertainty by the same slope: of the reading, of either pure index by its share, and of the rule.
    """
    feed = Feed(oil_kg=2e-3, refractive_index=1.601, beside="benzaldehyde", read_at_K=293.15)
    fed = fed_aldehyde(feed, "cinnamaldehyde", shelf)
    assert fed.fraction == pytest.approx(0.747, abs=0.02)
    assert fed.mass_kg == pytest.approx(2e-3 * fed.fraction, rel=1e-12)
    slope = 1.0 / (1.6195 - 1.5463)
    sources = (0.0005 * slope, 0.0010 * slope * 0.75, 0.0007 * slope * 0.25, 0.01)
    assert fed.uncertainty * fed.fraction == pytest.approx(hypot(*sources), rel=0.05)


def test_a_warm_reading_is_carried_to_20_degC() -> None:
    """Read at 30 degC the index is 10 times 4.5e-4 smaller; the carrying is uncertain too."""
    cold, warm = read(REFRACTED), read(REFRACTED.replace("1.601", "1.5965") + 'read_at = "30 degC"')
    first, second = (next(c for c in s.charges if c.substance == "cinnamaldehyde") for s in (cold, warm))
    assert second.amount_mol == pytest.approx(first.amount_mol, rel=1e-5)
    assert second.uncertainty > first.uncertainty
    assert any("feed.read_at is not given" in text for text in cold.assumed)
    assert any("of benzaldehyde in the oil are not charged" in text for text in warm.assumed)


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ("1.601", "1.62", "feed.refractive_index", "between 1.5463 (benzaldehyde) and 1.6195 (cinnamaldehyde)"),
        ("1.601", "1.5463", "feed.refractive_index", "between"),
        ('"benzaldehyde"', '"benzaldehid"', "feed.beside", '"benzaldehyde"'),
        ('"benzaldehyde"', '"cinnamaldehyde"', "feed.beside", "tells from cinnamaldehyde"),
        ('"benzaldehyde"', '"water"', "feed.beside", "tells from cinnamaldehyde"),
        ('"benzaldehyde"', "3", "feed.beside", "substance"),
        ('beside = "benzaldehyde"', "", "feed.beside", "the other liquid"),
        ("refractive_index = 1.601", "", "feed.refractive_index", "such as 1.601"),
        ("oil =", "aldehyde = 0.8\noil =", "feed.beside", "only one of"),
    ],
)
def test_a_refractive_index_that_tells_nothing(old: str, new: str, key: str, words: str) -> None:
    assert words in faults(REFRACTED.replace(old, new))[key]
    unused = FILE.replace('"feed"', '"1 g"')  # wrong is wrong, whether the charge asks for the feed or not
    assert words in faults(REFRACTED.replace(old, new), unused)[key]


def test_bark_by_hand(shelf: Shelf) -> None:
    given = Feed(bark_kg=0.2, oil_content=0.01, recovery=0.75, aldehyde=0.8, uncertainty=0.2)
    fed = fed_aldehyde(given, "cinnamaldehyde", shelf)
    assert (fed.mass_kg, fed.oil_kg, fed.uncertainty, fed.assumed) == (
        pytest.approx(1.2e-3), pytest.approx(1.5e-3), 0.2, (),
    )  # fmt: skip


def test_what_is_left_open_is_of_the_trade_and_uncertain(shelf: Shelf) -> None:
    fed = fed_aldehyde(Feed(bark_kg=0.2), "cinnamaldehyde", shelf)
    assert 0.2 * 0.004 * 0.7 * 0.7 < fed.mass_kg < 0.2 * 0.02 * 0.9 * 0.9  # the ranges of the trade
    assert fed.uncertainty == pytest.approx(hypot(log(1.5), log(1.15), 0.06 / 0.80))
    assert len(fed.assumed) == 3


def test_a_layer_is_weighed_by_its_density(shelf: Shelf) -> None:
    fed = fed_aldehyde(Feed(layer_L=1.7e-3, aldehyde=0.8), "cinnamaldehyde", shelf)
    assert fed.oil_kg == pytest.approx(1.7e-6 * 1049.7)
    assert fed.uncertainty == pytest.approx(0.05)


def test_the_feed_stands_for_the_charge() -> None:
    scenario = read('[feed]\noil = "2 g"\naldehyde = 0.8\nuncertainty = 0.1')
    charge = next(c for c in scenario.charges if c.substance == "cinnamaldehyde")
    assert charge.amount_mol == pytest.approx(1.6 / 132.162, rel=1e-5)
    assert charge.uncertainty == 0.1
    changed = scenario.with_changes({"feed.oil": "4 g"})
    assert next(c for c in changed.charges if c.substance == "cinnamaldehyde").amount_mol == pytest.approx(2 * charge.amount_mol)
    weighed = scenario.with_changes({"charge.cinnamaldehyde": "1 g"})
    assert next(c for c in weighed.charges if c.substance == "cinnamaldehyde").amount_mol == pytest.approx(1 / 132.162, rel=1e-5)


def test_what_the_shelf_fills_in_is_said() -> None:
    assert any(text.startswith("feed.aldehyde is not given") for text in read('[feed]\noil = "2 g"').assumed)


def test_faults_of_a_feed_come_together() -> None:
    found = faults('[feed]\noil = "2 mL"\naldehyde = 1.2\nbarc = "1 g"\n[workup]\ncut = 0.5\n[hazard]\nmixing = 0.5')
    assert set(found) == {"feed.oil", "feed.aldehyde", "feed.barc", "workup.cut", "hazard.mixing"}


@pytest.mark.parametrize(
    ("feed", "key"),
    [
        ("", "charge.cinnamaldehyde"),
        ("[feed]\naldehyde = 0.8", "feed"),
        ('[feed]\noil = "2 g"\nlayer = "2 mL"', "feed.layer"),
        ('[feed]\noil = "2 g"\naldehyde = 0.8\ntitre = "3 mL"', "feed.titre"),
        ('[feed]\noil = "2 g"\nsample = "1 g"\ntitre = "3 mL"', "feed.titrant"),
        (
            '[feed]\noil = "2 g"\nsample = "1 g"\ntitre = "30 mL"\ntitrant = "0.5 mol/L"\ntitration = "hydroxylamine"',
            "feed.titre",
        ),
    ],
)
def test_a_feed_that_says_too_little_or_too_much(feed: str, key: str) -> None:
    assert key in faults(feed)


def test_no_other_charge_is_fed() -> None:
    text = FILE.replace('cinnamaldehyde = "feed"', 'benzaldehyde = "feed"')
    assert "charge.benzaldehyde" in faults('[feed]\noil = "2 g"', text)


def test_another_substrate_has_to_say_it_all() -> None:
    text = FILE.replace("cinnamaldehyde", "citral")
    assert set(faults('[feed]\nbark = "100 g"', text)) == {"feed.oil_content", "feed.aldehyde"}


def test_saturated_water(shelf: Shelf) -> None:
    """1.42 g/L at 25 degC (NTP): of 1 g in 0.4 L of that water 0.568 g dissolves."""
    state = dissolved("cinnamaldehyde", 1.0, 0.4, 298.15, shelf)
    assert state.in_water_g == pytest.approx(0.568, rel=2e-3)
    assert state.in_water_g + state.in_oil_g == pytest.approx(1.0, rel=1e-12)
    assert dissolved("cinnamaldehyde", 0.1, 0.4, 298.15, shelf).in_oil_g == 0.0


def test_report_tells_oil_from_solution(batch: Callable[..., Scenario]) -> None:
    report = feed_report(read('[feed]\noil = "1.8 g"\naldehyde = 0.8\ndistillate = "300 mL"'))
    assert report is not None and report.distillate is not None
    cold, hot = report.flask
    assert cold.in_oil_g > hot.in_oil_g > 0.0 and hot.temperature_K == pytest.approx(373.12, abs=0.01)
    assert report.distillate.in_water_g == pytest.approx(0.75 * cold.in_water_g, rel=1e-3)
    assert feed_report(batch({"water": "300 mL"})) is None
