"""Diacetone alcohol and hydroxide against V. K. La Mer, M. L. Miller, J. Am. Chem. Soc. 57 (1935) 2674.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/la_mer_miller_1935.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

import kinetics
from kinetics.analysis.checks import Check


@pytest.mark.parametrize(("check", "at", "published"), entries_of("la_mer_miller_1935"))
def test_la_mer_miller_1935(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)


@pytest.mark.parametrize("kcal", [15.85, 17.25, 16.85])
def test_activation_energies_of_the_abstract_lie_within_two_uncertainties_of_the_shelf(kcal: float) -> None:
    record = kinetics.load_shelf()["reaction.diacetone alcohol.step.cleavage.Ea"]
    assert abs(record.value - kcal * 4.184) < 2 * record.sigma
