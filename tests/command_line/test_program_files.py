"""`new`, `check`, `sources` and `completion`."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import kinetics
from kinetics.command_line.commands import all_commands

SHELF = kinetics.load_shelf()


# new


@pytest.mark.parametrize("substrate", [None, *SHELF.substrates(), "3-methyl-2-butenal"])
def test_new_writes_a_scenario_that_is_sound(call, workplace, substrate):
    arguments = [] if substrate is None else ["--substrate", substrate]
    assert call("new", "mine.toml", *arguments).status == 0
    scenario = kinetics.read_scenario("mine.toml")
    expected = SHELF.substrate(substrate or "cinnamaldehyde")
    assert scenario.substrate == expected.name
    assert expected.substrate in [charge.substance for charge in scenario.charges]
    assert call("check", "mine.toml").status == 0


def test_new_takes_a_substrate_file_seen_from_the_scenario(call, workplace):
    own = kinetics.__path__[0] + "/data/substrates/diacetone_alcohol.toml"
    text = Path(own).read_text(encoding="utf-8")
    (workplace / "own.toml").write_text(
        text.replace("diacetone alcohol", "invented ketol").replace('"4-h', '"4-i')
    )
    (workplace / "batches").mkdir()
    assert call("new", "batches/mine.toml", "--substrate", "own.toml").status == 0
    scenario = kinetics.read_scenario("batches/mine.toml")
    assert "invented ketol" in [charge.substance for charge in scenario.charges]


def test_new_for_another_substrate_says_for_which_it_was_made(call, workplace):
    call("new", "mine.toml", "--substrate", "prenal")
    assert "made for cinnamaldehyde" in (workplace / "mine.toml").read_text()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["there.toml"], "--force"),
        (["mine.txt"], ".toml"),
        (["nowhere/mine.toml"], "folder"),
        (["mine.toml", "--substrate", "cinamaldehyde"], "cinnamaldehyde"),
    ],
)
def test_new_refuses_and_writes_nothing(call, workplace, arguments, said, files_in):
    (workplace / "there.toml").write_text("kept")
    before = files_in(workplace)
    answer = call("new", *arguments)
    assert (answer.status, answer.out, answer.err.count("\n")) == (2, "", 1)
    assert said in answer.err
    assert files_in(workplace) == before
    assert (workplace / "there.toml").read_text() == "kept"


def test_new_with_force_writes_over(call, workplace):
    (workplace / "there.toml").write_text("old")
    assert call("new", "there.toml", "--force").status == 0
    assert kinetics.read_scenario("there.toml").charges


# check


def test_check_gives_what_was_read_in_gram_and_mol(call):
    """Molar masses from IUPAC's abridged atomic weights: Na2CO3 105.988, C9H8O 132.162 g/mol."""
    read = json.loads(call("check", "scenarios/perfume_school.toml", "--json").out)
    charge = {entry["substance"]: entry for entry in read["charge"]}
    assert read["faults"] == []
    assert charge["sodium carbonate"]["mass_g"] == pytest.approx(4.0, rel=1e-9)
    assert charge["sodium carbonate"]["amount_mol"] == pytest.approx(4.0 / 105.988, rel=1e-4)
    assert read["base_per_substrate"] == pytest.approx((4.0 / 105.988) / (1.5 / 132.162), rel=1e-4)
    assert read["boil_up_g_per_min"] == pytest.approx(2.5, rel=0.01)  # 2.5 mL/min of water
    assert read["settings"]["heating.altitude"] == "120 m"
    assert read["boils"] is True
    assert len(read["options"]) == 6


def test_check_tells_what_it_read_of_the_job_around_the_flask(call):
    """2 g of oil, four fifths aldehyde: 1.6 g."""
    text = Path("scenarios/perfume_school.toml").read_text(encoding="utf-8").replace('= "1.5 g"', '= "feed"')
    around = '[feed]\noil = "2 g"\naldehyde = 0.8\n[hazard]\nair = "600 m^3/h"\n[workup]\nsteam = false\npressure = "2 kPa"\n'
    Path("around.toml").write_text(text.replace("[heating]", around + "[heating]"), encoding="utf-8")
    words = " ".join(call("check", "around.toml").out.split())
    assert "1.60 g of cinnamaldehyde, taken as exact, in 2.00 g of oil, 80.0 % aldehyde" in words
    assert "hazard.air 600 m^3/h" in words and "workup.steam false" in words
    assert "No steam; saturate with salt; part at 20 degC" in words and "distil 85.0 % over at 2 kPa" in words
    read = json.loads(call("check", "around.toml", "--json").out)
    assert read["feed"]["aldehyde_g"] == pytest.approx(1.6, rel=1e-6)
    assert (read["workup"]["steam"], read["workup"]["pressure_Pa"]) == (False, 2000.0)


def test_check_counts_the_pure_part_and_what_was_baked(call):
    """4 g baked for nine tenths are n0 (0.9 x 105.988/2 + 0.1 x 84.006); n0 (0.45 + 0.1) of it is base."""
    read = json.loads(call("check", "scenarios/baked_bicarbonate.toml", "--json").out)
    charge = {entry["substance"]: entry for entry in read["charge"]}
    assert charge["cinnamaldehyde"]["mass_g"] == pytest.approx(1.8 * 0.82, rel=1e-9)
    assert charge["baked sodium bicarbonate"]["mass_g"] == pytest.approx(4.0, rel=1e-6)
    base = 4.0 / (0.9 * 105.988 / 2 + 0.1 * 84.006) * 0.55
    assert read["base_per_substrate"] == pytest.approx(base / (1.8 * 0.82 / 132.162), rel=1e-4)


