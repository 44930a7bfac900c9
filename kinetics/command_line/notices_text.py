"""Cautions and notices of a run as a reader wants them: cautions whole, notices shortly."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from kinetics.command_line.terminal import heading, warning, wrapped

ASSUMED = re.compile(r"(\S+) is not given: .*\btaken as (.+)\.")
OUTSIDE = re.compile(r"(.+) used at (.+ C), outside its range of (.+? C) \(.*\)")
ESTIMATE = re.compile(r"leans on an estimate: (.+?), [^,]+.* \((factor [^,]+|\+- [^,]+), .*\)")
LEAST_CERTAIN = 5


def caution_lines(cautions: Iterable[str]) -> list[str]:
    """Every caution, whole."""
    lines = [line for text in cautions for line in wrapped(text, "! ", "  ")]
    return ["", heading("Cautions"), *map(warning, lines)] if lines else []


def notice_lines(notices: Sequence[str]) -> list[str]:
    """Notices in short: what was assumed, correlations out of range once each, the least certain estimates."""
    assumed, outside, estimates, others = [], dict[tuple[str, str], list[str]](), [], []
    for text in notices:
        if found := ASSUMED.fullmatch(text):
            assumed.append(f"{found[1]} = {found[2]}")
        elif found := OUTSIDE.fullmatch(text):
            outside.setdefault((found[2], found[3]), []).append(found[1])
        elif found := ESTIMATE.fullmatch(text):
            estimates.append(f"{found[1]} ({found[2]})")
        else:
            others.append(text)
    lines = [line for text in others for line in wrapped(text, "- ")]
    if assumed:
        lines += wrapped(f"Assumed, not being given: {'; '.join(assumed)}.", "- ")
    if outside:
        lines += wrapped("Correlations used outside the range of their source (temperature, range):", "- ")
        for (temperature, limits), names in outside.items():
            lines += wrapped(f"{temperature}, {limits}: {', '.join(shortened(names))}", "  ", "    ")
    if estimates:
        number = "1 estimate" if len(estimates) == 1 else f"{len(estimates)} estimates"
        certain = "; ".join(estimates[:LEAST_CERTAIN])
        lines += wrapped(f"Leans on {number}, the least certain first: {certain}.", "- ")
    if assumed or outside or estimates:
        lines += wrapped("All of it: --json, or the command `sources`.", "- ")
    return ["", heading("Notices"), *lines] if lines else []


def shortened(names: Iterable[str]) -> list[str]:
    """Dotted names, those of one family drawn together: "pitzer.theta (a, b)" for pitzer.theta.a and .b."""
    families: dict[str, list[str]] = {}
    for name in names:
        family, _, member = name.rpartition(".")
        families.setdefault(family, []).append(member)
    return [
        f"{family} ({', '.join(members)})" if len(members) > 1 else f"{family}.{members[0]}".removeprefix(".")
        for family, members in families.items()
    ]
