"""The base: stoichiometry against a reference library, alkalinity against closed forms and printed pH."""

from collections.abc import Callable

import pytest

from kinetics.analysis.baking import baked_batch, bicarbonate_to_bake, converted_fraction, largest_loss
from kinetics.analysis.base import BAKED, amount_for_hydroxide, base_report, bench_of, out_of_reach
from kinetics.data.faults import QuantityError
from kinetics.data.shelf import Shelf
from kinetics.flask.network import WATER
from kinetics.run.scenario import Scenario

WEIGHTS = 5e-5  # relative: abridged atomic weights (C 12.011) against the library's (C 12.0107)


def molar_mass(formula: str) -> float:
    """From the atomic weights of a library of its own [g/mol]."""
    chemicals = pytest.importorskip("chemicals")
    return chemicals.molecular_weight(chemicals.nested_formula_parser(formula))


@pytest.fixture(scope="module")
def carbonate(batch: Callable[..., Scenario]) -> Scenario:
    return batch({"water": "350 mL", "cinnamaldehyde": "1.2 g", "sodium carbonate": "3 g"})


def test_calcination_against_molar_masses_of_a_library() -> None:
    """2 NaHCO3 -> Na2CO3 + CO2 + H2O: what is lost is one CO2 and one H2O for two."""
    bicarbonate, soda = molar_mass("NaHCO3"), molar_mass("Na2CO3")
    lost = (molar_mass("CO2") + molar_mass("H2O")) / (2 * bicarbonate)
    assert lost == pytest.approx(0.36917, abs=2e-5)
    assert largest_loss(bicarbonate, soda) == pytest.approx(lost, rel=1e-9)
    assert bicarbonate_to_bake(1.0, 1.0, bicarbonate, soda) == pytest.approx(1 / 0.63083, rel=3e-5)
    assert bicarbonate_to_bake(1.0, 0.5, bicarbonate, soda) == pytest.approx(2 / 0.63083, rel=3e-5)


@pytest.mark.parametrize("converted", [0.0, 0.3, 0.92, 1.0])
def test_a_batch_made_up_from_a_library_is_read_back(converted: float) -> None:
    """100 g of bicarbonate, a part of it baked by hand with other atomic weights: no more than their spread apart."""
    carbonate_g = 100.0 * converted * molar_mass("Na2CO3") / (2 * molar_mass("NaHCO3"))
    baked = baked_batch(100.0, 100.0 * (1.0 - converted) + carbonate_g * 1.00001)
    assert baked.converted == pytest.approx(converted, abs=1e-4)
    assert baked.carbonate_g == pytest.approx(carbonate_g, abs=0.01)
    assert baked.carbonate_g + baked.bicarbonate_g == pytest.approx(baked.after_g, rel=1e-12)


@pytest.mark.parametrize("after", [60.0, 101.0])
def test_what_baking_cannot_give_is_refused(after: float) -> None:
    with pytest.raises(QuantityError, match=r"63\.08 g .*100 g"):
        baked_batch(100.0, after)


def test_moisture_would_count_as_converted() -> None:
    assert converted_fraction(100.0, 60.0, 84.006, 105.988) > 1.0


def test_equivalents_against_molar_masses_of_a_library(carbonate: Scenario) -> None:
    grams = {w.name: w.mass_g for w in base_report(carbonate).same_carbonate}
    soda = molar_mass("Na2CO3")
    assert grams["sodium carbonate decahydrate"] == pytest.approx(3 * (soda + 10 * molar_mass("H2O")) / soda, rel=WEIGHTS)
    assert grams["sodium carbonate monohydrate"] == pytest.approx(3 * (soda + molar_mass("H2O")) / soda, rel=WEIGHTS)
    assert grams["potassium carbonate"] == pytest.approx(3 * molar_mass("K2CO3") / soda, rel=WEIGHTS)


