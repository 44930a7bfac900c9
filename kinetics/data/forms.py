"""The published forms of the correlations: one pure function `f(T, coefficients, m, *parents)` for each.

T is a temperature [K], a float or an array; `m` is the namespace of functions that suits it (FLOATS or
ARRAYS). Parents are the records a form builds on, each called as `parent(T, m)`. `FORMS` says how many
coefficients and parents each form takes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

from kinetics.data.namespace import Namespace
from kinetics.data.units import GAS_CONSTANT_J_PER_MOL_K as R

LN_10 = log(10.0)

Value = Any  # a float, or an array of them
Numbers = tuple[float, ...]
Parent = Callable[[Value, Namespace], Value]


@dataclass(frozen=True)
class Form:
    """A function, how many coefficients (None: any) and parents it takes, what readies the coefficients."""

    function: Callable[..., Any]
    coefficients: int | None
    parents: int
    ready: Callable[[Numbers], Numbers]


FORMS: dict[str, Form] = {}


def as_they_are(coefficients: Numbers) -> Numbers:
    """Most coefficients are used as printed."""
    return coefficients


def form(
    coefficients: int | None, parents: int = 0, ready: Callable[[Numbers], Numbers] = as_they_are
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Enter the decorated function in FORMS under its own name."""

    def enter(function: Callable[..., Any]) -> Callable[..., Any]:
        FORMS[function.__name__] = Form(function, coefficients, parents, ready)
        return function

    return enter


# ---------------------------------------------------------------- tables


def split_table(coefficients: Numbers) -> tuple[float, list[float], list[float]]:
    """(setting, multiplier, T1..Tn, y1..yn) -> setting, the temperatures [K] and the multiplied values."""
    setting, multiplier, *nodes = coefficients
    half = len(nodes) // 2
    return setting, list(nodes[:half]), [multiplier * y for y in nodes[half:]]


def fit_polynomial(x: list[float], y: list[float], degree: float) -> Numbers:
    """Least-squares polynomial in (x - centre)/half-width: (centre, half-width, c0, c1, ...)."""
    import numpy

    centre, half = (max(x) + min(x)) / 2, (max(x) - min(x)) / 2
    scaled = (numpy.array(x) - centre) / half
    return (centre, half, *numpy.polynomial.polynomial.polyfit(scaled, y, int(degree)).tolist())


def ready_table_polynomial(coefficients: Numbers) -> Numbers:
    """Fit the table once, on first use."""
    degree, T, y = split_table(coefficients)
    return fit_polynomial(T, y, degree)


def ready_table_log_polynomial(coefficients: Numbers) -> Numbers:
    """Fit ln y against 1/T once, on first use."""
    degree, T, y = split_table(coefficients)
    return fit_polynomial([1 / t for t in T], [log(value) for value in y], degree)


def ready_table_linear(coefficients: Numbers) -> Numbers:
    """First node, then for each later segment its start and its change of slope."""
    _, T, y = split_table(coefficients)
    slopes = [(y[i + 1] - y[i]) / (T[i + 1] - T[i]) for i in range(len(T) - 1)]
    kinks = [value for i in range(1, len(slopes)) for value in (T[i], slopes[i] - slopes[i - 1])]
    return (T[0], y[0], slopes[0], *kinks)


