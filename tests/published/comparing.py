"""How the published checks become tests: one for each entry of a table, expected to fail where its file says why."""

from __future__ import annotations

import pytest

from kinetics.analysis.checks import Check, load_checks


def entries_of(authority: str) -> list:
    """(check, at, published) of every entry of an authority's file."""
    return [
        pytest.param(
            check, at, published,
            id=f"{check.what}, {at:g} {check.at}",
            marks=[pytest.mark.xfail(reason=check.fails, strict=True)] if check.fails else [],
        )
        for check in load_checks() if check.authority == authority for at, published in check.points
    ]  # fmt: skip


def assert_agreement(check: Check, at: float, published: float) -> None:
    """Within the tolerance argued in the file."""
    deviation = check.deviation(at, published)
    words = f"{check.ours(at):.6g} against {published:.6g} {check.unit} ({check.source})"
    assert abs(deviation) <= check.tolerance, words
