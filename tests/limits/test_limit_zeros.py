"""Nothing from nothing: no base, no aldehyde, no boil-up."""

from __future__ import annotations

from math import exp, log10, sqrt

import numpy as np
import pytest

import kinetics

E, H, P, A = "cinnamaldehyde", "3-hydroxy-3-phenylpropanal", "benzaldehyde", "acetaldehyde"
R = 8.314462618
COMPOSITE = 2.02e-3 * 9.08e-2 / (2.02e-3 / 4.42e-3 + 9.08e-2)  # 25 C, Guthrie et al. 1984
AT_BOIL = COMPOSITE * exp(-70e3 / R * (1 / 373.124 - 1 / 298.15))
NEUTRAL = (
    10 ** (-12.265 / 2) * 0.958
)  # mol/L of hydroxide at the boil: Marshall & Franck 1981, density of water


def test_zero_base_converts_what_neutral_water_converts(batch, without) -> None:
    """[OH-] = 7.1e-7 mol/L at the boil and k = 0.097 L/mol/s give 6.9e-8 1/s: 0.25 % in ten hours, and that
    is all.

    Without oxidation, whose benzoic acid would lower even that. Of the enal that is in the water, in
    equilibrium with H.
    """
    scenario = batch(
        {"water": "350 mL", E: "0.1 g"}, heating={"hold": "10 h"}, condenser={"coolant": "5 degC"}
    )
    run = kinetics.simulate(scenario, mechanisms=without("oxidation", "product_venting"))
    assert run.series.hydroxide_mol_per_L[0] == pytest.approx(NEUTRAL, rel=0.01)
    bound = 1.0 - exp(-AT_BOIL * NEUTRAL * 36000.0)
    assert bound == pytest.approx(2.5e-3, rel=0.05)
    gone = (run.series.flask_mol[P][-1] + 0.0) / run.series.flask_mol[E][0]
    assert 0.5 * bound < gone < 1.02 * bound


def test_zero_base_with_oxidation_less_still(batch) -> None:
    """The acid that forms takes even the neutral hydroxide away."""
    run = kinetics.simulate(batch({"water": "350 mL", E: "0.1 g"}, heating={"hold": "10 h"}))
    converted = run.series.flask_mol[P] + run.series.flask_mol["benzoic acid"] + run.series.left_mol[P]
    assert converted[-1] / run.series.flask_mol[E][0] < 1.0 - exp(-AT_BOIL * NEUTRAL * 36000.0)


def test_zero_base_what_evaporates_evaporates(batch, only) -> None:
    """Benzaldehyde and acetaldehyde without base: no enal to speak of, and the loss is that of each by
    itself."""
    mixture = kinetics.simulate(
        batch({"water": "350 mL", P: "1 mmol", A: "1 mmol"}),
        mechanisms=only("reverse_cleavage", "venting", "product_venting"),
    ).series
    assert 0.0 < mixture.flask_mol[E][-1] < 1e-7
    for name in (P, A):
        alone = kinetics.simulate(
            batch({"water": "350 mL", name: "1 mmol"}),
            mechanisms=only("reverse_cleavage", "venting", "product_venting"),
        ).series
        assert mixture.left_mol[name][-1] == pytest.approx(
            alone.left_mol[name][-1], rel=0.03
        )  # each adds to the vent gas
        assert mixture.flask_mol[name] + mixture.left_mol[name] == pytest.approx(
            np.full_like(mixture.time_s, 1e-3), rel=1e-3
        )


def test_zero_aldehyde_is_pH_alone(batch) -> None:
    """Soda in water: exactly no organic at any time, no conversion, and the pH of carbonate's hydrolysis."""
    scenario = batch(
        {"water": "350 mL", "sodium carbonate": "3 g"}, heating={"start": "25 degC", "ramp": "25 min"}
    )
    run = kinetics.simulate(scenario)
    organics = set(run.series.flask_mol) - {"water", "inorganic carbon", "sodium"}
    assert len(organics) > 6
    assert all((run.series.flask_mol[name] == 0.0).all() for name in organics)
    assert run.summary.conversion is None and run.summary.yield_ is None and run.summary.selectivity is None
    # Davies by hand at 25 C: 0.0809 mol/kg, I = 0.24, log gamma -0.5098 (0.329 - 0.072) = -0.131 per unit of charge squared
    log_g = -0.5098 * (sqrt(0.24) / (1 + sqrt(0.24)) - 0.3 * 0.24)
    Kh = 10 ** (-13.995 + 10.329 + 4 * log_g - 2 * log_g)
    m = 3.0 / 105.988 / 0.350
    oh = (-Kh + sqrt(Kh * Kh + 4 * Kh * m)) / 2
    assert run.series.pH[0] == pytest.approx(13.995 + log10(oh) + log_g, abs=0.06)  # Davies at I = 0.24
    assert (
        run.series.hydroxide_mol_per_L[31] > 3 * run.series.hydroxide_mol_per_L[0]
    )  # hot carbonate is more alkaline


def test_zero_aldehyde_closed_stays_as_it_is(batch) -> None:
    scenario = batch(
        {"water": "350 mL", "sodium carbonate": "3 g"},
        heating={"temperature": "90 degC"},
        vessel={"closed": True},
    )
    series = kinetics.simulate(scenario).series
    assert series.pH == pytest.approx(np.full_like(series.pH, series.pH[0]), abs=1e-10)
    assert (series.flask_mol["water"] == series.flask_mol["water"][0]).all()


def test_zero_boil_up_no_loss(batch) -> None:
    """At the boil point but nothing boiling: exactly nothing leaves, whatever the air and the condenser."""
    scenario = batch(
        {"water": "350 mL", E: "1.2 g", A: "0.5 g", "sodium bicarbonate": "3 g"},
        heating={"boil_up": "0 mL/min", "hold": "5 h"},
        condenser={"coolant": "60 degC", "air_exchange": "100 mL/min"},
    )
    series = kinetics.simulate(scenario).series
    assert series.temperature_K[-1] > 373.0
    for name, amount in (*series.left_mol.items(), *series.taken_off_mol.items()):
        assert (amount == 0.0).all(), name
    assert series.flask_mol[P][-1] > 0.0


def test_zero_boil_up_is_a_closed_flask(batch, without) -> None:
    """Then it converts as far as a closed one at that temperature (air aside, which oxidises)."""
    charge = {"water": "350 mL", E: "1.2 g", "sodium carbonate": "3 g"}
    nothing_boils = batch(charge, heating={"boil_up": "0 mL/min", "hold": "5 h"})
    run = kinetics.simulate(nothing_boils, mechanisms=without("oxidation"), rtol=1e-8)
    degC = float(run.series.temperature_K[-1]) - 273.15
    closed = batch(
        charge,
        heating={"temperature": f"{degC!r} degC", "start": "20 degC", "hold": "5 h"},
        vessel={"closed": True},
    )
    other = kinetics.simulate(closed, mechanisms=without("oxidation"), rtol=1e-8)
    assert run.summary.conversion == pytest.approx(other.summary.conversion, rel=1e-6)


def test_zero_air_zero_sweep_no_loss(batch) -> None:
    """Boiling under a condenser that no gas leaves: what boils falls back, all but what cannot be told from
    nothing."""
    scenario = batch(
        {"water": "350 mL", E: "1.2 g", "sodium carbonate": "3 g"}, condenser={"air_exchange": "0 mL/min"}
    )
    series = kinetics.simulate(scenario).series
    assert max(amount[-1] for amount in series.left_mol.values()) < 1e-15
