"""Boiling points of water beside an oil against handbook azeotropes.

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/azeotropes.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("azeotropes"))
def test_azeotropes(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
