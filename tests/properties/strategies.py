"""Valid scenarios, the extreme ones included, as documents that a scenario file could hold."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

TIMES_AS_MANY = int(os.environ.get("PROPERTY_EXAMPLES", "1"))  # a long campaign sets this

SUBSTRATES = {
    "cinnamaldehyde": ("cinnamaldehyde", "benzaldehyde", "acetaldehyde"),
    "citral": ("citral", "6-methyl-5-hepten-2-one", "acetaldehyde"),
    "prenal": ("3-methyl-2-butenal", "acetone", "acetaldehyde"),
    "diacetone alcohol": ("diacetone alcohol", "acetone", "acetone"),
}
MOST_SOLUBLE = {  # [mol/kg], about what hot water dissolves
    "sodium carbonate": 4.3,
    "sodium carbonate decahydrate": 2.0,
    "sodium bicarbonate": 2.5,
    "potassium carbonate": 8.0,
    "potassium bicarbonate": 5.0,
    "sodium hydroxide": 10.0,
    "potassium hydroxide": 10.0,
    "calcium hydroxide": 0.02,
}
GRAMS_PER_MOL = {"sodium chloride": 58.44, "cinnamaldehyde": 132.2}
LOWEST_BOIL_DEGC = 86.0  # pure water at 4000 m


def profile(examples: int) -> settings:
    """The same few examples in every run, with as many times more as a campaign asks for."""
    return settings(
        max_examples=examples * TIMES_AS_MANY,
        deadline=None,
        derandomize=TIMES_AS_MANY == 1,
        database=None,
        phases=[Phase.explicit, Phase.generate],  # a failing run may be a slow one: it is told as drawn
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
    )


def powers(least: float, most: float) -> st.SearchStrategy[float]:
    """Positive numbers between two limits, every decade as likely as another; three digits are enough."""
    from math import log10

    return st.floats(log10(least), log10(most)).map(lambda exponent: float(f"{10.0**exponent:.3g}"))


def fractions(least: float = 0.0, most: float = 1.0) -> st.SearchStrategy[float]:
    return st.floats(least, most).map(lambda x: round(x, 3))


@st.composite
def bases(draw: st.DrawFn, water_kg: float) -> dict[str, str]:
    """None, one or two bases from 1e-4 mol/kg to saturated, and now and then some salt."""
    table = {}
    for name in draw(st.lists(st.sampled_from(sorted(MOST_SOLUBLE)), max_size=2, unique=True)):
        molality = draw(powers(1e-4, MOST_SOLUBLE[name]))
        table[name] = f"{molality * water_kg:.6g} mol"
    if draw(st.integers(0, 4)) == 0:
        table["sodium chloride"] = f"{draw(powers(1e-3, 5.0)) * water_kg:.6g} mol"
    if draw(st.integers(0, 9)) == 0:
        table["baked sodium bicarbonate"] = {"amount": f"{80.0 * water_kg:.6g} g", "converted": draw(fractions())}
    return table


@st.composite
def heatings(draw: st.DrawFn, closed: bool) -> dict[str, Any]:
    start = draw(st.floats(5.0, 80.0).map(lambda x: round(x, 1)))
    table: dict[str, Any] = {
        "start": f"{start} degC",
        "ramp": f"{draw(st.one_of(st.just(0.0), powers(0.01, 300.0)))} min",
        "hold": f"{draw(powers(1.0, 12000.0))} min",
        "cooling": f"{draw(st.one_of(st.just(0.0), powers(0.01, 300.0)))} min",
        "altitude": f"{draw(st.floats(0.0, 4000.0).map(round))} m",
        "temperature": draw(st.one_of(st.just("boil"), st.floats(5.0, 85.0).map(lambda x: f"{x:.1f} degC"))),
    }
    if table["temperature"] == "boil" and not closed:
        match draw(st.sampled_from(["boil_up", "drops", "power"])):
            case "boil_up":
                table["boil_up"] = f"{draw(st.one_of(st.just(0.0), powers(1e-3, 1000.0)))} mL/min"
            case "drops":
                table["drops"] = f"{draw(powers(0.1, 1000.0))} 1/min"
            case "power":
                losses = draw(powers(1.0, 1000.0))
                table["power"] = f"{losses + draw(powers(0.01, 2000.0)):.6g} W"
                table["losses"] = f"{losses} W"
    return table


@st.composite
def condensers(draw: st.DrawFn, heating: dict[str, Any], closed: bool, water_kg: float) -> dict[str, Any]:
    coolant = draw(st.floats(1.0, LOWEST_BOIL_DEGC - 5.0).map(lambda x: round(x, 1)))
    table: dict[str, Any] = {
        "coolant": f"{coolant} degC",
        "approach": f"{draw(st.floats(0.0, LOWEST_BOIL_DEGC - 1.0 - coolant).map(lambda x: round(x, 1)))} K",
    }
    if closed:
        return table
    minutes = sum(float(heating[key].split()[0]) for key in ("ramp", "hold", "cooling"))
    most = 0.3 * water_kg / 0.018 * 24055.0 / minutes  # [mL/min] of gas: more might carry the flask dry
    for key, limit in (("air_exchange", 5000.0), ("sweep", 20000.0)):
        share = draw(st.one_of(st.just(0.0), powers(1e-5, 1.0)))
        flow = share * min(most, limit)
        table[key] = f"{flow if flow > water_kg or key == 'air_exchange' else 0.0:.4g} mL/min"  # see the known failures
    table["sweep_gas"] = draw(st.sampled_from(["inert", "air"]))
    if "boil_up" in heating and draw(st.booleans()):
        table["make_up"] = draw(st.booleans())
        most = float(heating["boil_up"].split()[0])
        if not table["make_up"]:
            most = min(most, 0.7e3 * water_kg / float(heating["hold"].split()[0]))
        table["take_off"] = f"{draw(fractions()) * most:.4g} mL/min"
    return table


@st.composite
def additions(draw: st.DrawFn, hold_min: float, names: tuple[str, ...], water_kg: float) -> list[dict[str, Any]]:
    """Up to three, at once or spread, some at the same moment."""
    entries = []
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.sampled_from([0.0, 0.25, 0.5, 0.999]))
        over = draw(st.sampled_from([0.0, 0.001, 0.25, 1.0 - at]))
        over = min(over, 1.0 - at) if over * hold_min > 0.01 else 0.0  # [min]; microseconds are a known failure
        entry: dict[str, Any] = {"at": f"{at * hold_min:.9g} min", "over": f"{over * hold_min:.9g} min"}
        for name in draw(st.lists(st.sampled_from(["water", "sodium hydroxide", *names]), min_size=1, unique=True)):
            amount = {"water": 50.0, "sodium hydroxide": 0.5}.get(name, 0.1) * water_kg
            entry[name] = f"{draw(powers(1e-6, 1.0)) * amount:.6g} mol"
        entries.append(entry)
    return entries


@st.composite
def documents(draw: st.DrawFn, closed: bool | None = None, substrate: str | None = None) -> dict[str, Any]:
    """One valid scenario: micrograms to kilograms, dilute to mostly oil, a minute to 200 hours."""
    substrate = substrate or draw(st.sampled_from(sorted(SUBSTRATES)))
    names = SUBSTRATES[substrate]
    shut = draw(st.integers(0, 3)) == 0 if closed is None else closed
    water_kg = draw(powers(1.5e-3, 10.0))
    charge: dict[str, Any] = {"water": f"{water_kg} kg"}
    if draw(st.integers(0, 9)):
        charge[names[0]] = f"{draw(powers(1e-8, 3.0)) * water_kg:.6g} kg"
    if draw(st.integers(0, 3)) == 0:
        charge[names[1]] = f"{draw(powers(1e-6, 0.3)) * water_kg:.6g} kg"
    if names[2] != names[1] and draw(st.integers(0, 3)) == 0:
        charge[names[2]] = f"{draw(powers(1e-6, 0.1)) * water_kg:.6g} kg"
    charge |= draw(bases(water_kg))
    heating = draw(heatings(shut))
    stirring = {"stirring": draw(st.sampled_from(["none", "gentle", "vigorous"]))}
    return {
        "title": "a drawn batch",
        "substrate": substrate,
        "charge": charge,
        "heating": heating,
        "vessel": {"closed": shut} | stirring,
        "condenser": draw(condensers(heating, shut, water_kg)),
        "addition": draw(additions(float(heating["hold"].split()[0]), names, water_kg)),
    }
