"""Where the carbon goes in an open reflux as commonly run: draws plots/carbon.png."""

from pathlib import Path

import kinetics
from kinetics.figures.carbon import figure_carbon
from kinetics.figures.saving import save_figure

HERE = Path(__file__).resolve().parent

scenario = kinetics.read_scenario(HERE.parent / "scenarios" / "common_practice.toml")
save_figure(figure_carbon(kinetics.simulate(scenario)), HERE / "carbon.png")
