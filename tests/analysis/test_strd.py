"""The fitting core against certified nonlinear regressions: NIST Statistical Reference Datasets (StRD).

Data, starting values, certified values and standard deviations: National Institute of Standards and Technology,
Statistical Reference Datasets, Nonlinear Regression, https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml, files
Misra1a.dat (D. Misra, NIST, 1978), Thurber.dat (R. Thurber, NIST, 197?) and MGH10.dat (R. R. Meyer, 1970).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from kinetics.analysis.fitting import Problem, fit


@dataclass(frozen=True)
class Certificate:
    model: Callable[[np.ndarray, np.ndarray], np.ndarray]
    y: str
    x: str
    starts: tuple[tuple[float, ...], ...]
    values: tuple[float, ...]
    standard_deviations: tuple[float, ...]
    residual_sum: float


MISRA1A = Certificate(
    lambda b, x: b[0] * (1.0 - np.exp(-b[1] * x)),
    "10.07 14.73 17.94 23.93 29.61 35.18 40.02 44.82 50.76 55.05 61.01 66.40 75.47 81.78",
    "77.6 114.9 141.1 190.8 239.9 289.0 332.8 378.4 434.8 477.3 536.8 593.1 689.1 760.0",
    ((500.0, 0.0001), (250.0, 0.0005)),
    (2.3894212918e02, 5.5015643181e-04),
    (2.7070075241e00, 7.2668688436e-06),
    1.2455138894e-01,
)
THURBER = Certificate(
    lambda b, x: (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6]))),
    "80.574 84.248 87.264 87.195 89.076 89.608 89.868 90.101 92.405 95.854 100.696 101.060 401.672 390.724 567.534 "
    "635.316 733.054 759.087 894.206 990.785 1090.109 1080.914 1122.643 1178.351 1260.531 1273.514 1288.339 1327.543 "
    "1353.863 1414.509 1425.208 1421.384 1442.962 1464.350 1468.705 1447.894 1457.628",
    "-3.067 -2.981 -2.921 -2.912 -2.840 -2.797 -2.702 -2.699 -2.633 -2.481 -2.363 -2.322 -1.501 -1.460 -1.274 -1.212 "
    "-1.100 -1.046 -0.915 -0.714 -0.566 -0.545 -0.400 -0.309 -0.109 -0.103 0.010 0.119 0.377 0.790 0.963 1.006 1.115 "
    "1.572 1.841 2.047 2.200",
    ((1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03), (1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05)),
    (
        1.2881396800e03, 1.4910792535e03, 5.8323836877e02, 7.5416644291e01, 9.6629502864e-01, 3.9797285797e-01,
        4.9727297349e-02,
    ),
    (
        4.6647963344e00, 3.9571156086e01, 2.8698696102e01, 5.5675370270e00, 3.1333340687e-02, 1.4984928198e-02,
        6.5842344623e-03,
    ),
    5.6427082397e03,
)  # fmt: skip
MGH10 = Certificate(
    lambda b, x: b[0] * np.exp(b[1] / (x + b[2])),
    "34780 28610 23650 19630 16370 13720 11540 9744 8261 7030 6005 5147 4427 3820 3307 2872",
    "50 55 60 65 70 75 80 85 90 95 100 105 110 115 120 125",
    ((2.0, 400000.0, 25000.0), (0.02, 4000.0, 250.0)),
    (5.6096364710e-03, 6.1813463463e03, 3.4522363462e02),
    (1.5687892471e-04, 2.3309021107e01, 7.8486103508e-01),
    8.7945855171e01,
)
SETS = {"Misra1a": MISRA1A, "Thurber": THURBER, "MGH10": MGH10}


@pytest.mark.parametrize("start", [0, 1], ids=["far start", "near start"])
@pytest.mark.parametrize("name", SETS)
def test_certified_values_and_standard_deviations(name: str, start: int) -> None:
    """Six digits of the values, four of the standard deviations, eight of the residual sum of squares."""
    certified = SETS[name]
    x, y = np.array(certified.x.split(), float), np.array(certified.y.split(), float)
    problem = Problem(
        lambda points: np.array(certified.model(points[:, None, :], x[:, None])),
        y,
        np.ones_like(y),
        sd_known=False,
    )
    with np.errstate(over="ignore"):
        best = fit(problem, [np.array(certified.starts[start])], most_evaluations=5000)
    np.testing.assert_allclose(best.x, certified.values, rtol=5e-7)
    np.testing.assert_allclose(best.sd, certified.standard_deviations, rtol=5e-5)
    assert best.chi_square == pytest.approx(certified.residual_sum, rel=1e-8)