@form(1)
def constant(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """A number that does not depend on temperature."""
    return coefficients[0]


def horner(x: Value, coefficients: Sequence[float]) -> Value:
    """c0 + c1 x + c2 x^2 + ..."""
    y = 0.0 * x
    for c in reversed(coefficients):
        y = y * x + c
    return y


@form(None, ready=ready_table_polynomial)
def table_polynomial(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """Polynomial through a table, from (degree, multiplier, T1..Tn, y1..yn)."""
    centre, half, *c = coefficients
    return horner((T - centre) / half, c)


@form(None, ready=ready_table_log_polynomial)
def table_log_polynomial(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """ln y as a polynomial in 1/T through a table, from (degree, multiplier, T1..Tn, y1..yn)."""
    centre, half, *c = coefficients
    return m.exp(horner((1 / T - centre) / half, c))


@form(None, ready=ready_table_linear)
def table_linear(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """Straight lines between the nodes of a table, from (0, multiplier, T1..Tn, y1..yn)."""
    T0, y0, slope, *kinks = coefficients
    y = y0 + slope * (T - T0)
    for start, change in zip(kinks[::2], kinks[1::2]):
        y = y + change * m.maximum(T - start, 0.0)
    return y


# ---------------------------------------------------------------- built on other records


@form(1, parents=1)
def multiple(T: Value, coefficients: Numbers, m: Namespace, parent: Parent) -> Value:
    """y = a * parent(T): an estimate by analogy."""
    return coefficients[0] * parent(T, m)


@form(2, parents=1)
def parallel_curve(T: Value, coefficients: Numbers, m: Namespace, parent: Parent) -> Value:
    """y = y0 + parent(T) - parent(T0), from (y0, T0): one value, and the course of another record."""
    y0, T0 = coefficients
    return y0 + parent(T, m) - parent(T0, m)


@form(3, parents=1)
def solubility_parallel(T: Value, coefficients: Numbers, m: Namespace, parent: Parent) -> Value:
    """S [mol/L] = (S0/M) parent(T)/parent(T0), from (T0, S0 [g/L], M [g/mol]) and another solubility."""
    T0, S0, M = coefficients
    return S0 / M * parent(T, m) / parent(T0, m)


@form(5, parents=1)
def solubility_two_point(T: Value, coefficients: Numbers, m: Namespace, density: Parent) -> Value:
    """S [mol/L], ln S linear in 1/T through (T1, S1 [g/L]) and (T2, w2 [g/kg water]); M [g/mol] last.

    The second value becomes g/L with the density of water [kg/m3] at T2.
    """
    T1, S1, T2, w2, M = coefficients
    slope = m.log(w2 * density(T2, m) / 1000.0 / S1) / (1 / T2 - 1 / T1)
    return S1 / M * m.exp(slope * (1 / T - 1 / T1))


# ---------------------------------------------------------------- thermodynamics


def heat_capacity_term(T: Value, T0: float, m: Namespace) -> Value:
    """ln(T/T0) + T0/T - 1: what a constant heat-capacity change adds to ln K, per dCp/R."""
    return m.log(T / T0) + T0 / T - 1.0


@form(4)
def van_t_hoff(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """ln K/K0 = -dH/R (1/T - 1/T0) + dCp/R (ln T/T0 + T0/T - 1), from (K0, T0, dH [J/mol], dCp [J/mol/K])."""
    K0, T0, dH, dCp = coefficients
    return K0 * m.exp((-dH * (1 / T - 1 / T0) + dCp * heat_capacity_term(T, T0, m)) / R)


@form(4)
def henry_solubility(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """H [mol/m3/Pa] = c/p from (H0, T0 [K], B = d ln H/d(1/T) at T0 [K], dCp of solution [J/mol/K])."""
    H0, T0, B, dCp = coefficients
    return H0 * m.exp(B * (1 / T - 1 / T0) + dCp / R * heat_capacity_term(T, T0, m))


@form(3, parents=1)
def henry_iapws(T: Value, coefficients: Numbers, m: Namespace, saturation_pressure: Parent) -> Value:
    """kH [Pa per mole fraction] of a gas: ln(kH/ps) = A/Tr + B t^0.355/Tr + C Tr^-0.41 e^t, t = 1 - Tr.

    Fernandez-Prini, Alvarez & Harvey, J. Phys. Chem. Ref. Data 32 (2003) 903, eq 15; IAPWS G7-04.
    """
    A, B, C = coefficients
    Tr = T / 647.096
    t = 1 - Tr
    return saturation_pressure(T, m) * m.exp((A + B * t**0.355) / Tr + C * Tr**-0.41 * m.exp(t))


# ---------------------------------------------------------------- vapour pressures [Pa]


@form(8)
def wagner_pruss(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """Water: ln(p/pc) = Tc/T (a1 t + a2 t^1.5 + a3 t^3 + a4 t^3.5 + a5 t^4 + a6 t^7.5), t = 1 - T/Tc.

    From (Tc [K], pc [Pa], a1..a6). Wagner & Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783, eq 1.
    """
    Tc, pc, a1, a2, a3, a4, a5, a6 = coefficients
    t = 1 - T / Tc
    return pc * m.exp(Tc / T * (a1 * t + a2 * t**1.5 + a3 * t**3 + a4 * t**3.5 + a5 * t**4 + a6 * t**7.5))


@form(6)
def wagner_3_6(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """ln(p/pc) = (a t + b t^1.5 + c t^3 + d t^6)/Tr, t = 1 - Tr, from (Tc [K], pc [Pa], a, b, c, d)."""
    Tc, pc, a, b, c, d = coefficients
    t = 1 - T / Tc
    return pc * m.exp((a * t + b * t**1.5 + c * t**3 + d * t**6) * Tc / T)


@form(3)
def antoine(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """ln(p/Pa) = A - B/(T + C)."""
    A, B, C = coefficients
    return m.exp(A - B / (T + C))


@form(5)
def extended_antoine(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """ln(p/Pa) = C1 + C2/T + C3 ln T + C4 T^n, from (C1, C2, C3, C4, n)."""
    C1, C2, C3, C4, n = coefficients
    return m.exp(C1 + C2 / T + C3 * m.log(T) + C4 * T**n)


# ---------------------------------------------------------------- ionisation


@form(7, parents=1)
def marshall_franck(T: Value, coefficients: Numbers, m: Namespace, density: Parent) -> Value:
    """pKw (molal) = -[A + B/T + C/T^2 + D/T^3 + (E + F/T + G/T^2) log10 r], r the density of water [g/cm3].

    Marshall & Franck, J. Phys. Chem. Ref. Data 10 (1981) 295, eq 4.
    """
    A, B, C, D, E, F, G = coefficients
    log_r = m.log(density(T, m) / 1000.0) / LN_10
    return -(A + B / T + C / T**2 + D / T**3 + (E + F / T + G / T**2) * log_r)


@form(11, parents=1)
def bandura_lvov(T: Value, coefficients: Numbers, m: Namespace, density: Parent) -> Value:
    """pKw (molal) from (n, a0..a2, b0..b2, g0..g3) and the density of water, r in g/cm3.

    pKw = -2n [log10(1+Q) - Q/(Q+1) r (b0 + b1/T + b2 r)] + g0 + g1/T + g2/T^2 + g3/T^3 + 2 log10 Mw,
    Q = r exp(a0 + a1/T + a2 r^(2/3)/T^2). Bandura & Lvov, J. Phys. Chem. Ref. Data 35 (2006) 15; IAPWS R11.
    """
    n, a0, a1, a2, b0, b1, b2, g0, g1, g2, g3 = coefficients
    r = density(T, m) / 1000.0
    Q = r * m.exp(a0 + a1 / T + a2 * r ** (2 / 3) / T**2)
    association = m.log(1 + Q) / LN_10 - Q / (Q + 1) * r * (b0 + b1 / T + b2 * r)
    return -2 * n * association + g0 + g1 / T + g2 / T**2 + g3 / T**3 + 2 * log(0.018015268) / LN_10


@form(5)
def plummer_busenberg(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """pK = -(A + B T + C/T + D log10 T + E/T^2).

    Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011.
    """
    A, B, C, D, E = coefficients
    return -(A + B * T + C / T + D * m.log(T) / LN_10 + E / T**2)


@form(4)
def harned(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """pK = A + B/T + C log10 T + D T, the form of Harned and co-workers (C = 0 in their own)."""
    A, B, C, D = coefficients
    return A + B / T + C * m.log(T) / LN_10 + D * T


# ---------------------------------------------------------------- Pitzer parameters [kg/mol]


@form(5)
def he_morse(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """A + B T + C T^2 + D/T + E ln T. He & Morse, Geochim. Cosmochim. Acta 57 (1993) 3533."""
    A, B, C, D, E = coefficients
    return A + B * T + C * T**2 + D / T + E * m.log(T)


@form(13)
def pabalan_pitzer(T: Value, coefficients: Numbers, m: Namespace) -> Value:
    """For sodium hydroxide: a0 + a1 P + (a2 + a3 P)/T + a4 ln T + (a5 + a6 P) T + (a7 + a8 P) T^2
    + a9/(T - 227) + (a10 + a11 P)/(647 - T).

    From (a0..a11, P [bar]). Pabalan & Pitzer, Geochim. Cosmochim. Acta 51 (1987) 829.
    """
    a0, a1, a2, a3, a4, a5, a6, a7, a8, a9, a10, a11, P = coefficients
    powers = a0 + a1 * P + (a2 + a3 * P) / T + a4 * m.log(T) + (a5 + a6 * P) * T + (a7 + a8 * P) * T**2
    return powers + a9 / (T - 227.0) + (a10 + a11 * P) / (647.0 - T)
