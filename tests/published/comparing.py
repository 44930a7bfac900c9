"""How the published checks become tests: one for each entry of a table, expected to fail where its file says why."""

from __future__ import annotations

import pytest

from kinetics.analysis.checks import Check, Published, band_of, load_checks


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


def check_of(authority: str, measure: str) -> Check:
    """The first check of an authority with that measure."""
    return next(check for check in load_checks() if check.authority == authority and check.measure == measure)


def assert_agreement(check: Check, at: float, published: Published) -> None:
    """Within the tolerance argued in the file."""
    ours = check.ours(at)
    expected = " to ".join(f"{x:.6g}" for x in band_of(published))
    assert abs(check.apart(ours, published)) <= check.tolerance, f"{ours:.6g} against {expected} {check.unit} ({check.source})"
