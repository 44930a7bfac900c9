"""The course of an open reflux as commonly run: draws plots/course.png and .svg."""

from pathlib import Path

import kinetics
from kinetics.figures.course import figure_course
from kinetics.figures.saving import save_figure

HERE = Path(__file__).resolve().parent

scenario = kinetics.read_scenario(HERE.parent / "scenarios" / "common_practice.toml")
page = figure_course(kinetics.simulate(scenario))
for ending in ("png", "svg"):
    save_figure(page, HERE / f"course.{ending}")
