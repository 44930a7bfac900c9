"""Reading measurements: what is accepted in which unit, and every fault of a file named with its row."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kinetics.analysis.measurements import Measurements, MeasurementsError, read_measurements
from kinetics.run.reading import read_scenario
from kinetics.run.scenario import Scenario

REPOSITORY = Path(__file__).parents[2]
DEMONSTRATION = REPOSITORY / "tests" / "analysis" / "data" / "invented_samples.csv"
HEAD = "time [h],quantity,value,unit,sd\n"
Read = Callable[..., Measurements]


@pytest.fixture(scope="module")
def school() -> Scenario:
    return read_scenario(REPOSITORY / "scenarios" / "perfume_school.toml")


@pytest.fixture
def read(tmp_path: Path, school: Scenario) -> Read:
    """Read a text as a file of measurements of the perfume school's run, or of others."""

    def reading(text: str | bytes, *scenarios: Scenario) -> Measurements:
        path = tmp_path / "samples.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return read_measurements(path, scenarios or [school])

    return reading


def faults(read: Read, text: str | bytes, *scenarios: Scenario) -> list[str]:
    with pytest.raises(MeasurementsError) as caught:
        read(text, *scenarios)
    return [str(fault) for fault in caught.value.faults]


def test_the_demonstration_is_read(school: Scenario) -> None:
    found = read_measurements(DEMONSTRATION, [school])
    assert len(found.items) == 9 and found.notes == ()
    first = found.items[0]
    assert (first.row, first.asked.quantity, first.value, first.sd) == (3, "conversion", 0.54, 0.02)
    assert first.asked.time_s == pytest.approx(0.70 * 3600.0)
    assert found.sha256 == hashlib.sha256(DEMONSTRATION.read_bytes()).hexdigest()
    pH = next(item for item in found.items if item.asked.quantity == "pH")
    assert pH.asked.details.temperature_K == pytest.approx(298.15)
    trap = next(item for item in found.items if item.asked.quantity == "byproduct in trap")
    assert (trap.value, trap.sd) == (pytest.approx(1.1e-3), pytest.approx(1e-4))


def test_units_come_out_in_house_units(read: Read) -> None:
    text = (
        "hold_time_min,quantity,value,unit,sd\n30,yield,45,%,2\n30,oil mass,120,mg,10\n"
        "30,byproduct in trap,44.05,mg,4.405\n"
    )
    found = read(text).items
    assert [item.asked.time_s for item in found] == [25 * 60 + 1800.0] * 3  # after a ramp of 25 min
    assert (found[0].value, found[0].sd) == (pytest.approx(0.45), pytest.approx(0.02))
    assert (found[1].value, found[1].sd) == (pytest.approx(0.12), pytest.approx(0.01))
    assert found[2].value == pytest.approx(1e-3, rel=1e-3)  # acetaldehyde, 44.05 g/mol
    assert found[2].sd == pytest.approx(1e-4, rel=1e-3)


def test_semicolons_byte_order_mark_and_decimal_commas_are_understood_and_told(read: Read) -> None:
    text = "\ufefftime (h);quantity;value;sd\r\n1,5;conversion;0,66;0,02\r\n2;conversion;0.68;0.02\r\n"
    found = read(text.encode("utf-8"))
    assert [item.value for item in found.items] == [0.66, 0.68]
    assert found.items[0].asked.time_s == 5400.0
    assert any("decimal commas" in note and "row 2" in note and "3" not in note for note in found.notes)


def test_a_missing_standard_deviation_is_assumed_and_told(read: Read) -> None:
    found = read("time [h],quantity,value,response factor\n1,conversion,0.6,\n1,area ratio,2.0,1.1\n")
    assert [item.sd for item in found.items] == [0.02, pytest.approx(0.1)]
    assert all(item.assumed_sd for item in found.items)
    assert any("conversion" in note and "0.02" in note for note in found.notes)


