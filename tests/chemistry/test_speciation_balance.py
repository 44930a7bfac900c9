"""Acid-base state against a bisection on the balance of charges, and against the laws of mass action."""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from scipy.optimize import brentq

from kinetics.chemistry.davies import davies_activities
from kinetics.chemistry.pitzer import debye_huckel_slope, pitzer_activities
from kinetics.chemistry.speciation import IDEAL, AcidBaseConstants, Speciation, Totals, speciate
from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.data.shelf import Shelf
from kinetics.flask.conditions import calcium_hydroxide_product, mean_parameters

CASES = {
    "water": Totals(0.0, 0.0, 0.0, 0.0, ()),
    "carbon dioxide alone": Totals(0.0, 0.0, 0.0, 1e-3, ()),
    "carbonate": Totals(0.2, 0.0, 0.0, 0.1, ()),
    "strong carbonate": Totals(4.0, 0.0, 0.0, 2.0, ()),
    "thin carbonate": Totals(2e-5, 0.0, 0.0, 1e-5, ()),
    "bicarbonate": Totals(0.5, 0.0, 0.0, 0.5, ()),
    "between them": Totals(0.3, 0.0, 0.0, 0.2, ()),
    "lye": Totals(1.0, 0.0, 0.0, 0.0, ()),
    "lye and carbonate": Totals(1.0, 0.0, 0.0, 0.3, ()),
    "salt": Totals(1.0, 0.0, 1.0, 0.0, ()),
    "carbonate and salt": Totals(0.7, 0.0, 0.5, 0.1, ()),
    "an acid": Totals(0.0, 0.0, 0.0, 0.0, (0.01,)),
    "half neutralised": Totals(0.01, 0.0, 0.0, 0.0, (0.02,)),
    "carbonate and an acid": Totals(0.2, 0.0, 0.0, 0.1, (0.05,)),
    "acid beyond the base": Totals(0.1, 0.0, 0.0, 0.05, (0.3,)),
    "lime water": Totals(0.0, 0.01, 0.0, 0.0, ()),
    "milk of lime": Totals(0.0, 0.5, 0.0, 0.0, ()),
    "lime and carbonate": Totals(0.2, 0.3, 0.0, 0.1, ()),
    "more carbonate than lime": Totals(0.4, 0.05, 0.0, 0.2, ()),
}


def constants(shelf: Shelf, T: float, acids: int) -> AcidBaseConstants:
    A = slope(shelf, T)
    return AcidBaseConstants(
        10.0 ** -shelf["water.pKw"](T),
        10.0 ** -shelf["carbonic.pK1"](T),
        10.0 ** -shelf["carbonic.pK2"](T),
        (10.0 ** -shelf["benzoic acid.pKa"](T),) * acids,
        calcium_hydroxide_product(shelf["calcium hydroxide.solubility"](T), A, FLOATS),
        0.2,
    )


def slope(shelf: Shelf, T: float) -> float:
    return float(debye_huckel_slope(shelf["water.density"](T), shelf["water.permittivity"](T), T))


def model(shelf: Shelf, T: float, name: str, m=FLOATS):
    A = slope(shelf, T)
    if name == "ideal":
        return lambda *molalities: IDEAL
    if name == "davies":
        return lambda *molalities: davies_activities(*molalities, A, m)
    parameters = mean_parameters(shelf, T, 0.0, A, FLOATS)
    return lambda *molalities: pitzer_activities(*molalities, parameters, m)


def charge_in_excess(u: float, totals: Totals, k: AcidBaseConstants, s: Speciation) -> float:
    """Positive less negative charge at ln[OH-] = u with the activities of s: every ion from its own law."""
    a = s.activities
    oh = exp(u)
    a_oh = oh * exp(a.ln_hydroxide)
    a_h = k.Kw * exp(a.ln_water) / a_oh
    solid = min(totals.calcium, totals.carbon)
    carbon, calcium = totals.carbon - solid, totals.calcium - solid
    hco3_per_co2 = (
        k.K1 * exp(k.ln_carbon_dioxide * totals.alkali) * exp(a.ln_water) / (a_h * exp(a.ln_bicarbonate))
    )
    co3_per_hco3 = k.K2 * exp(a.ln_bicarbonate) / (a_h * exp(a.ln_carbonate))
    co2 = carbon / (1.0 + hco3_per_co2 * (1.0 + co3_per_hco3))
    hco3 = co2 * hco3_per_co2
    acid = sum(t * K / (K + a_h * exp(a.ln_univalent)) for t, K in zip(totals.acids, k.Ka))
    ca = min(calcium, k.calcium_hydroxide / (exp(a.ln_divalent) * a_oh**2))
    hydrogen = a_h / exp(a.ln_univalent)
    return totals.alkali + 2 * ca + hydrogen - oh - hco3 * (1 + 2 * co3_per_hco3) - acid - totals.chloride


