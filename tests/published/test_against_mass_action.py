"""Ends of closed flasks against the law of mass action, from both sides.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/mass_action.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("mass_action"))
def test_mass_action(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
