"""Open reflux with a few grams of carbonate against common practice (no source).

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/open_reflux.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("open_reflux"))
def test_open_reflux(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
