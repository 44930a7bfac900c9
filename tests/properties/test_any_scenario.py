"""Whatever valid batch is asked for, a run comes back that adds up, stays positive and depends on nothing it should not.

PROPERTY_EXAMPLES=50 in the environment makes it a campaign of fifty times as many batches, drawn at random.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from running import CLOSED, SAME, assert_adds_up, assert_complete, assert_told, organics_of, simulated
from strategies import SUBSTRATES, documents, profile

from kinetics.data.shelf import load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network
from kinetics.run.integrate import integrate
from kinetics.run.plan import boil_point_of, sum_of_components
from kinetics.run.reading import read_document


@pytest.fixture(scope="module", autouse=True)
def impatient() -> Iterator[None]:
    """A tenth of the evaluations allowed: a batch that needs them does not come to its end with all of them either."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("kinetics.run.integrate.MOST_EVALUATIONS", 10_000)
        yield


@profile(40)
@given(documents())
def test_a_run_adds_up(document: dict[str, Any]) -> None:
    """No traceback, no warning; C, H, O and charge close to 1e-9; nothing negative; fractions are fractions.

    Conversion and yield are held to 0..1 where neither product nor by-product was put in: with them there a batch may run
    backwards, and product may leave that was never formed.
    """
    scenario, run = simulated(document)
    if run.failure is not None:
        assert_told(run)
    else:
        assert_complete(scenario, run)
    assert_adds_up(scenario, run)
    others = set(SUBSTRATES[document["substrate"]][1:])
    put_in = {*document["charge"], *(name for addition in document["addition"] for name in addition)}
    for values in (run.series.conversion, run.series.yield_):
        if values is not None and not others & put_in:
            known = values[np.isfinite(values)]
            assert (known >= -SAME).all() and (known <= 1.0 + SAME).all()


@profile(12)
@given(document=documents(), data=st.data())
def test_output_times_change_nothing(document: dict[str, Any], data: st.DataObject) -> None:
    """Amounts at common times are the same to 1e-6 of the charge whichever other times are asked for."""
    scenario, run = simulated(document)
    end = float(run.series.time_s[-1])
    times = sorted(data.draw(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5)))
    few = integrate(scenario, times=[end * t for t in times])
    more = integrate(scenario, times=[end * t for t in [*times, *np.linspace(0.0, 1.0, 40)]])
    assert (few.failure is None) == (more.failure is None) == (run.failure is None)
    if run.failure is not None:
        return
    organics, species = organics_of(scenario), few.network.carbon
    dense = dict(zip(more.times, more.states))
    for t, y in zip(few.times, few.states):
        assert np.abs(np.array(y) - dense[t])[:species].max(initial=0.0) <= SAME * organics
    assert np.abs(np.array(few.states[-1]) - run.trajectory.states[-1])[:species].max() <= SAME * organics  # type: ignore[union-attr]


@profile(12)
@given(document=documents(), seed=st.integers(0, 1000))
def test_order_of_keys_and_additions_changes_nothing(document: dict[str, Any], seed: int) -> None:
    """Every table shuffled, and the list of additions: the same amounts to 1e-6 of the charge, the same failure."""
    shuffler = random.Random(seed)

    def shuffled(value: Any) -> Any:
        if isinstance(value, dict):
            keys = list(value)
            shuffler.shuffle(keys)
            return {key: shuffled(value[key]) for key in keys}
        if isinstance(value, list):
            return shuffler.sample([shuffled(item) for item in value], len(value))
        return value

    scenario, run = simulated(document)
    _, other = simulated(shuffled(document))
    assert (run.failure is None) == (other.failure is None)
    if run.failure is None:
        organics = organics_of(scenario)
        for name, amounts in run.series.flask_mol.items():
            if name != "water":
                assert np.abs(amounts - other.series.flask_mol[name]).max() <= SAME * max(organics, amounts.max())


