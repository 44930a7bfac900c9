"""Solubility of the aldehydes as gases against R. Sander's compilation (2015).

The table, its source, its tolerance and the argument for it stand in
kinetics/data/checks/sander_2015.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("sander_2015"))
def test_sander_2015(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)
