"""The what-if panel: sliders, numbers and a curve that the page's script keeps in step; hidden where scripts are off."""

from __future__ import annotations

from collections.abc import Sequence

from kinetics.report.findings import Findings
from kinetics.report.grid import Grid
from kinetics.report.words import data_block, fixed, paragraph, short, text

WIDTH, HEIGHT = 640, 300
LEFT, RIGHT, TOP, BOTTOM = 40, 520, 16, 262  # of the plotting area
NO_SCRIPT = (
    "Sliders for the hours, the base, the coolant and the sweep stand here where scripts are allowed to run. "
    "Everything else on the page is complete without them."
)


def panel(found: Findings) -> str:
    """The section, or a sentence that tells why there is none."""
    grid = found.grid
    if grid is None:
        return paragraph(f"No sliders: {found.missing['what-if']}.")
    by_product, product = found.substrate.by_product, found.substrate.product
    numbers = [("conversion", "conversion"), ("yield", f"yield of {product}"), ("grams", f"{product} in hand")]
    numbers += [("escaped", f"{by_product} given off")] if by_product and by_product != product else []
    results = "".join(
        f'<div><dt>{text(words)}</dt><dd><span class="number" id="result-{key}"></span></dd></div>' for key, words in numbers
    )
    sliders = slider("hold", "Hours of hold", grid.hold_stops, grid.own_hold_h)
    sliders += "".join(slider(s.key, s.label, s.stops, s.own) for s in grid.settings)
    return (
        f"<noscript>{paragraph(NO_SCRIPT)}</noscript>"
        f'<div id="what-if-panel" hidden><form class="sliders">{sliders}'
        '<button type="button" id="as-read">Back to the batch as read</button></form>'
        f'<div class="results"><dl class="numbers">{results}</dl>{chart(grid)}'
        '<p class="said" id="what-if-words" role="status"></p></div></div>'
        f"{paragraph(honesty(found, grid), 'small')}"
        f"{data_block('what-if-data', grid.to_json() | {'chart': [LEFT, RIGHT, TOP, BOTTOM]})}"
    )


def slider(key: str, label: str, stops: Sequence[float], own: float) -> str:
    """A labelled range over positions; its output tells the value."""
    return (
        f'<div class="slider"><label for="set-{key}">{text(label)}</label>'
        f'<input type="range" id="set-{key}" min="0" max="{len(stops) - 1}" step="1" value="{list(stops).index(own)}" '
        f'autocomplete="off"><output for="set-{key}" id="value-{key}"></output></div>'
    )


def chart(grid: Grid) -> str:
    """Axes, and the lines that the script fills in."""
    end = float(grid.hold_h[-1])
    parts = []
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = BOTTOM + share * (TOP - BOTTOM)
        parts.append(f'<line class="rule" x1="{LEFT}" x2="{RIGHT}" y1="{y:g}" y2="{y:g}"/>')
        parts.append(f'<text x="{LEFT - 6}" y="{y + 4:g}" text-anchor="end">{100.0 * share:g}</text>')
    step = next(s for s in (0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 12.0, 24.0, 100.0, 500.0) if end / s <= 9.0)
    for k in range(int(end / step + 1e-9) + 1):
        x = LEFT + k * step / end * (RIGHT - LEFT)
        parts.append(f'<text x="{x:g}" y="{BOTTOM + 16}" text-anchor="middle">{k * step:g}</text>')
    return (
        f'<svg class="chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="chart-title">'
        '<title id="chart-title">Conversion and yield over the hours of hold at the settings chosen, '
        "and as read; the numbers beside the sliders tell the same.</title>"
        f"{''.join(parts)}"
        f'<text x="{0.5 * (LEFT + RIGHT):g}" y="{HEIGHT - 4}" text-anchor="middle">hours of hold</text>'
        f'<text x="{LEFT}" y="{TOP - 5}">%, hot</text>'
        '<path class="as-read" id="curve-conversion-own"/><path class="as-read" id="curve-yield-own"/>'
        '<line class="now" id="now"/>'
        '<path class="conversion" id="curve-conversion"/><path class="yield" id="curve-yield"/>'
        '<circle class="conversion" id="dot-conversion" r="4"/><circle class="yield" id="dot-yield" r="4"/>'
        f'<text class="conversion" id="name-conversion" x="{RIGHT + 8}">conversion</text>'
        f'<text class="yield" id="name-yield" x="{RIGHT + 8}">yield</text></svg>'
    )


def honesty(found: Findings, grid: Grid) -> str:
    """How the panel's numbers were made and how far they can be off."""
    words = {"conversion": "conversion", "yield": "yield", "escaped": f"{found.substrate.by_product} given off"}
    errors = "; ".join(
        f"{words[name]} {fixed(100.0 * most, 1)} points at worst, {fixed(100.0 * typical, 1)} typically"
        for name, (most, typical) in grid.errors.items()
    )
    back = found.hours.cooling_loss if found.hours is not None else 0.0
    cooling = f" The cool-down of the batch as read takes {fixed(100.0 * back, 1)} points back." if back > 5e-4 else ""
    nodes = [f"{s.label.lower()} {', '.join(short(node) for node in s.nodes)} {s.unit}" for s in grid.settings]
    grid_words = f" (the grid: {'; '.join(nodes)})" if nodes else ""
    return (
        f"Hot, at the end of the hold, before cooling.{cooling} Interpolated between {grid.runs - grid.held_out} runs made "
        f"with the page{grid_words}; against {grid.held_out} further runs between them it was off by: {errors} (points: "
        f"percent of the charge). What the constants leave open comes on top."
    )
