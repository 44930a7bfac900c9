"""Quantities at the door: values against definitions from outside, and refusals that say what to write."""

import subprocess
import sys

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kinetics.data import units
from kinetics.data.faults import QuantityError
from kinetics.data.units import (
    KINDS,
    bare_number,
    gas_flow_mol_per_s,
    liquid_flow_mol_per_s,
    quantity,
    quantity_of,
)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("25 degC", "temperature", 298.15),
        ("25 °C", "temperature", 298.15),
        ("25 C", "temperature", 298.15),
        ("298.15 K", "temperature", 298.15),
        ("77 degF", "temperature", 298.15),
        ("−5 degC", "temperature", 268.15),
        ("5 K", "temperature difference", 5.0),
        ("2 h", "time", 7200.0),
        ("1.5 hours", "time", 5400.0),
        ("90s", "time", 90.0),
        ("1 day", "time", 86400.0),
        ("1e-3 mol", "amount", 1e-3),
        (".5 g", "mass", 5e-4),
        ("1 lb", "mass", 0.45359237),
        ("400 mL", "volume", 0.4),
        ("1 cm3", "volume", 1e-3),
        ("1 cm^3", "volume", 1e-3),
        ("6 mL/min", "volume flow", 1e-7),
        ("60 1/min", "frequency", 1.0),
        ("60/min", "frequency", 1.0),
        ("60 drops/min", "frequency", 1.0),
        ("0.01 s^-1", "frequency", 0.01),
        ("760 mmHg", "pressure", 101325.0),
        ("1013.25 hPa", "pressure", 101325.0),
        ("0.98 bar", "pressure", 98000.0),
        ("1 ft", "height", 0.3048),
        ("-400 m", "height", -400.0),
        ("0.12 kW", "power", 120.0),
        ("0.1 M", "concentration", 0.1),
        ("1 g/L", "mass concentration", 1.0),
    ],
)
def test_quantity_in_house_unit(text: str, kind: str, expected: float) -> None:
    assert quantity(text, kind) == pytest.approx(expected, rel=1e-12)


def test_own_definitions_agree_with_those_of_the_units_library() -> None:
    reference = pint.UnitRegistry()
    house = {"length": "m", "mass": "kg", "time": "s", "pressure": "Pa", "power": "W", "volume": "L", "amount": "mol"}
    names = {
        "length": ["cm", "ft"],
        "mass": ["kg", "mg", "lb", "oz"],
        "time": ["s", "min", "h", "day"],
        "pressure": ["kPa", "mbar", "atm", "torr", "mmHg"],
        "power": ["W", "kW"],
        "volume": ["mL", "L", "dm**3", "uL"],
        "amount": ["mmol", "umol"],
    }
    for kind, unit_names in names.items():
        for name in unit_names:
            expected = reference.Quantity(1.0, name).to(house[kind]).magnitude
            assert quantity(f"1 {name}", kind) == pytest.approx(expected, rel=1e-6), name  # mmHg is 1e-7 off torr


@pytest.mark.parametrize(
    ("value", "kind", "came", "hint"),
    [
        ("3 mL", "time", '"3 mL", which is a volume', ""),
        ("7", "time", '"7", which has no unit', ""),
        (7, "time", "the bare number 7", "Write number and unit in quotation marks."),
        (True, "time", "the truth value true", ""),
        (None, "time", "nothing", ""),
        ({"a": 1}, "time", "a table", ""),
        (["1 h"], "time", "a list", ""),
        ("2,5 g", "mass", '"2,5 g"', "Write 2.5, with a point for the decimals."),
        ("-3 g", "mass", '"-3 g"', "It cannot be negative."),
        ("nan g", "mass", '"nan g"', "The number must be finite."),
        ("-inf g", "mass", '"-inf g"', "The number must be finite."),
        ("1e999 g", "mass", '"1e999 g"', "The number must be finite."),
        ("1e308 h", "time", '"1e308 h"', "It must be finite."),
        ("g 5", "mass", '"g 5"', "It must begin with a number."),
        ("5 grammes", "mass", '"5 grammes"', '"grammes" is not a unit known here.'),
        ("7 pH", "amount", '"7 pH"', '"pH" is not a unit known here.'),
        ("5 degC", "temperature difference", '"5 degC"', "A difference of temperatures is written in K."),
        ("3 __import__", "mass", '"3 __import__"', '"__import__" is not a unit known here.'),
        ("3 g**99999999", "mass", '"3 g**99999999"', '"g**99999999" is not a unit known here.'),
    ],
)
def test_refusal_says_what_came_and_what_to_write(value: object, kind: str, came: str, hint: str) -> None:
    with pytest.raises(QuantityError) as caught:
        quantity(value, kind)
    assert (caught.value.came, caught.value.hint) == (came, hint)
    assert caught.value.expected == f'{KINDS[kind].words}, such as "{KINDS[kind].example}"'


def test_every_example_in_a_message_is_itself_accepted() -> None:
    for kind, description in KINDS.items():
        assert quantity(description.example, kind) > 0


def test_which_of_several_kinds() -> None:
    kinds = ("mass", "volume", "amount")
    assert quantity_of("4 g", kinds) == ("mass", pytest.approx(4e-3))
    assert quantity_of("4 mL", kinds) == ("volume", pytest.approx(4e-3))
    assert quantity_of("4 mmol", kinds) == ("amount", pytest.approx(4e-3))
    with pytest.raises(QuantityError) as caught:
        quantity_of("4 h", kinds)
    assert caught.value.expected.startswith("a mass, a volume or an amount of substance")


def test_gas_flow_against_the_molar_volume_of_codata() -> None:
    molar_volume_at_0C = 22.41396954e-3  # m3/mol at 273.15 K and 101.325 kPa, CODATA 2018
    expected = 1e-6 / (molar_volume_at_0C * 293.15 / 273.15)
    assert gas_flow_mol_per_s(1e-6) == pytest.approx(expected, rel=1e-9)


def test_liquid_flow_of_a_mole_of_water() -> None:
    assert liquid_flow_mol_per_s(18.015e-6, 1000.0, 18.015) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("value", ["5", True, None, float("nan"), float("inf"), 10**400, [1.0]])
def test_bare_number_refuses(value: object) -> None:
    with pytest.raises(QuantityError):
        bare_number(value, "a fraction")


def test_units_library_is_loaded_only_for_a_quantity() -> None:
    code = "import sys, kinetics.data.units as u; a = 'pint' in sys.modules; u.quantity('1 h', 'time'); print(a)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_one_registry() -> None:
    assert units._registry() is units._registry()


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(
        st.text(max_size=30),
        st.from_regex(r"[+-]?[0-9.,]{1,5}(e[0-9]{1,3})? ?[A-Za-z°/*^ 0-9-]{0,12}", fullmatch=True),
    ),
    st.sampled_from(sorted(KINDS)),
)
def test_any_text_is_a_finite_number_or_a_quantity_error(text: str, kind: str) -> None:
    try:
        value = quantity(text, kind)
    except QuantityError as error:
        assert error.expected and error.came
    else:
        assert abs(value) < float("inf")
        assert value >= 0 or KINDS[kind].signed
