"""Each reaction mechanism on a case small enough to compute by hand, and exactly nothing when it is switched
off."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import expm
from scipy.optimize import brentq

import kinetics
from kinetics.flask.mechanisms import SWITCHES, Mechanisms

CLOSED = {"closed": True}
E, H, P, A = "cinnamaldehyde", "3-hydroxy-3-phenylpropanal", "benzaldehyde", "acetaldehyde"
D, C, X = "3-hydroxybutanal", "crotonaldehyde", "5-phenylpenta-2,4-dienal"
ACID, ALCOHOL = "benzoic acid", "benzyl alcohol"
AT_25 = {"start": "25 degC", "temperature": "25 degC"}
AT_100 = {"start": "100 degC", "temperature": "100 degC"}
M_WATER = 0.018015268  # kg/mol
# 25 C: Guthrie et al., Can. J. Chem. 62 (1984) 1441 (hydration, retro-aldol); the rest are estimates of the project's
K12, K_HYDRATION, K23, K_CLEAVAGE = 2.02e-3, 4.42e-3, 9.08e-2, 4.7e-4
FREE_25 = 1.0 / 2.06
ORGANIC = {H: 2e-4, P: 3e-4, A: 5e-4, D: 1e-4, C: 1e-4, X: 5e-5}


@pytest.fixture(scope="module")
def lye(flask, batch, only):
    """Rates in 1 kg of 0.1 mol/L lye at 25 C holding every species, per mechanism; the volume and [OH-]."""
    charge = {"water": "55.5 mol", E: "1 mmol", "sodium hydroxide": "100 mmol"}

    def rates(*mechanisms: str):
        one = flask(batch(charge, heating=AT_25, vessel=CLOSED), only(*mechanisms))
        y = one.state(**ORGANIC)
        volume = (55.5 + 0.05) * M_WATER / 0.997003  # kg over kg/L at 25 C (IAPWS-95)
        return one.rates(y)["flask"], volume, 0.1 / volume

    return rates


def test_volume_and_hydroxide_are_what_they_were_weighed_to_be(flask, batch, only, lye) -> None:
    _, volume, hydroxide = lye()
    one = flask(
        batch(
            {"water": "55.5 mol", E: "1 mmol", "sodium hydroxide": "100 mmol"}, heating=AT_25, vessel=CLOSED
        ),
        only(),
    )
    state = one.balance.state(0.0, one.state())
    assert state.volume == pytest.approx(volume, rel=2e-5)
    assert state.hydroxide == pytest.approx(hydroxide, rel=2e-5)


@pytest.mark.parametrize("reverse", [False, True])
def test_cleavage_steps(lye, reverse: bool) -> None:
    """E <-> H as Guthrie and co-workers measured it; H -> P + A, and back only when the by-product may
    add."""
    got, V, oh = lye(*(["reverse_cleavage"] if reverse else []))
    hydration = (K12 * 1e-3 - K12 / K_HYDRATION * ORGANIC[H]) * oh
    back = K23 * K_HYDRATION / K_CLEAVAGE * ORGANIC[P] * ORGANIC[A] * FREE_25 / V if reverse else 0.0
    cleavage = (K23 * ORGANIC[H] - back) * oh
    assert got[E] == pytest.approx(-hydration, rel=1e-4)
    assert got[H] == pytest.approx(hydration - cleavage, rel=1e-4)
    assert got[P] == got[A] == pytest.approx(cleavage, rel=1e-4)
    assert got["water"] == pytest.approx(-hydration, rel=1e-4)
    assert [got[s] for s in (D, C, X, ACID, ALCOHOL)] == [0.0] * 5


def test_self_aldol(lye) -> None:
    """2 A <-> D <-> C + H2O with 10, 400 L/mol; 8.0e-3, 1: the project's estimates at 25 C."""
    off, V, oh = lye()
    got, _, _ = lye("self_aldol")
    a = ORGANIC[A] * FREE_25 / V
    aldol = 10.0 * (a * a - ORGANIC[D] / V / 400.0) * oh * V
    dehydration = 8.0e-3 * (ORGANIC[D] - 1.0 * ORGANIC[C]) * oh
    assert off[D] == off[C] == 0.0
    assert got[A] - off[A] == pytest.approx(-2.0 * aldol, rel=1e-4)
    assert got[D] == pytest.approx(aldol - dehydration, rel=1e-4)
    assert got[C] == pytest.approx(dehydration, rel=1e-4, abs=1e-18)
    assert got["water"] - off["water"] == pytest.approx(dehydration, abs=1e-18)


def test_aldol_dehydration(flask, batch, only) -> None:
    """Aldol alone in lye loses water at 8.0e-3 [OH-], and falls apart to two acetaldehyde at 10/400 [OH-]."""
    charge = {"water": "55.5 mol", D: "1 mmol", "sodium hydroxide": "100 mmol"}
    one = flask(batch(charge, heating=AT_25, vessel=CLOSED), only("self_aldol"))
    got = one.rates(one.state())["flask"]
    oh = one.balance.state(0.0, one.state()).hydroxide
    assert got[C] == got["water"] == pytest.approx(8.0e-3 * 1e-3 * oh, rel=1e-9)
    assert got[A] == pytest.approx(2 * 10.0 / 400.0 * 1e-3 * oh, rel=1e-9)


