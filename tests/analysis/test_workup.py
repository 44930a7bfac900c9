"""Work-up: distillation against azeotropes and closed forms; parting against saturation."""

from collections.abc import Callable
from math import log

import numpy as np
import pytest

from kinetics import simulate
from kinetics.analysis.distillation import (
    distil,
    heteroazeotrope,
    mixture_pressure,
    rayleigh_left,
    simple_distillation,
)
from kinetics.analysis.workup import (
    Practice,
    Salts,
    density_of_oil,
    part,
    practice_of,
    saturated_brine,
    steam_distillation,
    turned_to_acid,
    verdict,
    work_up,
)
from kinetics.data.shelf import Shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import Network, build_network
from kinetics.run.scenario import Scenario

PURE = 998.2  # kg/m3, water at 20 degC


@pytest.fixture(scope="module")
def network(shelf: Shelf) -> Network:
    return build_network(shelf.substrate("cinnamaldehyde"), shelf, Mechanisms())


# ---- azeotropes; boiling points at reduced pressure stand in tests/published ----


def test_water_and_benzaldehyde_boil_together(shelf: Shelf) -> None:
    """97.9 degC in handbooks (from memory); 0.2 K because each liquid takes up some of the other."""
    T, _ = heteroazeotrope(shelf["benzaldehyde.vapour_pressure"], shelf["water.saturation_pressure"])
    assert T - 273.15 == pytest.approx(97.9, abs=0.2)


def test_water_and_toluene_boil_together(shelf: Shelf) -> None:
    """CRC Handbook, azeotropes: 84.1 to 85.0 degC and 79.7 to 80.4 mass % toluene (from memory), vapour pressure of a library."""
    vapour = pytest.importorskip("chemicals.vapor_pressure")
    row = vapour.Psat_data_VDI_PPDS_3.loc["108-88-3"]

    def toluene(T: float, _: object) -> float:
        return vapour.Wagner(T, row["Tc"], row["Pc"], row["A"], row["B"], row["C"], row["D"])

    T, fraction = heteroazeotrope(toluene, shelf["water.saturation_pressure"])
    assert 84.0 < T - 273.15 < 85.1
    mass = 92.14 * fraction / (92.14 * fraction + 18.015 * (1.0 - fraction))
    assert 100.0 * mass == pytest.approx(80.0, abs=0.8)


def test_raoult() -> None:
    pressures = [lambda T, m: 3.0 * T, lambda T, m: 1.0 * T]
    assert mixture_pressure([0.25, 0.75], pressures, 400.0) == pytest.approx(400.0 * (0.75 + 0.75))


# ---- Rayleigh ----


@pytest.mark.parametrize("volatility", [2.0, 20.0])
def test_rayleigh_at_constant_relative_volatility(volatility: float) -> None:
    """n_a/n_a0 = (n_b/n_b0)^alpha, whatever the boiling point does on the way."""
    slow = lambda T, m: np.exp(24.0 - 6000.0 / T)  # noqa: E731
    course = simple_distillation(
        {"a": 0.3, "b": 0.7},
        {"a": 100.0, "b": 130.0},
        {"a": lambda T, m: volatility * slow(T, m), "b": slow},
        5000.0,
        0.6,
    )
    assert course.reached
    a, b = (course.left[name] / course.left[name][0] for name in "ab")
    np.testing.assert_allclose(a, rayleigh_left(b, volatility), rtol=1e-5, atol=1e-9)
    masses = 100.0 * course.left["a"] + 130.0 * course.left["b"]
    assert 1.0 - masses[-1] / masses[0] == pytest.approx(0.6, rel=1e-6)
    np.testing.assert_allclose(course.over, 1.0 - course.left["a"] - course.left["b"], atol=1e-8)


def test_what_does_not_evaporate_stays() -> None:
    pressures = {"a": lambda T, m: m.exp(24.0 - 6000.0 / T)}
    course = simple_distillation({"a": 0.5, "tar": 0.5}, {"a": 100.0, "tar": 100.0}, pressures, 1000.0, 0.4)
    assert course.left["tar"][-1] == pytest.approx(0.5, rel=1e-12)
    assert course.left["a"][-1] == pytest.approx(0.1, rel=1e-6)


def test_one_liquid_boiled_down_follows_its_power_law() -> None:
    """dn/dD = -K n/(W - D): n/n0 = (1 - D/W)^K."""
    K, W = 40.0, 20.0
    course = distil({"p": 1.0}, lambda D, n: ([K * n[0] / (W - D)], 373.0), 10.0, lambda n, D: n[0] - 0.05)
    assert course.reached
    assert course.over[-1] == pytest.approx(W * (1.0 - 0.05 ** (1.0 / K)), rel=1e-6)
    np.testing.assert_allclose(course.left["p"], (1.0 - course.over / W) ** K, rtol=1e-6)


# ---- steam ----


