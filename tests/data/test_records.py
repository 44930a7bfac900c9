"""A record refuses what lacks unit, uncertainty, range, source or status, and moves by its uncertainty."""

import math

import numpy as np
import pytest

from kinetics.data.forms import FORMS
from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.data.records import Record, ShelfError

CONSTANT = {
    "name": "invented.number",
    "quantity": "an invented number",
    "unit": "1",
    "form": "constant",
    "coefficients": (2.0,),
    "factor": 1.5,
    "source": "invented",
    "status": "estimate",
}
LINE = {
    **CONSTANT,
    "form": "table_linear",
    "coefficients": (0.0, 1.0, 300.0, 310.0, 330.0, 5.0, 6.0, 2.0),
    "valid_K": (300.0, 330.0),
}


@pytest.mark.parametrize(
    ("key", "bad"),
    [
        ("quantity", ""),
        ("unit", " "),
        ("source", ""),
        ("status", "seen"),
        ("form", "antione"),
        ("coefficients", ()),
        ("coefficients", (math.nan,)),
        ("coefficients", (1.0, 2.0)),
        ("factor", None),
        ("factor", 0.5),
        ("sigma", 0.1),
        ("sigma", -1.0),
        ("valid_K", (300.0, 200.0)),
        ("parents", (Record(**CONSTANT),)),
    ],
)
def test_a_fault_is_refused_with_the_record_and_the_key(key: str, bad: object) -> None:
    with pytest.raises(ShelfError) as refusal:
        Record(**{**CONSTANT, key: bad})
    assert refusal.value.faults[0].startswith(f"invented.number: {key}") or (
        {key} <= {"factor", "sigma"} and "invented.number: factor, sigma" in str(refusal.value)
    )


def test_a_correlation_needs_a_range() -> None:
    with pytest.raises(ShelfError, match="valid_K"):
        Record(**{**LINE, "valid_K": None})


def test_all_faults_come_at_once() -> None:
    with pytest.raises(ShelfError) as refusal:
        Record(**{**CONSTANT, "unit": "", "source": "", "factor": None})
    assert len(refusal.value.faults) == 3


def test_shift_is_in_standard_uncertainties() -> None:
    factor, sigma = Record(**CONSTANT), Record(**{**CONSTANT, "factor": None, "sigma": 0.3})
    assert factor.shifted(2.0).value == pytest.approx(2.0 * 1.5**2)
    assert sigma.shifted(-1.0).value == pytest.approx(1.7)
    assert factor.shifted(1.0).shifted(-1.0).value == pytest.approx(factor.value)
    np.testing.assert_allclose(factor.shifted(np.array([-1.0, 0.0, 1.0])).value, [2.0 / 1.5, 2.0, 3.0])


def test_the_value_of_a_correlation_is_refused() -> None:
    with pytest.raises(ShelfError, match="temperature"):
        _ = Record(**LINE).value


def test_range() -> None:
    line = Record(**LINE)
    assert line.in_range(300.0) and not line.in_range(331.0)
    assert line.in_range(np.array([299.0, 320.0])).tolist() == [False, True]
    assert Record(**CONSTANT).in_range(1.0)


def test_straight_lines_pass_through_nodes_and_midpoints() -> None:
    line = Record(**LINE)
    T = np.array([300.0, 305.0, 310.0, 320.0, 330.0])
    np.testing.assert_allclose(line(T, ARRAYS), [5.0, 5.5, 6.0, 4.0, 2.0])
    assert line(320.0, FLOATS) == pytest.approx(4.0)


def evaluate(name: str, coefficients: tuple[float, ...], T: float) -> float:
    form = FORMS[name]
    return form.function(T, form.ready(coefficients), FLOATS)


def test_a_table_of_a_cubic_gives_the_cubic() -> None:
    T = [280.0, 300.0, 330.0, 350.0, 370.0]
    cubic = [1e-6 * t**3 - 2e-4 * t**2 + 0.3 * t - 4 for t in T]
    assert evaluate("table_polynomial", (3, 2.0, *T, *cubic), 340.0) == pytest.approx(
        2 * (1e-6 * 340.0**3 - 2e-4 * 340.0**2 + 0.3 * 340.0 - 4), rel=1e-12
    )


def test_a_table_of_an_exponential_in_1_over_T_gives_it() -> None:
    T = [280.0, 330.0, 370.0]
    y = [math.exp(20.0 - 4000.0 / t) for t in T]
    value = evaluate("table_log_polynomial", (1, 1.0, *T, *y), 300.0)
    assert value == pytest.approx(math.exp(20.0 - 4000.0 / 300.0), rel=1e-12)


def test_van_t_hoff_slope_is_the_enthalpy_at_that_temperature() -> None:
    """d ln K/dT = (dH + dCp (T - T0))/(R T^2), by central difference."""
    K = (0.5, 298.15, -20400.0, 150.0)
    T, h = 350.0, 0.01
    slope = math.log(evaluate("van_t_hoff", K, T + h) / evaluate("van_t_hoff", K, T - h)) / (2 * h)
    assert slope == pytest.approx((-20400.0 + 150.0 * (T - 298.15)) / (8.314462618 * T**2), rel=1e-6)
    assert evaluate("van_t_hoff", K, 298.15) == pytest.approx(0.5)


def test_henry_is_van_t_hoff_of_dissolution() -> None:
    """B = -dH/R of dissolution, so both forms must agree."""
    henry = evaluate("henry_solubility", (0.06, 298.15, 4537.0, 150.0), 373.15)
    same = evaluate("van_t_hoff", (0.06, 298.15, -4537.0 * 8.31446261815324, 150.0), 373.15)
    assert henry == pytest.approx(same, rel=1e-12)
