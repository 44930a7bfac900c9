"""Vapour pressures against normal boiling points of the CRC Handbook and the Merck Index.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/crc_boiling_points.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("crc_boiling_points"))
def test_crc_boiling_points(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
