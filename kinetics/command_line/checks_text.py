"""The published checks in words: what, source, published, ours, deviation, and whether it holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import isfinite
from typing import Any

from kinetics.analysis.checks import Check, Published, band_of
from kinetics.command_line.terminal import MISSING, heading, significant, table, wrapped


def results(checks: Sequence[Check], progress: Callable[[int, int], None]) -> list[dict[str, Any]]:
    """Every check with all its points, computed; `holds` is False wherever a deviation is beyond the tolerance."""
    found = []
    for done, check in enumerate(checks):
        progress(done, len(checks))
        found.append(
            {
                "authority": check.authority,
                "what": check.what,
                "source": check.source,
                "status": check.status,
                "unit": check.unit,
                "tolerance": check.tolerance,
                "tolerance_is_relative": check.relative,
                "argued": check.argued,
                "known_to_fail": check.fails or None,
                "points": [point(check, at, published) for at, published in check.points],
            }
        )
    return found


def point(check: Check, at: float, published: Published) -> dict[str, Any]:
    """One published number (two for a band) beside ours; ours is None where it could not be computed."""
    ours = check.ours(at)
    deviation = check.apart(ours, published)
    return {
        "at": at,
        "published": published,
        "ours": ours if isfinite(ours) else None,
        "deviation": deviation if isfinite(deviation) else None,
        "holds": abs(deviation) <= check.tolerance,
    }


def check_lines(found: list[dict[str, Any]]) -> list[str]:
    """All checks, each with a small table, and the count in the first line."""
    points = [p for check in found for p in check["points"]]
    held = sum(p["holds"] for p in points)
    known = sum(len(check["points"]) for check in found if check["known_to_fail"])
    lines = [heading(f"{held} of {len(points)} published numbers are met; {known} belong to checks known to fail.")]
    for check in found:
        lines += ["", *wrapped(f"{check['what']} [{check['unit']}]")]
        lines += wrapped(f"{check['source']} ({check['status']})", "  ")
        if check["known_to_fail"]:
            lines += wrapped(f"known to fail: {check['known_to_fail']}", "  ")
        kind = "relative" if check["tolerance_is_relative"] else check["unit"]
        lines += wrapped(f"tolerance {check['tolerance']:g} ({kind}): {check['argued']}", "  ")
        rows = [
            (
                f"{p['at']:g}",
                " to ".join(significant(x, 5) for x in band_of(p["published"])),
                significant(p["ours"], 5),
                MISSING if p["deviation"] is None else f"{p['deviation']:+.2g}",
                "met" if p["holds"] else "NOT MET",
            )
            for p in check["points"]
        ]
        lines += table([["at", "published", "ours", "deviation", ""]], rows, ">>>><")
    return lines