def test_comments_and_blank_lines_are_skipped_and_rows_keep_their_number(read: Read) -> None:
    found = read("# invented\n\ntime [h],quantity,value\n# another\n1,conversion,0.6\n,,\n")
    assert [item.row for item in found.items] == [5]


def test_samples_that_agree_are_told_apart_by_their_name(read: Read) -> None:
    found = read("time [h],quantity,value,sample\n1,conversion,0.6,a\n1,conversion,0.6,b\n")
    assert len(found.items) == 2


def test_runs_are_found_by_title_file_or_option(read: Read, school: Scenario) -> None:
    common = read_scenario(REPOSITORY / "scenarios" / "common_practice.toml")
    text = (
        "time [h],run,quantity,value\n1,perfume_school,conversion,0.6\n1,common_practice,conversion,0.6\n"
        "1,coolant at 45 degC,conversion,0.7\n2,perfume_school,conversion,0.65\n"
    )
    found = read(text, school, common)
    assert [item.asked.run for item in found.items] == [0, 1, 2, 0]
    assert found.scenarios[2].condenser.coolant_K == pytest.approx(318.15)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("1,conversoin,0.6,,", ["row 2, quantity", 'Did you mean "conversion"?']),
        ("1,conversion,0.6,g,", ["row 2, unit", '"g"']),
        ("1,oil mass,0.6,min,", ["row 2, unit", "such as"]),
        ("1,oil mass,0.6,,", ["row 2, unit", "nothing"]),
        ("1,yield,50,percent,", ["row 2, unit", "or %"]),
        ("-1,conversion,0.6,,", ["row 2, time", "from zero on"]),
        ("9,conversion,0.6,,", ["row 2, time", "8.917 h"]),
        ("1,conversion,70,,", ["row 2, value", "write % in a column `unit`, or 0.7"]),
        ("1,conversion,130,%,", ["row 2, value", "0 to 1"]),
        ("1,oil mass,-3,g,", ["row 2, value"]),
        ("1,conversion,NaN,,", ["row 2, value", "finite"]),
        ("1,conversion,inf,,", ["row 2, value", "finite"]),
        ("1,conversion,1_0,,", ["row 2, value", "1_0"]),
        ("1,oil mass,1e308,kg,", ["row 2, value"]),
        ("1e308,conversion,0.5,,", ["row 2, time"]),
        ("1,conversion,,,", ["row 2, value", "nothing"]),
        ("1,conversion,much,,", ["row 2, value", '"much"']),
        ('1,conversion,"0,7",,', ["row 2, value", "Write 0.7"]),
        ("1,conversion,0,7,,", ["row 2:", "5 cells", "6", "decimal comma"]),
        ("1,conversion,0.6,,0", ["row 2, sd", "above zero"]),
        ("1,conversion,0.6,,-0.1", ["row 2, sd", "above zero"]),
        ("1,pH,11.2,,", ["row 2, temperature", "degC"]),
        ("1,area ratio,2,,", ["row 2, response factor"]),
        ("1,conversion,0.6,,\n1,conversion,0.6,,", ["row 3:", "row 2", "sample"]),
        ("", ["headings alone"]),
    ],
)
def test_one_fault_is_named_with_its_row(read: Read, rows: str, said: list[str]) -> None:
    found = faults(read, HEAD + rows + "\n")
    assert len(found) == 1, found
    for words in said:
        assert words in found[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "an empty file"),
        ("\n\n# nothing\n", "an empty file"),
        ("time [h],quantity\n1,conversion\n", "a column value"),
        ("quantity,value\nconversion,0.6\n", "one column of times"),
        ("time [h],hold time [h],quantity,value\n1,1,conversion,0.6\n", "one column of times"),
        ("time,quantity,value\n1,conversion,0.6\n", "a unit of time"),
        ("time [mL],quantity,value\n1,conversion,0.6\n", "a unit of time"),
        ("time [h],quantity,value,value\n1,conversion,0.6,1\n", "one column value"),
        ("time [h],quantty,value,quantity\n1,conversion,0.6,\n", 'Did you mean "quantity"?'),
        (b"time [h],quantity,value\n1,conversion \xff,0.6\n", "UTF-8"),
    ],
)
def test_a_fault_of_the_whole_file_is_said(read: Read, text: str | bytes, said: str) -> None:
    assert any(said in fault for fault in faults(read, text))


