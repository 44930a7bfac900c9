"""An explanation in words for the bench: the cause, its shares, the levers with their price, and one test."""

from __future__ import annotations

from kinetics.analysis.explain import Explanation
from kinetics.command_line.notices_text import caution_lines, notice_lines
from kinetics.command_line.terminal import duration, fixed, heading, percent, table, wrapped

SEEN = 5e-4  # of the charge: smaller shares are rounding


def explanation_lines(found: Explanation) -> list[str]:
    """All that is printed of `explain`; the line that matters first."""
    when = "at the end of the run" if found.at_h is None else f"{duration(found.at_h)} into the hold, hot"
    first = (
        f"{percent(found.conversion)} % of the {found.substrate} is converted {when} "
        f"(yield {percent(found.yield_)} %); "
        f"{points(found.shortfall)} points are missing, and the largest share of that is: {main_share(found)}."
    )
    lines = [heading(line) for line in wrapped(first)]
    lines += [*wrapped(f"({found.title})"), "", *wrapped(found.diagnosis)]
    lines += ["", heading("The shortfall, shared out"), *share_lines(found)]
    lines += ["", heading("Levers, each alone, best first"), *lever_lines(found)]
    test = found.bench_test
    lines += ["", heading("One test on the bench"), *wrapped(test.test)]
    lines += wrapped(f"if the diagnosis holds: {test.if_right}", "- ")
    lines += wrapped(f"if it is rather {test.rival}: {test.if_rival}", "- ")
    lines += ["", heading("It is reversible"), *wrapped(found.reversibility)]
    return [*lines, *caution_lines(found.cautions), *notice_lines(found.notices)]


def main_share(found: Explanation) -> str:
    """The mechanism that costs most."""
    return max(found.shares, key=lambda name: found.shares[name])


def points(fraction: float) -> str:
    """Parts of the charge in percentage points."""
    return fixed(100.0 * fraction, 1)


def share_lines(found: Explanation) -> list[str]:
    """Each mechanism's share of what is missing, the largest first, and the sum."""
    names = [n for n in found.shares if max(abs(found.shares[n]), abs(found.shares_yield[n])) >= SEEN]
    names.sort(key=lambda name: -found.shares[name])
    rest = [sum(shares[n] for n in shares if n not in names) for shares in (found.shares, found.shares_yield)]
    rows = [(name, points(found.shares[name]), points(found.shares_yield[name])) for name in names]
    if any(abs(part) >= SEEN for part in rest):
        rows.append(("all others", points(rest[0]), points(rest[1])))
    rows.append(("together", points(found.shortfall), points(1.0 - found.yield_)))
    header = [["", "of conversion", "of yield"], ["", "points", "points"]]
    lines = table(header, rows, "<")
    if any(found.shares[name] < -SEEN for name in names):
        lines += wrapped(
            "Points are percent of the charge. A negative share helps: what is bound or carried off counts as "
            "converted and draws the cleavage on."
        )
    return lines


def lever_lines(found: Explanation) -> list[str]:
    """Every lever with what it gains and, below it, its price."""
    rows = [
        (lever.change, f"{100.0 * lever.conversion_gain:+z.1f}", f"{100.0 * lever.yield_gain:+z.1f}",
         f"{lever.product_gain_g:+z.3f}")
        for lever in found.levers
    ]  # fmt: skip
    header = [["", "conversion", "yield", "product"], ["", "points", "points", "g"]]
    top, *body = [table(header, rows, "<")[i : i + 1] for i in range(len(header) + len(rows))]
    lines = [*top, *body[0]]
    for line, lever in zip(body[1:], found.levers):
        lines += [*line, *wrapped(lever.caution, "    ")]
    for refused in found.not_applicable:
        lines += wrapped(f"does not apply: {refused.change} ({refused.reason})", "- ")
    return lines


def drawn_shares(found: Explanation) -> dict[str, float]:
    """The shares large enough to draw, and the others as one."""
    large = {name: share for name, share in found.shares.items() if abs(share) >= SEEN}
    rest = found.shortfall - sum(large.values())
    return large if abs(rest) < SEEN else {**large, "all others": rest}


def drawn_levers(found: Explanation) -> list[tuple[str, float, float]]:
    """The levers as the figure takes them."""
    return [(lever.change, lever.conversion_gain, lever.product_gain_g) for lever in found.levers]
