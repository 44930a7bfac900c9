"""From charge to bottle: the product that could be, walked down loss by loss, and the carbon by place."""

from __future__ import annotations

from textwrap import fill

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kinetics.analysis.ledger import BOTTLE, Entry, Ledger
from kinetics.figures.labels import finish, note
from kinetics.figures.style import AMBER, ASH, FAINT, INK, LAKE, LILAC, headed, page, panel, percent, styled

SEEN = 5e-4  # a loss smaller than this is not drawn
BAR, NAME_WRAP = 0.62, 36
KINDS = (("product", AMBER, ""), ("substrate", INK, ""), ("by-product", LAKE, ""), ("other", ASH, "////"))


def words(entry: Entry, product: str) -> str:
    """An entry in a few words: what it is, or where the product is."""
    return f"{product} {entry.where}" if entry.what == product else entry.what


def steps_to_bottle(ledger: Ledger) -> list[tuple[str, float, float]]:
    """Each loss of the product account with the share before and after it [1], in the order of the day; bottle last."""
    steps, level = [], 1.0
    for entry in ledger.product_account:
        if entry.where == BOTTLE and entry.what == ledger.product:
            continue
        if abs(entry.share) >= SEEN:
            steps.append((words(entry, ledger.product), level, level - entry.share))
        level -= entry.share
    return steps


@styled
def plot_product(ledger: Ledger, *, ax: Axes | None = None) -> Axes:
    """Bars from all product that could be down to what is in the bottle, in percent of what was charged."""
    steps = steps_to_bottle(ledger)
    ax = panel(ax, 1.1 + 0.3 * (len(steps) + 2))
    names = [f"all {ledger.product} there could be", *(name for name, _, _ in steps), f"{ledger.product} {BOTTLE}"]
    overall = ledger.overall or 0.0
    ax.barh([0, len(names) - 1], [100.0, 100.0 * overall], BAR, color=[FAINT, AMBER])
    for row, (_, before, after) in enumerate(steps, 1):
        ax.barh(row, 100.0 * (before - after), BAR, left=100.0 * after, color=LILAC, hatch="////", edgecolor="white")
        ax.text(100.0 * before + 1.0, row, f"\u2212{100.0 * (before - after):.1f}", verticalalignment="center")
        ax.plot([100.0 * after] * 2, [row, row + 1], color=INK, linewidth=0.7, zorder=3)
    ax.text(100.0 * overall + 1.0, len(names) - 1, percent(overall), verticalalignment="center", fontweight="bold")
    ax.set_yticks(range(len(names)), [fill(name, NAME_WRAP) for name in names])
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.set_xlim(0.0, 110.0)
    ax.set_xticks(range(0, 101, 20))
    ax.grid(False)
    ax.grid(axis="x")
    headed(ax, "share of the product that could be (%)")
    return ax


def carbon_by_place(ledger: Ledger) -> dict[str, dict[str, float]]:
    """Carbon of each place [1] by kind: product, substrate, by-product, other."""
    kinds = {ledger.product: "product", ledger.substrate: "substrate", "other": "other"}
    found: dict[str, dict[str, float]] = {}
    for entry in ledger.carbon_account:
        bars = found.setdefault(entry.where, {name: 0.0 for name, _, _ in KINDS})
        bars[kinds.get(entry.what, "by-product")] += entry.share
    return {place: bars for place, bars in found.items() if sum(bars.values()) >= SEEN}


@styled
def plot_carbon_places(ledger: Ledger, *, ax: Axes | None = None) -> Axes:
    """Stacked bars: the carbon of the charged organics by place, in percent."""
    places = carbon_by_place(ledger)
    ax = panel(ax, 1.1 + 0.3 * len(places))
    rows, left = range(len(places)), [0.0] * len(places)
    for kind, colour, hatch in KINDS:
        widths = [100.0 * bars[kind] for bars in places.values()]
        if any(widths):
            ax.barh(rows, widths, BAR, left=left, color=colour, hatch=hatch, edgecolor="white", linewidth=0.4, label=kind)
        left = [a + b for a, b in zip(left, widths)]
    for row, total in zip(rows, left):
        ax.text(total + 1.0, row, percent(0.01 * total), verticalalignment="center")
    ax.set_yticks(rows, [fill(place, NAME_WRAP) for place in places])
    ax.set_ylim(len(places) - 0.5, -0.5)
    ax.set_xlim(0.0, 110.0)
    ax.set_xticks(range(0, 101, 20))
    ax.grid(False)
    ax.grid(axis="x")
    ax.legend(loc="lower right", frameon=False)
    headed(ax, "share of the carbon of the charged organics (%)")
    return ax


@styled
def figure_ledger(ledger: Ledger) -> Figure:
    """A page with both accounts."""
    upper, lower = len(steps_to_bottle(ledger)) + 2, len(carbon_by_place(ledger))
    figure = page(1.9 + 0.3 * (upper + lower))
    top, bottom = figure.subplots(2, 1, height_ratios=[upper, max(lower, 1)])
    plot_product(ledger, ax=top)
    plot_carbon_places(ledger, ax=bottom)
    note(figure, ["An expectation at bench scale; losses in drying, on glass and in air are guesses of the trade, no source."])
    losses = "; ".join(f"{name} {100.0 * (before - after):.1f} points" for name, before, after in steps_to_bottle(ledger))
    words_ = f"Of all product there could be {percent(ledger.overall or 0.0)} is in the bottle. Lost: {losses}."
    return finish(figure, f"{ledger.title}: from charge to bottle", words_)
