"""The batch path gives what single runs give, whatever the company a sample is in."""

from dataclasses import replace

import numpy as np
import pytest

import kinetics
from kinetics.run.batch import Samples, integrate_batch
from kinetics.run.integrate import integrate
from kinetics.run.scenario import Scenario

SHELF = kinetics.load_shelf()
K_OVERALL = "reaction.cinnamaldehyde.equilibrium.cleavage.K"
PK2 = "carbonic.pK2"


def example(**changes: object) -> Scenario:
    base = kinetics.read_scenario("scenarios/common_practice.toml")
    return base.with_changes({"heating.hold": "1.5 h", **{k.replace("__", "."): v for k, v in changes.items()}})


def as_single(scenario: Scenario, samples: Samples, k: int) -> tuple[Scenario, dict[str, float]]:
    """The scenario and shifts of sample k alone."""

    def scaled(charge):  # type: ignore[no-untyped-def]
        factor = float(samples.amounts.get(charge.substance, np.ones(samples.count))[k])
        components = {name: amount * factor for name, amount in charge.components_mol.items()}
        return replace(charge, components_mol=components, amount_mol=charge.amount_mol * factor)

    def of(values: object) -> float:
        return float(np.broadcast_to(np.asarray(values), samples.count)[k])

    condenser, vessel = scenario.condenser, scenario.vessel
    one = replace(
        scenario,
        charges=tuple(scaled(c) for c in scenario.charges),
        additions=tuple(replace(a, charges=tuple(map(scaled, a.charges))) for a in scenario.additions),
        vessel=replace(vessel, k_La_per_s=vessel.k_La_per_s * of(samples.k_La)),
        condenser=replace(
            condenser,
            approach_K=condenser.approach_K + of(samples.approach_K),
            air_exchange_mol_per_s=condenser.air_exchange_mol_per_s * of(samples.air_exchange),
        ),
    )
    return one, {name: float(values[k]) for name, values in samples.shifts.items()}


def some_samples(count: int) -> Samples:
    rng = np.random.default_rng(7)
    return Samples(
        count,
        {K_OVERALL: rng.normal(size=count), PK2: rng.normal(size=count), "cinnamaldehyde.solubility": rng.normal(size=count)},
        {"cinnamaldehyde": np.exp(0.2 * rng.normal(size=count)), "sodium carbonate": np.exp(rng.normal(size=count))},
        np.exp(rng.normal(size=count)),
        np.exp(rng.normal(size=count)),
        3.0 * rng.normal(size=count),
    )


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"condenser__take_off": "0.3 mL/min", "heating__altitude": "1500 m"},
        {"condenser__sweep": "20 mL/min", "heating__temperature": "80 degC"},
        {"addition": [{"at": "20 min", "over": "30 min", "sodium hydroxide": "0.2 g", "water": "20 mL"}]},
    ],
    ids=["as written", "take-off", "swept below the boil", "spread addition"],
)
def test_a_sample_is_the_run_of_its_own_constants(changes: dict[str, object]) -> None:
    """Batch at 1e-6 against a single run at 1e-8: within 1e-6 of what was charged, for every organic species."""
    scenario = example(**changes)
    samples = some_samples(4)
    times = np.linspace(0.0, scenario.heating.ramp_s + scenario.heating.hold_s + scenario.heating.cooling_s, 15)
    batch = integrate_batch(scenario, SHELF, samples, times.tolist(), rtol=1e-6)
    assert not batch.failures
    organics = slice(0, batch.network.carbon)
    for k in range(samples.count):
        one, shifts = as_single(scenario, samples, k)
        single = integrate(one, SHELF.shifted(shifts), rtol=1e-8, times=times.tolist())
        assert single.failure is None
        reference = dict(zip(single.times, single.states))
        for t, states in zip(batch.times, batch.states[:, organics, k]):
            worst = np.abs(states - np.array(reference[float(t)])[organics]).max()
            assert worst < 1e-6 * batch.put_in("cinnamaldehyde")[-1, k]


def test_a_sample_does_not_feel_its_neighbours_and_a_lost_one_is_lost_alone() -> None:
    scenario = example(heating__hold="30 min")
    end = scenario.heating.ramp_s + scenario.heating.hold_s
    shifts = np.array([0.5, -0.5, 1.0])
    whole = integrate_batch(scenario, SHELF, Samples(3, {K_OVERALL: shifts}), [end])
    alone = integrate_batch(scenario, SHELF, Samples(1, {K_OVERALL: shifts[1:2]}), [end])
    scale = whole.put_in("cinnamaldehyde")[-1, 0]
    assert np.abs(whole.states[..., 1] - alone.states[..., 0])[:, : whole.network.carbon].max() < 1e-7 * scale
    spoiled = integrate_batch(scenario, SHELF, Samples(3, {K_OVERALL: np.array([0.5, np.nan, 1.0])}), [end])
    assert set(spoiled.failures) == {1}
    assert np.isnan(spoiled.states[:, :, 1]).all()
    for k in (0, 2):
        difference = np.abs(spoiled.states[..., k] - whole.states[..., k])[:, : whole.network.carbon]
        assert difference.max() < 1e-7 * scale