@profile(10)
@given(document=documents(closed=False), factor=st.floats(1.1, 100.0))
def test_more_sweep_never_holds_more_back(document: dict[str, Any], factor: float) -> None:
    """Gas led through in place of none and then `factor` times as much: never less acetaldehyde (or acetone) gone.

    Substrate and product stay and acetaldehyde does not meet itself: gas that carries off the enal it would come from, or
    the crotonaldehyde it goes to, may well let less of it go. So may gas that dries the flask, where rates and solubility
    follow the volume (steeply over much salt): ten times the share of water it took is allowed for.
    """
    alone = Mechanisms(product_venting=False, self_aldol=False)
    document["condenser"] |= {"sweep_gas": "inert", "coolant": "1 degC", "approach": "0 K"}
    runs = []
    for sweep in (0.0, 20.0, 20.0 * factor):
        document["condenser"]["sweep"] = f"{sweep:.6g} mL/min"
        scenario, run = simulated(document, mechanisms=alone)
        if run.failure is not None:  # swept dry
            assert_told(run)
            return
        runs.append(run.summary)
    for less, more in pairwise(runs):
        dried = 1.0 - more.water_left_in_flask_L / less.water_left_in_flask_L
        tolerance = SAME * organics_of(scenario) + 10.0 * max(dried, 0.0) * less.byproduct_left_mol
        assert less.byproduct_left_mol <= more.byproduct_left_mol + tolerance


@profile(25)
@given(document=documents(closed=False), heights=st.lists(st.floats(0.0, 4000.0), min_size=2, max_size=2))
def test_higher_up_it_never_boils_hotter(document: dict[str, Any], heights: list[float]) -> None:
    shelf = load_shelf()
    boils = []
    for height in sorted(heights):
        document["heating"]["altitude"] = f"{height:.6g} m"
        scenario = read_document(document)
        network = build_network(shelf.substrate(scenario.substrate), shelf, Mechanisms())
        boils.append(boil_point_of(sum_of_components(scenario.charges), scenario, network, shelf))
    assert boils[1] <= boils[0] + 1e-6
    assert 350.0 < boils[1] < 420.0


@profile(10)
@given(document=documents(), share=st.floats(0.05, 0.95))
def test_a_longer_hold_contains_the_shorter(document: dict[str, Any], share: float) -> None:
    """The course up to the end of the shorter hold is the same to 1e-6 of the charge, both integrated to 1e-8."""
    document["addition"] = [a for a in document["addition"] if a["at"].startswith("0 ") and a["over"].startswith("0 ")]
    document["heating"] |= {"cooling": "0 min"}
    if "take_off" in document["condenser"]:
        document["condenser"] |= {"make_up": True}  # without it the boil point is struck over the whole hold's water
    longer = read_document(document)
    hold_min = float(document["heating"]["hold"].split()[0])
    document["heating"]["hold"] = f"{share * hold_min:.9g} min"
    shorter = read_document(document)
    end = shorter.heating.ramp_s + shorter.heating.hold_s
    short, within = integrate(shorter, rtol=1e-8), integrate(longer, rtol=1e-8, times=[end])
    if within.failure is not None:  # swept dry, if so after the shorter one ended
        assert "dry" in str(within.failure)
        return
    assert short.failure is None
    kept = within.states[within.times.index(end)]
    species = within.network.carbon
    difference = np.abs(np.array(short.states[-1]) - kept)[:species].max()
    assert difference <= SAME * organics_of(longer)


def test_an_addition_spread_over_microseconds_adds_up() -> None:
    """C, H and O close to 1e-9 where as much as is there is added within 60 microseconds, late in a batch."""
    _, run = simulated(
        {
            "title": "nearly at once",
            "substrate": "prenal",
            "charge": {"water": "15.6 g", "prenal": "0.6 mmol"},
            "heating": {"ramp": "87.7 min", "hold": "1 min", "cooling": "1 min"},
            "addition": [{"at": "59.94 s", "over": "0.00006 s", "prenal": "1.56 mmol", "water": "0.78 mol"}],
        }
    )
    assert max(run.closure.carbon, run.closure.hydrogen, run.closure.oxygen) <= CLOSED
