"""What a sound scenario file turns into: house units, defaults told in sentences, files as shipped."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from kinetics.data.shelf import load_shelf
from kinetics.run.reading import parse_scenario, read_scenario
from kinetics.run.reading_charges import baked_amounts
from kinetics.run.reading_conditions import dry_time, pressure_at_altitude
from kinetics.run.reading_keys import SCHEDULE, SECTIONS
from kinetics.run.reading_tables import Findings, read_value
from kinetics.run.scenario import Charge, Scenario
from kinetics.run.template import starting_scenario

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))

LEAST = """
substrate = "cinnamaldehyde"
charge.water = "400 mL"
heating.hold = "8 h"
"""


def scenario(more: str = "") -> Scenario:
    return parse_scenario(LEAST + more)


def charge(line: str, substrate: str = "cinnamaldehyde") -> Charge:
    return parse_scenario(LEAST.replace("cinnamaldehyde", substrate) + "charge." + line).charges[-1]


def test_defaults_and_a_sentence_for_each() -> None:
    least = scenario()
    assert (least.title, least.substrate, least.path) == ("untitled", "cinnamaldehyde", None)
    heating = least.heating
    assert (heating.start_K, heating.ramp_s, heating.hold_s, heating.hold_K) == (293.15, 1500, 28800, None)
    assert (heating.pressure_Pa, heating.cooling_s) == (101325, 1800)
    assert (least.vessel.closed, least.vessel.k_La_per_s) == (False, 6e-3)
    condenser = least.condenser
    assert (condenser.coolant_K, condenser.approach_K) == (288.15, 5)
    assert (condenser.sweep_mol_per_s, condenser.sweep_gas) == (0, "inert")
    assert (condenser.take_off_mol_per_s, condenser.make_up) == (0, False)
    for key in (
        *("title", "heating.start", "heating.ramp", "heating.temperature", "heating.altitude", "heating.boil_up"),
        *("heating.cooling", "vessel.closed", "vessel.stirring", "condenser.coolant", "condenser.approach"),
        *("condenser.air_exchange", "condenser.sweep", "condenser.sweep_gas", "condenser.take_off"),
        "condenser.make_up",
    ):
        assert [s for s in least.assumed if s.startswith(f"{key} is not given: ")], key
    assert len(least.assumed) == 16
    assert "heating.start is not given: the temperature at the start is taken as 20 degC." in least.assumed


def test_nothing_is_assumed_about_what_is_written() -> None:
    text = (Path(__file__).parents[2] / "scenarios/perfume_school.toml").read_text(encoding="utf-8")
    assumed = parse_scenario(text).assumed
    assert [sentence.split(" ")[0] for sentence in assumed] == ["condenser.sweep_gas", "condenser.make_up"]


def test_title_defaults_to_the_name_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "my batch.toml"
    path.write_text(LEAST, encoding="utf-8")
    assert read_scenario(path).title == "my batch"
    assert read_scenario(str(path)).path == path


def test_bytes_of_other_editors_are_read(tmp_path: Path) -> None:
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + LEAST.replace("\n", "\r\n").encode())
    assert read_scenario(path).heating.hold_s == 28800


# ---- charges ----


def test_charge_by_mass_volume_and_amount_agree() -> None:
    molar_mass = 132.159  # g/mol of C9H8O, CRC Handbook
    density = 1049.7  # kg/m3 at 20 C, CRC Handbook
    by_mass = charge('cinnamaldehyde = "1.5 g"').amount_mol
    assert by_mass == pytest.approx(1.5 / molar_mass, rel=1e-4)
    assert charge(f'cinnamaldehyde = "{1.5 / density * 1e3} mL"').amount_mol == pytest.approx(by_mass, rel=1e-3)
    assert charge(f'cinnamaldehyde = "{1.5e3 / molar_mass} mmol"').amount_mol == pytest.approx(by_mass, rel=1e-4)


def test_crystal_water_comes_along() -> None:
    crystals = charge('"sodium carbonate decahydrate" = "286.14 g"')  # one mole, CRC Handbook
    assert crystals.components_mol["water"] == pytest.approx(10, rel=1e-4)
    assert crystals.components_mol["sodium"] == pytest.approx(2, rel=1e-4)
    assert crystals.components_mol["inorganic carbon"] == pytest.approx(1, rel=1e-4)


def test_any_name_of_a_substance_serves_capitals_ignored() -> None:
    usual = charge('"sodium carbonate" = "4 g"')
    assert charge('"Soda Ash" = "4 g"') == usual
    assert usual.substance == "sodium carbonate"


def test_purity_scales_the_charge_and_is_told() -> None:
    text = LEAST + 'charge.cinnamaldehyde = {amount = "1.8 g", purity = 0.82, uncertainty = 0.15}'
    oil = parse_scenario(text)
    assert oil.charges[-1].amount_mol == pytest.approx(0.82 * 1.8 / 132.159, rel=1e-4)
    assert oil.charges[-1].components_mol == {"cinnamaldehyde": oil.charges[-1].amount_mol}
    assert (oil.charges[-1].purity, oil.charges[-1].uncertainty) == (0.82, 0.15)
    assert oil.charges[-1].text == "1.8 g"
    assert any(sentence.startswith("A fraction of 0.18 of the cinnamaldehyde") for sentence in oil.assumed)


def test_baked_bicarbonate_conserves_sodium_and_mass() -> None:
    bicarbonate, carbonate = 84.0066e-3, 105.988e-3  # kg/mol, CRC Handbook
    loss = 0.36917  # of the mass of bicarbonate wholly baked, from the stoichiometry with CODATA atomic weights
    for converted in (0.0, 0.5, 0.9, 1.0):
        left_kg = bicarbonate * (1 - converted * loss)  # of one mole
        carbonate_mol, bicarbonate_mol = baked_amounts(left_kg, converted, bicarbonate, carbonate)
        assert 2 * carbonate_mol + bicarbonate_mol == pytest.approx(1.0, rel=1e-4)
        assert bicarbonate_mol == pytest.approx(1 - converted, abs=1e-4)


def test_baked_bicarbonate_as_a_charge() -> None:
    baked = charge('"baked sodium bicarbonate" = {amount = "4 g", converted = 0.9}')
    sodium = 4 / (84.0066 * (1 - 0.9 * 0.36917))
    assert baked.components_mol["sodium"] == pytest.approx(sodium, rel=1e-4)
    assert baked.components_mol["inorganic carbon"] == pytest.approx(sodium * 0.55, rel=1e-4)
    assert baked.components_mol["water"] == pytest.approx(sodium * 0.1 / 2, rel=1e-4)
    whole = charge('"baked sodium bicarbonate" = "4 g"').components_mol
    soda = charge('"sodium carbonate" = "4 g"').components_mol
    assert whole["sodium"] == pytest.approx(soda["sodium"], rel=1e-9)
    assert whole["inorganic carbon"] == pytest.approx(soda["inorganic carbon"], rel=1e-9)


def test_products_may_be_charged_and_bases_too() -> None:
    assert charge('acetaldehyde = "10 mmol"').components_mol == {"acetaldehyde": pytest.approx(0.01)}
    assert charge('acetone = "10 mmol"', "prenal").components_mol == {"acetone": pytest.approx(0.01)}
    assert charge('"sodium chloride" = "1 g"').components_mol["chloride"] == pytest.approx(1 / 58.44, rel=1e-3)


def test_additions_in_order_of_time() -> None:
    both = scenario(
        '[[addition]]\nat = "2 h"\nover = "1 h"\nwater = "50 mL"\n'
        '[[addition]]\nat = "0 h"\n"sodium carbonate" = "1 g"\nwater = "5 mL"\n'
    )
    assert [(a.at_s, a.over_s, len(a.charges)) for a in both.additions] == [(0, 0, 2), (7200, 3600, 1)]
    assert both.additions[1].charges[0].amount_mol == pytest.approx(50 * 0.9982 / 18.015, rel=1e-4)


# ---- heating, vessel, condenser ----


@pytest.mark.parametrize(  # tables of the US Standard Atmosphere 1976, the same as ISO 2533 here
    ("height", "kilopascal"), [(0, 101.325), (500, 95.461), (1000, 89.876), (2000, 79.501), (4000, 61.660)]
)
def test_pressure_against_the_standard_atmosphere(height: float, kilopascal: float) -> None:
    assert pressure_at_altitude(height, load_shelf()) == pytest.approx(kilopascal * 1e3, rel=1e-5)
    assert scenario(f'heating.altitude = "{height} m"').heating.pressure_Pa == pytest.approx(kilopascal * 1e3, rel=1e-5)


def test_pressure_as_measured() -> None:
    assert scenario('heating.pressure = "98 kPa"').heating.pressure_Pa == pytest.approx(98e3)


def test_boil_up_as_volume_drops_and_power() -> None:
    per_mL_min = 0.9982 / 18.0153 / 60  # mol/s; density of water at 20 C, CRC Handbook
    by_volume = scenario('heating.boil_up = "2.5 mL/min"').heating.boil_up_mol_per_s
    assert by_volume == pytest.approx(2.5 * per_mL_min, rel=1e-4)
    by_drops = scenario('heating.drops = "50 1/min"').heating.boil_up_mol_per_s  # 0.05 mL each
    assert by_drops == pytest.approx(by_volume, rel=1e-12)
    by_power = scenario('heating.power = "120 W"\nheating.losses = "60 W"').heating.boil_up_mol_per_s
    assert by_power == pytest.approx(60 / 40650, rel=1e-3)  # enthalpy of vaporisation 40.65 kJ/mol, CRC Handbook
    assert scenario('heating.power = "60 W"').heating.boil_up_mol_per_s == pytest.approx(by_power, rel=1e-12)


def test_a_hold_at_or_above_the_boil_point_is_a_boil_in_an_open_vessel() -> None:
    for temperature in ("boil", "99.98 degC", "120 degC"):
        heating = scenario(f'heating.temperature = "{temperature}"').heating
        assert heating.hold_K is None and heating.boil_up_mol_per_s > 0
    below = scenario('heating.temperature = "99.9 degC"').heating  # water boils at 99.974 degC under 101325 Pa
    assert below.hold_K == pytest.approx(373.05) and below.boil_up_mol_per_s == 0
    on_a_mountain = scenario('heating.temperature = "95 degC"\nheating.altitude = "1609 m"').heating
    assert on_a_mountain.hold_K is None  # boil point 94.62 degC
    closed = scenario('heating.temperature = "120 degC"\nvessel.closed = true')
    assert closed.heating.hold_K == pytest.approx(393.15) and closed.heating.boil_up_mol_per_s == 0
    assert closed.condenser.air_exchange_mol_per_s == 0


def test_no_ramp_where_the_hold_is_at_the_start() -> None:
    level = scenario('heating.start = "25 degC"\nheating.temperature = "25.005 degC"').heating
    assert (level.ramp_s, level.cooling_s) == (0, 0)
    cooled = scenario('heating.start = "60 degC"\nheating.temperature = "40 degC"').heating
    assert (cooled.start_K, cooled.hold_K, cooled.ramp_s) == (333.15, 313.15, 1500)


def test_stirring_and_gas_flows() -> None:
    stirred = [scenario(f'vessel.stirring = "{how}"').vessel.k_La_per_s for how in ("none", "gentle", "vigorous")]
    assert stirred == [1e-3, 6e-3, 5e-2]
    assert scenario('vessel.k_La = "0.6 1/min"').vessel.k_La_per_s == pytest.approx(0.01)
    swept = scenario('condenser.sweep = "50 mL/min"\ncondenser.sweep_gas = "air"').condenser
    assert swept.sweep_mol_per_s == pytest.approx(50e-6 / 60 / 0.0240548, rel=1e-4)  # ideal gas at 20 C, 101325 Pa
    assert swept.sweep_gas == "air"


def test_when_a_flask_runs_dry() -> None:
    assert dry_time(10.0, [], 1e-3, 9000.0) is None
    assert dry_time(10.0, [], 1e-3, 10000.0) == pytest.approx(9500.0)  # a twentieth of 10 mol is left
    assert dry_time(10.0, [(5000.0, 0.0, 2.0)], 1e-3, 11000.0) is None
    assert dry_time(10.0, [(9600.0, 0.0, 2.0)], 1e-3, 11000.0) == pytest.approx(9500.0)  # too late
    slow = dry_time(10.0, [(0.0, 20000.0, 10.0)], 1e-3, 20000.0)  # half of what is drawn comes in
    assert slow == pytest.approx(19000.0)


def test_defaults_stated_twice_are_the_same() -> None:
    shelf = load_shelf()
    for key, entry in SECTIONS["condenser"].items():
        if f"apparatus.{key}" in shelf:
            record = shelf[f"apparatus.{key}"]
            assert entry.default == f"{record.value:g} {record.unit}", key


def test_every_default_and_choice_of_the_key_table_is_itself_accepted() -> None:
    findings = Findings()
    for entry in (*SCHEDULE.values(), *(entry for keys in SECTIONS.values() for entry in keys.values())):
        for value in (entry.default, *entry.choices):
            if value is not None:
                assert read_value("key", entry, value, findings) is not None
        if entry.kind not in ("flag", "choice", "substance"):
            assert entry.least < entry.most < math.inf and entry.limits
    assert not findings.faults


# ---- files as shipped ----


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_shipped_scenario_reads_with_all_its_options(path: Path) -> None:
    shipped = read_scenario(path)
    assert shipped.options
    for option in shipped.options:
        variant = shipped.option(option.name)
        assert (variant.charges, variant.heating, variant.vessel, variant.condenser, variant.additions) != (
            (shipped.charges, shipped.heating, shipped.vessel, shipped.condenser, shipped.additions)
        ), option.name


def test_the_expected_scenarios_are_shipped() -> None:
    assert {path.stem for path in SCENARIOS} >= {
        *("perfume_school", "common_practice", "closed_limit", "prenal", "citral", "diacetone_alcohol"),
        *("reverse", "baked_bicarbonate"),
    }


def test_starting_scenario_is_valid_and_cautious() -> None:
    text = starting_scenario()
    start = parse_scenario(text)
    assert len(start.options) == 2
    for word in ("toxic", "Never close the flask", "caustic", "allergic"):
        assert word in text
    uncommented = (
        text.replace("# [[addition]]\n# at", "[[addition]]\nat").replace("# over", "over").replace("# water", "water")
    )
    assert len(parse_scenario(uncommented).additions) == 1


TITRATION = ("sample", "titre", "titrant", "titration")


@pytest.mark.parametrize("measured", [("aldehyde",), TITRATION, ("refractive_index", "beside", "read_at")], ids=lambda keys: keys[0])
def test_the_remarks_on_a_feed_are_sound(measured: tuple[str, ...]) -> None:
    """Every line of the table that stands as a remark, with one measurement at a time."""
    text = starting_scenario().replace('cinnamaldehyde = "1.5 g"', 'cinnamaldehyde = "feed"').replace("# [feed]", "[feed]")
    for key in ("oil", "uncertainty", *measured):
        text = text.replace(f"\n# {key} =", f"\n{key} =")
    read = parse_scenario(text)
    assert read.feed is not None and read.feed.oil_kg == pytest.approx(1.8e-3)
    charge = next(charge for charge in read.charges if charge.substance == "cinnamaldehyde")
    assert 0.5 < charge.amount_mol * 132.162 / 1.8 < 1.0 and charge.uncertainty == 0.1


def test_the_remarks_on_air_and_distillation_are_sound() -> None:
    text = starting_scenario()
    for key in ("air", "pressure", "cut"):
        text = text.replace(f"\n# {key} =", f"\n{key} =")
    read = parse_scenario(text)
    assert read.hazard.air_m3_per_s == pytest.approx(600 / 3600)
    assert (read.workup.pressure_Pa, read.workup.cut) == (2000.0, 0.85)
