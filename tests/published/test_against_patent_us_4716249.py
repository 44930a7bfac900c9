"""Every hour and ratio of base in the working window of US 4,716,249.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/patent_us_4716249.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("patent_us_4716249"))
def test_patent_us_4716249(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)


def test_a_longer_hold_converts_no_less() -> None:
    """5, 20 and 80 h; the equilibrium of a closed vessel at 150 degC rises slowly with the Cannizzaro reaction."""
    for check in {id(c): c for c, _, _ in (e.values for e in entries_of("patent_us_4716249"))}.values():
        conversions = [check.ours(at) for at, _ in check.points]
        assert conversions == sorted(conversions) and conversions[0] < conversions[-1]
