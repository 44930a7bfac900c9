"""Runs that the figures are tried on."""

from pathlib import Path

import pytest

import kinetics
from kinetics.run.result import Run

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


def run_of(name: str) -> Run:
    return kinetics.simulate(kinetics.read_scenario(SCENARIOS / f"{name}.toml"))


@pytest.fixture(scope="session")
def reflux() -> Run:
    """Three stages, two liquids, losses, every kind of by-product."""
    return run_of("common_practice")


@pytest.fixture(scope="session")
def prenal() -> Run:
    """Both fragments leave."""
    return run_of("prenal")


@pytest.fixture(scope="session")
def diacetone() -> Run:
    """Product and by-product are one species; no heat-up, no cool-down, nothing leaves."""
    return run_of("diacetone_alcohol")


@pytest.fixture(scope="session")
def fed() -> Run:
    """More substrate is added after an hour."""
    scenario = kinetics.read_scenario(SCENARIOS / "diacetone_alcohol.toml")
    later = {"addition": [{"at": "1 h", "over": "30 min", "diacetone alcohol": "5 g"}]}
    return kinetics.simulate(scenario.with_changes(later))


@pytest.fixture(scope="session")
def blank() -> Run:
    """Water and carbonate, no aldehyde."""
    scenario = kinetics.read_scenario(SCENARIOS / "common_practice.toml")
    return kinetics.simulate(scenario.with_changes({"charge.cinnamaldehyde": "0 g"}))
