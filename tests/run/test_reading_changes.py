"""Scenarios with some keys changed: options, rival readings, charges by any name, additions by number."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from kinetics.data.faults import ScenarioError
from kinetics.run.reading import parse_scenario
from kinetics.run.reading_changes import flattened, join_key, split_key
from kinetics.run.scenario import Scenario

BASE = """
title = "invented"
substrate = "cinnamaldehyde"
charge.water = "400 mL"
charge.cinnamaldehyde = {amount = "1.8 g", purity = 0.5}
charge."sodium carbonate" = "4 g"
heating.hold = "8 h"
heating.boil_up = "2 mL/min"
heating.altitude = "0 m"
vessel.stirring = "gentle"
[[addition]]
at = "2 h"
water = "50 mL"
[[option]]
name = "twice the carbonate"
charge."sodium carbonate" = "8 g"
heating.hold = "5 h"
[[option]]
name = "counted drops"
heating.drops = "20 1/min"
[[option]]
name = "purer"
charge.cinnamaldehyde.purity = 1.0
"""


@pytest.fixture(scope="module")
def base() -> Scenario:
    return parse_scenario(BASE)


def test_change_gives_another_scenario_and_leaves_the_first(base: Scenario) -> None:
    longer = base.with_changes({"heating.hold": "10 h"})
    assert (base.heating.hold_s, longer.heating.hold_s) == (28800, 36000)
    assert base.document["heating"]["hold"] == "8 h"  # type: ignore[index]
    assert longer.with_changes({"heating.hold": "8 h"}) == base
    assert longer.options == base.options


def test_change_equals_the_file_written_that_way(base: Scenario) -> None:
    changes = {"charge.sodium carbonate": "8 g", "heating.temperature": "80 degC", "vessel.closed": True}
    text = BASE.replace('"4 g"', '"8 g"').replace(
        'heating.hold = "8 h"', 'heating.hold = "8 h"\nheating.temperature = "80 degC"\nvessel.closed = true'
    )
    assert base.with_changes(changes) == parse_scenario(text)


def test_options_by_name(base: Scenario) -> None:
    assert [option.name for option in base.options] == ["twice the carbonate", "counted drops", "purer"]
    assert base.options[0].changes == {"charge.sodium carbonate": "8 g", "heating.hold": "5 h"}
    twice = base.option("twice the carbonate")
    assert twice.charges[2].amount_mol == pytest.approx(2 * base.charges[2].amount_mol)
    assert twice.heating.hold_s == 18000
    assert base.option("purer").charges[1].amount_mol == pytest.approx(2 * base.charges[1].amount_mol)
    with pytest.raises(ScenarioError, match='Did you mean "counted drops"'):
        base.option("counted drop")


def test_a_rival_reading_takes_the_place_of_the_other(base: Scenario) -> None:
    dropped = base.option("counted drops")
    assert dropped.heating.boil_up_mol_per_s == pytest.approx(base.heating.boil_up_mol_per_s / 2)  # 1 mL/min
    assert base.with_changes({"heating.pressure": "90 kPa"}).heating.pressure_Pa == pytest.approx(90e3)
    assert base.with_changes({"vessel.k_La": "0.02 1/s"}).vessel.k_La_per_s == 0.02
    heated = base.with_changes({"heating.power": "100 W", "heating.losses": "40 W"})
    back = heated.with_changes({"heating.boil_up": "2 mL/min"})
    assert back.heating == base.heating
    assert heated.with_changes({"heating.losses": "100 W"}).heating.boil_up_mol_per_s == 0


def test_two_rivals_set_together_contradict_each_other(base: Scenario) -> None:
    with pytest.raises(ScenarioError, match="only one of"):
        base.with_changes({"heating.drops": "5 1/min", "heating.power": "100 W"})


def test_charges_by_any_name_and_by_part(base: Scenario) -> None:
    assert base.with_changes({"charge.soda ash": "8 g"}) == base.with_changes({'charge."sodium carbonate"': "8 g"})
    more = base.with_changes({"charge.cinnamaldehyde": "3.6 g"})
    assert (more.charges[1].purity, more.charges[1].text) == (0.5, "3.6 g")
    thinner = base.with_changes({"charge.sodium carbonate.purity": 0.25})
    assert thinner.charges[2].amount_mol == pytest.approx(base.charges[2].amount_mol / 4)
    pure = base.with_changes({"charge.cinnamaldehyde": {"amount": "1.8 g"}})
    assert pure.charges[1].purity == 1.0
    assert len(base.with_changes({"charge.benzaldehyde": "1 mmol"}).charges) == 4


def test_additions_by_number(base: Scenario) -> None:
    changed = base.with_changes({"addition.1.water": "100 mL", "addition.1.over": "1 h"})
    assert changed.additions[0].charges[0].amount_mol == pytest.approx(2 * base.additions[0].charges[0].amount_mol)
    assert changed.additions[0].over_s == 3600
    assert base.with_changes({"addition": []}).additions == ()
    for key in ("addition.2.water", "addition.0.water", "addition.x.water"):
        with pytest.raises(ScenarioError, match="the number of an addition, from 1 to 1"):
            base.with_changes({key: "1 mL"})
    dry = base.with_changes({"addition": []})
    with pytest.raises(ScenarioError, match="the scenario having none"):
        dry.with_changes({"addition.1.water": "1 mL"})


@pytest.mark.parametrize(
    ("key", "value", "came"),
    [
        ("heating.hld", "5 h", "an unknown key"),
        ("heatin.hold", "5 h", "an unknown key"),
        ("heating..hold", "5 h", "an unknown key"),
        ("", "5 h", "an unknown key"),
        ("heating.hold", 5, "the bare number 5"),
        ("heating.hold.amount", "5 h", "a table"),
        ("heating", "5 h", '"5 h"'),
        ("charge.cinnamaldehyd", "5 g", '"cinnamaldehyd"'),
        ("option.1.name", "x", "one of its options"),
    ],
)
def test_changes_are_checked(base: Scenario, key: str, value: object, came: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        base.with_changes({key: value})
    assert came in caught.value.faults[0].came


def test_value_of_a_key(base: Scenario) -> None:
    assert base.key_value("heating.hold") == "8 h"
    assert base.key_value("heating.ramp") == "25 min"
    assert base.key_value("vessel.closed") is False
    assert base.key_value("heating.pressure") is None
    assert base.key_value('charge."soda ash"') == "4 g"
    assert base.key_value("charge.cinnamaldehyde.purity") == 0.5
    assert base.key_value("charge.benzaldehyde") is None
    assert base.key_value("addition.1.water") == "50 mL"
    assert base.key_value("title") == "invented"
    value = base.key_value("charge.cinnamaldehyde")
    value["purity"] = 0.1  # type: ignore[index]
    assert base.key_value("charge.cinnamaldehyde.purity") == 0.5
    for key in ("heating.hld", "charge.cinnamaldehyd", "hold", "addition.2.water"):
        with pytest.raises(ScenarioError):
            base.key_value(key)


def test_dotted_keys() -> None:
    assert split_key('charge."a.b".amount') == ("charge", "a.b", "amount")
    assert split_key("charge.sodium carbonate") == ("charge", "sodium carbonate")
    assert join_key("charge", "a.b") == 'charge."a.b"'
    assert flattened({"a": {"b": 1, "c.d": {"e": 2}}, "f": []}) == {"a.b": 1, 'a."c.d".e': 2, "f": []}


def test_a_scenario_travels_to_another_process(base: Scenario) -> None:
    again = pickle.loads(pickle.dumps(base))
    assert again == base
    assert again.with_changes({"heating.hold": "5 h"}).heating.hold_s == 18000


def test_path_stays(tmp_path: Path) -> None:
    path = tmp_path / "batch.toml"
    path.write_text(BASE, encoding="utf-8")
    from kinetics.run.reading import read_scenario

    assert read_scenario(path).with_changes({"heating.hold": "5 h"}).path == path
