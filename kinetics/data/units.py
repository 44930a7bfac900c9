"""The door for quantities: text with a unit in, a plain float in the house unit out. The only user of pint.

House units: K, Pa, mol, L of liquid, s, kg, J, m; gas and liquid streams enter as m3/s. The registry
holds the units of this trade and no others, which makes it forty times quicker to build than pint's own.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from kinetics.data.faults import QuantityError, listed, quoted

if TYPE_CHECKING:
    import pint

GAS_CONSTANT_J_PER_MOL_K = 8.31446261815324  # exact since the SI of 2019: Avogadro times Boltzmann constant
CELSIUS_ZERO_K = 273.15
ROOM_TEMPERATURE_K = 293.15  # 20 degC: where volumes of liquids and of gases are stated
STANDARD_PRESSURE_PA = 101325.0
GAS_MOLAR_VOLUME_M3 = GAS_CONSTANT_J_PER_MOL_K * ROOM_TEMPERATURE_K / STANDARD_PRESSURE_PA

DEFINITIONS = """
micro- = 1e-6 = µ- = μ- = u-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
deci- = 1e-1 = d-
hecto- = 1e2 = h-
kilo- = 1e3 = k-
meter = [length] = m = metre
foot = 0.3048 * meter = ft = feet
kilogram = [mass] = kg
gram = 1e-3 * kilogram = g
pound = 0.45359237 * kilogram = lb
ounce = pound / 16 = oz
second = [time] = s = sec
minute = 60 * second = min
hour = 60 * minute = h = hr
day = 24 * hour = d
mole = [substance] = mol
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = degC = celsius = C
degree_Fahrenheit = 5 / 9 * kelvin; offset: 255.3722222222222 = degF = fahrenheit
liter = 1e-3 * meter ** 3 = L = l = litre
molar = mole / liter = M
pascal = kilogram / meter / second ** 2 = Pa
bar = 1e5 * pascal
atmosphere = 101325 * pascal = atm
torr = atmosphere / 760 = mmHg
joule = kilogram * meter ** 2 / second ** 2 = J
watt = joule / second = W
drop = []
"""

NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
UNIT_NAME = r"(?:1|[A-Za-zµμ_]{1,20})(?:(?:\^|\*\*)?-?[0-9])?"
UNIT = re.compile(rf"{UNIT_NAME}(?:\s*[*/ ]\s*{UNIT_NAME}){{0,5}}")


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: how a message names it, the house unit it is returned in, and an example."""

    words: str
    house_unit: str
    example: str
    signed: bool = False


KINDS = {
    "mass": Kind("a mass", "kg", "4 g"),
    "volume": Kind("a volume", "L", "400 mL"),
    "amount": Kind("an amount of substance", "mol", "10 mmol"),
    "time": Kind("a time", "s", "30 min"),
    "temperature": Kind("a temperature", "K", "80 degC", signed=True),
    "temperature difference": Kind("a difference of temperatures", "K", "5 K"),
    "pressure": Kind("a pressure", "Pa", "98 kPa"),
    "length": Kind("a length", "m", "25 cm"),
    "height": Kind("a height above the sea", "m", "120 m", signed=True),
    "power": Kind("a power", "W", "120 W"),
    "volume flow": Kind("a flow of volume", "m**3/s", "10 mL/min"),
    "frequency": Kind("a number per time", "1/s", "50 1/min"),
    "concentration": Kind("a concentration", "mol/L", "0.1 mol/L"),
    "mass concentration": Kind("a mass in a volume", "kg/m**3", "2 g/L"),
}


@cache
def _registry() -> pint.UnitRegistry:
    import pint  # costs a fifth of a second, so only once a quantity is read

    return pint.UnitRegistry(DEFINITIONS.strip().splitlines(), cache_folder=None)


@cache
def _parsed_unit(text: str) -> pint.Unit | None:
    """The unit a text names, or None if it names none of this trade's."""
    import pint

    tidy = re.sub("[°º] ?", "deg", text.replace("℃", "degC")).replace("²", "2").replace("³", "3")
    tidy = re.sub(r"(?<=[A-Za-z])(?=-?[0-9])", "^", f"1{tidy}" if tidy.startswith("/") else tidy)
    if not UNIT.fullmatch(tidy):
        return None
    try:
        return _registry().parse_units(tidy)
    except (pint.PintError, ValueError, OverflowError, KeyError):  # KeyError: pint trips over a power of 0, as in h0
        return None


