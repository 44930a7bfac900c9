"""The keys a scenario file may hold: what each means, which values it takes, and what stands in for it.

A new key is a line in this table; the reading follows from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

HOUR_S = 3600.0
LONGEST_S = 1000 * HOUR_S
ML_PER_MIN = 1e-6 / 60  # [m3/s]


@dataclass(frozen=True)
class Entry:
    """One key.

    kind: a kind of quantity, or "flag" or "choice"; words: its name in a sentence; least and most: limits in
    house units; limits: the same in words; above_zero: zero is refused; default: what stands in, as text;
    choices: the words it takes (beside a quantity where kind is one).
    """

    kind: str
    words: str
    least: float = 0.0
    most: float = inf
    limits: str = ""
    above_zero: bool = False
    default: str | bool | None = None
    choices: tuple[str, ...] = ()
    example: str = ""


def _temperature(words: str, least_C: float, most_C: float, **more: object) -> Entry:
    limits = f"from {least_C:g} degC to {most_C:g} degC"
    return Entry("temperature", words, least_C + 273.15, most_C + 273.15, limits, **more)  # type: ignore[arg-type]


def _time(words: str, default: str | None = None, above_zero: bool = False) -> Entry:
    return Entry("time", words, 0.0, LONGEST_S, "up to 1000 h", above_zero, default)


def _flow(words: str, most_mL_per_min: float, default: str | None = None, above_zero: bool = False) -> Entry:
    limits = f"up to {most_mL_per_min:g} mL/min"
    return Entry("volume flow", words, 0.0, most_mL_per_min * ML_PER_MIN, limits, above_zero, default)


def _flag(default: bool) -> Entry:
    return Entry("flag", "it", default=default)


SECTIONS: dict[str, dict[str, Entry]] = {
    "heating": {
        "start": _temperature("the temperature at the start", 0, 150, default="20 degC"),
        "ramp": _time("the time from the start to the hold", "25 min"),
        "hold": _time("the time of the hold", above_zero=True),
        "temperature": _temperature("the temperature of the hold", 0, 150, default="boil", choices=("boil",)),
        "altitude": Entry(
            "height", "the height above the sea", -400.0, 4500.0, "from -400 m to 4500 m", default="0 m"
        ),
        "pressure": Entry(
            "pressure", "the pressure of the air", 50e3, 110e3, "from 50 kPa to 110 kPa", example="98 kPa"
        ),
        "boil_up": _flow("the boil-up", 1000, "2.5 mL/min"),
        "drops": Entry("frequency", "the rate of falling drops", 0.0, 20000 / 60, "up to 20000 1/min"),
        "power": Entry("power", "the power of the heater", 0.0, 50e3, "up to 50 kW"),
        "losses": Entry("power", "the heat lost from the flask", 0.0, 50e3, "up to 50 kW", example="60 W"),
        "cooling": _time("the time of cooling after the hold", "30 min"),
    },
    "vessel": {
        "closed": _flag(False),
        "stirring": Entry("choice", "the stirring", default="gentle", choices=("none", "gentle", "vigorous")),
        "k_La": Entry(
            "frequency",
            "the transfer between oil and water",
            0.0,
            10.0,
            "up to 10 1/s",
            above_zero=True,
            example="0.01 1/s",
        ),
    },
    "condenser": {
        "coolant": _temperature("the coolant", 0, 150, default="15 degC"),
        "approach": Entry("temperature difference", "the approach", 0.0, 100.0, "up to 100 K", default="5 K"),
        "air_exchange": _flow("the exchange of air at the top of the condenser", 10000, "10 mL/min"),
        "sweep": _flow("the sweep of gas", 100000, "0 mL/min"),
        "sweep_gas": Entry("choice", "the swept gas", default="inert", choices=("inert", "air")),
        "take_off": _flow("the take-off of distillate", 1000, "0 mL/min"),
        "make_up": _flag(False),
    },
}

SCHEDULE: dict[str, Entry] = {  # of one [[addition]], beside the substances
    "at": _time("the time of the addition after the start of the hold"),
    "over": _time("the time over which it is added", "0 min"),
}

PORTION = ("amount", "purity", "uncertainty")  # the table form of a charge
BAKED_PORTION = ("amount", "converted", "purity", "uncertainty")

TOP_LEVEL = ("title", "substrate", "charge", *SECTIONS, "addition", "option")

# readings of one quantity that exclude one another: the section, and the sets of keys that belong together
RIVALS: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...] = (
    ("heating", (("altitude",), ("pressure",))),
    ("heating", (("boil_up",), ("drops",), ("power", "losses"))),
    ("vessel", (("stirring",), ("k_La",))),
)
