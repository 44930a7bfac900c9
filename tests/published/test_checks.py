"""The registry of published checks itself: every file is read, complete and tested by a file of its name."""

from collections import Counter
from pathlib import Path

import pytest

from kinetics.analysis.checks import MEASURES, Check, load_checks, speciated, trace_chloride
from kinetics.chemistry.pitzer import pitzer_activities
from kinetics.data import load_shelf
from kinetics.data.namespace import FLOATS

CHECKS = load_checks()


@pytest.mark.parametrize("authority", sorted({check.authority for check in CHECKS}))
def test_every_authority_has_its_test_file(authority: str) -> None:
    text = (Path(__file__).parent / f"test_against_{authority}.py").read_text(encoding="utf-8")
    assert f'entries_of("{authority}")' in text


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.what)
def test_every_check_is_complete(check: Check) -> None:
    assert check.measure in MEASURES
    assert check.status in ("read", "from memory")
    assert check.tolerance > 0.0
    assert check.points
    assert all(text.strip() for text in (check.source, check.what, check.unit, check.at, check.argued))


def test_no_check_stands_twice() -> None:
    assert max(Counter((check.authority, check.what) for check in CHECKS).values()) == 1


def test_a_check_notices_a_wrong_constant() -> None:
    """pKw moved by ten of its standard uncertainties (0.1) shows as 0.1 in the deviation."""
    check = next(check for check in CHECKS if check.subject == "water.pKw")
    at, published = check.points[0]
    moved = load_shelf().shifted({"water.pKw": 10.0})
    assert check.deviation(at, published, moved) - check.deviation(at, published) == pytest.approx(0.1, abs=1e-9)


def test_trace_chloride_is_that_of_the_chloride_slot() -> None:
    """Closed form in sodium bicarbonate alone, no carbonate: the engine's own terms written out for chloride.

    ln g = F + M (m_HCO3 (C_HCO3 + psi)) + M (2 B_Cl + Z C_Cl) + 2 m_HCO3 theta,
    with F from ln g of bicarbonate less its own terms.
    """
    shelf = load_shelf()
    conditions, state = speciated(shelf, 298.15, 0.1, 0.1)
    p = conditions.pitzer
    m = 0.1
    only = state._replace(hydroxide=0.0, carbonate=0.0, bicarbonate=m)
    g_hco3 = pitzer_activities(m, 0.0, 0.0, m, 0.0, 0.0, 0.0, p, FLOATS).ln_bicarbonate
    root = m**0.5
    g = 2.0 * (1.0 - (1.0 + 2.0 * root) * FLOATS.exp(-2.0 * root)) / (4.0 * m)

    def pair(k: int) -> float:
        return m * (2.0 * (p.beta0[k] + p.beta1[k] * g) + 2.0 * m * p.C[k])

    expected = g_hco3 - pair(1) + pair(3) + m * m * p.psi_cl_hco3 + 2.0 * m * p.theta_cl_hco3
    assert trace_chloride(m, only, conditions) == pytest.approx(expected, abs=1e-5)
