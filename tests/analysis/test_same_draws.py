"""The same draws for several scenarios: shared constants are shared, and an option is judged against the base by them."""

import numpy as np
import pytest

import kinetics
from kinetics.analysis.ensemble import Ensemble, Prior
from kinetics.analysis.same_draws import common_prior, ensembles, probability_of_more
from kinetics.run.scenario import Scenario


@pytest.fixture(scope="module")
def base() -> Scenario:
    scenario = kinetics.read_scenario("scenarios/common_practice.toml")
    return scenario.with_changes({"heating.hold": "20 min", "heating.ramp": "5 min", "heating.cooling": "0 min"})


def made_up(values: list[float]) -> Ensemble:
    final = {"yield": np.array(values)}
    return Ensemble(Prior((), np.zeros(0), np.eye(0)), np.zeros((0, len(values))), np.zeros(1), {}, final, {}, 0)


def test_probability_counts_samples_and_leaves_out_what_failed() -> None:
    one, other = made_up([0.5, 0.6, 0.7, np.nan, 0.9]), made_up([0.4, 0.7, 0.6, 0.1, np.nan])
    assert probability_of_more(one, other, "yield") == pytest.approx(2 / 3)
    assert probability_of_more(one, other, "conversion") is None


def test_a_scenario_and_its_copy_have_the_same_samples(base: Scenario) -> None:
    first, second = ensembles([base, base], 8, 1)
    assert (first.final["conversion"] == second.final["conversion"]).all()
    assert probability_of_more(first, second, "conversion") == 0.0


def test_constants_of_one_scenario_only_leave_the_others_draws_alone(base: Scenario) -> None:
    potassium = base.with_changes({"charge.potassium carbonate": "1 g"})
    prior = common_prior([base, potassium])
    assert len(prior.names) == len(set(prior.names))
    assert any("potassium" in name for name in prior.names)
    less, more = ensembles([base, base.with_changes({"charge.cinnamaldehyde": "2.4 g"})], 8, 1)
    assert (less.z == more.z).all()
    assert probability_of_more(less, more, "conversion") == pytest.approx(1.0)
