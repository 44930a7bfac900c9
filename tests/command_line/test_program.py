"""The program as a whole: help, exit statuses, errors in one line, nothing heavy at the start."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys

import pytest

from kinetics import __version__
from kinetics.command_line import main as program
from kinetics.command_line.command import Command
from kinetics.command_line.commands import all_commands

NAMES = [command.name for command in all_commands()]
WRONG = """\
substrate = "cinnamaldehyd"
[charge]
water = "400 s"
sodium_carbonate = "4 g"
[heating]
hold = 8
"""


def examples_in(help_text: str) -> list[str]:
    """The command lines a help text gives as examples."""
    examples = help_text.split("example, from the top")[1].replace("\\\n", " ")  # a line that goes on
    return re.findall(r"^  (retroaldol .*)$", examples, re.MULTILINE)


def test_the_commands_of_the_interface_are_there():
    assert {"run", "check", "new", "sources"} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_help_gives_purpose_arguments_and_example_in_80_columns(call, monkeypatch, name):
    monkeypatch.setenv("COLUMNS", "200")
    answer = call(name, "--help")
    assert answer.status == 0
    assert f"usage: retroaldol {name}" in answer.out
    command = next(c for c in all_commands() if c.name == name)
    assert command.help in answer.out
    assert len(examples_in(answer.out)) >= 1
    assert max(map(len, answer.out.splitlines())) < 80


@pytest.mark.parametrize("name", NAMES)
def test_the_examples_of_the_help_run(call, name):
    for example in examples_in(call(name, "--help").out):
        word, *arguments = shlex.split(example)
        answer = call(*arguments)
        assert (word, answer.status) == ("retroaldol", 0), answer.err


def test_help_lists_every_command_in_80_columns(call):
    answer = call("--help")
    assert answer.status == 0
    for command in all_commands():
        assert re.search(rf"^  {command.name} +{re.escape(command.help)}$", answer.out, re.MULTILINE)
    assert max(map(len, answer.out.splitlines())) < 80


def test_without_a_command_the_help_is_shown_and_the_status_is_2(call):
    answer = call()
    assert (answer.status, answer.out) == (2, "")
    assert "usage: retroaldol" in answer.err


def test_version(call):
    assert call("--version").out == f"retroaldol {__version__}\n"


def test_python_m_kinetics_is_the_program(launch):
    process = launch("--version")
    assert process.communicate() == (f"retroaldol {__version__}\n", "")
    assert process.returncode == 0


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from kinetics.command_line.main import main; main(['--help']); main(['run', '--help']);"
        "print(sorted({'numpy', 'scipy', 'matplotlib', 'pint'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["rnu"], "did you mean run?"),
        (["run"], "FILE"),
        (["run", "a.toml", "--jsn"], "did you mean --json?"),
        (["run", "a.toml", "--js"], "did you mean --json?"),
        (["run", "a.toml", "b.toml"], "b.toml"),
        (["run", "a.toml", "--csv"], "--csv"),
    ],
)
def test_wrong_arguments_are_one_line_and_status_2(call, arguments, said):
    answer = call(*arguments)
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.count("\n") == 1
    assert said in answer.err


@pytest.mark.parametrize("command", ["run", "check"])
def test_every_fault_of_a_scenario_is_one_line(call, workplace, command):
    (workplace / "wrong.toml").write_text(WRONG)
    answer = call(command, "wrong.toml")
    lines = answer.err.splitlines()
    assert (answer.status, answer.out) == (2, "")
    assert all(re.fullmatch(r"wrong\.toml: \S+: expected .+; came .+", line) for line in lines)
    keys = {line.split(": ")[1] for line in lines}
    assert {"substrate", "charge.water", "charge.sodium_carbonate", "heating.hold"} <= keys
    assert next(line for line in lines if ": substrate:" in line).endswith('Did you mean "cinnamaldehyde"?')


def test_a_scenario_that_is_not_there_is_refused_with_the_nearest(call):
    answer = call("run", "scenarios/perfum_school.toml")
    assert (answer.status, answer.err.count("\n")) == (2, 1)
    assert "perfume_school.toml" in answer.err


def test_debug_shows_the_traceback_and_keeps_the_status(call):
    plain, debug = call("run", "nowhere.toml"), call("run", "nowhere.toml", "--debug")
    assert (plain.status, debug.status) == (2, 2)
    assert "Traceback" not in plain.err
    assert "Traceback" in debug.err


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (KeyboardInterrupt(), 130, "Stopped before the end"),
        (ZeroDivisionError("by\nzero"), 3, "a fault of the program stopped it: ZeroDivisionError: by zero"),
        (BrokenPipeError(), 141, ""),
    ],
)
def test_one_status_for_each_kind_of_error(call, monkeypatch, error, status, said):
    def execute(args):
        raise error

    failing = Command("fail", "fail", "retroaldol fail", 1, lambda parser: None, execute)
    monkeypatch.setattr(program, "all_commands", lambda: (failing,))
    answer = call("fail")
    assert (answer.status, answer.out) == (status, "")
    assert said in answer.err
    assert len(answer.err.strip().splitlines()) == bool(said)
    assert "Traceback" not in answer.err


def test_a_closed_pipe_is_no_complaint(launch):
    process = launch("sources")
    process.stdout.close()  # long before the first line is written
    assert process.wait() == 141
    assert process.stderr.read() == ""
    process.stderr.close()


def test_characters_a_console_lacks_are_replaced(launch, workplace):
    text = (workplace / "scenarios/perfume_school.toml").read_text()
    (workplace / "umlaut.toml").write_text(
        text.replace("Perfume-school", "Dufte-Schüler-学校"), encoding="utf-8"
    )
    process = launch("check", "umlaut.toml", PYTHONIOENCODING="ascii")
    out, err = process.communicate()
    assert (process.returncode, err) == (0, "")
    assert out.startswith("Dufte-Sch?ler-?? demonstration")