def test_check_without_a_substrate_charged_has_no_ratio(call):
    assert json.loads(call("check", "scenarios/reverse.toml", "--json").out)["base_per_substrate"] is None
    assert re.search("base per cinnamaldehyde +no cinnamaldehyde charged", call("check", "scenarios/reverse.toml").out)


def test_check_tells_defaults_and_options(call):
    words = " ".join(call("check", "scenarios/perfume_school.toml").out.split())
    for text in kinetics.read_scenario("scenarios/perfume_school.toml").assumed:
        assert text in words
    assert "twice the carbonate: charge.sodium carbonate = 8 g" in words


def test_check_with_json_gives_the_faults_as_data(call, workplace):
    (workplace / "wrong.toml").write_text(
        'substrate = "cinnamaldehyde"\n[charge]\nwater = "1 s"\n[heating]\nhld = 1\n'
    )
    answer = call("check", "wrong.toml", "--json")
    faults = json.loads(answer.out)["faults"]
    assert answer.status == 2
    assert {"charge.water", "heating.hld"} <= {fault["key"] for fault in faults}
    assert all(fault["expected"] and fault["came"] for fault in faults)
    assert len(answer.err.splitlines()) == len(faults)


# sources


def test_sources_lists_every_constant_with_all_that_belongs_to_it(call):
    out = call("sources").out
    assert max(map(len, out.splitlines())) < 80
    group, entries = "", {}
    for line in out.splitlines():
        if line and not line.startswith(" "):
            group = line
        elif line.startswith("  ") and not line.startswith("   "):
            name = f"{group}.{line.strip().split(': ')[0]}"
            entries[name] = ""
        entries = entries if not entries else {**entries, name: f"{entries[name]} {line.strip()}"}
    assert list(entries) == list(SHELF.names())
    for name, text in entries.items():
        record = SHELF[name]
        uncertainty = f"a factor {record.factor:g}" if record.factor is not None else f"+- {record.sigma:g}"
        for part in (record.quantity, record.status, record.source, record.note):
            assert " ".join(part.split()) in text, name
        assert (uncertainty in text) or (record.sigma == 0.0 and "exact" in text), name
        assert record.unit == "1" or f" {record.unit}" in text, name
        assert ("no range of temperature" in text) is (record.valid_K is None), name


def test_sources_as_json_is_the_shelf(call):
    entries = json.loads(call("sources", "--json").out)["constants"]
    assert [entry["name"] for entry in entries] == list(SHELF.names())
    for entry in entries:
        record = SHELF[entry["name"]]
        assert (entry["unit"], entry["source"], entry["status"]) == (
            record.unit,
            record.source,
            record.status,
        )
        assert (entry["factor"] is None) != (entry["sigma"] is None)
        if record.form == "constant":
            assert entry["value"] == record.value
            assert entry["value_25_degC"] is entry["value_100_degC"] is None
        else:
            assert entry["value"] is None
            assert entry["value_25_degC"] == pytest.approx(float(record(298.15)))
            assert entry["value_100_degC"] == pytest.approx(float(record(373.15)))


@pytest.mark.parametrize("wanted", ["benzaldehyde", "PITZER", "reaction.prenal", "solubility"])
def test_sources_of_a_name_are_those_that_hold_it(call, wanted):
    names = [entry["name"] for entry in json.loads(call("sources", wanted, "--json").out)["constants"]]
    assert names == [name for name in SHELF.names() if wanted.lower() in name.lower()]
    assert names


def test_sources_know_another_name_of_a_substance(call):
    assert "prenal" in SHELF.substance("3-methyl-2-butenal").synonyms
    names = [entry["name"] for entry in json.loads(call("sources", "Prenal", "--json").out)["constants"]]
    assert {"3-methyl-2-butenal.solubility", "reaction.prenal.step.hydration.k"} <= set(names)


def test_sources_of_an_unknown_name_gives_the_nearest(call):
    answer = call("sources", "benzaldehide")
    assert (answer.status, answer.out, answer.err.count("\n")) == (2, "", 1)
    assert "benzaldehyde" in answer.err


# completion


def options_in_help(call, name):
    return set(re.findall(r"--[a-z-]+", call(name, "--help").out.split("example, from")[0]))


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_bash_completes_commands_and_options(call):
    script = call("completion", "bash").out

    def completed(*words):
        line = " ".join(f"'{word}'" for word in words)
        ask = f'COMP_WORDS=({line}); COMP_CWORD={len(words) - 1}; _retroaldol; echo "${{COMPREPLY[@]}}"'
        result = subprocess.run(
            ["bash", "-c", f"{script}\n{ask}"], capture_output=True, text=True, check=True
        )
        return set(result.stdout.split())

    names = {command.name for command in all_commands()}
    assert completed("retroaldol", "") == names | {"--help", "--version"}
    assert completed("retroaldol", "sou") == {"sources"}
    for name in names:
        assert completed("retroaldol", name, "--") == options_in_help(call, name)
    assert completed("retroaldol", "run", "my_ba") == set()


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_get_every_command_and_option(call, shell):
    script = call("completion", shell).out
    for command in all_commands():
        for option in options_in_help(call, command.name):
            wanted = f"seen_subcommand_from {command.name}' -l {option[2:]} " if shell == "fish" else option
            assert wanted in script


def test_completion_for_an_unknown_shell_is_refused(call):
    answer = call("completion", "bsh")
    assert answer.status == 2
    assert "did you mean bash?" in answer.err
