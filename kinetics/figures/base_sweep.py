"""Conversion against the loading of base, with the hydroxide that the loading gives beneath."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.figures.labels import End, finish, label_ends, note
from kinetics.figures.style import INK, LAKE, Look, headed, page, panel, percent, styled
from kinetics.figures.sweep_lines import plot_lines, set_log_axis


@styled
def plot_conversion_against_base(
    loadings_g: Sequence[float], conversions: Mapping[float, Sequence[float]], *, ax: Axes | None = None
) -> Axes:
    """Conversion [1] after each number of hours (the keys) against the mass of base [g], on a log axis."""
    lines = {f"{hours:g} h": conversions[hours] for hours in sorted(conversions, reverse=True)}
    return plot_lines(loadings_g, lines, "conversion (%)", log=True, ax=ax)


@styled
def plot_hydroxide_against_base(
    loadings_g: Sequence[float], hydroxide_mol_per_L: Sequence[float], *, ax: Axes | None = None
) -> Axes:
    """Hydroxide [mol/L] against the mass of base [g], both on log axes; drawn in mmol/L."""
    ax = panel(ax, 2.0)
    set_log_axis(ax, "x")
    set_log_axis(ax, "y")
    values = 1e3 * np.asarray(hydroxide_mol_per_L, float)
    ax.plot(loadings_g, values, label="hydroxide", **Look(LAKE).line())
    ax.set_xlim(min(loadings_g), max(loadings_g))
    headed(ax, "hydroxide at the start of the hold (mmol/L)")
    label_ends(ax, [End(f"{values[-1]:.2g}\u00a0mmol/L", float(loadings_g[-1]), float(values[-1]), LAKE)])
    return ax


@styled
def figure_base_sweep(
    loadings_g: Sequence[float],
    conversions: Mapping[float, Sequence[float]],
    hydroxide_mol_per_L: Sequence[float],
    *,
    base: str = "sodium carbonate",
    charged_g: float | None = None,
    title: str = "",
    remarks: Sequence[str] = (),
) -> Figure:
    """A page of conversion against base.

    loadings_g: mass of base, rising [g]; conversions: {hours of hold: conversion at each loading [1]};
    hydroxide_mol_per_L: at each loading, at the start of the hold [mol/L]; charged_g: a loading to mark [g];
    remarks: sentences for the foot of the page.
    """
    figure = page(4.9)
    upper, lower = figure.subplots(2, sharex=True, height_ratios=[2.2, 1.0])
    plot_conversion_against_base(loadings_g, conversions, ax=upper)
    plot_hydroxide_against_base(loadings_g, hydroxide_mol_per_L, ax=lower)
    lower.set_xlabel(f"{base} in the flask (g)")
    if charged_g is not None:
        for ax in (upper, lower):
            ax.axvline(charged_g, color=INK, linewidth=0.7)
        upper.annotate(
            f"the usual {charged_g:g} g", (charged_g, 4.0), (4, 0), textcoords="offset points", color=INK
        )
    note(figure, remarks)
    words = "; ".join(
        f"after {hours:g} h from {percent(values[0])} with {loadings_g[0]:g} g to {percent(values[-1])} with "
        f"{loadings_g[-1]:g} g"
        for hours, values in sorted(conversions.items())
    )
    return finish(
        figure, title, f"Conversion against {base}, and the hydroxide it gives. Conversion {words}."
    )
