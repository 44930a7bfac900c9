"""Activity coefficients against derivatives of Pitzer's excess Gibbs energy, written out here on its own.

G_ex/(w RT) = f(I) + 2 sum_ca m_c m_a (B_ca + Z C_ca / 2) + sum_c<c' m_c m_c' (2 theta + sum_a m_a psi)
            + sum_a<a' m_a m_a' (2 theta + 2 E-theta(I) + sum_c m_c psi),    w kg of water,
    f = -(4 A I / b) ln(1 + b I^1/2),  B = beta0 + beta1 g(2 I^1/2),  g(x) = 2 (1 - (1 + x) e^-x) / x^2
(K. S. Pitzer, Activity Coefficients in Electrolyte Solutions, 2nd ed., 1991, ch. 3). Then
    ln gamma_i = d(G_ex/RT)/dn_i,   ln a_w = -M_w (sum m + d(G_ex/RT)/dw with its sign turned).
The derivatives are taken by a complex step, which loses no digits.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kinetics.chemistry.pitzer import Activities, debye_huckel_slope, pitzer_activities
from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.data.shelf import Shelf
from kinetics.flask.conditions import mean_parameters

CATIONS = ("sodium", "potassium")  # calcium beside them has charge and nothing else
ANIONS = ("hydroxide", "bicarbonate", "carbonate", "chloride", "organic")
CHARGE = {"carbonate": 2.0, "calcium": 2.0}
MOLAR_MASS = 0.0180153
STEP = 1e-30
OFFSET = (
    1e-7  # mol/kg, what the code adds to the ionic strength to stay off zero; as an ion without other effect
)
THETA = {
    frozenset(("hydroxide", "carbonate")): "hydroxide_carbonate",
    frozenset(("bicarbonate", "carbonate")): "bicarbonate_carbonate",
    frozenset(("chloride", "hydroxide")): "chloride_hydroxide",
    frozenset(("chloride", "carbonate")): "chloride_carbonate",
    frozenset(("chloride", "bicarbonate")): "chloride_bicarbonate",
}


def J(x):
    return x / (4.0 + 4.581 * x**-0.7237 * np.exp(-0.0120 * x**0.528))


def E_theta(I, A):
    x = 6.0 * A * np.sqrt(I)
    return 2.0 / (4.0 * I) * (J(2 * x) - 0.5 * J(x) - 0.5 * J(4 * x))


class Model:
    """The excess Gibbs energy from the constants on the shelf at one temperature."""

    def __init__(self, shelf: Shelf, T: float) -> None:
        self.A = debye_huckel_slope(shelf["water.density"](T), shelf["water.permittivity"](T), T)
        self.shelf, self.T = shelf, T

    def constant(self, name: str) -> float:
        return float(self.shelf[name](self.T)) if name in self.shelf else 0.0

    def G_ex(self, n: dict[str, complex], w: complex) -> complex:
        """Of n mol of each ion in w kg of water, over RT."""
        m = {ion: amount / w for ion, amount in n.items()}
        I = 0.5 * sum(CHARGE.get(ion, 1.0) ** 2 * m[ion] for ion in m) + OFFSET / w
        Z = sum(CHARGE.get(ion, 1.0) * m[ion] for ion in m)
        x = 2.0 * np.sqrt(I)
        g = 2.0 * (1.0 - (1.0 + x) * np.exp(-x)) / x**2
        G = -(4.0 * self.A * I / 1.2) * np.log(1.0 + 1.2 * np.sqrt(I))
        for c in CATIONS:
            for a in ANIONS[:4]:
                beta0, beta1, Cphi = (
                    self.constant(f"pitzer.{c}_{a}.{p}") for p in ("beta0", "beta1", "Cphi")
                )
                C = Cphi / (2.0 * np.sqrt(CHARGE.get(a, 1.0)))
                G += 2.0 * m[c] * m[a] * (beta0 + beta1 * g + 0.5 * Z * C)
        psi = sum(m[a] * self.constant(f"pitzer.psi.sodium_potassium_{a}") for a in ANIONS[:4])
        G += m["sodium"] * m["potassium"] * (2.0 * self.constant("pitzer.theta.sodium_potassium") + psi)
        for pair, name in THETA.items():
            first, second = pair
            theta = self.constant(f"pitzer.theta.{name}")
            if "carbonate" in pair:  # charges 1 and 2
                theta = theta + E_theta(I, self.A)
            psi = sum(m[c] * self.constant(f"pitzer.psi.{c}_{name}") for c in CATIONS)
            G += m[first] * m[second] * (2.0 * theta + psi)
        return w * G

    def ln_gamma(self, n: dict[str, float], ion: str) -> float:
        shifted = {name: complex(amount, STEP * (name == ion)) for name, amount in n.items()}
        return self.G_ex(shifted, 1.0).imag / STEP

    def ln_water(self, n: dict[str, float]) -> float:
        d_by_water = (
            self.G_ex({name: complex(amount) for name, amount in n.items()}, 1.0 + 1j * STEP).imag / STEP
        )
        return -MOLAR_MASS * (sum(n.values()) - d_by_water)


SOLUTIONS = [
    {"sodium": 0.1, "hydroxide": 0.1},
    {"sodium": 3.0, "hydroxide": 3.0},
    {"sodium": 0.5, "bicarbonate": 0.5},
    {"sodium": 0.2, "carbonate": 0.1},
    {"sodium": 3.0, "carbonate": 1.5},
    {"sodium": 1.0, "chloride": 1.0},
    {"potassium": 2.0, "carbonate": 1.0},
    {"sodium": 2.0, "carbonate": 0.5, "bicarbonate": 0.6, "hydroxide": 0.3, "chloride": 0.1},
    {
        "sodium": 1.2,
        "potassium": 0.7,
        "carbonate": 0.4,
        "bicarbonate": 0.3,
        "hydroxide": 0.2,
        "chloride": 0.6,
    },
    {"sodium": 0.4, "carbonate": 0.1, "hydroxide": 0.05, "organic": 0.15},
    {"sodium": 0.5, "calcium": 0.1, "carbonate": 0.05, "bicarbonate": 0.1, "hydroxide": 0.3, "chloride": 0.2},
]


def activities(shelf: Shelf, T: float, n: dict[str, float]) -> Activities:
    alkali = n["sodium"] + n["potassium"]
    A = debye_huckel_slope(shelf["water.density"](T), shelf["water.permittivity"](T), T)
    parameters = mean_parameters(shelf, T, n["potassium"] / alkali, A, FLOATS)
    return pitzer_activities(alkali, n["calcium"], *(n[a] for a in ANIONS), parameters, FLOATS)


def complete(n: dict[str, float]) -> dict[str, float]:
    assert sum(CHARGE.get(c, 1.0) * n.get(c, 0.0) for c in (*CATIONS, "calcium")) == pytest.approx(
        sum(CHARGE.get(a, 1.0) * n.get(a, 0.0) for a in ANIONS)
    )
    return {ion: n.get(ion, 0.0) for ion in (*CATIONS, "calcium", *ANIONS)}


@pytest.mark.parametrize("T", [298.15, 333.15, 373.15])
@pytest.mark.parametrize("solution", SOLUTIONS, ids=lambda n: " ".join(n))
def test_activities_are_derivatives_of_the_excess_gibbs_energy(
    shelf: Shelf, T: float, solution: dict[str, float]
) -> None:
    """The same equations worked out by another road: rounding only, also for ions present as a trace."""
    n = complete(solution)
    model, found = Model(shelf, T), activities(shelf, T, n)
    expected = [model.ln_gamma(n, ion) for ion in ("hydroxide", "bicarbonate", "carbonate")]
    assert list(found[:3]) == pytest.approx(expected, rel=1e-11, abs=1e-12)
    assert found.ln_water == pytest.approx(model.ln_water(n), rel=1e-11)


@pytest.mark.parametrize("solution", SOLUTIONS[7:], ids=lambda n: " ".join(n))
def test_every_triple_counts(shelf: Shelf, solution: dict[str, float]) -> None:
    """The same with an invented psi for every triple of which the shelf has none: no term is idle."""
    known = next(r for name, r in shelf.records.items() if name.startswith("pitzer.psi."))
    triples = [f"{c}_{pair}" for c in CATIONS for pair in THETA.values()] + [f"sodium_potassium_{a}" for a in ANIONS[:4]]
    records = dict(shelf.records)
    for k, triple in enumerate(triples):
        name = f"pitzer.psi.{triple}"
        records[name] = replace(known, name=name, coefficients=(0.01 + 0.003 * k,))
    test_activities_are_derivatives_of_the_excess_gibbs_energy(replace(shelf, records=records), 298.15, solution)


def test_ln_water_closes_with_the_solutes_by_gibbs_and_duhem(shelf: Shelf) -> None:
    """55.5 d ln a_w + sum m_i d ln(m_i gamma_i) = 0 along a path of sodium hydroxide, whose two ions share a
    gamma.

    ln gamma and ln a_w come from two formulas of the code; Simpson's rule over 2000 steps.
    """
    m = np.linspace(0.2, 4.0, 2001)
    T = 333.15
    A = debye_huckel_slope(shelf["water.density"](T), shelf["water.permittivity"](T), T)
    p = mean_parameters(shelf, T, 0.0, A, FLOATS)
    zero = 0.0 * m
    found = pitzer_activities(m, zero, m, zero, zero, zero, zero, p, ARRAYS)
    slope = np.gradient(found.ln_hydroxide + np.log(m), m, edge_order=2)
    integrand = 2.0 * m * slope
    h = m[1] - m[0]
    simpson = (
        h / 3 * (integrand[0] + 4 * integrand[1:-1:2].sum() + 2 * integrand[2:-2:2].sum() + integrand[-1])
    )
    assert found.ln_water[-1] - found.ln_water[0] == pytest.approx(-MOLAR_MASS * simpson, rel=1e-5)


def test_dilute_limit_is_debye_and_huckel(shelf: Shelf) -> None:
    """ln gamma -> -3 A_phi z^2 I^1/2, the law the slope belongs to; the next term is of order I."""
    A = debye_huckel_slope(997.05, 78.41, 298.15)
    p = mean_parameters(shelf, 298.15, 0.0, A, FLOATS)
    m = 1e-4
    found = pitzer_activities(m, 0.0, m, 0.0, 0.0, 0.0, 0.0, p, FLOATS)
    law = -3.0 * A * m**0.5
    assert found.ln_hydroxide == pytest.approx(law, rel=0.02)
    assert found.ln_carbonate == pytest.approx(4.0 * law, rel=0.02)
    assert found.ln_divalent == pytest.approx(4.0 * found.ln_univalent, rel=1e-14)
    assert found.ln_water == pytest.approx(-2.0 * MOLAR_MASS * m, rel=0.01)


def test_debye_huckel_slope_at_25_C() -> None:
    """0.3915 kg^1/2 mol^-1/2 (D. J. Bradley, K. S. Pitzer, J. Phys. Chem. 83 (1979) 1599; from memory)."""
    assert debye_huckel_slope(997.05, 78.41, 298.15) == pytest.approx(0.3915, abs=5e-4)


def test_sodium_chloride_1_mol_per_kg(shelf: Shelf) -> None:
    """gamma 0.657 and phi 0.936 at 25 C (R. A. Robinson, R. H. Stokes, Electrolyte Solutions; from memory).

    Of a 1-1 salt alone the two ions have one gamma; the chloride's is read from bicarbonate's place, empty
    here, with the parameters of chloride.
    """
    T = 298.15
    A = debye_huckel_slope(shelf["water.density"](T), shelf["water.permittivity"](T), T)
    p = mean_parameters(shelf, T, 0.0, A, FLOATS)
    found = pitzer_activities(1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, p, FLOATS)
    assert -found.ln_water / (2.0 * MOLAR_MASS) == pytest.approx(0.936, abs=0.002)
    as_bicarbonate = p._replace(
        **{k: (v[0], v[3], *v[2:]) for k, v in p._asdict().items() if k in ("beta0", "beta1", "C")}
    )
    found = pitzer_activities(1.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, as_bicarbonate, FLOATS)
    assert np.exp(found.ln_bicarbonate) == pytest.approx(0.657, abs=0.002)


def test_arrays_give_what_floats_give(shelf: Shelf) -> None:
    T = 353.15
    A = debye_huckel_slope(shelf["water.density"](T), shelf["water.permittivity"](T), T)
    p = mean_parameters(shelf, T, 0.3, A, FLOATS)
    rng = np.random.default_rng(1)
    columns = rng.uniform(0.0, 1.0, (7, 20))
    together = pitzer_activities(*columns, p, ARRAYS)
    for k in range(20):
        alone = pitzer_activities(*(float(c[k]) for c in columns), p, FLOATS)
        assert [float(a[k]) for a in together] == pytest.approx(list(alone), rel=1e-12)
