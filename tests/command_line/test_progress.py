"""The bar on the error output: only on a terminal, only after a while, wiped away at the end."""

from __future__ import annotations

import io
import time
from types import SimpleNamespace

import pytest

from kinetics.command_line import progress as module
from kinetics.command_line.progress import Progress, bar

EMPTY = "[--------------------]"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch) -> Terminal:
    """An error output that is a terminal, and little patience."""
    shown = Terminal()
    monkeypatch.setattr(module, "sys", SimpleNamespace(stderr=shown))
    monkeypatch.setattr(module, "PATIENCE_S", 0.05)
    monkeypatch.setattr(module, "INTERVAL_S", 0.01)
    return shown


def wait_for(text: str, terminal: Terminal) -> None:
    """Wait until the terminal shows a text."""
    until = time.monotonic() + 30.0
    while text not in terminal.getvalue():
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.01)


def test_the_bar_tells_what_is_done_and_what_is_left():
    """10 of 40 in 10 s leave 30 s; 4 s later with nothing new 26 s, and never less than none."""
    assert bar(10, 40, 10.0, 0.0) == "[#####---------------] 10 of 40 done, about 30 s left"
    assert bar(10, 40, 10.0, 4.0).endswith("about 26 s left")
    assert bar(39, 40, 39.0, 9.0) == "[###################-] 39 of 40 done, about 0 s left"
    assert bar(1, 31, 60.0, 0.0).endswith("about 30 min left")
    assert bar(0, 0, 0.0, 3.2) == bar(0, 64, 0.0, 3.2) == f"{EMPTY} computing, 3 s so far"


def test_it_moves_on_its_own_and_wipes_its_line(terminal):
    with Progress(quiet=False) as progress:
        wait_for("computing", terminal)
        progress(10, 40)
        wait_for("10 of 40", terminal)
    said = terminal.getvalue().split("\r")
    assert said[1] == f"{EMPTY} computing, 0 s so far"
    assert said[-3].startswith("[#####---------------] 10 of 40 done, about ")
    assert said[-2:] == [" " * len(said[-3]), ""]


def test_a_second_lot_begins_anew(terminal):
    with Progress(quiet=False) as progress:
        progress(5, 5)
        began = progress.lot_began
        time.sleep(0.01)
        progress(0, 100)
        assert progress.lot_began > began


def test_what_is_soon_done_says_nothing(terminal, monkeypatch):
    monkeypatch.setattr(module, "PATIENCE_S", 60.0)
    with Progress(quiet=False) as progress:
        progress(1, 2)
        time.sleep(0.05)
    assert terminal.getvalue() == ""


def test_it_is_silent_where_it_is_not_wanted(terminal, monkeypatch):
    with Progress(quiet=True) as progress:
        progress(1, 2)
        time.sleep(0.1)
    monkeypatch.setattr(Terminal, "isatty", lambda self: False)
    with Progress(quiet=False) as progress:
        progress(1, 2)
        time.sleep(0.1)
    assert terminal.getvalue() == ""
