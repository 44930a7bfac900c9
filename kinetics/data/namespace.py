"""Elementary functions for plain floats (`FLOATS`) and for arrays of samples (`ARRAYS`), under one set of names.

Every equation that runs in the right-hand side takes one of the two as its last argument, so that the same
source serves a single run (plain floats are several times faster than numpy scalars) and a whole ensemble.
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any, Protocol

import numpy as np


class Namespace(Protocol):
    """What an equation may call: the functions below, on floats or elementwise on arrays."""

    def exp(self, x: Any) -> Any: ...
    def log(self, x: Any) -> Any: ...
    def sqrt(self, x: Any) -> Any: ...
    def maximum(self, a: Any, b: Any) -> Any: ...
    def minimum(self, a: Any, b: Any) -> Any: ...
    def where(self, condition: Any, a: Any, b: Any) -> Any: ...
    def largest(self, x: Any) -> float: ...


FLOATS: Namespace = SimpleNamespace(
    exp=math.exp,
    log=math.log,
    sqrt=math.sqrt,
    maximum=lambda a, b: a if a > b else b,
    minimum=lambda a, b: a if a < b else b,
    where=lambda condition, a, b: a if condition else b,
    largest=float,
)

ARRAYS: Namespace = SimpleNamespace(
    exp=np.exp,
    log=np.log,
    sqrt=np.sqrt,
    maximum=np.maximum,
    minimum=np.minimum,
    where=np.where,
    largest=lambda x: float(np.fmax.reduce(x, axis=None, initial=-np.inf)),  # a sample that is lost holds up no other
)