def test_all_faults_come_at_once(read: Read) -> None:
    rows = "x,conversion,0.6,,\n1,conversion,70,,\n1,pHH,11,,\n99,oil mass,1,s,-1\n"
    found = faults(read, HEAD + rows)
    assert [fault.split(",")[0].split(":")[0] for fault in found] == [
        "row 2",
        "row 3",
        "row 4",
        *["row 5"] * 3,
    ]


def test_which_run_must_be_said_where_there_are_several(read: Read, school: Scenario) -> None:
    common = read_scenario(REPOSITORY / "scenarios" / "common_practice.toml")
    text = "time [h],quantity,value,run\n1,conversion,0.6,\n1,conversion,0.6,perfum_school\n"
    first, second = faults(read, text, school, common)
    assert "row 2, run" in first and "common_practice" in first
    assert 'Did you mean "perfume_school"?' in second


def test_a_file_that_is_not_there_is_refused(tmp_path: Path, school: Scenario) -> None:
    with pytest.raises(MeasurementsError, match="can be read"):
        read_measurements(tmp_path / "none.csv", [school])


CELLS = st.one_of(
    st.sampled_from(
        ["1", "-1", "0,5", "NaN", "1e308", "conversion", "pH", "oil mass", "%", "g", "mL", '"', "", "\x00"]
    ),
    st.text(max_size=8),
)
LINES = st.lists(st.lists(CELLS, min_size=1, max_size=8), max_size=5)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=LINES, separator=st.sampled_from(",;\t"), header=st.booleans())
def test_whatever_the_file_holds_it_is_read_or_refused(
    read: Read, lines, separator: str, header: bool
) -> None:
    """No text raises anything but the error that names its rows."""
    first = ["time [h]", "quantity", "value", "unit", "sd", "temperature [degC]"]
    rows = [separator.join(cells) for cells in ([first, *lines] if header else lines)]
    try:
        found = read("\n".join(rows).encode("utf-8", "surrogatepass"))
    except MeasurementsError as error:
        assert error.faults and all(str(fault) for fault in error.faults)
    else:
        assert all(item.sd > 0.0 and abs(item.value) < float("inf") for item in found.items)


@pytest.mark.parametrize(
    ("head", "row", "said"),
    [
        ("temperature [degC]", "1,pH,10,150", ["row 2, temperature", "0 to 120 degC", "150 degC"]),
        ("temperature [degC]", "1,pH,10,warm", ["row 2, temperature", '"warm"']),
        ("temperature [degC]", "1,pH,10,1e300", ["row 2, temperature", "0 to 120 degC"]),
        ("response factor", "1,area ratio,2,0", ["row 2, response factor", "above zero"]),
        ("response factor", "1,area ratio,2,large", ["row 2, response factor", '"large"']),
    ],
)
def test_what_a_ph_or_an_area_ratio_needs_is_a_sound_number(read: Read, head: str, row: str, said: list[str]) -> None:
    (found,) = faults(read, f"time [h],quantity,value,{head}\n{row}\n")
    for words in said:
        assert words in found


def test_a_cell_too_long_for_a_table_is_a_fault_of_its_row(read: Read) -> None:
    (found,) = faults(read, f"time [h],quantity,value\n1,conversion,{'9' * 200000}\n")
    assert found.startswith("row 2")


def test_a_run_without_a_file_is_known_by_its_title(read: Read, batch: Callable[..., Scenario]) -> None:
    alone = batch({"water": "100 mL", "cinnamaldehyde": "1 g", "sodium carbonate": "1 g"}, heating={"hold": "2 h"})
    found = read("time [h],run,quantity,value\n1,a test,conversion,0.6\n", alone)
    assert found.scenarios == (alone,)
