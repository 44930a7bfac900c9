"""Limiting activity coefficients in water against UNIFAC, as a band of plausibility.

The tables, their source, their tolerances and the arguments for them stand in kinetics/data/checks/unifac.toml; that the
numbers there are the method's is tested with the library `thermo`, where installed.
"""

import warnings

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check

CH3, CH2, CH_CH, C_CH, ACH, AC, ACCH2, OH, H2O, CH3CO, CHO = 1, 2, 6, 8, 9, 10, 12, 14, 16, 18, 20
GROUPS = {
    "acetaldehyde": {CH3: 1, CHO: 1},
    "acetone": {CH3: 1, CH3CO: 1},
    "crotonaldehyde": {CH3: 1, CH_CH: 1, CHO: 1},
    "3-methyl-2-butenal": {CH3: 2, C_CH: 1, CHO: 1},
    "benzaldehyde": {ACH: 5, AC: 1, CHO: 1},
    "cinnamaldehyde": {ACH: 5, AC: 1, CH_CH: 1, CHO: 1},
    "citral": {CH3: 3, CH2: 2, C_CH: 2, CHO: 1},
    "6-methyl-5-hepten-2-one": {CH3: 2, CH2: 2, C_CH: 1, CH3CO: 1},
    "benzyl alcohol": {ACH: 5, ACCH2: 1, OH: 1},
}


@pytest.mark.parametrize(("check", "at", "published"), entries_of("unifac"))
def test_unifac(check: Check, at: float, published: float) -> None:
    assert_agreement(check, at, published)


@pytest.mark.parametrize(("check", "at", "published"), [entry.values for entry in entries_of("unifac")])
def test_the_table_is_what_a_library_computes(check: Check, at: float, published: float) -> None:
    """Four printed figures."""
    library = pytest.importorskip("thermo.unifac", reason="the property library thermo is not installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the library's own import
        groups = [GROUPS[check.subject["species"]], {H2O: 1}]
        mixture = library.UNIFAC.from_subgroups(T=at + 273.15, xs=[0.0, 1.0], chemgroups=groups, version=0)
    assert mixture.gammas()[0] == pytest.approx(published, rel=6e-4)
