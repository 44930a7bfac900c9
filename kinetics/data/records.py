"""A record: one constant or correlation with its unit, uncertainty, valid range, source and status."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import isfinite
from typing import Any

from kinetics.data.faults import RefusedInput, nearest
from kinetics.data.forms import FORMS
from kinetics.data.namespace import ARRAYS, Namespace

STATUSES = ("measured", "derived", "estimate", "from memory")


class ShelfError(RefusedInput):
    """What is wrong with the data asked for or given: one line for each fault, all of them in `faults`."""

    def __init__(self, *faults: str) -> None:
        super().__init__(*faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(self.faults)


def hint(name: object, known: Iterable[str]) -> str:
    """The closest known name as the end of a message, or nothing."""
    closest = nearest(str(name), known)
    return f"; nearest: {closest}" if closest else ""


def is_number(value: object) -> bool:
    """A finite int or float, and not a bool."""
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


@dataclass(frozen=True, eq=False)
class Record:
    """A value that cannot exist without its unit, uncertainty, valid range, source and status.

    Called with a temperature [K] it gives the value in `unit`. Exactly one of `factor` (multiplicative
    standard uncertainty, at least 1) and `sigma` (absolute standard uncertainty in `unit`; 0 for an exact
    number) is given. `valid_K` is the range of temperature [K] of the source, and may be None for a constant
    alone. `shift` is the number of standard uncertainties by which the record is moved, None where it is as
    published.
    """

    name: str
    quantity: str
    unit: str
    form: str
    coefficients: tuple[float, ...]
    source: str
    status: str
    factor: float | None = None
    sigma: float | None = None
    valid_K: tuple[float, float] | None = None
    note: str = ""
    parents: tuple["Record", ...] = ()
    shift: Any = None

    def __post_init__(self) -> None:
        faults = [*self._faults_of_words(), *self._faults_of_form(), *self._faults_of_uncertainty()]
        if faults:
            raise ShelfError(*(f"{self.name or 'a record without a name'}: {fault}" for fault in faults))

    def _faults_of_words(self) -> Iterable[str]:
        for key in ("name", "quantity", "unit", "source"):
            text = getattr(self, key)
            if not isinstance(text, str) or not text.strip():
                yield f"{key}: expected words, came {text!r}"
        if self.status not in STATUSES:
            yield f"status: expected one of {', '.join(STATUSES)}, came {self.status!r}"
        if not isinstance(self.note, str):
            yield f"note: expected words, came {self.note!r}"

    def _faults_of_form(self) -> Iterable[str]:
        form = FORMS.get(str(self.form))
        if form is None:
            yield f"form: expected one of {', '.join(FORMS)}, came {self.form!r}{hint(self.form, FORMS)}"
            return
        if not self.coefficients or not all(map(is_number, self.coefficients)):
            yield f"coefficients: expected finite numbers, came {self.coefficients!r}"
        elif form.coefficients not in (None, len(self.coefficients)):
            yield f"coefficients: {self.form} takes {form.coefficients}, came {len(self.coefficients)}"
        if len(self.parents) != form.parents:
            yield f"parents: {self.form} takes {form.parents}, came {len(self.parents)}"
        lo_hi = self.valid_K
        if lo_hi is None:
            if self.form != "constant":
                yield "valid_K: expected a range [lowest, highest] in K, came nothing"
        elif (
            not isinstance(lo_hi, tuple)
            or len(lo_hi) != 2
            or not all(map(is_number, lo_hi))
            or not 0 < lo_hi[0] < lo_hi[1]
        ):
            yield f"valid_K: expected a range [lowest, highest] in K, came {lo_hi!r}"

    def _faults_of_uncertainty(self) -> Iterable[str]:
        if (self.factor is None) == (self.sigma is None):
            came = "neither" if self.factor is None else "both"
            yield f"factor, sigma: expected exactly one of them, came {came}"
        if self.factor is not None and not (is_number(self.factor) and self.factor >= 1):
            yield f"factor: expected a number of at least 1, came {self.factor!r}"
        if self.sigma is not None and not (is_number(self.sigma) and self.sigma >= 0):
            yield f"sigma: expected a number of at least 0, came {self.sigma!r}"

    @cached_property
    def _function(self) -> Any:
        return FORMS[self.form].function

    @cached_property
    def _ready(self) -> tuple[float, ...]:
        return FORMS[self.form].ready(self.coefficients)

    def __call__(self, T: Any, m: Namespace = ARRAYS) -> Any:
        """The value [unit] at T [K], a float or an array; `m` is the namespace of functions that suits T."""
        return self._moved(self._function(T, self._ready, m, *self.parents))

    @property
    def value(self) -> Any:
        """The value [unit] of a constant."""
        if self.form != "constant":
            raise ShelfError(f"{self.name}: depends on temperature, ask for it at one")
        return self._moved(self.coefficients[0])

    def _moved(self, value: Any) -> Any:
        if self.shift is None:
            return value
        return value + self.shift * self.sigma if self.factor is None else value * self.factor**self.shift

    def shifted(self, z: Any) -> "Record":
        """The record moved by z standard uncertainties (a float or an array), from where it already is."""
        return replace(self, shift=z if self.shift is None else self.shift + z)

    def in_range(self, T: Any) -> Any:
        """Whether T [K] lies in the valid range; a constant without one holds everywhere."""
        if self.valid_K is None:
            return True
        lowest, highest = self.valid_K
        return (lowest <= T) & (T <= highest)

    def value_at(self, T: float) -> float | None:
        """Value at T [K] as a plain number, whatever the form; None where the form gives none there."""
        try:
            value = self.value if self.form == "constant" else float(self(T))
        except (ArithmeticError, ValueError):
            return None
        return float(value) if isfinite(value) else None
