"""The published checks in words: what, source, published, ours, deviation, and whether it holds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from kinetics.analysis.checks import Check
from kinetics.command_line.terminal import heading, significant, table, wrapped


def results(checks: Iterable[Check]) -> list[dict[str, Any]]:
    """Every check with all its points, computed; `holds` is False wherever a deviation is beyond the tolerance."""
    return [
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
        for check in checks
    ]


def point(check: Check, at: float, published: float) -> dict[str, Any]:
    """One published number beside ours."""
    deviation = check.deviation(at, published)
    return {
        "at": at,
        "published": published,
        "ours": check.ours(at),
        "deviation": deviation,
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
                significant(p["published"], 5),
                significant(p["ours"], 5),
                f"{p['deviation']:+.2g}",
                "met" if p["holds"] else "NOT MET",
            )
            for p in check["points"]
        ]
        lines += table([["at", "published", "ours", "deviation", ""]], rows, ">>>><")
    return lines
