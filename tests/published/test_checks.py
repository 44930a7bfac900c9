"""The registry of published checks itself: every file is read, complete and tested by a file of its name."""

import dataclasses
from collections import Counter
from math import isnan
from pathlib import Path

import pytest

import kinetics
from kinetics.analysis.check_runs import scenario_of
from kinetics.analysis.checks import MEASURES, STATUSES, Check, load_checks, speciated, trace_chloride
from kinetics.chemistry.pitzer import pitzer_activities
from kinetics.data import load_shelf
from kinetics.data.namespace import FLOATS
from kinetics.run.integrate import NumericalFailure

CHECKS = load_checks()
SCENARIOS = Path(__file__).parents[2] / "scenarios"
BATCHES = [  # authority, batch, the scenario for people, its option
    ("guthrie_1984", "cleavage", "published/cinnamaldehyde_cleavage.toml", None),
    ("guthrie_1984", "aldol", "published/cinnamaldehyde_aldol.toml", None),
    ("guthrie_1984", "addition", "published/benzaldehyde_acetaldehyde.toml", None),
    ("guthrie_1984", "condensation", "published/benzaldehyde_acetaldehyde.toml", "to equilibrium"),
    ("guthrie_dawson_1983", "cleavage", "published/prenal_cleavage.toml", None),
    ("guthrie_dawson_1983", "ketol", "published/prenal_ketol.toml", None),
    ("la_mer_miller_1935", "ketol", "published/diacetone_alcohol.toml", None),
    ("open_reflux", "reflux", "common_practice.toml", None),
]


@pytest.mark.parametrize("authority", sorted({check.authority for check in CHECKS}))
def test_every_authority_has_its_test_file(authority: str) -> None:
    text = (Path(__file__).parent / f"test_against_{authority}.py").read_text(encoding="utf-8")
    assert f'entries_of("{authority}")' in text


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.what)
def test_every_check_is_complete(check: Check) -> None:
    assert check.measure in MEASURES
    assert check.status in STATUSES
    assert check.tolerance > 0.0
    assert check.points
    assert all(text.strip() for text in (check.source, check.what, check.unit, check.at, check.argued))


@pytest.mark.parametrize(("authority", "batch", "file", "option"), BATCHES)
def test_a_batch_is_the_scenario_for_people(authority: str, batch: str, file: str, option: str | None) -> None:
    """Charges, heating, vessel and condenser of a check's batch are those of the scenario that has the remarks."""
    table = next(c for c in CHECKS if c.authority == authority and "batches" in c.subject).subject["batches"][batch]
    scenario = kinetics.read_scenario(SCENARIOS / file)
    theirs = scenario if option is None else scenario.option(option)
    ours = scenario_of(table)
    for name in ("substrate", "charges", "additions", "heating", "condenser"):
        assert getattr(ours, name) == getattr(theirs, name), name
    assert ours.vessel.closed == theirs.vessel.closed


def test_every_published_scenario_is_a_batch_of_a_check() -> None:
    assert {f"published/{path.name}" for path in (SCENARIOS / "published").iterdir()} <= {file for _, _, file, _ in BATCHES}


def test_a_band_is_met_anywhere_within_it() -> None:
    check = next(c for c in CHECKS if c.measure == "sensible conversion")
    assert [check.apart(x, (0.2, 0.8)) for x in (0.1, 0.2, 0.5, 0.8, 1.0)] == pytest.approx([-0.1, 0.0, 0.0, 0.0, 0.2])
    assert isnan(check.apart(float("nan"), (0.2, 0.8)))


def test_a_run_that_fails_is_a_check_not_met(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> float:
        raise NumericalFailure("no end in sight", 1.0)

    check = dataclasses.replace(next(c for c in CHECKS if c.measure == "conversion"), measure="broken")
    monkeypatch.setitem(MEASURES, "broken", broken)  # type: ignore[arg-type]
    assert isnan(check.ours(1.0)) and not abs(check.deviation(1.0, 0.5)) <= check.tolerance


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
