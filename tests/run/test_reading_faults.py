"""What is refused, and how it is told: key, what was expected, what came, nearest valid name; all at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from kinetics.data.faults import Fault, ScenarioError, nearest, quoted
from kinetics.run.reading import parse_scenario, read_scenario

SOUND = """
title = "invented"
substrate = "cinnamaldehyde"
charge.water = "400 mL"
charge.cinnamaldehyde = "1.5 g"
charge."sodium carbonate" = "4 g"
heating.hold = "8 h"
"""


def faults_of(text: str) -> list[Fault]:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    assert caught.value.faults
    return list(caught.value.faults)


def only_fault(more: str) -> Fault:
    faults = faults_of(SOUND + more)
    assert len(faults) == 1, [str(fault) for fault in faults]
    return faults[0]


@pytest.mark.parametrize(
    ("line", "key", "expected", "came", "hint"),
    [
        # wrong dimension, no unit, not a quantity at all
        ('heating.ramp = "3 mL"', "heating.ramp", "a time up to 1000 h", '"3 mL", which is a volume', ""),
        ("heating.ramp = 25", "heating.ramp", "a time", "the bare number 25", "quotation marks"),
        ("heating.ramp = true", "heating.ramp", "a time", "the truth value true", ""),
        ("heating.ramp = 2020-01-01", "heating.ramp", "a time", "a date", ""),
        ('heating.boil_up = "2,5 mL/min"', "heating.boil_up", "a flow of volume", '"2,5 mL/min"', "Write 2.5"),
        ('condenser.approach = "5 degC"', "condenser.approach", "a difference", '"5 degC"', "written in K"),
        ("charge.benzaldehyde = 3", "charge.benzaldehyde", "a mass, a volume or", "the bare number 3", ""),
        ('charge.benzaldehyde = "3 h"', "charge.benzaldehyde", "a mass", '"3 h", which is a time', ""),
        ('charge."sodium chloride" = "3 mL"', "charge.sodium chloride", "a mass or an amount", '"3 mL"', ""),
        # out of range
        ('heating.start = "-1 degC"', "heating.start", "from 0 degC to 150 degC", '"-1 degC"', ""),
        ('heating.temperature = "151 degC"', "heating.temperature", '"boil" or a temp', '"151 degC"', ""),
        ('heating.altitude = "4600 m"', "heating.altitude", "from -400 m to 4500 m", '"4600 m"', ""),
        ('heating.pressure = "49 kPa"', "heating.pressure", "from 50 kPa to 110 kPa", '"49 kPa"', ""),
        ('heating.pressure = "2 bar"', "heating.pressure", "from 50 kPa to 110 kPa", '"2 bar"', ""),
        ('heating.ramp = "nan min"', "heating.ramp", "a time", '"nan min"', "finite"),
        ('heating.ramp = "-5 min"', "heating.ramp", "a time", '"-5 min"', "negative"),
        ('heating.cooling = "1e999 min"', "heating.cooling", "a time", '"1e999 min"', "finite"),
        ('condenser.coolant = "-2 degC"', "condenser.coolant", "from 0 degC", '"-2 degC"', ""),
        ('vessel.k_La = "0 1/s"', "vessel.k_La", "above zero", '"0 1/s"', ""),
        ('charge.benzaldehyde = "-3 g"', "charge.benzaldehyde", "a mass", '"-3 g"', "negative"),
        ('charge.benzaldehyde = "101 kg"', "charge.benzaldehyde", "at most 100 kg", '"101 kg"', ""),
        ('charge."baked sodium bicarbonate" = "101 kg"', "charge.baked sodium bicarbonate", "at most", '"101', ""),
        # the parts of a charge
        (
            'charge.benzaldehyde = {amount = "1 g", purity = 1.2}',
            *("charge.benzaldehyde.purity", "a fraction above 0 and up to 1", "the bare number 1.2", ""),
        ),
        (
            'charge.benzaldehyde = {amount = "1 g", purity = 0}',
            *("charge.benzaldehyde.purity", "a fraction above 0 and up to 1", "the bare number 0", ""),
        ),
        (
            'charge.benzaldehyde = {amount = "1 g", purity = "82 %"}',
            *("charge.benzaldehyde.purity", "a fraction", '"82 %"', "without unit or quotation marks"),
        ),
        (
            'charge.benzaldehyde = {amount = "1 g", uncertainty = -0.1}',
            *("charge.benzaldehyde.uncertainty", "from 0 to 1", "the bare number -0.1", ""),
        ),
        (
            'charge.benzaldehyde = {amount = "1 g", uncertainty = nan}',
            *("charge.benzaldehyde.uncertainty", "from 0 to 1", "the bare number nan", "finite"),
        ),
        (
            'charge.benzaldehyde = {amount = "1 g", puritiy = 0.9}',
            *("charge.benzaldehyde.puritiy", "amount, purity or uncertainty", "an unknown key", '"purity"'),
        ),
        (
            'charge.benzaldehyde = {amount = "1 g", converted = 0.9}',
            *("charge.benzaldehyde.converted", "amount, purity or uncertainty", "an unknown key", ""),
        ),
        (
            'charge."baked sodium bicarbonate" = {amount = "4 g", converted = 1.1}',
            *("charge.baked sodium bicarbonate.converted", "from 0 to 1", "the bare number 1.1", ""),
        ),
        (
            "charge.benzaldehyde = {purity = 0.9}",
            *("charge.benzaldehyde.amount", "what is charged", "nothing", ""),
        ),
        # nearest names
        ('titel = "x"', "titel", "title, substrate, charge", 'an unknown key, "titel"', 'Did you mean "title"?'),
        ('heating.hld = "8 h"', "heating.hld", "start, ramp, hold", "an unknown key", 'Did you mean "hold"?'),
        ('heating.coolant = "5 degC"', "heating.coolant", "start", "an unknown key", "under [condenser]."),
        ('coolant = "5 degC"', "coolant", "title", "an unknown key", "It belongs under [condenser]."),
        ('condenser.title = "x"', "condenser.title", "coolant", "an unknown key", "at the top of the file."),
        ('vessel.stirring = "gentel"', "vessel.stirring", '"none", "gentle" or "vigorous"', '"gentel"', '"gentle"'),
        ('heating.temperature = "boyl"', "heating.temperature", '"boil"', '"boyl"', 'Did you mean "boil"?'),
        ('condenser.sweep_gas = "Air"', "condenser.sweep_gas", '"inert" or "air"', '"Air"', '"air"'),
        ('vessel.closed = "false"', "vessel.closed", "true or false", '"false"', ""),
        ("vessel.closed = 0", "vessel.closed", "true or false", "the bare number 0", ""),
        (
            'charge."potassium carbonat" = "1 g"',
            "charge.potassium carbonat",
            "a substance",
            "",
            '"potassium carbonate"',
        ),
        ('charge."washing soda" = "1 g"', "charge.washing soda", "a substance", "", '"washing soda crystals"'),
        # what has no part in the network
        ('charge.acetone = "1 g"', "charge.acetone", "a species of the substrate's network", "no part in", ""),
        ('charge.oxygen = "1 g"', "charge.oxygen", "a substance on the shelf", '"oxygen"', ""),
        # the same twice
        ('charge."soda ash" = "4 g"', "charge.soda ash", "one of its names", '"sodium carbonate" and "soda ash"', ""),
        (
            'heating.altitude = "0 m"\nheating.pressure = "98 kPa"',
            *("heating.pressure", "only one of altitude or pressure", "altitude and pressure together", ""),
        ),
        (
            'heating.boil_up = "2 mL/min"\nheating.drops = "50 1/min"',
            *("heating.drops", "only one of boil_up, drops or power with losses", "boil_up and drops together", ""),
        ),
        (
            'heating.drops = "50 1/min"\nheating.power = "120 W"\nheating.losses = "60 W"',
            *("heating.losses", "only one of", "drops, power and losses together", ""),
        ),
        (
            'vessel.stirring = "none"\nvessel.k_La = "0.01 1/s"',
            *("vessel.k_La", "only one of stirring or k_La", "stirring and k_La together", ""),
        ),
        # settings that contradict each other
        (
            'heating.power = "50 W"\nheating.losses = "60 W"',
            *("heating.losses", "losses up to the power of 50 W", '"60 W"', ""),
        ),
        ('heating.losses = "60 W"', "heating.losses", "a power beside it", "losses alone", ""),
        ('heating.start = "101 degC"', "heating.start", "up to the boil point, 99.97 degC", '"101 degC"', ""),
        (
            'condenser.coolant = "96 degC"',
            "condenser.coolant",
            "below the boil point, 99.97",
            "101.00 degC",
            "condense",
        ),
        (
            'vessel.closed = true\ncondenser.sweep = "5 mL/min"',
            *("condenser.sweep", "the vessel being closed", '"5 mL/min"', "A closed vessel"),
        ),
        (
            'vessel.closed = true\ncondenser.take_off = "5 mL/min"\ncondenser.make_up = true',
            *("condenser.take_off", "the vessel being closed", '"5 mL/min"', "A closed vessel"),
        ),
        ('condenser.take_off = "2.6 mL/min"', "condenser.take_off", "the boil-up gives", "more than boils", ""),
        (
            'heating.temperature = "80 degC"\ncondenser.take_off = "1 mL/min"',
            *("condenser.take_off", "the boil-up gives", "where nothing boils", ""),
        ),
        (
            'condenser.take_off = "1 mL/min"',  # 380 of the 400 mL are gone after 380 min
            *("condenser.take_off", "to the end of the hold", "6.3 h into the hold", "Set make_up = true"),
        ),
        (
            'condenser.take_off = "1 mL/min"\n[[addition]]\nat = "7 h"\nwater = "500 mL"',
            *("condenser.take_off", "to the end of the hold", "6.3 h into the hold", "Set make_up = true"),
        ),
        # additions
        ('[addition]\nat = "1 h"', "addition", "a list of tables", "a table", "[[addition]]"),
        ("addition = [1]", "addition.1", "a table", "the bare number 1", ""),
        ('[[addition]]\nwater = "5 mL"', "addition.1.at", "after the start of the hold", "nothing", ""),
        ('[[addition]]\nat = "1 h"', "addition.1", "at least one substance", "none", ""),
        ('[[addition]]\nat = "-1 h"\nwater = "5 mL"', "addition.1.at", "a time", '"-1 h"', "negative"),
        ('[[addition]]\nat = "9 h"\nwater = "5 mL"', "addition.1.at", "the hold of 8 h", "after 9 h", ""),
        (
            '[[addition]]\nat = "7 h"\nover = "2 h"\nwater = "5 mL"',
            *("addition.1.at", "the hold of 8 h", "after 9 h", ""),
        ),
        (
            '[[addition]]\nat = "7 h"\nover = "1 mL"\nwater = "5 mL"',
            *("addition.1.over", "a time", '"1 mL", which is a volume', ""),
        ),
        (
            '[[addition]]\nat = "7 h"\novr = "1 h"\nwater = "5 mL"',
            *("addition.1.ovr", "at, over or a substance", '"ovr"', '"over"'),
        ),
        # options
        ('[option]\nname = "x"', "option", "a list of tables", "a table", "[[option]]"),
        ('[[option]]\nheating.hold = "5 h"', "option.1.name", "the name of the option", "nothing", ""),
        ('[[option]]\nname = "x"', "option.1", "at least one key", "none", ""),
        (
            '[[option]]\nname = "x"\nheating.hold = "5 h"\n[[option]]\nname = "x"\nheating.hold = "6 h"',
            *("option.2.name", "a name no other option has", '"x" once more', ""),
        ),
        (
            '[[option]]\nname = "x"\nheating.hld = "5 h"',
            *('option "x", heating.hld', "start, ramp", "an unknown key", 'Did you mean "hold"?'),
        ),
        (
            '[[option]]\nname = "x"\ncharge.cinnamaldehyde = "5 h"',
            *('option "x", charge.cinnamaldehyde', "a mass", '"5 h", which is a time', ""),
        ),
        (
            '[[option]]\nname = "x"\nvessel.closed = true\ncondenser.sweep = "5 mL/min"',
            *('option "x", condenser.sweep', "the vessel being closed", '"5 mL/min"', ""),
        ),
        (
            '[[option]]\nname = "x"\noption = [{name = "y"}]',
            *('option "x", option', "a key of the scenario itself", "one of its options", ""),
        ),
    ],
)
def test_one_fault(line: str, key: str, expected: str, came: str, hint: str) -> None:
    fault = only_fault(line)
    assert fault.key == key
    assert expected in fault.expected
    assert came in fault.came
    assert hint in fault.hint and bool(hint) <= bool(fault.hint)


@pytest.mark.parametrize(
    ("gone", "key", "expected"),
    [
        ('charge.water = "400 mL"\n', "charge.water", "the water"),
        ('heating.hold = "8 h"\n', "heating.hold", "a time above zero up to 1000 h"),
        ('substrate = "cinnamaldehyde"\n', "substrate", '"cinnamaldehyde", "citral"'),
    ],
)
def test_what_must_be_there(gone: str, key: str, expected: str) -> None:
    (fault,) = faults_of(SOUND.replace(gone, ""))
    assert (fault.key, fault.came) == (key, "nothing")
    assert expected in fault.expected


@pytest.mark.parametrize(
    ("old", "new", "key", "came", "hint"),
    [
        ('"400 mL"', '"0 mL"', "charge.water", '"0 mL"', ""),
        ('"400 mL"', '"0.5 mL"', "charge.water", '"0.5 mL"', ""),
        ('"8 h"', '"0 h"', "heating.hold", '"0 h"', ""),
        ('"8 h"', '"1001 h"', "heating.hold", '"1001 h"', ""),
        ('"invented"', "5", "title", "the bare number 5", ""),
        ('"invented"', '" "', "title", '" "', ""),
        ('= "cinnamaldehyde"', '= "cinamaldehyde"', "substrate", '"cinamaldehyde"', 'Did you mean "cinnamaldehyde"?'),
        ('= "cinnamaldehyde"', '= "mine.toml"', "substrate", "cannot be read", ""),
        ('= "cinnamaldehyde"', '= "a\\u0000.toml"', "substrate", "refused", ""),
    ],
)
def test_one_value_spoiled(old: str, new: str, key: str, came: str, hint: str) -> None:
    (fault,) = faults_of(SOUND.replace(old, new))
    assert (fault.key, fault.hint) == (key, hint)
    assert came in fault.came


def test_limits_are_met_in_any_unit() -> None:
    edges = 'heating.pressure = "0.5 bar"\nheating.temperature = "32 degF"\nheating.cooling = "1000 h"'
    assert parse_scenario(SOUND + edges).heating.pressure_Pa == pytest.approx(50e3)
    assert parse_scenario(SOUND + 'condenser.air_exchange = "10 L/min"').condenser.air_exchange_mol_per_s > 0
    assert parse_scenario(SOUND.replace('"8 h"', '"60000 min"')).heating.hold_s == pytest.approx(3.6e6)


def test_zero_is_fine_where_it_means_something() -> None:
    text = SOUND.replace('"4 g"', '"0 g"').replace('"1.5 g"', '"0 g"')
    still = parse_scenario(text + 'heating.boil_up = "0 mL/min"\ncondenser.air_exchange = "0 mL/min"')
    assert still.charges[1].amount_mol == still.charges[2].amount_mol == still.heating.boil_up_mol_per_s == 0


def test_water_that_comes_in_time_or_is_made_up_keeps_the_flask_wet() -> None:
    drawn = 'condenser.take_off = "1 mL/min"\n'
    assert parse_scenario(SOUND + drawn + "condenser.make_up = true").condenser.make_up
    assert parse_scenario(SOUND + drawn + '[[addition]]\nat = "6 h"\nwater = "500 mL"').additions


def test_all_faults_at_once_and_none_as_a_consequence_of_another() -> None:
    text = """
        substrate = "cinamaldehyde"
        charge.water = "400 h"
        charge."sodium carbonat" = "4 g"
        heating.hold = "8 mL"
        heating.temperature = "hot"
        heating.pressure = "98 m"
        heating.losses = "70 W"
        heating.power = "60 W"
        condenser.coolant = "97"
        condenser.take_off = "900 mL/min"
        addition = [{at = "9 h", water = "1 mL"}, {at = "soon", water = "1 mL"}]
        option = [{name = "a", heating = {hold = "9 mL"}}, {name = "a", vessel = {closed = true}}]
    """
    keys = [fault.key for fault in faults_of(text)]
    assert sorted(keys) == sorted(
        [
            *("substrate", "charge.water", "charge.sodium carbonat", "heating.hold", "heating.temperature"),
            *("heating.pressure", "heating.losses", "condenser.coolant", "addition.2.at", "option.2.name"),
            *('option "a", heating.hold', 'option "a", condenser.take_off'),
        ]
    )


def test_a_section_that_is_no_table_is_one_fault() -> None:
    (fault,) = faults_of('substrate = "cinnamaldehyde"\ncharge = 1\nheating = {hold = "1 h"}')
    assert fault.key == "charge"
    (fault,) = faults_of('substrate = "cinnamaldehyde"\ncharge.water = "1 L"\nheating = "1 h"')
    assert fault.key == "heating"


def test_message_reads_as_sentences() -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(SOUND + 'heating.ramp = "3 mL"\nvessel.stirring = "gentel"', where="batch.toml")
    assert str(caught.value) == (
        "batch.toml has 2 faults.\n"
        '  heating.ramp: expected a time up to 1000 h, such as "30 min"; came "3 mL", which is a volume.\n'
        '  vessel.stirring: expected "none", "gentle" or "vigorous"; came "gentel". Did you mean "gentle"?'
    )


def test_nearest_and_quoted() -> None:
    assert nearest("SODIUM CARBONAT", ["sodium carbonate", "sodium chloride"]) == "sodium carbonate"
    assert nearest("xyz", ["sodium carbonate"]) == ""
    assert quoted("a" * 100) == f'"{"a" * 60}..."'
    assert str(Fault("k\n", "a", "b")).startswith("k\\n: ")
    assert quoted("a\x1b[31m\n") == '"a\\x1b[31m\\n"'
    assert quoted(10**400) == "a number too large to use"
    assert quoted(float("inf")) == "the bare number inf"


# ---- files ----


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('a = 1\nb = = "2"', "line 2, column 5"),
        ("a = 1\na = 2\n", "line 2, column 6"),
        ('a = "open', "end of document"),
        ("x = " + "[" * 5000, ""),
        ("x = " + "9" * 5000, ""),
    ],
)
def test_what_is_not_toml_is_told_with_its_line(text: str, place: str) -> None:
    (fault,) = faults_of(text)
    assert (fault.key, fault.expected) == (place, "text that follows the rules of TOML")


def file_fault(path: Path) -> Fault:
    with pytest.raises(ScenarioError) as caught:
        read_scenario(path)
    assert caught.value.where == str(path)
    (fault,) = caught.value.faults
    return fault


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "batch.toml").write_text(SOUND, encoding="utf-8")
    assert file_fault(tmp_path).came == "a folder"
    missing = file_fault(tmp_path / "bach.toml")
    assert (missing.came, missing.hint) == ("a path with no file at it", 'Did you mean "batch.toml"?')
    assert "cannot be read" in file_fault(tmp_path / "batch.toml" / "inside.toml").came
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    assert file_fault(large).expected == "a scenario file of up to 1 MB"
    latin = tmp_path / "latin.toml"
    latin.write_bytes('substrate = "x"\ntitle = "Gär"'.encode("latin-1"))
    fault = file_fault(latin)
    assert (fault.key, fault.expected, fault.hint) == ("line 2", "UTF-8 text", "Save the file as UTF-8.")
    assert "cannot be read" in file_fault(Path("a\0b.toml")).came


def test_a_substrate_file_of_ones_own(tmp_path: Path) -> None:
    shelf_file = Path(__file__).parents[2] / "kinetics/data/substrates/diacetone_alcohol.toml"
    text = shelf_file.read_text(encoding="utf-8")
    text = text.replace("diacetone alcohol", "my ketol").replace("4-hydroxy-4", "4-hydroxy-5")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    batch = tmp_path / "batch.toml"
    batch.write_text(
        'substrate = "mine.toml"\ncharge = {water = "1 L", "my ketol" = "1 g"}\nheating.hold = "1 h"',
        encoding="utf-8",
    )
    own = read_scenario(batch)
    assert own.substrate == str(tmp_path / "mine.toml")
    assert own.with_changes({"heating.hold": "2 h"}).substrate == own.substrate
    (tmp_path / "mine.toml").write_text(text + "\nnonsense = 1\n", encoding="utf-8")
    assert "nonsense" in file_fault(batch).came