def practice(**changes: object) -> Practice:
    usual = dict(
        separation_K=293.15, steam=True, recovered=0.95, distillate_L=None, salted=True, drying_loss=0.05,
        transfer_loss=0.1, exposure_s=3600.0, pressure_Pa=None, cut=0.85,
    )  # fmt: skip
    return Practice(**(usual | changes))  # type: ignore[arg-type]


def test_two_liquids_come_over_as_their_azeotrope(network: Network, shelf: Shelf) -> None:
    """As long as there is oil the vapour holds p_oil/p_water of it, at the boil point of the two together."""
    start = {"benzaldehyde": 0.5}
    steam = steam_distillation(start, 55.5, Salts(), 101325.0, practice(recovered=0.5), "benzaldehyde", network, shelf)
    T, fraction = heteroazeotrope(shelf["benzaldehyde.vapour_pressure"], shelf["water.saturation_pressure"])
    assert steam.course.temperature_K[0] == pytest.approx(T, abs=1e-6)
    assert steam.over_mol["benzaldehyde"] / steam.course.over[-1] == pytest.approx(fraction / (1.0 - fraction), rel=1e-3)
    assert steam.two_liquids_until_L == pytest.approx(steam.distillate_L)
    assert steam.reached and steam.over_mol["benzaldehyde"] == pytest.approx(0.25, rel=1e-6)


def test_one_liquid_comes_over_by_its_volatility(network: Network, shelf: Shelf) -> None:
    """A trace: ln(n/n0) = K ln(1 - D/W), K = (rho/M)_w p/(S p_w) at the boil; 1 % for K taken at one temperature."""
    steam = steam_distillation({"benzaldehyde": 1e-4}, 55.5, Salts(), 101325.0, practice(), "benzaldehyde", network, shelf)
    T = 373.12
    K = 958.4 / 18.0153 * shelf["benzaldehyde.vapour_pressure"](T) / shelf["benzaldehyde.solubility"](T) / 101325.0
    assert steam.two_liquids_until_L == 0.0
    assert steam.course.over[-1] == pytest.approx(55.5 * (1.0 - 0.05 ** (1.0 / K)), rel=0.01)


def test_a_distillate_is_as_large_as_was_asked(network: Network, shelf: Shelf) -> None:
    asked = practice(distillate_L=0.05)
    steam = steam_distillation({"benzaldehyde": 1e-3}, 20.0, Salts(), 101325.0, asked, "benzaldehyde", network, shelf)
    assert steam.distillate_L == pytest.approx(0.05, rel=1e-6)


# ---- parting and salt ----


def test_water_beside_one_oil_is_saturated(shelf: Shelf) -> None:
    """6.95 g/L at 25 degC (the handbook value the record goes through): 10 g in 1 kg leave 3.03 g as oil."""
    T, M = 298.15, shelf.substance("benzaldehyde").molar_mass
    parted = part({"benzaldehyde": 10.0 / M}, 1.0, T, Salts(), False, 997.0, shelf)
    assert M * parted.oil_mol["benzaldehyde"] == pytest.approx(10.0 - 6.95 / 0.99705, rel=1e-4)
    assert parted.verdict == "sinks"


def test_saturated_brine_against_a_handbook(shelf: Shelf) -> None:
    """At 20 degC 1 L of saturated brine holds 317 g of salt (26.4 mass %, 1.200 g/mL)."""
    concentration, litres = saturated_brine(1.0, 293.15, shelf)
    assert concentration * 58.44 == pytest.approx(317.0, abs=1.0)
    assert concentration * litres * 58.44 == pytest.approx(358.9, abs=0.1)


def test_salting_out_against_published_constants(shelf: Shelf) -> None:
    """Carbonate over chloride: 2 + 0.21/0.195, with CO3-- 0.21 beside Cl- as zero (Gorgenyi et al., Chemosphere 65
    (2006) 802) and 0.195 for benzene in NaCl (McDevit & Long, J. Am. Chem. Soc. 74 (1952) 1773, from memory)."""
    chloride, carbonate = (shelf[f"benzaldehyde.setschenow_{salt}"] for salt in ("salt", "carbonate"))
    assert abs(log(chloride.value / 0.195)) < log(chloride.factor)
    assert abs(log(carbonate.value / chloride.value / (2.0 + 0.21 / 0.195))) < log(carbonate.factor)


def test_salt_brings_out_what_setschenow_says(shelf: Shelf) -> None:
    """10^(k c) of the oil's partner in water: what stays is S V/f."""
    T, n = 293.15, 0.02
    before, after = (part({"benzaldehyde": n}, 0.2, T, Salts(), salted, PURE, shelf) for salted in (False, True))
    concentration, litres = saturated_brine(0.2, T, shelf)
    S, k = shelf["benzaldehyde.solubility"](T), shelf["benzaldehyde.setschenow_salt"].value
    assert n - before.oil_mol["benzaldehyde"] == pytest.approx(S * 0.2 / 0.99816, rel=1e-4)
    assert n - after.oil_mol["benzaldehyde"] == pytest.approx(S * litres * 10 ** (-k * concentration), rel=1e-9)
    assert (before.verdict, after.verdict) == ("sinks", "floats")


