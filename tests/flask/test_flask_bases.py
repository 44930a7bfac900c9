"""The bases: each one runs with a sensible pH, equivalent charges are the same liquor, the metals differ by
parameters alone."""

from __future__ import annotations

import numpy as np
import pytest

import kinetics

E, P = "cinnamaldehyde", "benzaldehyde"
AT_25 = {"start": "25 degC", "temperature": "25 degC"}
CLOSED = {"closed": True}
WARM = {"start": "25 degC", "temperature": "80 degC", "ramp": "10 min", "hold": "1 h"}


@pytest.mark.parametrize(
    ("charge", "pH"),
    [  # tenth-molar at 25 C, by hand: Davies for the ions, pK 13.995, 6.352, 10.329, carbonate 3.3e-3 mol/L of OH-;
        # bicarbonate (pK1 + pK2 + log gamma_CO3)/2; saturated lime 12.454 (the standard buffer, from memory): +-0.1
        ({"sodium carbonate": "0.1 mol"}, 11.38),
        ({"sodium carbonate decahydrate": "0.1 mol"}, 11.38),
        ({"potassium carbonate": "0.1 mol"}, 11.38),
        ({"baked sodium bicarbonate": "10.6 g"}, 11.38),
        ({"sodium bicarbonate": "0.1 mol"}, 8.13),
        ({"sodium hydroxide": "0.1 mol"}, 12.87),
        ({"potassium hydroxide": "0.1 mol"}, 12.87),
        ({"calcium hydroxide": "0.1 mol"}, 12.454),
        ({"sodium chloride": "0.1 mol"}, 7.0),
    ],
)
def test_pH_at_25_C_and_reaction(batch, only, charge: dict, pH: float) -> None:
    scenario = batch({"water": "1 L", E: "1 mmol"} | charge, heating=AT_25, vessel=CLOSED)
    run = kinetics.simulate(scenario)
    assert run.failure is None
    assert run.series.pH[0] == pytest.approx(pH, abs=0.1)
    assert (run.series.flask_mol[P][-1] > 1e-9) == (pH > 9.0)


@pytest.mark.parametrize(
    ("t_C", "pH"), [(10, 10.18), (20, 10.06), (25, 10.012), (30, 9.97), (40, 9.89), (50, 9.83)]
)
def test_carbonate_buffer(batch, only, t_C: int, pH: float) -> None:
    """0.025 mol/kg of each: pH(S) of B. R. Staples, R. G. Bates, J. Res. NBS 73A (1969) 37, in a whole run.

    0.02 of pK2 (its uncertainty; Plummer and Busenberg) and half of the last figure: pH is a convention of
    single ions.
    """
    charge = {"water": "1 kg", "sodium carbonate": "0.025 mol", "sodium bicarbonate": "0.025 mol"}
    heating = {"start": f"{t_C} degC", "temperature": f"{t_C} degC"}
    run = kinetics.simulate(batch(charge, heating=heating, vessel=CLOSED), mechanisms=only(), times=[])
    assert run.series.pH[0] == pytest.approx(pH, abs=0.025)


def course(batch, charge, **more) -> np.ndarray:
    heating = {"ramp": "10 min", "hold": "30 min", "cooling": "5 min"}
    run = kinetics.simulate(
        batch({E: "10 mmol"} | charge, heating=heating), times=[300.0, 900.0, 1800.0], **more
    )
    assert run.failure is None
    return np.array(
        [run.series.flask_mol[s] for s in (E, P, "acetaldehyde", "inorganic carbon")] + [run.series.pH / 1e3]
    )


