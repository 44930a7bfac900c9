"""Ionisation of water along saturation against W. L. Marshall, E. U. Franck (1981).

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/marshall_franck_1981.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("marshall_franck_1981"))
def test_marshall_franck_1981(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
