"""Tables of a scenario that are refused or assumed whole: options, work-up, feeds; and what a key holds as written."""

from __future__ import annotations

import pytest
from test_reading_faults import SOUND

from kinetics.data.faults import ScenarioError
from kinetics.data.shelf import Shelf
from kinetics.run.reading import parse_scenario, written_value
from kinetics.run.reading_around import check_refraction
from kinetics.run.reading_tables import Findings
from kinetics.run.scenario import Feed


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("option = [3]", "option.1: expected a table; came the bare number 3"),
        ("option = 3", "option: expected a list of tables; came the bare number 3"),
        ("workup.steam = false\nworkup.recovered = 0.9", "workup.recovered: expected nothing, there being no steam"),
        (
            'workup.steam = false\nworkup.distillate = "30 mL"',
            "workup.distillate: expected nothing, there being no steam",
        ),
    ],
)
def test_a_table_is_refused(more: str, said: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(SOUND + more)
    assert said in str(caught.value)


def test_a_refractive_index_of_an_aldehyde_without_its_own_is_refused(shelf: Shelf) -> None:
    """As a substrate file of one's own may have it; those of the shelf all have theirs."""
    findings = Findings()
    check_refraction(Feed(refractive_index=1.48, beside="benzaldehyde"), "an aldehyde", shelf, findings)
    (fault,) = findings.faults
    assert fault.key == "feed.refractive_index"
    assert "that of pure an aldehyde not being on the shelf" in fault.expected


def test_what_a_key_holds_as_written_or_by_default() -> None:
    untitled = parse_scenario(SOUND.replace('title = "invented"', ""))
    assert written_value(untitled, "title") == untitled.title
    assert written_value(untitled, "heating.hold") == "8 h"
    assert written_value(untitled, "charge.benzaldehyde") is None


def test_what_is_assumed_twice_is_told_once() -> None:
    findings = Findings()
    for sentence in ("the hold", "the ramp", "the hold"):
        findings.assume(sentence)
    assert findings.assumed == ["the hold", "the ramp"]
