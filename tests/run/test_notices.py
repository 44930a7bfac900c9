"""Notices: what the reader must know is said once, and only where it applies."""

import pytest

import kinetics
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

BASE = kinetics.read_scenario("scenarios/common_practice.toml").with_changes({"heating.hold": "1 min"})


def run(scenario: Scenario) -> Run:
    return kinetics.simulate(scenario)


def test_each_notice_stands_once_and_estimates_are_named_with_their_spread() -> None:
    notices = run(BASE).notices
    assert len(notices) == len(set(notices))
    crossed = [n for n in notices if "crossed aldol.K" in n]
    assert len(crossed) == 1 and "factor 5" in crossed[0] and "estimate" in crossed[0]


def test_a_correlation_outside_its_range_is_named_with_value_range_and_source() -> None:
    (pK2,) = [n for n in run(BASE).notices if n.startswith("carbonic.pK2 used at")]
    assert "0 to 90 C" in pK2 and "Plummer" in pK2
    cool = run(BASE.with_changes({"heating.temperature": "80 degC"}))
    assert not [n for n in cool.notices if n.startswith("carbonic.pK2 used at")]


def test_ions_that_are_absent_are_not_talked_of() -> None:
    names = ("pitzer.potassium", "calcium hydroxide.", "pitzer.sodium_chloride", "_chloride")
    assert not [n for n in run(BASE).notices for name in names if name in n]
    potassium = run(BASE.with_changes({"charge.potassium carbonate": "1 g"}))
    assert [n for n in potassium.notices if "pitzer.potassium" in n]


def test_salt_beyond_saturation_and_strong_liquor_are_said() -> None:
    """21.8 g of sodium carbonate dissolve in 100 g of water at 20 C (handbook): 76 g in 350 g, not 100 g."""
    notices = run(BASE.with_changes({"charge.sodium carbonate": "100 g"})).notices
    assert [n for n in notices if n.startswith("cold, at 20 C, 100 g of water dissolve 21.8 g of sodium carbonate")]
    assert [n for n in notices if "mol/kg of alkali metal" in n]
    assert not [n for n in run(BASE).notices if "water dissolve" in n]


def test_cautions_stand_where_they_apply() -> None:
    open_flask, closed = run(BASE).cautions, run(BASE.with_changes({"vessel.closed": True})).cautions
    assert any("Acetaldehyde leaves with the vent gas" in c for c in open_flask)
    assert not any("calculation only" in c for c in open_flask)
    assert any("calculation only" in c for c in closed)
    assert any("1310.02" in c for c in open_flask)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"condenser.take_off": "0.2 mL/min", "condenser.make_up": True}, "The distillate drawn off holds acetaldehyde"),
        ({"condenser.sweep": "20 mL/min"}, "A trap must not suck back"),
        ({"hazard.trap_temperature": "2 degC"}, "A trap must not suck back"),
        ({"workup.recovered": 0.9}, "no stopper on a heated flask"),
        ({"workup.steam": False, "workup.pressure": "2 kPa"}, "no stopper on a heated flask"),
    ],
)
def test_cautions_of_what_the_scenario_adds(changes: dict[str, object], words: str) -> None:
    assert not any(words in c for c in run(BASE).cautions)
    assert sum(words in c for c in run(BASE.with_changes(changes)).cautions) == 1


def test_a_scenario_that_distils_nothing_has_no_caution_for_it() -> None:
    assert not any("no stopper" in c for c in run(BASE.with_changes({"workup.steam": False})).cautions)


def test_the_legal_notice_stands_once() -> None:
    for changes in ({}, {"vessel.closed": True}):
        assert sum("local codes" in c for c in run(BASE.with_changes(changes)).cautions) == 1
