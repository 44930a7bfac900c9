"""End states of stiff problems against the Test Set for Initial Value Problem Solvers, along both integration paths.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/ivp_test_set.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("ivp_test_set"))
def test_ivp_test_set(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
