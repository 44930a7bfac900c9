"""Ionisation of benzoic acid against R. M. Kettler and others.

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/benzoic_acid.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("benzoic_acid"))
def test_benzoic_acid(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
