"""Spoiled scenario files: whatever is in them, they read or are refused, and nothing else happens."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from kinetics.data.faults import ScenarioError
from kinetics.run.reading import parse_scenario
from kinetics.run.scenario import Scenario
from kinetics.run.template import starting_scenario

TEXTS = [
    starting_scenario(),
    *(path.read_text(encoding="utf-8") for path in sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))),
]
LINES = sorted({line for text in TEXTS for line in text.splitlines() if line and not line.startswith("#")})
VALUES = [
    *('"0 g"', '"-1 g"', '"1e308 kg"', '"nan"', '""', '"boil"', '"5"', '"5 K"', '"1 1/s"', '"200 degC"'),
    *("0", "-1", "nan", "inf", "1e400", "9" * 400, "true", "[]", "[[]]", "{}", "1979-05-27", "07:32:00"),
    *('{amount = "1 g"}', '{amount = {amount = "1 g"}}', '[{name = "x"}]', '[{at = "1 h", water = "1 L"}]'),
]
KEYS = [
    *("title", "substrate", "charge", "heating", "vessel", "condenser", "addition", "option", "charge.water"),
    *("heating.hold", "heating.temperature", "heating.pressure", "heating.drops", "vessel.k_La", "vessel.closed"),
    *("condenser.take_off", "condenser.coolant", 'charge."baked sodium bicarbonate"', '""', '"a.b"', "name", "x.y.z"),
]


def reads_or_is_refused(text: str) -> Scenario | None:
    try:
        scenario = parse_scenario(text)
    except ScenarioError as error:
        assert error.faults
        for fault in error.faults:
            assert fault.expected and fault.came
            assert str(fault).isprintable()
        return None
    return scenario


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_spoiled_lines(data: st.DataObject) -> None:
    lines = data.draw(st.sampled_from(TEXTS)).splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["drop", "other", "value", "key", "character"])):
            case "drop":
                lines[place] = ""
            case "other":
                lines[place] = data.draw(st.sampled_from(LINES))
            case "value":
                lines[place] = lines[place].split("=")[0] + "= " + data.draw(st.sampled_from(VALUES))
            case "key":
                lines[place] = f"{data.draw(st.sampled_from(KEYS))} = {data.draw(st.sampled_from(VALUES))}"
            case "character":
                cut = data.draw(st.integers(0, len(lines[place])))
                lines[place] = lines[place][:cut] + data.draw(st.characters()) + lines[place][cut + 1 :]
    reads_or_is_refused("\n".join(lines))


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(KEYS), st.sampled_from(VALUES), st.sampled_from(KEYS), st.sampled_from(VALUES))
def test_spoiled_values(key: str, value: str, other_key: str, other_value: str) -> None:
    reads_or_is_refused(f"{key} = {value}\n{other_key} = {other_value}\n{TEXTS[0]}")


WHOLE = parse_scenario(TEXTS[0])
ANY_VALUE = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.sampled_from(["5 h", "1 g"])
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=2), st.dictionaries(st.text(max_size=6), inner, max_size=2)),
    max_leaves=4,
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.one_of(st.sampled_from(KEYS), st.text(max_size=12)), ANY_VALUE, max_size=3))
def test_spoiled_changes(changes: dict[str, object]) -> None:
    try:
        changed = WHOLE.with_changes(changes)
    except ScenarioError as error:
        assert error.faults
    else:
        assert changed.heating.hold_s > 0