def test_crossed_aldol(lye) -> None:
    """E + A <-> X + H2O with 0.19 L2/mol2/s and 2130 L/mol, the project's estimates at 25 C, in free
    acetaldehyde."""
    off, V, oh = lye()
    got, _, _ = lye("crossed_aldol")
    rate = 0.19 * (1e-3 * ORGANIC[A] * FREE_25 / V - ORGANIC[X] / 2130.0) * oh
    assert off[X] == 0.0
    for species, nu in ((E, -1), (A, -1), (X, 1), ("water", 1)):
        assert got[species] - off[species] == pytest.approx(nu * rate, rel=1e-4)


def test_hydroxide_shortage(batch, only) -> None:
    """Switched off, thin liquor reacts as 1 mol/L of hydroxide would; with it, [OH-] times slower. Closed
    form: E becomes H and P by the exponential of the 3 x 3 matrix of first-order steps."""
    charge = {"water": "55.5 mol", E: "0.01 mmol", "sodium hydroxide": "1 mmol"}
    scenario = batch(charge, heating=AT_25 | {"hold": "60 s"}, vessel=CLOSED)
    short = kinetics.simulate(scenario, mechanisms=only(), rtol=1e-9)
    ample = kinetics.simulate(scenario, mechanisms=replace(only(), hydroxide_shortage=False), rtol=1e-9)
    matrix = np.array([[-K12, K12 / K_HYDRATION, 0], [K12, -K12 / K_HYDRATION - K23, 0], [0, K23, 0]])
    for run, hydroxide in ((short, float(short.series.hydroxide_mol_per_L[0])), (ample, 1.0)):
        expected = expm(matrix * hydroxide * 60.0) @ np.array([1e-5, 0.0, 0.0])
        found = [run.series.flask_mol[s][-1] for s in (E, H, P)]
        assert found == pytest.approx(expected.tolist(), rel=1e-6)
    assert ample.series.pH[-1] == pytest.approx(short.series.pH[-1], abs=1e-6)


def test_cannizzaro_in_lye_at_100_C(batch, only) -> None:
    """2 P + OH- -> alcohol + benzoate with k = 1.0e-3 L2/mol2/s (estimate, 100 C): t as an integral over
    what is left.

    With [OH-] = (Na - benzoate)/V and V falling by the half mole of water that each benzaldehyde takes.
    """
    charge = {"water": "55.5 mol", P: "20 mmol", "sodium hydroxide": "1 mol"}
    hold = 20 * 3600.0
    scenario = batch(charge, heating=AT_100 | {"hold": "20 h"}, vessel=CLOSED)
    off = kinetics.simulate(scenario, mechanisms=only())
    assert (off.series.flask_mol[ALCOHOL] == 0.0).all() and (off.series.flask_mol[ACID] == 0.0).all()
    flask_mol = kinetics.simulate(scenario, mechanisms=only("cannizzaro"), rtol=1e-9).series.flask_mol

    def seconds(left: float) -> float:
        def per_mol(n: float) -> float:
            formed = (0.02 - n) / 2
            V = (55.5 + 0.5 - formed) * M_WATER / 0.958349
            return V * V / (2.0 * 1.0e-3 * n * n * (1.0 - formed))

        return quad(per_mol, left, 0.02, epsabs=1e-9, epsrel=1e-10)[0]

    left = brentq(lambda n: seconds(n) - hold, 1e-3, 0.0199, xtol=1e-14)
    assert left < 0.01
    assert flask_mol[P][-1] == pytest.approx(left, rel=2e-5)  # of the density table
    assert flask_mol[ALCOHOL] == pytest.approx(flask_mol[ACID], rel=1e-9)
    assert 2.0 * flask_mol[ALCOHOL] + flask_mol[P] == pytest.approx(
        np.full_like(flask_mol[P], 0.02), rel=1e-9
    )


def test_cannizzaro_drinks_the_base(batch, only) -> None:
    """One hydroxide for two benzaldehyde: what is left of it is the lye less the benzoate."""
    charge = {"water": "55.5 mol", P: "60 mmol", "sodium hydroxide": "200 mmol"}
    run = kinetics.simulate(
        batch(charge, heating=AT_100 | {"hold": "900 h"}, vessel=CLOSED), mechanisms=only("cannizzaro")
    )
    acid, oh, V = run.series.flask_mol[ACID][-1], run.series.hydroxide_mol_per_L[-1], run.series.water_L[-1]
    assert acid > 0.02
    assert oh * V == pytest.approx(0.2 - acid, rel=1e-6)


AIR = {"air_exchange": "10 mL/min"}