@pytest.mark.parametrize("activity", ["pitzer", "davies", "ideal"])
@pytest.mark.parametrize("T", [293.15, 373.15])
@pytest.mark.parametrize("case", CASES)
def test_hydroxide_against_bisection(shelf: Shelf, case: str, T: float, activity: str) -> None:
    """Bisection with the activities of the answer, and the answer's activities those of its own composition.

    1e-9: the solver promises 1e-11 of ln[OH-] at each of its steps.
    """
    totals = CASES[case]
    k, act = constants(shelf, T, len(totals.acids)), model(shelf, T, activity)
    s = speciate(totals, k, act, FLOATS)
    assert s.converged
    u = brentq(charge_in_excess, log(1e-16), log(20.0), args=(totals, k, s), xtol=1e-13, rtol=1e-14)
    # at the neutral point of a salt the balance is a difference of numbers 1e8 times larger
    rounding = 1e-15 * (totals.alkali + totals.chloride) / (s.hydroxide + s.hydrogen + s.bicarbonate)
    assert s.ln_hydroxide == pytest.approx(u, abs=1e-9 + rounding)
    own = act(totals.alkali, s.calcium, s.hydroxide, s.bicarbonate, s.carbonate, totals.chloride, s.organic)
    assert list(own) == pytest.approx(list(s.activities), abs=1e-8)


@pytest.mark.parametrize("case", ["carbonate", "strong carbonate", "bicarbonate", "carbonate and an acid"])
def test_composition_obeys_the_laws_of_mass_action(shelf: Shelf, case: str) -> None:
    T, totals = 333.15, CASES[case]
    k = constants(shelf, T, len(totals.acids))
    s = speciate(totals, k, model(shelf, T, "pitzer"), FLOATS)
    a = s.activities
    a_h, a_w = 10.0**-s.pH, exp(a.ln_water)
    a_oh = s.hydroxide * exp(a.ln_hydroxide)
    a_hco3, a_co3 = s.bicarbonate * exp(a.ln_bicarbonate), s.carbonate * exp(a.ln_carbonate)
    a_co2 = s.carbon_dioxide * exp(0.2 * totals.alkali)
    assert a_h * a_oh / a_w == pytest.approx(k.Kw, rel=1e-10)
    assert a_hco3 * a_h / (a_co2 * a_w) == pytest.approx(k.K1, rel=1e-10)
    assert a_co3 * a_h / a_hco3 == pytest.approx(k.K2, rel=1e-10)
    assert s.carbon_dioxide + s.bicarbonate + s.carbonate == pytest.approx(totals.carbon, rel=1e-13)
    assert abs(s.charge_imbalance(totals)) < 1e-10


def test_lime_water_is_as_soluble_as_the_table_says(shelf: Shelf) -> None:
    """Undissolved lime beside pure water: the solubility that the product was made from comes back.

    Activities in the product are Debye and Hueckel's alone; the full Pitzer equations differ for hydroxide
    by 2 %.
    """
    for T in (293.15, 373.15):
        S = float(shelf["calcium hydroxide.solubility"](T))
        s = speciate(
            Totals(0.0, 1.0, 0.0, 0.0, ()), constants(shelf, T, 0), model(shelf, T, "pitzer"), FLOATS
        )
        assert s.calcium == pytest.approx(S, rel=0.02)
        assert s.hydroxide == pytest.approx(2.0 * s.calcium, rel=1e-6)


def test_neutral_water_at_25_C(shelf: Shelf) -> None:
    """pH = pKw/2 = 6.998: Marshall and Franck print 13.995."""
    s = speciate(CASES["water"], constants(shelf, 298.15, 0), model(shelf, 298.15, "pitzer"), FLOATS)
    assert s.pH == pytest.approx(13.995 / 2, abs=1e-3)