def test_floats_hangs_or_sinks() -> None:
    assert [verdict(oil, 1000.0, 5.0) for oil in (None, 900.0, 998.0, 1004.0, 1045.0)] == [
        "none", "floats", "hangs", "hangs", "sinks",
    ]  # fmt: skip


def test_density_of_an_oil_adds_volumes(shelf: Shelf) -> None:
    """Half and half by volume of 1045.5 and 1049.7 kg/m3."""
    halves = {name: rho / shelf.substance(name).molar_mass for name, rho in (("benzaldehyde", 1045.5), ("cinnamaldehyde", 1049.7))}
    assert density_of_oil(halves, shelf) == pytest.approx(1047.6, abs=0.01)
    assert density_of_oil({}, shelf) is None


def test_air_turns_product_to_acid(network: Network, shelf: Shelf) -> None:
    """0.003 per hour (the record's own words): after a hundred hours 26 % is gone."""
    assert turned_to_acid(1.0, 360000.0, network, shelf) == ("benzoic acid", pytest.approx(0.26, abs=0.005))
    prenal = build_network(shelf.substrate("prenal"), shelf, Mechanisms())
    assert turned_to_acid(1.0, 360000.0, prenal, shelf) == ("", 0.0)


# ---- the whole way ----


@pytest.fixture(scope="module")
def reflux(batch: Callable[..., Scenario]) -> Scenario:
    charge = {"water": "350 mL", "cinnamaldehyde": "1.2 g", "sodium carbonate": "3 g"}
    return batch(charge, heating={"hold": "2 h", "cooling": "30 min", "ramp": "10 min"})


def test_without_losses_the_bottle_holds_the_oil(reflux: Scenario, shelf: Shelf) -> None:
    told = {"workup.drying_loss": 0.0, "workup.transfer_loss": 0.0, "workup.exposure": "0 h"}
    scenario = reflux.with_changes(told)
    result = work_up(simulate(scenario), scenario, shelf)
    for name, amount in result.parted.oil_mol.items():
        assert result.bottle[name] == pytest.approx(amount, rel=1e-12)


def test_given_fractions_are_taken(reflux: Scenario, shelf: Shelf) -> None:
    scenario = reflux.with_changes({"workup.drying_loss": 0.2, "workup.transfer_loss": 0.3, "workup.exposure": "0 h"})
    result = work_up(simulate(scenario), scenario, shelf)
    assert result.bottle["benzaldehyde"] == pytest.approx(0.7 * 0.8 * result.parted.oil_mol["benzaldehyde"], rel=1e-12)


def test_salt_and_steam_are_worth_it(reflux: Scenario, shelf: Shelf) -> None:
    """A dilute liquor holds most of the product dissolved: without either, next to nothing parts."""
    run = simulate(reflux)
    bottles = {}
    for steam in (True, False):
        for salt in ("sodium chloride", "none"):
            scenario = reflux.with_changes({"workup.steam": steam, "workup.salt": salt})
            bottles[steam, salt] = work_up(run, scenario, shelf).bottle["benzaldehyde"]
    assert bottles[True, "sodium chloride"] > bottles[True, "none"] > bottles[False, "none"]
    assert bottles[True, "sodium chloride"] > bottles[False, "sodium chloride"] > bottles[False, "none"]
    assert bottles[False, "none"] < 0.05 * bottles[True, "sodium chloride"]


def test_a_short_distillation_buys_purity_with_yield(reflux: Scenario, shelf: Shelf) -> None:
    run, purity, product = simulate(reflux), [], []
    for cut in (0.3, 0.6, 0.95):
        scenario = reflux.with_changes({"workup.pressure": "2 kPa", "workup.cut": cut})
        bottle = work_up(run, scenario, shelf).bottle
        masses = {name: amount * shelf.substance(name).molar_mass for name, amount in bottle.items()}
        purity.append(masses["benzaldehyde"] / sum(masses.values()))
        product.append(bottle["benzaldehyde"])
    assert purity[0] > purity[1] > purity[2] and product[0] < product[1] < product[2]


def test_practice_is_the_scenarios_or_the_shelfs(reflux: Scenario, shelf: Shelf) -> None:
    assert practice_of(reflux, shelf) == practice()
    told = reflux.with_changes({"workup.separation": "5 degC", "workup.steam": False, "workup.exposure": "2 h"})
    assert practice_of(told, shelf) == practice(separation_K=278.15, steam=False, exposure_s=7200.0)


def test_a_distillate_larger_than_the_flask_gives_runs_out(reflux: Scenario, shelf: Shelf) -> None:
    """350 mL hold 315 that steam takes over at most, a tenth staying behind."""
    scenario = reflux.with_changes({"workup.distillate": "340 mL"})
    result = work_up(simulate(scenario), scenario, shelf)
    assert result.steam is not None and not result.steam.reached
    assert result.steam.distillate_L < 0.316
    assert "the steam distillation ran out of water before its stop" in result.notes