@cache
def _dimension(unit: pint.Unit) -> str:
    """The kind of quantity a unit measures, in words, for messages."""
    for kind in KINDS.values():
        if unit.dimensionality == _registry().parse_units(kind.house_unit).dimensionality:
            return kind.words
    return "a number without a unit" if unit.dimensionless else "a quantity of another kind"


def quantity(text: object, kind: str) -> float:
    """The value of `text`, such as "25 min", in the house unit of `kind` (a key of KINDS).

    Number and unit are split before the unit is parsed. Negative values pass only where the kind allows
    them (temperatures, heights). Raises QuantityError saying what was expected and what came.
    """
    return quantity_of(text, (kind,))[1]


def quantity_of(text: object, kinds: tuple[str, ...]) -> tuple[str, float]:
    """Which of `kinds` the quantity `text` is, and its value in that kind's house unit."""
    expected = f'{listed(KINDS[kind].words for kind in kinds)}, such as "{KINDS[kinds[0]].example}"'
    number, unit_text = _split(text, expected)
    unit = _parsed_unit(unit_text)
    if unit is None:
        raise QuantityError(expected, quoted(text), f'"{unit_text[:20]}" is not a unit known here.')
    for kind in kinds:
        house = _registry().parse_units(KINDS[kind].house_unit)
        if unit.dimensionality != house.dimensionality:
            continue
        if kind == "temperature difference" and unit != house:
            raise QuantityError(expected, quoted(text), "A difference of temperatures is written in K.")
        value = float(_registry().Quantity(number, unit).to(house).magnitude)
        if not math.isfinite(value):
            raise QuantityError(expected, quoted(text), "It must be finite.")
        if value < 0 and not KINDS[kind].signed:
            raise QuantityError(expected, quoted(text), "It cannot be negative.")
        return kind, value
    raise QuantityError(expected, f"{quoted(text)}, which is {_dimension(unit)}")


def _split(text: object, expected: str) -> tuple[float, str]:
    """Number and unit of a text, each still to be judged; raises QuantityError where there are not both."""
    if not isinstance(text, str):
        bare = isinstance(text, (int, float)) and not isinstance(text, bool)
        hint = "Write number and unit in quotation marks." if bare else ""
        raise QuantityError(expected, quoted(text), hint)
    tidy = text.strip().replace("−", "-")
    if comma := re.match(r"[+-]?[0-9]+,[0-9]+", tidy):
        hint = f"Write {comma[0].replace(',', '.')}, with a point for the decimals."
        raise QuantityError(expected, quoted(text), hint)
    match = NUMBER.match(tidy)
    if match is None:
        word = re.match(r"[+-]?(nan|inf)", tidy, re.IGNORECASE)
        hint = "The number must be finite." if word else "It must begin with a number."
        raise QuantityError(expected, quoted(text), hint)
    if not math.isfinite(float(match[0])):
        raise QuantityError(expected, quoted(text), "The number must be finite.")
    unit_text = tidy[match.end() :].strip()
    if not unit_text:
        raise QuantityError(expected, f"{quoted(text)}, which has no unit")
    return float(match[0]), unit_text


def bare_number(value: object, expected: str) -> float:
    """A number that has no unit, as a finite float; raises QuantityError for anything else."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        hint = "Write it without unit or quotation marks." if isinstance(value, str) else ""
        raise QuantityError(expected, quoted(value), hint)
    if not -1e300 < value < 1e300:
        raise QuantityError(expected, quoted(value), "The number must be finite.")
    return float(value)


def gas_flow_mol_per_s(flow_m3_per_s: float) -> float:
    """Amount carried by a flow of dry gas measured at 20 degC and 101325 Pa: n = V/Vm, Vm = R T/p [mol/s].

    flow_m3_per_s: the flow as a volume [m3/s], >= 0. 10 mL/min is 6.929e-6 mol/s. Ideal gas.
    """
    return flow_m3_per_s / GAS_MOLAR_VOLUME_M3


def liquid_flow_mol_per_s(flow_m3_per_s: float, density_kg_m3: float, molar_mass_g: float) -> float:
    """Amount carried by a flow of liquid: n = V rho/M [mol/s].

    flow_m3_per_s: the flow [m3/s], >= 0; density_kg_m3: its density [kg/m3]; molar_mass_g: [g/mol].
    """
    return flow_m3_per_s * density_kg_m3 / (molar_mass_g * 1e-3)
