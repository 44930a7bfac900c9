"""Order of convergence and proportion of error to tolerance of the integrators.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/steinebach_2020.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("steinebach_2020"))
def test_steinebach_2020(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