@pytest.mark.parametrize(
    ("first", "second"),
    [  # amounts in mol, so that no rounding of weights is in it
        (
            {"water": "20 mol", "sodium carbonate": "0.1 mol"},
            {"water": "19 mol", "sodium carbonate decahydrate": "0.1 mol"},
        ),
        (
            {"water": "20 mol", "sodium carbonate": "0.1 mol"},
            {"water": "19.9 mol", "sodium hydroxide": "0.1 mol", "sodium bicarbonate": "0.1 mol"},
        ),
        (
            {"water": "20 mol", "sodium carbonate": "0.1 mol"},
            {"water": "20 mol", "baked sodium bicarbonate": {"amount": "10.5988 g", "converted": 1.0}},
        ),
        (
            {"water": "20 mol", "sodium bicarbonate": "0.1 mol"},
            {"water": "20 mol", "baked sodium bicarbonate": {"amount": "8.4006 g", "converted": 0.0}},
        ),
        (
            {"water": "20 mol", "sodium carbonate": "0.1 mol"},
            {"water": "20 mol", "sodium carbonate": {"amount": "0.2 mol", "purity": 0.5}},
        ),
    ],
)
def test_equivalent_charges_are_the_same_liquor(batch, first: dict, second: dict) -> None:
    """Soda crystals, lye with bicarbonate, baked bicarbonate: the whole course, to what the weighed ones
    were rounded to.

    Weights: 105.98 and 84.00 g/mol from standard atomic weights (Na 22.990, C 12.011, O 15.999, H 1.008).
    """
    assert course(batch, first) == pytest.approx(course(batch, second), abs=2e-7)


def test_grams_of_soda_and_of_soda_crystals(batch) -> None:
    """10.6 g of soda are 28.6 g of soda crystals, which bring 18.0 g of water: what three figures of 0.1 mol
    leave."""
    first = course(batch, {"water": "360 g", "sodium carbonate": "10.6 g"})
    second = course(batch, {"water": "342 g", "sodium carbonate decahydrate": "28.6 g"})
    assert first == pytest.approx(second, abs=1e-4)


@pytest.mark.parametrize("base", ["carbonate", "bicarbonate", "hydroxide"])
def test_potassium_is_sodium_where_its_parameters_are(batch, sodium_as_potassium, base: str) -> None:
    """With the parameters set equal, potassium, sodium and a mixture run alike; with its own it does not."""
    charges = [{f"{metal} {base}": "0.2 mol", "water": "20 mol"} for metal in ("sodium", "potassium")]
    charges.append({f"sodium {base}": "0.08 mol", f"potassium {base}": "0.12 mol", "water": "20 mol"})
    same = [course(batch, charge, shelf=sodium_as_potassium) for charge in charges]
    assert same[1] == pytest.approx(same[0], abs=2e-8)
    assert same[2] == pytest.approx(same[0], abs=2e-8)
    own = [course(batch, charge)[-1] for charge in charges[:2]]
    assert np.abs(own[1] - own[0]).max() > 1e-6  # pH/1000


def test_lime_is_used_up_to_its_solubility(batch, only) -> None:
    """Ten times the lime gives no more hydroxide: 2 x 0.0204 mol/kg at 25 C less what activity does; spent
    lime is neutral."""
    hydroxide = []
    for amount in ("0.05 mol", "0.5 mol"):
        charge = {"water": "1 L", "calcium hydroxide": amount}
        series = kinetics.simulate(
            batch(charge, heating=AT_25, vessel=CLOSED), mechanisms=only(), times=[]
        ).series
        hydroxide.append(series.hydroxide_mol_per_L[0])
    assert hydroxide[1] == pytest.approx(hydroxide[0], rel=0.02)
    assert hydroxide[0] == pytest.approx(2 * 1.66 / 74.09, rel=0.05)  # 1.66 g/kg between 20 and 30 C


def test_lime_turns_carbonate_to_lye(batch, only) -> None:
    """Na2CO3 + Ca(OH)2 -> CaCO3 + 2 NaOH, the calcium carbonate taken as insoluble: the hydroxide of 0.2 mol
    of lye."""
    both, lye = (
        kinetics.simulate(
            batch({"water": "1 kg"} | c, heating=AT_25, vessel=CLOSED), mechanisms=only(), times=[]
        ).series
        for c in (
            {"sodium carbonate": "0.1 mol", "calcium hydroxide": "0.1 mol"},
            {"sodium hydroxide": "0.2 mol"},
        )
    )
    assert both.hydroxide_mol_per_L[0] == pytest.approx(lye.hydroxide_mol_per_L[0], rel=1e-3)


def test_salt_is_no_base(batch, only) -> None:
    """Sodium chloride: neutral, and the reaction as in water alone within a few times (activities)."""
    pH = [
        kinetics.simulate(
            batch({"water": "1 kg"} | c, heating=AT_25, vessel=CLOSED), mechanisms=only(), times=[]
        ).series.pH[0]
        for c in ({}, {"sodium chloride": "0.5 mol"})
    ]
    assert pH[0] == pytest.approx(6.998, abs=0.001)
    assert pH[1] == pytest.approx(pH[0], abs=0.15)
