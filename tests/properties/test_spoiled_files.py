"""A few hundred spoiled files for each reader; `python -m tests.properties.campaign` goes on for as long as one likes."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from mutations import KINDS, SCHOOL, reader_of, spoiled, verdict
from strategies import TIMES_AS_MANY

from kinetics.data.faults import ScenarioError

COUNT = {"scenario": 150, "measurements": 300, "calibration": 300}


@pytest.mark.parametrize("kind", KINDS)
def test_a_spoiled_file_is_read_or_refused_at_a_place(kind: str, tmp_path: Path) -> None:
    """No exception but RefusedInput, each fault at a key, a row or a line, nothing above two seconds."""
    sound, read = reader_of(kind, tmp_path)
    for text in sound:
        assert verdict(text, read) == "read"
    chance = random.Random(f"suite {kind}")
    outcomes = set()
    for _ in range(COUNT[kind] * TIMES_AS_MANY):
        text = spoiled(chance.choice(sound), sound, chance)
        outcome = verdict(text, read)
        assert outcome in ("read", "refused"), f"{outcome}\n{text!r}"
        outcomes.add(outcome)
    assert outcomes == {"read", "refused"}


@pytest.mark.parametrize("key", ["heating.hold", "heating.start", "charge.water", "condenser.approach"])
def test_a_unit_to_the_power_of_nothing_is_refused(key: str) -> None:
    """Found by the campaign: the unit library answers "h0" with a KeyError of its own."""
    unit = {"heating.hold": "h0", "heating.start": "degC0", "charge.water": "L0", "condenser.approach": "K0"}[key]
    with pytest.raises(ScenarioError, match=key):
        SCHOOL.with_changes({key: f"2 {unit}"})
