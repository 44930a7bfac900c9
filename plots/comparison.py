"""What the perfume school could change: draws plots/comparison.png and .svg."""

from pathlib import Path

import kinetics
from kinetics.figures.comparison import figure_comparison
from kinetics.figures.saving import save_figure

HERE = Path(__file__).resolve().parent
CAUTION = (
    "What leaves is acetaldehyde, toxic and easily set alight: fume cupboard, no flame, no closed vessel."
)

base = kinetics.read_scenario(HERE.parent / "scenarios" / "perfume_school.toml")
runs = [("as planned", kinetics.simulate(base))]
runs += [(option.name, kinetics.simulate(base.option(option.name))) for option in base.options]
page = figure_comparison(runs, "conversion", title=base.title, remarks=[CAUTION])
for ending in ("png", "svg"):
    save_figure(page, HERE / f"comparison.{ending}")
