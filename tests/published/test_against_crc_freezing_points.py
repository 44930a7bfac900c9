"""Freezing points of the bases' solutions against the CRC Handbook.

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/crc_freezing_points.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("crc_freezing_points"))
def test_crc_freezing_points(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