def test_davies_and_pitzer_meet_in_thin_liquor_and_part_in_strong(shelf: Shelf) -> None:
    """At 100 C Davies overstates [OH-] of 1 mol/kg carbonate 3.6-fold (a comparison made for this
    project)."""
    T = 373.15
    k = constants(shelf, T, 0)
    thin, strong = Totals(0.004, 0.0, 0.0, 0.002, ()), Totals(2.0, 0.0, 0.0, 1.0, ())
    ratio = [
        speciate(t, k, model(shelf, T, "davies"), FLOATS).hydroxide
        / speciate(t, k, model(shelf, T, "pitzer"), FLOATS).hydroxide
        for t in (thin, strong)
    ]
    assert ratio[0] == pytest.approx(1.0, abs=0.03)
    assert ratio[1] == pytest.approx(3.6, rel=0.15)


def test_davies_equation() -> None:
    """-log10 gamma = 0.509 (0.2403 - 0.03) = 0.107 for I = 0.1 and charge 1 at 25 C: gamma = 0.78, by
    hand."""
    A = 0.509 * log(10.0) / 3.0
    found = davies_activities(0.1, 0.0, 0.1, 0.0, 0.0, 0.0, 0.0, A, FLOATS)
    assert exp(found.ln_hydroxide) == pytest.approx(0.7816, abs=2e-4)
    assert found.ln_carbonate == pytest.approx(4.0 * found.ln_hydroxide, rel=1e-14)
    assert found.ln_water == pytest.approx(-0.018015 * 0.2, rel=1e-4)


def test_a_start_nearby_gives_the_same_answer_sooner(shelf: Shelf) -> None:
    k, act = constants(shelf, 353.15, 0), model(shelf, 353.15, "pitzer")
    first = speciate(CASES["between them"], k, act, FLOATS)
    near = Totals(0.301, 0.0, 0.0, 0.2005, ())
    cold, warm = speciate(near, k, act, FLOATS), speciate(near, k, act, FLOATS, first)
    assert warm.ln_hydroxide == pytest.approx(cold.ln_hydroxide, abs=1e-10)
    assert warm.iterations < cold.iterations


def test_arrays_give_what_floats_give(shelf: Shelf) -> None:
    """Three hundred liquors at once, from nearly neutral to strong."""
    T, rng = 353.15, np.random.default_rng(2)
    alkali = 10.0 ** rng.uniform(-4, 0.6, 300)
    carbon = alkali * rng.uniform(0.0, 1.2, 300)
    acid = alkali * rng.uniform(0.0, 0.3, 300)
    chloride = alkali * rng.uniform(0.0, 0.2, 300)
    k = constants(shelf, T, 1)
    together = speciate(
        Totals(alkali, 0.0, chloride, carbon, (acid,)), k, model(shelf, T, "pitzer", ARRAYS), ARRAYS
    )
    assert together.converged
    for i in range(0, 300, 7):
        totals = Totals(*(float(x[i]) for x in (alkali, 0 * alkali, chloride, carbon)), (float(acid[i]),))
        alone = speciate(totals, k, model(shelf, T, "pitzer"), FLOATS)
        assert alone.converged
        assert together.pH[i] == pytest.approx(alone.pH, abs=1e-9)
        assert together.carbonate[i] == pytest.approx(alone.carbonate, rel=1e-8)


def test_charge_imbalance_by_hand() -> None:
    """1 + 2 x 0.1 + 0.05 positive, 0.1 + 0.2 + 2 x 0.25 + 0.05 + 0.3 negative: 0.1 of 2.4."""
    s = Speciation(13.0, 0.1, 0.2, 0.25, 0.0, 0.05, 0.1, 0.05, IDEAL, log(0.1), 1, True)
    assert s.charge_imbalance(Totals(1.0, 0.4, 0.3, 0.5, (0.05,))) == pytest.approx(0.1 / 2.4, rel=1e-12)


def test_solubility_product_of_lime_by_the_debye_huckel_activities_of_its_ions(shelf: Shelf) -> None:
    """a_Ca a_OH^2 = S (2 S)^2 gamma_2 gamma_1^2 at I = 3 S, the coefficients those of the other module; 1e-5: what
    that module adds to I."""
    for T, S in ((298.15, 0.02), (373.15, 0.007)):
        act = model(shelf, T, "pitzer")(0.0, S, 2.0 * S, 0.0, 0.0, 0.0, 0.0)
        expected = 4.0 * S**3 * exp(act.ln_divalent + 2.0 * act.ln_univalent)
        assert calcium_hydroxide_product(S, slope(shelf, T), FLOATS) == pytest.approx(expected, rel=1e-5)
