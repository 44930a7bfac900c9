"""Pressure of the air at an altitude against the U.S. Standard Atmosphere 1976 (ISO 2533).

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/standard_atmosphere_1976.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("standard_atmosphere_1976"))
def test_standard_atmosphere_1976(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
