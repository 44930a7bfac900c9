"""Hazards: dilution air against a published worked example, limits against other tables, traps against closed forms."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from kinetics import simulate
from kinetics.analysis.hazard import (
    closed_pressure,
    dilution_air,
    hazard_report,
    kept_by_water,
    limits_of,
    molar_mass_of,
    statement_texts,
    steady_fraction,
    trap_water,
    vapour_volume,
)
from kinetics.data.shelf import Shelf
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

PINT_L, CUBIC_FOOT_L, ROOM_K = 0.473176473, 28.316846592, (70.0 + 459.67) / 1.8  # US units, 70 F


@pytest.fixture(scope="module")
def reflux(batch: Callable[..., Scenario]) -> tuple[Run, Scenario]:
    scenario = batch({"water": "350 mL", "cinnamaldehyde": "1.2 g", "sodium carbonate": "3 g"}, heating={"hold": "2 h"})
    return simulate(scenario), scenario


def test_dilution_air_against_the_example_of_acgih() -> None:
    """Methyl chloroform, 1.5 pints in 60 min, SG 1.32, M 133.4, limit 350 ppm, K 5: Q' = 285 cfm, Q = 1425 cfm.

    ACGIH, Industrial Ventilation, general dilution ventilation, with Q = 403e6 SG ER K/(M C); numbers from memory, the
    formula read (University of Toledo, industrial ventilation, formulae). The printed 403 is good to three figures.
    """
    litres_of_liquid = 1.5 * PINT_L / 60.0  # in a minute
    flow_mol = litres_of_liquid * 1000.0 * 1.32 / 133.4
    vapour_cfm = 1000.0 * vapour_volume(flow_mol, ROOM_K, 101325.0) / CUBIC_FOOT_L
    assert vapour_cfm == pytest.approx(403 * 1.32 * 1.5 / 60 / 133.4, rel=2e-3)
    assert dilution_air(vapour_cfm, 350e-6, 1.0) == pytest.approx(285, abs=1)
    assert dilution_air(vapour_cfm, 350e-6, 5.0) == pytest.approx(1425, abs=4)
    assert steady_fraction(vapour_cfm, 1425.0, 5.0) == pytest.approx(350e-6, rel=2e-3)


def test_a_steady_room_ends_where_the_equation_says() -> None:
    """V dC/dt = G - Q C, stepped to the end by hand."""
    V, G, Q, C = 30.0, 1e-4, 0.05, 0.0
    for _ in range(20000):
        C += (G - Q * C) / V
    assert steady_fraction(G, Q, 1.0) == pytest.approx(C, rel=1e-9)


def test_one_millilitre_in_a_cubic_metre_of_acetaldehyde(shelf: Shelf) -> None:
    """NIOSH Pocket Guide: 1 ppm = 1.80 mg/m3 at 25 degC and 1 atm."""
    mol_in_m3 = 1e-6 / vapour_volume(1.0, 298.15, 101325.0)
    assert 1000.0 * mol_in_m3 * shelf.substance("acetaldehyde").molar_mass == pytest.approx(1.80, abs=0.005)


@pytest.mark.parametrize(
    ("name", "cas"), [("acetaldehyde", "75-07-0"), ("acetone", "67-64-1"), ("benzaldehyde", "100-52-7")]
)
def test_limits_against_a_library(name: str, cas: str, shelf: Shelf) -> None:
    chemicals = pytest.importorskip("chemicals")
    assert shelf[f"limit.{name}.lower_flammable"].value == pytest.approx(100 * chemicals.LFL(CASRN=cas))
    flammable, short = (limit for _, limit, _ in limits_of(name, shelf))
    assert flammable == pytest.approx(0.1 * chemicals.LFL(CASRN=cas))
    table = chemicals.Ceiling(cas) or chemicals.STEL(cas)
    if name != "acetone":  # the library's 750 is the value before 2015
        assert (1e6 * short, "ppm") == (pytest.approx(table[0]), table[1])


def test_bisulfite_against_molar_masses_of_a_library(reflux: tuple[Run, Scenario], shelf: Shelf) -> None:
    """NaHSO3 one for one; Na2S2O5 + H2O gives two."""
    chemicals = pytest.importorskip("chemicals")
    trap = hazard_report(*reflux).trap
    assert trap is not None
    one, two = (chemicals.molecular_weight(chemicals.nested_formula_parser(f)) for f in ("NaHSO3", "Na2S2O5"))
    assert molar_mass_of("NaHSO3", shelf) == pytest.approx(one, rel=1e-4)  # S 32.06 against 32.065
    grams = {name: mass / trap.excess for name, mass in trap.bisulfite_g.items()}
    assert grams["sodium bisulfite"] == pytest.approx(trap.amount_mol * one, rel=1e-4)
    assert grams["sodium metabisulfite"] == pytest.approx(0.5 * trap.amount_mol * two, rel=1e-4)


def test_what_water_keeps_against_its_differential_equation() -> None:
    """dn/dt = F - G n/(H p V) stepped by hand: 3 mol of gas bring 5 mmol, H 0.45 mol/m3/Pa."""
    H, p, gas, fed = 0.45, 101325.0, 3.0, 5e-3
    litres = trap_water(gas, H, p, 0.9)
    passes = gas / (H * p * 1e-3 * litres)
    held, steps = 0.0, 200000
    for _ in range(steps):
        held += (fed - passes * held) / steps
    assert held / fed == pytest.approx(0.9, abs=1e-5)
    assert kept_by_water(passes) == pytest.approx(0.9, rel=1e-9)
    assert kept_by_water(1e-6) == pytest.approx(1.0, abs=1e-6)


def test_pressure_of_a_closed_vessel() -> None:
    """Steam tables: 101.42 kPa at 100 degC, 2.34 at 20 degC; the air by Gay-Lussac's law."""
    assert closed_pressure(101420.0, 98990.0, 0.0, 293.15, 373.15) == pytest.approx(227.4e3, rel=1e-3)


