"""Batches that take a moment to compute, and what the tests of many runs have in common."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from kinetics.analysis.runs import Outcome
from kinetics.command_line.main import main

SHORT = """\
title = "A short boil (invented)"
substrate = "cinnamaldehyde"
[charge]
water = "200 mL"
cinnamaldehyde = "0.2 g"
"sodium carbonate" = "2 g"
[heating]
start = "60 degC"
ramp = "5 min"
hold = "20 min"
cooling = "0 min"
"""
COOL = """\
title = "Diacetone alcohol, cool (invented)"
substrate = "diacetone alcohol"
[charge]
water = "350 mL"
"diacetone alcohol" = "1 g"
"sodium carbonate" = "0.05 g"
[heating]
temperature = "40 degC"
ramp = "5 min"
hold = "1 h"
cooling = "0 min"
"""
COLD = """
title = "Cold lye"
substrate = "cinnamaldehyde"
[charge]
water = "1 L"
cinnamaldehyde = "0.05 mmol"
"sodium hydroxide" = "100 mmol"
[heating]
start = "25 degC"
hold = "10 h"
temperature = "25 degC"
"""


def same(one: Outcome, other: Outcome) -> bool:
    """Whether two outcomes are equal to the last digit."""
    return all(
        np.array_equal(a, b, equal_nan=True) if isinstance(a, np.ndarray) else a == b
        for a, b in ((getattr(one, f.name), getattr(other, f.name)) for f in fields(Outcome))
    )


def called(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    """Status, output and error output of the program."""
    capsys.readouterr()
    status = main([str(argument) for argument in arguments])
    return (status, *capsys.readouterr())
