"""The two levers on retained acetaldehyde, coolant and sweep of gas: draws plots/map.png and .svg."""

from pathlib import Path

import numpy as np

import kinetics
from kinetics.figures.map import figure_map
from kinetics.figures.saving import save_figure

HERE = Path(__file__).resolve().parent
CAUTION = (
    "What leaves is acetaldehyde, toxic and easily set alight: fume cupboard, no flame, no closed vessel."
)

scenario = kinetics.read_scenario(HERE.parent / "scenarios" / "common_practice.toml")
at = scenario.heating.ramp_s + 5 * 3600.0
coolants_degC = [5, 15, 25, 35, 45, 55, 65]
sweeps_mL_per_min = [0, 10, 20, 40, 60, 80, 100]


def conversion(coolant: int, sweep: int) -> float:
    """Conversion [%] five hours into the boil."""
    changes = {
        "condenser.coolant": f"{coolant} degC",
        "condenser.sweep": f"{sweep} mL/min",
        "heating.hold": "5 h",
    }
    run = kinetics.simulate(scenario.with_changes(changes), times=[at])
    return 100.0 * float(np.interp(at, run.series.time_s, run.series.conversion))


grid = [[conversion(coolant, sweep) for coolant in coolants_degC] for sweep in sweeps_mL_per_min]
page = figure_map(
    coolants_degC,
    sweeps_mL_per_min,
    grid,
    "coolant temperature (°C)",
    "gas led through the head space (mL/min)",
    "conversion after 5 h at the boil (%)",
    remarks=["1.2 g of cinnamaldehyde in 350 mL of water.", CAUTION],
    title="Let the acetaldehyde go: a warmer condenser or a sweep of gas",
)
for ending in ("png", "svg"):
    save_figure(page, HERE / f"map.{ending}")
