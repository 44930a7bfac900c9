"""What the tests of the physics share: batches written in a line, mechanisms one at a time, the equations of
a flask."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest

from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.balance import Balance
from kinetics.flask.mechanisms import SWITCHES, Mechanisms
from kinetics.flask.network import Network
from kinetics.run.integrate import integrate
from kinetics.run.reading import read_document
from kinetics.run.scenario import Scenario

HEATING = {"ramp": "0 min", "hold": "1 h", "cooling": "0 min", "altitude": "0 m", "temperature": "boil"}
CONDENSER = {"coolant": "15 degC", "approach": "5 K", "air_exchange": "10 mL/min"}


@pytest.fixture(scope="session")
def shelf() -> Shelf:
    return load_shelf()


@pytest.fixture(scope="session")
def batch() -> Callable[..., Scenario]:
    """batch(charge, substrate, heating=..., vessel=..., condenser=..., addition=...): held at once, for one
    hour."""

    def write(
        charge: Mapping[str, Any],
        substrate: str = "cinnamaldehyde",
        heating: Mapping[str, Any] | None = None,
        vessel: Mapping[str, Any] | None = None,
        condenser: Mapping[str, Any] | None = None,
        addition: Sequence[Mapping[str, Any]] = (),
    ) -> Scenario:
        document = {
            "title": "a test",
            "substrate": substrate,
            "charge": dict(charge),
            "heating": HEATING | dict(heating or {}),
            "vessel": {"stirring": "gentle"} | dict(vessel or {}),
            "condenser": CONDENSER | dict(condenser or {}),
            "addition": [dict(a) for a in addition],
        }
        if document["vessel"].get("closed"):
            document["condenser"].pop("air_exchange")
        if "k_La" in document["vessel"]:
            document["vessel"].pop("stirring")
        return read_document(document)

    return write


@pytest.fixture(scope="session")
def only() -> Callable[..., Mechanisms]:
    """only("self_aldol", ...): these mechanisms and no other; the cleavage itself has no switch."""

    def switch_on(*names: str, activity: Any = "pitzer") -> Mechanisms:
        unknown = set(names) - set(SWITCHES)
        assert not unknown, unknown
        names = (*names, "hydroxide_shortage")  # without it the steps go as in 1 mol/L of hydroxide
        return Mechanisms(**{name: name in names for name in SWITCHES}, activity=activity)

    return switch_on


@pytest.fixture(scope="session")
def without() -> Callable[..., Mechanisms]:
    """without("self_aldol", ...): all mechanisms but these."""

    def switch_off(*names: str) -> Mechanisms:
        return replace(Mechanisms(), **dict.fromkeys(names, False))

    return switch_off


@dataclass
class Flask:
    """The balance equations of one stretch of a programme, with a state to put into them."""

    balance: Balance
    network: Network
    charged: dict[str, float]

    def state(self, oil: Mapping[str, float] | None = None, **more: float) -> list[float]:
        """A state vector [mol]: as charged, all of it in the water but for `oil`."""
        network, oil = self.network, oil or {}
        amounts = self.charged | more
        oils = [oil.get(network.species[i], 0.0) for i in network.oils]
        rest = 2 * (len(network.volatiles) + 1) + 1
        return [amounts.get(name, 0.0) for name in network.species] + oils + [0.0] * rest

    def rates(self, y: Sequence[float]) -> dict[str, dict[str, float]]:
        """The right-hand side by name: flask, oil, vent, taken, and the oxygen drawn [mol/s]."""
        network = self.network
        left = [*(network.species[i] for i in network.volatiles), "water"]
        names = [
            *(("flask", name) for name in network.species),
            *(("oil", network.species[i]) for i in network.oils),
            *(("vent", name) for name in left),
            *(("taken", name) for name in left),
            ("oxygen", "drawn"),
        ]
        result: dict[str, dict[str, float]] = {
            kind: {} for kind in ("flask", "oil", "vent", "taken", "oxygen")
        }
        for (kind, name), rate in zip(names, self.balance.rhs(self.balance.segment.start_s, y), strict=True):
            result[kind][name] = rate
        return result


@pytest.fixture(scope="session")
def flask() -> Callable[..., Flask]:
    """flask(scenario, mechanisms, shelf, segment): the equations of that segment of the programme."""

    def build(
        scenario: Scenario, mechanisms: Mechanisms | None = None, shelf: Shelf | None = None, segment: int = 0
    ) -> Flask:
        trajectory = integrate(scenario, shelf, mechanisms, times=())
        assert trajectory.failure is None
        wanted = trajectory.segments[segment]
        balance = next(b for b in trajectory.balances if b.segment is wanted)
        return Flask(balance, trajectory.network, trajectory.initial)

    return build


@pytest.fixture(scope="session")
def sodium_as_potassium(shelf: Shelf) -> Shelf:
    """A shelf on which the two alkali metals are one: potassium has sodium's parameters, and none with it."""
    records = dict(shelf.records)
    for name, record in shelf.records.items():
        if not name.startswith("pitzer."):
            continue
        if "sodium" in name and "potassium" in name:
            records[name] = replace(record, coefficients=(0.0,))
        elif "potassium" in name:
            records[name] = replace(shelf.records[name.replace("potassium", "sodium")], name=name)
    for name, record in shelf.records.items():  # triples of sodium that potassium has not
        twin = name.replace("sodium", "potassium")
        if name.startswith("pitzer.psi.sodium") and "potassium" not in name and twin not in records:
            records[twin] = replace(record, name=twin)
    return replace(shelf, records=records)
