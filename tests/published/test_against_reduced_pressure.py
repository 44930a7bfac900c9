"""Boiling points at reduced pressure against the Merck Index, Stull's table and the VDI Heat Atlas.

The tables, their sources, their tolerances and the arguments for them stand in
kinetics/data/checks/reduced_pressure.toml.
"""

from math import log

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published, load_checks
from kinetics.data import load_shelf


@pytest.mark.parametrize(("check", "at", "published"), entries_of("reduced_pressure"))
def test_reduced_pressure(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)


def test_the_other_correlation_is_the_librarys() -> None:
    vapour = pytest.importorskip("chemicals.vapor_pressure")
    row = vapour.Psat_data_VDI_PPDS_3.loc["100-52-7"]
    check = next(check for check in load_checks() if "another correlation" in check.what)
    for mmHg, t_C in check.points:
        pressure = vapour.Wagner(t_C + 273.15, row["Tc"], row["Pc"], row["A"], row["B"], row["C"], row["D"])
        assert pressure == pytest.approx(mmHg * 101325.0 / 760.0, rel=5e-4)  # a hundredth of a kelvin


def test_which_of_two_tables_has_the_heat_of_vaporisation() -> None:
    """R d ln p/d(-1/T) between 5 and 40 mmHg against the VDI Heat Atlas at the middle: the record within 1 kJ/mol, Stull 3 above."""
    thermo = pytest.importorskip("thermo")
    heat = thermo.EnthalpyVaporization(CASRN="100-52-7").calculate(343.15, "VDI_PPDS") / 1000.0
    stull = [next(t for mmHg, t in check.points if mmHg == wanted) + 273.15
             for wanted, check in ((40, benzaldehyde(True)), (5, benzaldehyde(False)))]  # fmt: skip
    ours = [one.ours(mmHg) + 273.15 for mmHg, one in ((40, benzaldehyde(True)), (5, benzaldehyde(False)))]
    R = load_shelf()["physics.gas_constant"].value / 1000.0
    of_stull, of_record = (R * log(40 / 5) / (1.0 / low - 1.0 / high) for high, low in (stull, ours))
    assert heat == pytest.approx(47.4, abs=0.1)
    assert of_record == pytest.approx(heat, abs=1.0)
    assert of_stull > heat + 3.0


def benzaldehyde(upper: bool) -> Check:
    """The part of Stull's table from 40 mmHg up, or the part below."""
    where = "from 40 mmHg up" if upper else "below 40 mmHg"
    return next(check for check in load_checks() if where in check.what)
