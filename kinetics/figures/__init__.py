"""Figures of runs: panels (`plot_x`) and pages (`figure_x`), imported only where a figure is asked for."""
