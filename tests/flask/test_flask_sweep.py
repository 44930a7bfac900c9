"""Water that a sweep carries below the boil: saturated gas where the gas is little, the heat's limit where it is much."""

from __future__ import annotations

from math import exp

import pytest

E = "cinnamaldehyde"
PRESSURE = 101325.0


@pytest.fixture(scope="module")
def swept(flask, batch):
    """The balance of a flask at 80 C with this sweep [mL/min at 20 C]."""

    def balance(sweep_mL: float):
        scenario = batch(
            {"water": "20 mol", E: "1 mmol", "sodium carbonate": "1 mmol"},
            heating={"temperature": "80 degC", "hold": "1 min"},
            condenser={"sweep": f"{sweep_mL} mL/min", "sweep_gas": "inert"},
        )
        return flask(scenario).balance

    return balance


@pytest.mark.parametrize("others", [0.0, 2000.0])
def test_gas_leaves_saturated(swept, others: float) -> None:
    """sweep p_w/(P - all vapours), 10 mL/min, 47.4 kPa of water: far below the limit, so to rounding."""
    balance = swept(10.0)
    expected = balance.surroundings.sweep * 47.4e3 / (PRESSURE - 47.4e3 - others)
    assert balance.swept_water(47.4e3, 47.4e3 + others) == pytest.approx(expected, rel=1e-6)


def vapours(balance, times: float) -> float:
    """Pressure of all vapours at which the gas would carry `times` the limit, of 50 kPa of water."""
    return PRESSURE - balance.surroundings.sweep * 50e3 / (times * balance.segment.most_vapour)


def test_no_more_than_the_heat_can_raise(swept) -> None:
    """Gas enough for a hundred times the limit, and vapours beyond the pressure of the air: five millilitres a minute."""
    balance = swept(10.0)
    assert balance.swept_water(50e3, vapours(balance, 100.0)) == pytest.approx(5e-3, rel=1e-6)
    assert balance.swept_water(90e3, 110e3) == pytest.approx(5e-3, rel=1e-12)


@pytest.mark.parametrize(("times", "low", "high"), [(0.5, 0.999, 1.0), (1.0, 0.9, 0.93), (2.0, 0.999, 1.0)])
def test_the_lesser_without_a_kink(swept, times: float, low: float, high: float) -> None:
    """Within 0.1 % of the lesser up to half the limit and from twice it on; where both are one, a tenth below."""
    balance = swept(10.0)
    share = balance.swept_water(50e3, vapours(balance, times)) / (min(times, 1.0) * balance.segment.most_vapour)
    assert low < share < high


def test_strong_liquor_gives_less_vapour(flask, batch) -> None:
    """2 mol/kg of lye at 80 C: water below its own pressure (47.41 kPa, IAPWS-95) by the activity of the liquor's water."""
    scenario = batch(
        {"water": "55.5 mol", "sodium hydroxide": "2 mol"},
        heating={"temperature": "80 degC"}, condenser={"sweep": "10 mL/min", "sweep_gas": "inert"},
    )  # fmt: skip
    one = flask(scenario)
    state = one.balance.state(0.0, one.state())
    a_w = exp(state.speciation.activities.ln_water)
    assert 0.91 < a_w < 0.95  # osmotic coefficient about 1
    assert one.balance.water_pressure(state) == pytest.approx(47.41e3 * a_w, rel=1e-3)