def test_base_per_aldehyde_against_molar_masses_of_a_library(carbonate: Scenario) -> None:
    (charged,) = base_report(carbonate).charged
    expected = 3 / molar_mass("Na2CO3") / (1.2 / molar_mass("C9H8O"))
    assert charged.per_aldehyde == pytest.approx(expected, rel=WEIGHTS)


def test_half_and_half_has_the_ph_of_the_standard_buffer(batch: Callable[..., Scenario]) -> None:
    """0.025 mol/kg of each at 25 degC: 10.012 (Staples & Bates, J. Res. Natl. Bur. Stand. 73A (1969) 37)."""
    charge = {"water": "1000 g", "sodium carbonate": "0.025 mol", "sodium bicarbonate": "0.025 mol"}
    assert base_report(batch(charge, heating={"start": "25 degC"})).cold.pH == pytest.approx(10.012, abs=0.02)


def test_caustic_soda_for_a_hydroxide_is_the_hydroxide_itself(carbonate: Scenario, shelf: Shelf) -> None:
    """Strong base: as many mol as mol/L times the litres of hot water (density 958.3 kg/m3 at 100 degC, IAPWS-95)."""
    bench = bench_of(carbonate)
    kg = bench.rest[WATER] * 0.018015268
    amount = amount_for_hydroxide(bench, "sodium hydroxide", 0.014)
    assert amount == pytest.approx(0.014 * kg / 0.9583, rel=2e-4)


def test_each_equivalent_gives_the_same_hydroxide(carbonate: Scenario) -> None:
    report, bench = base_report(carbonate), bench_of(carbonate)
    reached = {w.name: w.amount_mol for w in report.same_hydroxide if w.amount_mol is not None}
    assert reached["sodium carbonate"] == pytest.approx(report.charged[0].amount_mol, rel=1e-7)
    assert set(reached) == {w.name for w in report.same_hydroxide} - {"sodium bicarbonate"}
    for name, amount in reached.items():
        hydroxide = bench.liquor(bench.with_base(name, amount)).hydroxide_mol_per_L
        assert hydroxide == pytest.approx(report.hot.hydroxide_mol_per_L, rel=1e-7)


def test_the_reserve_of_caustic_is_half_of_it(carbonate: Scenario) -> None:
    """Half of a strong base neutralised halves the hydroxide; activities and the boil point move it by a percent."""
    report = base_report(carbonate)
    caustic = next(w for w in report.same_hydroxide if w.name == "sodium hydroxide")
    assert report.caustic is not None and caustic.amount_mol is not None
    assert report.caustic.caustic_reserve_mol == pytest.approx(0.5 * caustic.amount_mol, rel=0.01)
    assert report.caustic.reserve_mol > 2 * report.caustic.caustic_reserve_mol


def test_baked_bicarbonate_is_taken_apart(batch: Callable[..., Scenario]) -> None:
    charge = {"water": "350 mL", BAKED: {"amount": "10 g", "converted": 0.8}}
    report = base_report(batch(charge))
    (charged,) = report.charged
    before = 10 / (0.4 * molar_mass("Na2CO3") + 0.2 * molar_mass("NaHCO3"))
    assert charged.mass_g == pytest.approx(10.0, rel=1e-9)
    assert report.bake_g == pytest.approx(0.8 * before * molar_mass("NaHCO3"), rel=WEIGHTS)
    assert charged.note == "7.16 g of carbonate, 2.84 g of bicarbonate"
    assert charged.per_aldehyde is None


def test_without_base_there_is_nothing_to_compare(batch: Callable[..., Scenario]) -> None:
    report = base_report(batch({"water": "350 mL", "cinnamaldehyde": "1.2 g"}))
    assert report.charged == report.same_carbonate == report.same_hydroxide == ()
    assert report.bake_g is None and report.caustic is None
    assert report.cold.pH == pytest.approx(0.5 * 14.163, abs=0.02)


def test_why_a_base_does_not_reach_a_hydroxide_is_told() -> None:
    assert "lose carbon dioxide first" in out_of_reach("sodium bicarbonate")
    assert "what it dissolves" in out_of_reach("calcium hydroxide")
