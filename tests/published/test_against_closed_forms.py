"""Courses of simple networks and of slow venting against their closed forms.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/closed_forms.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("closed_forms"))
def test_closed_forms(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
