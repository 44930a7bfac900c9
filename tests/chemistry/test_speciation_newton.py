"""The Newton step of the charge balance: its slope against differences, its first guess against what it stands for."""

from __future__ import annotations

from math import exp, log

import pytest

from kinetics.chemistry.speciation import (
    IDEAL,
    AcidBaseConstants,
    Conditional,
    Totals,
    balance_step,
    conditional_constants,
    first_guess,
    speciate,
)
from kinetics.data.namespace import FLOATS

K_25 = AcidBaseConstants(1.0e-14, 4.4e-7, 4.7e-11, (6.3e-5,), 5.0e-6, 0.0)
LIQUORS = {
    "all at once": (Totals(0.3, 0.1, 0.05, 0.2, (0.04, 0.02)), Conditional(0, 1e-9, 0.03, 0.004, (0.02, 0.07), 5e-4)),
    "lime all dissolved": (Totals(0.3, 0.3, 0.05, 0.2, (0.04,)), Conditional(0, 1e-3, 0.03, 0.004, (0.02,), 5.0)),
    "lime in part": (Totals(0.1, 0.3, 0.05, 0.2, (0.04,)), Conditional(0, 1e-3, 0.03, 0.004, (0.02,), 5e-5)),
    "no lime, sour": (Totals(0.01, 0.0, 0.0, 0.2, (0.5,)), Conditional(0, 1e-2, 0.5, 0.9, (0.3,), 0.0)),
}  # fmt: skip


def imbalance(u: float, totals: Totals, k: Conditional) -> float:
    """ln of positive over negative charge, from the composition at ln[OH-] = u."""
    s, _ = balance_step(u, k, totals, FLOATS)
    positive = totals.alkali - totals.chloride + 2.0 * s.calcium + s.hydrogen
    return log(positive / (s.hydroxide + s.bicarbonate + 2.0 * s.carbonate + s.organic))


@pytest.mark.parametrize("hydroxide", [0.02, 0.08, 0.3])
@pytest.mark.parametrize("case", LIQUORS)
def test_step_is_newtons(case: str, hydroxide: float) -> None:
    """-F/F', with F' by central differences: every derivative in it counts."""
    (totals, k), u, h = LIQUORS[case], log(hydroxide), 1e-5
    slope = (imbalance(u + h, totals, k) - imbalance(u - h, totals, k)) / (2.0 * h)
    _, step = balance_step(u, k, totals, FLOATS)
    assert step == pytest.approx(-imbalance(u, totals, k) / slope, rel=1e-6)


@pytest.mark.parametrize("case", LIQUORS)
def test_composition_from_its_constants(case: str) -> None:
    """Each law of mass action at [OH-] = 0.08, and all that was put in accounted for."""
    totals, k = LIQUORS[case]
    oh = 0.08
    s, _ = balance_step(log(oh), k, totals, FLOATS)
    solid = min(totals.calcium, totals.carbon)
    assert s.bicarbonate * oh == pytest.approx(k.carbonate * s.carbonate, rel=1e-12)
    assert s.carbon_dioxide * oh == pytest.approx(k.bicarbonate * s.bicarbonate, rel=1e-12)
    assert s.bicarbonate + s.carbonate + s.carbon_dioxide == pytest.approx(totals.carbon - solid, rel=1e-12, abs=1e-15)
    assert s.hydrogen * oh == pytest.approx(k.hydrogen, rel=1e-12)
    assert s.organic == pytest.approx(sum(t * oh / (oh + a) for t, a in zip(totals.acids, k.acids)), rel=1e-12)
    assert s.calcium == pytest.approx(min(totals.calcium - solid, k.lime / oh**2), rel=1e-12, abs=1e-15)


@pytest.mark.parametrize(
    ("totals", "hydroxide"),
    [
        (Totals(1.0, 0.1, 0.2, 0.3, ()), 1.0 + 2 * 0.1 - 0.2 - 2 * 0.3),  # strong base left over
        (Totals(0.2, 0.0, 0.0, 0.1, ()), 0.5 * (1e-14 / 4.7e-11 * 0.1) ** 0.5),  # half the root of Kw C/K2
        (Totals(0.0, 0.0, 0.0, 0.0, ()), 0.5e-7),  # half of neutral
    ],
)
def test_first_guess(totals: Totals, hydroxide: float) -> None:
    assert exp(first_guess(totals, K_25, FLOATS)) == pytest.approx(hydroxide, rel=0.01)


@pytest.mark.parametrize("totals", [Totals(1.0, 0.0, 0.2, 0.3, ()), Totals(0.2, 0.0, 0.0, 0.1, ())])
def test_an_ideal_liquor_is_solved_in_few_rounds(totals: Totals) -> None:
    """From a guess within a factor of two Newton doubles the digits at each of two steps a round."""
    s = speciate(totals, K_25, lambda *molalities: IDEAL, FLOATS)
    assert s.converged and s.iterations <= 4
    assert set(s.activities) == {0.0}


def test_a_solution_that_cannot_settle_says_so() -> None:
    """Activities that jump to and fro with every call: a hundred rounds, and not converged."""
    turn = iter(range(1000))

    def restless(*molalities: float):
        return IDEAL._replace(ln_hydroxide=0.5 * (next(turn) % 2))

    s = speciate(Totals(0.2, 0.0, 0.0, 0.1, ()), K_25, restless, FLOATS)
    assert not s.converged and s.iterations == 100


def test_activities_enter_the_constants_as_the_laws_say() -> None:
    """ln gamma of OH-, HCO3-, CO3--, of charge 1 and 2, and ln a_w all different: each constant by hand."""
    act = IDEAL._replace(
        ln_hydroxide=-0.1, ln_bicarbonate=-0.2, ln_carbonate=-0.7, ln_univalent=-0.3, ln_divalent=-1.2, ln_water=-0.05
    )
    K = K_25._replace(ln_carbon_dioxide=0.2)
    found = conditional_constants(act, 0.5, K, FLOATS)
    Kw = K.Kw * exp(-0.05)
    assert found.acidity == pytest.approx(Kw * exp(0.1), rel=1e-12)  # a_H [OH-] = Kw a_w/gamma_OH
    assert found.hydrogen == pytest.approx(Kw * exp(0.1 + 0.3), rel=1e-12)
    assert found.carbonate == pytest.approx(Kw / K.K2 * exp(-0.7 + 0.2 + 0.1), rel=1e-12)
    assert found.bicarbonate == pytest.approx(K.Kw / K.K1 * exp(-0.2 + 0.1 - 0.2 * 0.5), rel=1e-12)  # a_w cancels
    assert found.acids[0] == pytest.approx(Kw * exp(0.1 - 0.3) / K.Ka[0], rel=1e-12)
    assert found.lime == pytest.approx(K.calcium_hydroxide * exp(1.2 + 0.2), rel=1e-12)


def test_a_start_with_stale_activities_is_not_taken_for_an_answer() -> None:
    """Balanced to the last digit, but with the activities of another liquor: they are renewed before it is believed."""
    totals = Totals(0.2, 0.0, 0.0, 0.1, ())
    stale = IDEAL._replace(ln_hydroxide=-0.4, ln_carbonate=-1.0)
    start = speciate(totals, K_25, lambda *molalities: stale, FLOATS)
    fresh = speciate(totals, K_25, lambda *molalities: IDEAL, FLOATS)
    again = speciate(totals, K_25, lambda *molalities: IDEAL, FLOATS, start)
    assert again.ln_hydroxide == pytest.approx(fresh.ln_hydroxide, abs=1e-10)
    assert abs(start.ln_hydroxide - fresh.ln_hydroxide) > 0.1
