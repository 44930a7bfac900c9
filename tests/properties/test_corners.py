"""The corners of the space of batches, each by name: every one runs to its end, adds up and holds nothing negative."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from running import SAME, assert_adds_up, assert_complete, simulated
from strategies import MOST_SOLUBLE, SUBSTRATES

AMOUNTS = {"a microgram": ("1 ug", 0.01), "a kilogram": ("1 kg", 100.0), "mostly oil": ("1 kg", 0.3)}  # and water [kg]
BASES = {"hardly any base": 1e-4, "saturated": MOST_SOLUBLE["sodium carbonate"]}  # mol/kg
HEIGHTS = {"at sea level": "0 m", "at 4000 m": "4000 m"}
HOLDS = {"for a minute": "1 min", "for 200 h": "200 h"}


def corner(substrate: str, amount: str, base: str, height: str, hold: str) -> dict[str, Any]:
    """Open reflux over a millionth of the water a second; three additions at one moment, at the start of the hold."""
    charged, water_kg = AMOUNTS[amount]
    mol = BASES[base] * water_kg
    return {
        "title": f"{amount}, {base}, {height}, {hold}",
        "substrate": substrate,
        "charge": {"water": f"{water_kg} kg", substrate: charged, "sodium carbonate": f"{mol} mol"},
        "heating": {"ramp": "25 min", "hold": HOLDS[hold], "temperature": "boil", "altitude": HEIGHTS[height],
                    "boil_up": f"{0.06 * water_kg:.4g} mL/min", "cooling": "30 min"},
        "condenser": {"coolant": "15 degC", "air_exchange": f"{water_kg:.4g} mL/min"},
        "addition": [
            {"at": "0 min", substrate: charged},
            {"at": "0 min", "water": f"{0.1 * water_kg:.4g} kg"},
            {"at": "0 min", "sodium hydroxide": f"{0.1 * mol:.6g} mol"},
        ],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("substrate", "amount", "base", "height", "hold"), list(product(SUBSTRATES, AMOUNTS, BASES, HEIGHTS, HOLDS))
)
def test_a_corner_runs_to_its_end(substrate: str, amount: str, base: str, height: str, hold: str) -> None:
    scenario, run = simulated(corner(substrate, amount, base, height, hold))
    assert_complete(scenario, run)
    assert_adds_up(scenario, run)
    assert run.series.conversion is not None
    assert -SAME <= run.series.conversion.min() and run.series.conversion.max() <= 1.0 + SAME
