"""Ionisation and boiling of water against the releases of IAPWS.

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/iapws_releases.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("iapws_releases"))
def test_iapws_releases(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
