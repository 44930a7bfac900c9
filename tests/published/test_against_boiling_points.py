"""Boiling points of sodium carbonate solutions against a handbook table, from memory.

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/boiling_points.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("boiling_points"))
def test_boiling_points(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
