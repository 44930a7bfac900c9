"""pH of the carbonate standard of NBS, on the standard's own scale, against B. R. Staples, R. G. Bates (1969).

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/nbs_carbonate_buffer.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("nbs_carbonate_buffer"))
def test_nbs_carbonate_buffer(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
