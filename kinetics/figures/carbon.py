"""Where the carbon of the charged organics is over time, stacked; what is charged closes at 100 %."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.data.shelf import Shelf, load_shelf
from kinetics.figures.labels import End, finish, label_ends, note
from kinetics.figures.roles import ROLE_LOOKS, crossed_aldols, organics, role, substrate_of
from kinetics.figures.style import FAINT, headed, page, panel, percent, styled
from kinetics.figures.timeline import set_time_axis
from kinetics.run.result import Run, amounts_put_in

POOLED_BELOW = 0.005  # shares that never reach this are drawn as one
SEEN_IN_OIL = 0.01  # of a species: with less, its oil is not told apart
OIL, GONE = "....", "////"  # hatches
ORDER = (
    "product",
    "crossed aldol",
    "intermediate",
    "rest",
    "substrate",
    "further",
    "by-product",
    "self aldol",
)
REMAINDER, WORTH_A_NAME = "everything else", 5e-4


@dataclass(frozen=True)
class Share:
    """One band: its name, its part of the carbon over time [1], colour and hatch."""

    name: str
    values: np.ndarray
    colour: str
    hatch: str = ""


def carbon_shares(run: Run, shelf: Shelf | None = None) -> list[Share]:
    """Every place where carbon of the charged organics is, from the bottom of the stack up.

    share = (carbon per molecule x amount) / (carbon of all organics charged and added until then); inorganic
    carbon does not count. `shelf`: where the formulas stand, if not on the published one.
    Raises ValueError for a run without its trajectory.
    """
    if run.trajectory is None:
        raise ValueError("carbon_shares: expected a run with its trajectory, which tells what was charged")
    shelf = shelf or load_shelf()
    substrate = substrate_of(run)
    carbon = {name: shelf.substance(name).elements.get("C", 0.0) for name in organics(run)}
    put_in = amounts_put_in(run.trajectory)
    total = sum((carbon[name] * put_in[name] for name in carbon), np.zeros_like(run.series.time_s))
    known = np.where(total > 0.0, total, np.nan)
    shares = []
    for kind in ORDER:
        for name in (name for name in carbon if role(substrate, name) == kind):
            for place, amount, hatch in places(run, name):
                colour = ROLE_LOOKS[kind].colour
                shares.append(Share(f"{name}{place}", carbon[name] * amount / known, colour, hatch))
    return shares


def places(run: Run, name: str) -> list[tuple[str, np.ndarray, str]]:
    """Where a species is: words, amount over time [mol], hatch."""
    series = run.series
    zero = np.zeros_like(series.time_s)
    oil = series.oil_by_species_mol.get(name, zero)
    taken = series.taken_off_mol.get(name, zero)
    flask = series.flask_mol[name]
    two_liquids = float(np.max(oil)) > SEEN_IN_OIL * float(np.max(flask))
    in_flask = [(" in water", flask - oil, ""), (" in oil", oil, OIL)] if two_liquids else [("", flask, "")]
    return [
        *in_flask,
        (", taken off", taken, GONE),
        (", gone with the air", series.left_mol.get(name, zero) - taken, GONE),
    ]


def drawn_shares(shares: list[Share]) -> list[Share]:
    """The shares that can be seen, and one for all the others together, on top."""
    large = [share for share in shares if np.nanmax(share.values, initial=0.0) >= POOLED_BELOW]
    small = [share for share in shares if share not in large]
    if not small:
        return large
    rest = np.sum([share.values for share in small], axis=0)
    return [*large, Share(REMAINDER, rest, ROLE_LOOKS["rest"].colour)]


@styled
def plot_carbon(run: Run, *, ax: Axes | None = None, shelf: Shelf | None = None) -> Axes:
    """Where the carbon of the charged organics is, stacked, in percent of what was charged until then."""
    ax = panel(ax, 4.4)
    end = float(run.series.time_s[-1])
    unit = set_time_axis(ax, end)
    shares = drawn_shares(carbon_shares(run, shelf))
    base = np.zeros_like(run.series.time_s)
    ends = []
    for share in shares:
        top = base + 100.0 * share.values
        band = ax.fill_between(
            run.series.time_s / unit, base, top, facecolor=share.colour, edgecolor="white", linewidth=0.4
        )
        band.set(label=share.name, hatch=share.hatch)
        middle, last = 0.5 * float(base[-1] + top[-1]), float(share.values[-1])
        if share.name != REMAINDER or last >= WORTH_A_NAME:
            ends.append(End(f"{share.name} {percent(last)}", end / unit, middle, FAINT))
        base = top
    if not ends:
        ax.text(0.5, 0.5, "no organics were charged", transform=ax.transAxes, ha="center")
    ax.set_ylim(0.0, 100.0)
    ax.grid(False)
    headed(ax, "share of the carbon of the charged organics (%)")
    label_ends(ax, ends)
    return ax


@styled
def figure_carbon(run: Run, *, shelf: Shelf | None = None) -> Figure:
    """A page that shows where the carbon of the charged organics is over time."""
    figure = page(5.0)
    ax = plot_carbon(run, ax=figure.add_subplot(), shelf=shelf)
    ends = ", ".join(" ".join(text.get_text().split()) for text in ax.texts)
    note(
        figure,
        [
            "Dotted: in the oil. Hatched: no longer in the flask. Carbonate does not count. "
            f"Everything else: what never reaches {100.0 * POOLED_BELOW:g}\u00a0% by itself.",
            *crossed_aldols(run),
        ],
    )
    return finish(
        figure, run.title, f"Where the carbon of the charged organics is over time. At the end: {ends}."
    )
