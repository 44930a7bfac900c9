"""Running a document, and what every run owes: an end or a sentence, balances that close, nothing negative."""

from __future__ import annotations

import re
import warnings
from math import isfinite
from typing import Any

import numpy as np
import pytest

import kinetics
from kinetics.data.shelf import load_shelf
from kinetics.run.integrate import ATOL
from kinetics.run.reading import read_document
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

NEGATIVE = 10.0 * ATOL  # of the organics charged: ten times the absolute tolerance asked of each step
CLOSED = 1e-9
SAME = 1e-6


def organics_of(scenario: Scenario) -> float:
    """Moles of organic species charged and added."""
    names = load_shelf().substrate(scenario.substrate).species
    charges = [*scenario.charges, *(c for addition in scenario.additions for c in addition.charges)]
    return sum(n for charge in charges for name, n in charge.components_mol.items() if name in names)


def simulated(document: dict[str, Any], **settings: Any) -> tuple[Scenario, Run]:
    """The run of a document, every warning an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        scenario = read_document(document)
        return scenario, kinetics.simulate(scenario, **settings)


def assert_told(run: Run) -> None:
    """A failure is a sentence with the time reached, and what was computed until then ends there or before."""
    assert run.failure is not None
    said = str(run.failure)
    assert re.search(r"\(.*at [\d.e+-]+ h, (heating|hold|cooling)\)$", said), said
    assert isfinite(run.failure.reached_s) and run.series.time_s[-1] <= run.failure.reached_s
    assert any(said in notice for notice in run.notices)
    assert run.to_json()["status"] == said


def assert_complete(scenario: Scenario, run: Run) -> None:
    """The programme was run to its end."""
    heating = scenario.heating
    assert run.failure is None
    assert run.series.time_s[-1] == pytest.approx(heating.ramp_s + heating.hold_s + heating.cooling_s, rel=1e-9)


def assert_adds_up(scenario: Scenario, run: Run) -> None:
    """C, H, O and charge close to 1e-9; nothing is negative; there is no more of a species in the oil than in the flask."""
    closure = run.closure
    assert max(closure.carbon, closure.hydrogen, closure.oxygen, closure.charge) <= CLOSED
    assert run.trajectory is not None
    states, network = np.array(run.trajectory.states), run.trajectory.network
    assert np.isfinite(states).all()
    organics = organics_of(scenario)
    assert states[:, : network.carbon].min() >= -NEGATIVE * organics
    assert states[:, network.carbon].min() >= -NEGATIVE * max(states[:, network.carbon].max(), 1e-9 * states[0, network.water])
    assert states[:, network.water].min() > 0.0
    oils = states[:, len(network.species) :][:, : len(network.oils)]
    assert oils.size == 0 or oils.min() >= -NEGATIVE * organics
    for k, i in enumerate(network.oils):
        assert (oils[:, k] <= states[:, i] + NEGATIVE * organics).all()
