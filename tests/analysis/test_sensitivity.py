"""Sobol indices: published values of a test function, a linear model in closed form, and the choice of what to look at."""

import json
import re
from types import SimpleNamespace

import numpy as np
import pytest

import kinetics
from kinetics.analysis import sensitivity as module
from kinetics.analysis.ensemble import Prior
from kinetics.analysis.sensitivity import design, foremost, hours_to, indices, sensitivity, words_of
from kinetics.command_line.main import main
from kinetics.data.shelf import Shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.integrate import NumericalFailure


def test_ishigami_function() -> None:
    """f = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, x uniform on (-pi, pi): first-order 0.3139, 0.4424, 0; total 0.5576,
    0.4424, 0.2437 (T. Ishigami, T. Homma, ISUMA 1990; values as in the closed form of its variances)."""
    from scipy.stats import qmc

    n = 4096
    points = np.pi * (2.0 * qmc.Sobol(6, rng=np.random.default_rng(1)).random(n).T - 1.0)
    A, B = points[:3], points[3:]

    def f(x: np.ndarray) -> np.ndarray:
        return (np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0]))[None]

    mixed = []
    for i in range(3):
        AB = A.copy()
        AB[i] = B[i]
        mixed.append(f(AB))
    first, first_error, total, total_error = indices(f(A), f(B), np.array(mixed), 0)
    assert first[0] == pytest.approx([0.3139, 0.4424, 0.0], abs=0.02)
    assert total[0] == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.02)
    assert ((first_error > 0.0) & (first_error < 0.1)).all() and ((total_error > 0.0) & (total_error < 0.1)).all()


def test_a_linear_model_gives_back_its_weights(monkeypatch: pytest.MonkeyPatch) -> None:
    """Conversion 0.5 + sum w_i z_i: first-order = total = w_i^2 / sum w^2; what has no weight is left out."""
    weights = np.array([0.0, 0.08, 0.0, 0.04, 0.0, 0.02])
    names = ("a", "apparatus.air_exchange", "b", "carbonic.pK2", "c", "apparatus.approach")

    def linear(task, workers, executor=None, progress=None):  # type: ignore[no-untyped-def]
        conversion = 0.5 + weights @ task.z
        return {}, {"conversion": conversion}, {}

    monkeypatch.setattr(module, "propagate", linear)
    scenario = kinetics.read_scenario("scenarios/common_practice.toml")
    prior = Prior(names, np.zeros(6), np.eye(6))
    found = sensitivity(scenario, 1024, 2, count=3, prior=prior, mechanisms=Mechanisms())
    influences = found.answers["conversion"]
    assert [i.name for i in influences] == ["apparatus.air_exchange", "carbonic.pK2", "apparatus.approach"]
    assert [i.measurable for i in influences] == [True, False, True]
    expected = np.array([64.0, 16.0, 4.0]) / 84.0
    assert [i.total for i in influences] == pytest.approx(expected, abs=0.02)
    assert [i.first for i in influences] == pytest.approx(expected, abs=0.05)
    assert found.covered["conversion"] == pytest.approx(1.0, abs=0.15)
    assert found.spread["conversion"][1] == pytest.approx(0.5, abs=0.02)


def test_the_design_changes_one_input_at_a_time_and_holds_the_rest() -> None:
    prior = Prior(tuple("abcd"), np.array([0.0, 0.0, 5.0, 0.0]), np.eye(4))
    A, B, AB_a, AB_d = np.split(design(prior, [0, 3], 16, 0), 4, axis=1)
    assert (np.hstack([A, B, AB_a, AB_d])[1:3] == np.array([[0.0], [5.0]])).all()
    assert (AB_a[0] == B[0]).all() and (AB_a[3] == A[3]).all()
    assert (AB_d[3] == B[3]).all() and (AB_d[0] == A[0]).all()
    assert (A[0] != B[0]).all()


def test_hours_to_a_target_are_interpolated_and_end_with_the_hold() -> None:
    times = np.array([0.0, 3600.0, 7200.0, 10800.0, 14400.0])  # hold from 1 h, 2 h long
    course = np.array([[0.0, 0.0, 0.0], [0.2, 0.6, 0.0], [0.4, 0.7, 0.1], [0.8, 0.9, np.nan], [0.9, 0.9, 0.9]])
    hours = hours_to(course, times, 0.5, 3600.0, 7200.0)
    assert hours[:2] == pytest.approx([1.25, 0.0])
    assert np.isnan(hours[2])
    assert hours_to(course[:, :1], times, 0.85, 3600.0, 7200.0) == pytest.approx([2.0])


def test_the_command_says_what_to_do(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    def by_air(task, workers, executor=None, progress=None):  # type: ignore[no-untyped-def]
        z = dict(zip(task.names, task.z))["apparatus.air_exchange"]
        course = np.linspace(0.0, 1.0, len(task.times))[:, None] * (0.7 + 0.05 * z)
        return {"conversion": course}, {"conversion": course[-1], "yield": 0.9 * course[-1]}, {}

    monkeypatch.setattr(module, "propagate", by_air)
    assert main(["sensitivity", "scenarios/common_practice.toml", "--samples", "64", "--target", "0.6"]) == 0
    out = capsys.readouterr().out
    said = re.search(r"Measure the air exchange of the condenser: it makes (\d+) % of the spread", " ".join(out.split()))
    assert said and 90 <= int(said.group(1)) <= 110
    assert max(map(len, out.splitlines())) <= 80
    assert main(["sensitivity", "scenarios/common_practice.toml", "--samples", "64", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found["answers"]) == {"conversion", "yield"}


@pytest.mark.parametrize("bad", [["--samples", "100"], ["--target", "1.5"], ["--seed", "x"]])
def test_bad_options_are_refused(bad: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sensitivity", "scenarios/common_practice.toml", *bad]) == 2
    assert "expected" in capsys.readouterr().err


def test_what_never_varies_or_never_came_chooses_nothing() -> None:
    """Three samples of two inputs: the second follows the answer; one answer is constant, of one every sample failed."""
    z = np.array([[0.0, 1.0, -1.0], [1.0, 2.0, 3.0]])
    ensemble = SimpleNamespace(prior=SimpleNamespace(names=("a", "b")), z=z)
    rising = np.array([0.1, 0.2, 0.3])
    assert foremost(ensemble, {"conversion": rising}, 1) == [1]
    same, lost = np.full(3, 0.5), np.full(3, np.nan)
    assert foremost(ensemble, {"yield": same, "conversion": rising, "target_h": lost}, 1) == [1]


def test_an_ensemble_that_fails_is_told_in_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(task, workers, executor=None, progress=None):  # type: ignore[no-untyped-def]
        lost = np.full(task.z.shape[1], np.nan)
        return {}, {"conversion": lost, "yield": lost}, dict.fromkeys(range(task.z.shape[1]), "stopped")

    monkeypatch.setattr(module, "propagate", failing)
    scenario = kinetics.read_scenario("scenarios/common_practice.toml")
    with pytest.raises(NumericalFailure, match=r"(\d+) of \1 samples failed: too many"):
        sensitivity(scenario, 8)
    monkeypatch.setattr(module, "propagate", lambda *_: ({}, {}, {}))
    with pytest.raises(NumericalFailure, match="no substrate is charged"):
        sensitivity(scenario, 8)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("apparatus.air_exchange", "the air exchange of the condenser"),
        ("charge.cinnamaldehyde", "how much cinnamaldehyde is really charged"),
    ],
)
def test_what_a_user_can_measure_is_named_in_words(name: str, words: str, shelf: Shelf) -> None:
    assert words_of(name, shelf) == words
