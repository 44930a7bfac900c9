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

    kind: a kind of quantity, or "number" (without a unit), "flag", "choice" or "substance"; words: its name in a sentence; least
    and most: limits in house units; limits: the same in words; above_zero: zero is refused; default: what stands in, as text;
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


def _flag(default: bool | None) -> Entry:
    return Entry("flag", "it", default=default)


def _fraction(words: str, example: str, above_zero: bool = False, most: float = 1.0) -> Entry:
    limits = "above 0 and " if above_zero else "from 0 "
    return Entry("number", words, 0.0, most, f"{limits}up to {most:g}", above_zero, example=example)


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
    # the job around the flask: nothing here is needed for a run, and the shelf stands in for what is left out
    "feed": {
        "bark": Entry("mass", "the bark", 0.0, 10.0, "up to 10 kg", True),
        "oil_content": _fraction("the oil in the bark, by mass", "0.012", above_zero=True),
        "recovery": _fraction("the part of the oil that distils", "0.8", above_zero=True),
        "distillate": Entry("volume", "the distillate", 0.0, 20.0, "up to 20 L", True),
        "oil": Entry("mass", "the oil", 0.0, 1.0, "up to 1 kg", True, example="1.8 g"),
        "layer": Entry("volume", "the layer of oil", 0.0, 1.0, "up to 1 L", True, example="1.7 mL"),
        "aldehyde": _fraction("the aldehyde in the oil, by mass", "0.82", above_zero=True),
        "sample": Entry("mass", "the oil that was titrated", 0.0, 0.1, "up to 100 g", True, example="1 g"),
        "titre": Entry("volume", "the titrant used", 0.0, 0.5, "up to 500 mL", True, example="12.4 mL"),
        "titrant": Entry("concentration", "the titrant", 0.0, 5.0, "up to 5 mol/L", True, example="0.5 mol/L"),
        "titration": Entry("choice", "the titration", choices=("hydroxylamine", "bisulfite")),
        "refractive_index": Entry("number", "the refractive index n_D of the oil", 1.2, 2.0, "from 1.2 to 2", example="1.601"),
        "beside": Entry("substance", "the other liquid in the oil", example="benzaldehyde"),
        "read_at": _temperature("the temperature of the refractive index", 0, 60, default="20 degC"),
        "uncertainty": _fraction("the relative uncertainty of the aldehyde", "0.1"),
    },
    "hazard": {
        "air": Entry("volume flow", "the clean air", 0.0, 10.0, "up to 10 m^3/s", True, example="600 m^3/h"),
        "mixing": Entry("number", "the mixing factor", 1.0, 10.0, "from 1 to 10", example="5"),
        "trap_temperature": _temperature("the temperature of the trap", 0, 40),
    },
    "workup": {
        "separation": _temperature("the temperature at which oil and water are parted", 0, 60),
        "steam": _flag(None),
        "recovered": _fraction("the part of the product carried over by steam", "0.95", True, 0.9999),
        "distillate": Entry("volume", "the distillate", 0.0, 20.0, "up to 20 L", True),
        "salt": Entry("choice", "the salt", choices=("sodium chloride", "none")),
        "drying_loss": _fraction("the part of the oil lost in drying", "0.05"),
        "transfer_loss": _fraction("the part of the oil lost on glass", "0.1"),
        "exposure": Entry("time", "the time in air", 0.0, LONGEST_S, "up to 1000 h"),
        "pressure": Entry("pressure", "the pressure of the distillation", 100.0, 110e3, "from 0.1 kPa to 110 kPa", example="2 kPa"),
        "cut": _fraction("the part of the oil that is taken over", "0.85", True),
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
    ("feed", (("bark", "oil_content", "recovery"), ("oil",), ("layer",))),
    ("feed", (("aldehyde",), ("sample", "titre", "titrant", "titration"), ("refractive_index", "beside", "read_at"))),
    ("workup", (("recovered",), ("distillate",))),
)
