"""Bands: the distribution that comes out is the one that the inputs make, and does not depend on who computes it."""

import numpy as np
import pytest

import kinetics
from kinetics.analysis import ensemble
from kinetics.analysis.ensemble import Prior, bands_of, draw, prior_of, quantiles, run_ensemble, samples_of
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.scenario import Scenario

SHELF = kinetics.load_shelf()


@pytest.fixture(scope="module")
def short() -> Scenario:
    base = kinetics.read_scenario("scenarios/common_practice.toml")
    return base.with_changes({"heating.hold": "20 min", "heating.ramp": "5 min", "heating.cooling": "0 min"})


def test_sum_of_four_normals_as_published() -> None:
    """JCGM 101:2008, 9.2.2: Y = X1 + X2 + X3 + X4, each N(0, 1): estimate 0, u = 2.0, 95 % interval [-3.92, 3.92].

    The guide's own Monte Carlo results scatter by 0.02 to 0.1 with 1e4 to 1e6 trials; stratified samples do better.
    """
    z = draw(Prior(("X1", "X2", "X3", "X4"), np.zeros(4), np.eye(4)), 40000, 3)
    y = z.sum(axis=0)
    assert y.mean() == pytest.approx(0.0, abs=0.01)
    assert y.std(ddof=1) == pytest.approx(2.0, abs=0.02)
    assert np.quantile(y, [0.025, 0.975]) == pytest.approx([-3.92, 3.92], abs=0.06)


def test_quantiles_and_their_standard_error() -> None:
    """Quantile x of N(0, 1) at p: standard error sqrt(p (1 - p)/n)/phi(x) for simple random samples (M. G. Kendall, A.
    Stuart, The Advanced Theory of Statistics, vol. 1, 10.29); stratified ones are not worse."""
    rng = np.random.default_rng(5)
    found = [quantiles(rng.normal(size=800)) for _ in range(60)]
    for name, p, x in (("se_p5", 0.05, 1.6449), ("se_p50", 0.5, 0.0), ("se_p95", 0.95, 1.6449)):
        expected = np.sqrt(p * (1.0 - p) / 800) / (np.exp(-0.5 * x**2) / np.sqrt(2.0 * np.pi))
        assert np.sqrt(np.mean([one[name] ** 2 for one in found])) == pytest.approx(expected, rel=0.2), name
    unknown = quantiles(np.array([np.nan, np.nan]))
    assert set(unknown) == {"p5", "p50", "p95", "se_p5", "se_p50", "se_p95"} and set(unknown.values()) == {None}
    few = quantiles(np.arange(9.0))
    assert few["p50"] == 4.0 and few["se_p5"] is few["se_p50"] is few["se_p95"] is None
    found = quantiles(np.arange(101.0))
    assert (found["p5"], found["p50"], found["p95"]) == (5.0, 50.0, 95.0)


def test_a_correlated_prior_is_drawn_as_given() -> None:
    root = np.array([[1.0, 0.0], [0.8, 0.6]])
    z = draw(Prior(("a", "b"), np.array([1.0, -2.0]), root), 16000, 1)
    assert z.mean(axis=1) == pytest.approx([1.0, -2.0], abs=0.02)
    assert np.cov(z) == pytest.approx(root @ root.T, abs=0.03)


def test_factors_are_log_normal_and_the_approach_never_negative(short: Scenario) -> None:
    names = ("apparatus.air_exchange", "apparatus.approach")
    z = np.array([[-1.0, 0.0, 2.0], [-3.0, 0.0, 1.0]])
    samples = samples_of(short, SHELF, names, z)
    factor, sigma = SHELF[names[0]].factor, SHELF[names[1]].sigma
    assert samples.air_exchange == pytest.approx([1 / factor, 1.0, factor**2])
    assert samples.approach_K == pytest.approx([-short.condenser.approach_K, 0.0, sigma])


def test_everything_uncertain_is_drawn_and_nothing_exact(short: Scenario) -> None:
    names = prior_of(short, SHELF, Mechanisms()).names
    assert len(names) == len(set(names))
    for name in ("carbonic.pK2", "reaction.cinnamaldehyde.equilibrium.cleavage.K", "apparatus.air_exchange", "cinnamaldehyde.solubility"):
        assert name in names
    assert not [name for name in names if name.startswith(("element.", "physics.")) or "potassium" in name]
    closed = short.with_changes({"vessel.closed": True})
    assert "apparatus.air_exchange" not in prior_of(closed, SHELF, Mechanisms()).names


@pytest.mark.parametrize(
    ("count", "sizes"), [(300, [300]), (1024, [512, 512]), (1025, [342, 342, 341]), (2000, [1000, 1000]), (10_000, [1250] * 8)]
)
def test_samples_are_cut_into_equal_chunks(count: int, sizes: list[int]) -> None:
    z = np.arange(2.0 * count).reshape(2, count)
    chunks = ensemble.chunks_of(z)
    assert [chunk.shape[1] for chunk in chunks] == sizes
    assert np.array_equal(np.concatenate(chunks, axis=1), z)


def test_failures_keep_their_numbers_when_chunks_are_joined() -> None:
    parts = [({}, {"x": np.zeros(n)}, failed) for n, failed in ((3, {2: "dry"}), (2, {0: "lost"}), (1, {0: "dry"}))]
    assert ensemble.joined(parts)[2] == {2: "dry", 3: "lost", 5: "dry"}


def test_one_worker_or_two_make_no_difference(short: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ensemble, "CHUNK", 5)
    one, two = (bands_of(run_ensemble(short, 12, 4, workers=w)).to_json() for w in (1, 2))
    assert one == two
    other = bands_of(run_ensemble(short, 12, 5)).to_json()
    assert other["bands"] != one["bands"]
    assert one["samples"] == 12
    conversion = one["bands"]["conversion"]
    assert 0.0 < conversion["p5"] < conversion["p50"] < conversion["p95"] < 1.0


def test_the_median_sample_is_the_single_run(short: Scenario) -> None:
    """A prior without spread gives the run itself in every sample, for every number that has a band."""
    names = prior_of(short, SHELF, Mechanisms()).names
    nothing = Prior(names, np.zeros(len(names)), np.zeros((len(names), len(names))))
    result = run_ensemble(short, 2, 0, prior=nothing, rtol=1e-7)
    summary = kinetics.simulate(short, rtol=1e-8).summary
    for name, values in result.final.items():
        expected = getattr(summary, "yield_" if name == "yield" else name)
        assert values == pytest.approx(expected, rel=2e-5, abs=1e-9), name


def test_courses_count_what_was_added_until_then(short: Scenario) -> None:
    """As in a run, the conversion of a moment is of what had been charged and added by then; before that it has none."""
    later = short.with_changes(
        {
            "charge.cinnamaldehyde": "0 g",
            "addition": [{"at": "5 min", "over": "10 min", "cinnamaldehyde": "1.2 g"}],
        }
    )
    names = prior_of(later, SHELF, Mechanisms()).names
    nothing = Prior(names, np.zeros(len(names)), np.zeros((len(names), len(names))))
    run = kinetics.simulate(later, rtol=1e-8)
    times, expected = run.series.time_s, run.series.conversion
    assert expected is not None
    drawn = run_ensemble(later, 2, 0, prior=nothing, rtol=1e-7, times=times)
    started = ~np.isnan(expected)
    assert 0 < started.sum() < len(times)
    assert drawn.courses["conversion"][started, 0] == pytest.approx(expected[started], abs=2e-5)
    band = bands_of(drawn).courses["conversion"]["p50"]
    assert band[0] is None and band[-1] == pytest.approx(expected[-1], abs=2e-5)
