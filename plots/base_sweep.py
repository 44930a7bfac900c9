"""How little the amount of carbonate matters in the end: draws plots/base_sweep.png and .svg."""

from pathlib import Path

import numpy as np

import kinetics
from kinetics.figures.base_sweep import figure_base_sweep
from kinetics.figures.saving import save_figure

HERE = Path(__file__).resolve().parent
HOURS = (2.0, 5.0, 10.0)

scenario = kinetics.read_scenario(HERE.parent / "scenarios" / "common_practice.toml")
loadings_g = np.geomspace(0.1, 20.0, 16)
times = [scenario.heating.ramp_s + 3600.0 * hours for hours in HOURS]
loaded = [scenario.with_changes({"charge.sodium carbonate": f"{grams:.6g} g"}) for grams in loadings_g]
runs = [kinetics.simulate(one) for one in loaded]
conversions = {
    hours: [float(np.interp(at, run.series.time_s, run.series.conversion)) for run in runs]
    for hours, at in zip(HOURS, times)
}
hydroxide = [run.summary.hydroxide_hot_mol_per_L for run in runs]
page = figure_base_sweep(
    loadings_g,
    conversions,
    hydroxide,
    charged_g=3.0,
    title="Carbonate sets the pace of the first hours, not the end",
    remarks=["1.2 g of cinnamaldehyde in 350 mL of water, open reflux as commonly run."],
)
for ending in ("png", "svg"):
    save_figure(page, HERE / f"base_sweep.{ending}")