@pytest.mark.parametrize(
    ("condenser", "air"),
    [
        (AIR, 1.0),
        (AIR | {"sweep": "30 mL/min", "sweep_gas": "inert"}, 0.25),
        (AIR | {"sweep": "30 mL/min", "sweep_gas": "air"}, 1.0),
        ({"air_exchange": "0 mL/min", "sweep": "30 mL/min", "sweep_gas": "inert"}, 0.0),
        ({"air_exchange": "0 mL/min", "sweep": "30 mL/min", "sweep_gas": "air"}, 1.0),
        ({"air_exchange": "0 mL/min"}, 0.0),
    ],
)
def test_oxidation_is_first_order_and_goes_with_the_air(batch, only, condenser: dict, air: float) -> None:
    """P + 1/2 O2 -> benzoic acid, 8.3e-7 1/s (estimate) times the part of the gas that is air."""
    charge = {"water": "1 L", P: "10 mmol"}
    scenario = batch(charge, heating={"temperature": "60 degC", "hold": "100 h"}, condenser=condenser)
    series = kinetics.simulate(scenario, mechanisms=only("oxidation"), rtol=1e-9).series
    t = series.time_s[-1]
    assert t == 360000.0
    assert series.flask_mol[P][-1] == pytest.approx(0.01 * exp(-8.3e-7 * air * t), rel=1e-6)
    assert series.flask_mol[ACID][-1] == pytest.approx(0.01 * -np.expm1(-8.3e-7 * air * t), rel=1e-6, abs=0.0)
    assert series.oxygen_drawn_mol == pytest.approx(0.5 * series.flask_mol[ACID], rel=1e-9, abs=0.0)
    assert (series.flask_mol[ALCOHOL] == 0.0).all()


def test_nothing_oxidises_in_a_closed_vessel(batch, only) -> None:
    charge = {"water": "1 L", P: "10 mmol"}
    run = kinetics.simulate(batch(charge, heating=AT_100, vessel=CLOSED), mechanisms=only("oxidation"))
    assert (run.series.flask_mol[P] == 0.01).all() and (run.series.oxygen_drawn_mol == 0.0).all()


@pytest.mark.parametrize(
    ("mechanism", "species"),
    [("self_aldol", (D, C)), ("crossed_aldol", (X,)), ("cannizzaro", (ALCOHOL,)), ("oxidation", ())],
)
def test_a_side_step_switched_off_leaves_no_trace(
    batch, without, mechanism: str, species: tuple[str, ...]
) -> None:
    """Exactly zero of what only it makes; with all on, some of it. Oxidation: no oxygen drawn."""
    scenario = batch({"water": "350 mL", E: "1.2 g", "sodium carbonate": "3 g"})
    on, off = kinetics.simulate(scenario), kinetics.simulate(scenario, mechanisms=without(mechanism))
    for name in species:
        assert on.series.flask_mol[name][-1] > 0.0
        assert (off.series.flask_mol[name] == 0.0).all()
    if mechanism == "oxidation":
        assert on.series.oxygen_drawn_mol[-1] > 0.0
        assert (off.series.oxygen_drawn_mol == 0.0).all()


@pytest.mark.parametrize("mechanism", SWITCHES)
def test_every_switch_changes_something(batch, without, mechanism: str) -> None:
    """One batch on which every mechanism acts: distilled, swept with air, in oil, salted; none is without
    effect."""
    scenario = batch(
        {"water": "300 mL", E: "8 g", P: "4 g", "sodium bicarbonate": "10 g", "sodium hydroxide": "2 g"},
        heating={"hold": "20 min"},
        condenser={"coolant": "40 degC", "sweep": "20 mL/min", "sweep_gas": "air", "take_off": "0.5 mL/min"},
    )
    on = kinetics.simulate(scenario, times=[])
    off = kinetics.simulate(scenario, mechanisms=without(mechanism), times=[])
    assert on.failure is None and off.failure is None

    def amounts(run):
        return np.array([run.series.flask_mol[s][-1] for s in (E, P, A, "inorganic carbon", ACID, "water")])

    assert np.abs(amounts(on) / amounts(off) - 1.0).max() > 1e-6


def test_a_false_activity_model_is_refused() -> None:
    with pytest.raises(ValueError, match="pitzer, davies or ideal"):
        Mechanisms(activity="debye")  # type: ignore[arg-type]


@pytest.mark.parametrize(("activity", "pH"), [("ideal", 12.9818), ("davies", 12.8770), ("pitzer", 12.8750)])
def test_activity_model(batch, only, activity: str, pH: float) -> None:
    """0.0970 mol/kg of lye at 25 C, by hand: pKw + log10 m = 13.995 - 1.0132; plus log10 gamma less log10
    a_w.

    Davies: log10 gamma -0.1063; Pitzer with 0.0864 and 0.253 (Pitzer & Mayorga 1973): ln gamma -0.2493;
    -log10 a_w 0.0015.
    """
    charge = {"water": "1 kg", "sodium hydroxide": "0.0971 mol"}
    run = kinetics.simulate(batch(charge, heating=AT_25, vessel=CLOSED), mechanisms=only(activity=activity))
    assert run.series.pH[0] == pytest.approx(pH, abs=1e-3)
