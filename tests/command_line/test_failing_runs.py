"""A run that stops short ends `hazard` and `ledger` with status 3 and the reason."""

from __future__ import annotations

from dataclasses import replace

import pytest

import kinetics
from kinetics.run.integrate import NumericalFailure


@pytest.mark.parametrize(("command", "told"), [("hazard", "go into the air"), ("ledger", "")])
def test_the_reason_is_told(command, told, call, quick, monkeypatch):
    run = kinetics.simulate(kinetics.read_scenario(quick))
    broken = replace(run, failure=NumericalFailure("the flask is dry (at 10 min, hold)", 600.0))
    monkeypatch.setattr("kinetics.run.simulation.simulate", lambda scenario, shelf: broken)
    answer = call(command, quick)
    assert answer.status == 3
    assert answer.err == "retroaldol: the computation failed: the flask is dry (at 10 min, hold)\n"
    assert told in " ".join(answer.out.split()) if told else answer.out == ""
