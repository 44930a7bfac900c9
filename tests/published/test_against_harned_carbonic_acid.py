"""Ionisation of carbonic acid against the measurements of Harned and co-workers.

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/harned_carbonic_acid.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("harned_carbonic_acid"))
def test_harned_carbonic_acid(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