def test_closed_vessel_of_a_run(reflux: tuple[Run, Scenario]) -> None:
    """No less than steam and air; the acetaldehyde of 9 mmol in 0.35 L adds no more than a tenth."""
    closed = hazard_report(*reflux).closed
    assert closed.total_Pa == pytest.approx(closed.water_Pa + closed.air_Pa + closed.solute_Pa, rel=1e-12)
    assert 227e3 < closed.total_Pa < 1.1 * 227e3


def test_release_is_what_the_run_lets_go(reflux: tuple[Run, Scenario]) -> None:
    run, scenario = reflux
    report = hazard_report(run, scenario)
    release = next(r for r in report.releases if r.species == "acetaldehyde")
    gone = run.series.left_mol["acetaldehyde"]
    assert release.total_g == pytest.approx(44.053 * gone[-1], rel=1e-5)
    assert release.vapour_L == pytest.approx(24.055 * gone[-1], rel=1e-4)  # litres per mol at 20 degC and 1 atm
    hours = (run.series.time_s[-1]) / 3600.0
    assert release.peak_g_per_h > release.total_g / hours
    fastest = np.max(np.gradient(44.053 * gone, run.series.time_s / 3600.0))
    assert release.peak_g_per_h == pytest.approx(fastest, rel=0.1)
    by_hand = 5.0 * release.peak_g_per_h / 44.053 * 24.055e-3 / 25e-6
    assert release.needs[-1].air_m3_per_h == pytest.approx(by_hand, rel=1e-4)


def test_what_is_taken_off_is_not_in_the_air(batch: Callable[..., Scenario]) -> None:
    charge = {"water": "350 mL", "cinnamaldehyde": "1.2 g", "sodium carbonate": "3 g"}
    scenario = batch(charge, condenser={"take_off": "0.3 mL/min", "make_up": True})
    run = simulate(scenario)
    release = next(r for r in hazard_report(run, scenario).releases if r.species == "acetaldehyde")
    taken = run.series.taken_off_mol["acetaldehyde"][-1]
    assert taken > 0.0
    assert release.total_mol == pytest.approx(run.series.left_mol["acetaldehyde"][-1] - taken, rel=1e-12)


def test_the_scenario_tells_air_and_mixing(reflux: tuple[Run, Scenario]) -> None:
    run, scenario = reflux
    told = scenario.with_changes({"hazard.air": "100 m^3/h", "hazard.mixing": 2.5})
    plain, other = hazard_report(run, scenario), hazard_report(run, told)
    for before, after in zip(plain.releases, other.releases):
        assert before.reached is None
        assert after.needs[-1].air_m3_per_h == pytest.approx(0.5 * before.needs[-1].air_m3_per_h, rel=1e-12)
        assert after.reached == pytest.approx(after.needs[-1].fraction * after.needs[-1].air_m3_per_h / 100.0, rel=1e-12)


def test_statements_are_those_of_what_is_in_the_flask(reflux: tuple[Run, Scenario]) -> None:
    names = [name for name, _, _ in hazard_report(*reflux).statements]
    assert names[:2] == ["cinnamaldehyde", "sodium carbonate"]
    assert {"benzaldehyde", "acetaldehyde"} <= set(names)
    assert "sodium hydroxide" not in names
    assert all(words.startswith("H") and source for words, source in statement_texts().values())


def test_a_vapour_without_a_flammable_limit_keeps_its_short_term_one(shelf: Shelf) -> None:
    records = {name: r for name, r in shelf.records.items() if name != "limit.acetaldehyde.lower_flammable"}
    (limit,) = limits_of("acetaldehyde", replace(shelf, records=records))
    assert limit == limits_of("acetaldehyde", shelf)[-1]
