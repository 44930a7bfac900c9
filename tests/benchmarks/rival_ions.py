"""Second implementation, the liquor: Pitzer's equations as Harvie, Moller & Weare (1984) write them, and charge balance.

Alkali cations, the anions of a carbonate liquor and dissolved CO2; alpha = 2, b = 1.2, unsymmetrical mixing included;
and `Heat`, the constants of a batch at one temperature.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import exp, log, pi, sqrt
from typing import Any

import numpy as np
from scipy.optimize import brentq

from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf

WATER_KG = 0.0180153  # per mol
CATIONS = ("sodium", "potassium")
ANIONS = ("hydroxide", "bicarbonate", "carbonate", "chloride", "benzoate")
CHARGE = np.array([1, 1, 2, 1, 1])  # of the anions, without sign
STAYS_IN_WATER = 1e6  # an aqueous solubility [mol/L] that is never reached
LIKE = {"benzoate": "chloride"}  # whose interaction parameters an ion borrows


def mixing_integral(x: float) -> tuple[float, float]:
    """J(x) and J'(x) of unsymmetrical mixing: Pitzer's closed fit of 1975, J = x/(4 + 4.581 x^-0.7237 e^..)."""
    a, b, c, d = 4.581, 0.7237, 0.0120, 0.528
    fit = a * x**-b * exp(-c * x**d)
    J = x / (4 + fit)
    return J, (1 + J * fit * (b + c * d * x**d) / x) / (4 + fit)


def unsymmetrical_mixing(z1: int, z2: int, A: float, ionic: float) -> tuple[float, float]:
    """E-theta and its derivative with ionic strength, for two ions of like sign."""
    if z1 == z2:
        return 0.0, 0.0
    root = sqrt(ionic)
    (J12, D12), (J11, D11), (J22, D22) = (mixing_integral(6 * q * A * root) for q in (z1 * z2, z1 * z1, z2 * z2))
    x12, x11, x22 = (6 * q * A * root for q in (z1 * z2, z1 * z1, z2 * z2))
    theta = z1 * z2 / (4 * ionic) * (J12 - J11 / 2 - J22 / 2)
    slope = -theta / ionic + z1 * z2 / (8 * ionic**2) * (x12 * D12 - x11 * D11 / 2 - x22 * D22 / 2)
    return theta, slope


def pitzer(h: Any, cation: np.ndarray, anion: np.ndarray) -> np.ndarray:
    """ln gamma of the anions, of CO2 and of H+ (its Debye-Hueckel part), and ln of the activity of water.

    h: A_phi, beta0, beta1, C (cations by anions) and the mixing constants; molalities [mol/kg].
    """
    ionic = 0.5 * (cation.sum() + anion @ CHARGE**2)
    if ionic < 1e-14:
        return np.zeros(len(ANIONS) + 3)
    A, root, Z = h.A_phi, sqrt(ionic), cation.sum() + anion @ CHARGE
    x = 2 * root
    g = 2 * (1 - (1 + x) * exp(-x)) / x**2
    g_slope = -2 * (1 - (1 + x + x**2 / 2) * exp(-x)) / x**2
    E = [[unsymmetrical_mixing(a, b, A, ionic) for b in (1, 2)] for a in (1, 2)]
    E_theta = np.array([[E[a - 1][b - 1][0] for b in CHARGE] for a in CHARGE])
    E_slope = np.array([[E[a - 1][b - 1][1] for b in CHARGE] for a in CHARGE])
    phi = h.mixing.theta + E_theta
    pairs = cation @ h.C @ anion
    F = -A * (root / (1 + 1.2 * root) + 2 / 1.2 * log(1 + 1.2 * root))
    F += cation @ h.beta1 @ anion * g_slope / ionic + 0.5 * anion @ E_slope @ anion
    metal_pair = cation[0] * cation[1]
    ln_anion = CHARGE**2 * F + cation @ (2 * (h.beta0 + h.beta1 * g) + Z * h.C) + CHARGE * pairs
    ln_anion = ln_anion + 2 * phi @ anion + cation @ (h.mixing.psi @ anion) + metal_pair * h.mixing.psi_metals
    virial = cation @ (h.beta0 + h.beta1 * exp(-x) + Z * h.C) @ anion
    mixing = 0.5 * anion @ (phi + ionic * E_slope) @ anion + 0.5 * cation @ (anion @ h.mixing.psi @ anion)
    metals = metal_pair * (h.mixing.theta_metals + h.mixing.psi_metals @ anion)
    osmotic = cation.sum() + anion.sum() + 2 * (-A * ionic * root / (1 + 1.2 * root) + virial + mixing + metals)
    ln_co2 = 2 * (h.mixing.lambda_cation @ cation + h.mixing.lambda_anion @ anion)
    return np.array([*ln_anion, ln_co2, F, -WATER_KG * osmotic])


def charge_balance(h: Any, totals: list[float], gammas: list[float], guess: float) -> tuple[float, np.ndarray, float]:
    """ln of the activity of H+, the molalities of the anions and of dissolved CO2, at given activity coefficients.

    totals [mol/kg]: carbon, sodium, potassium, chloride, benzoic acid; guess: of ln a(H+), where the search begins.
    """
    carbon, sodium, potassium, chloride, acid = totals
    OH, HCO3, CO3, _, Bz, co2, proton, a_w = gammas

    def species(ln_a_H: float) -> tuple[list[float], float]:
        a_H = exp(ln_a_H)
        r1 = h.K1 * a_w * co2 / (a_H * HCO3)
        r2 = r1 * h.K2 * HCO3 / (a_H * CO3)
        dissolved = carbon / (1 + r1 + r2)
        benzoate = acid / (1 + a_H * Bz / h.Ka)
        return [h.Kw * a_w / (a_H * OH), dissolved * r1, dissolved * r2, chloride, benzoate], dissolved

    def excess(ln_a_H: float) -> float:
        hydroxide, bicarbonate, carbonate, _, benzoate = species(ln_a_H)[0]
        negative = hydroxide + bicarbonate + 2 * carbonate + chloride + benzoate
        return sodium + potassium + exp(ln_a_H) / proton - negative

    low, high = guess - 0.1, guess + 0.1
    if excess(low) > 0 or excess(high) < 0:
        low, high = -40.0, 0.0
    root = brentq(excess, low, high, xtol=1e-14, rtol=1e-14)
    anion, dissolved = species(root)
    return root, np.array(anion), dissolved


class Mixing:
    """The interaction parameters that the shelf gives as constants, of ions of like sign and of CO2."""

    def __init__(self, shelf: Shelf) -> None:
        def value(name: str) -> float:
            return shelf.records[f"pitzer.{name}"].value if f"pitzer.{name}" in shelf.records else 0.0

        def pair(prefix: str, a: str, b: str) -> float:
            return value(f"{prefix}{a}_{b}") or value(f"{prefix}{b}_{a}")

        like = [LIKE.get(a, a) for a in ANIONS]
        self.theta = np.array([[pair("theta.", a, b) for b in like] for a in like])
        self.psi = np.array([[[pair(f"psi.{c}_", a, b) for b in like] for a in like] for c in CATIONS])
        self.theta_metals = value("theta.sodium_potassium")
        self.psi_metals = np.array([value(f"psi.sodium_potassium_{a}") for a in like])
        self.lambda_cation = np.array([value(f"lambda.carbon dioxide_{c}") for c in CATIONS])
        self.lambda_anion = np.array([value(f"lambda.carbon dioxide_{a}") for a in like])


@dataclass
class Heat:
    """Every constant of the batch at one temperature."""

    model: Any
    T: float

    def record(self, name: str, default: float = 0.0) -> float:
        shelf = self.model.shelf
        return shelf.records[name](self.T, FLOATS) if name in shelf.records else default

    def __post_init__(self) -> None:
        m = self.model
        self.rho = self.record("water.density")
        self.p_water = self.record("water.saturation_pressure")
        self.water_mol_L = self.rho / 1000 / WATER_KG
        self.solubility = np.array([self.record(f"{s}.solubility", STAYS_IN_WATER) for s in m.oils])
        self.K_hydrate = np.array([self.record(f"{s}.hydration") for s in m.organics])
        self.K_volatile = np.array([self.volatility(s) for s in m.volatiles])  # of the unhydrated form
        self.x_saturated = (
            np.array([self.record(f"{s}.solubility", STAYS_IN_WATER) for s in m.volatiles]) / self.water_mol_L
        )

    def volatility(self, name: str) -> float:
        """K = y/x at infinite dilution in pure water, at the pressure of the batch."""
        P = self.model.scenario.heating.pressure_Pa
        if name == "inorganic carbon":
            return self.record("carbon dioxide.henry_pressure") / P
        if f"{name}.henry" in self.model.shelf.records:
            return 1000 * self.water_mol_L / (self.record(f"{name}.henry") * P)
        return self.water_mol_L / self.record(f"{name}.solubility") * self.record(f"{name}.vapour_pressure") / P

    @cached_property
    def A_phi(self) -> float:
        value = {
            name: self.model.shelf.records[f"physics.{name}"].value
            for name in ("avogadro_constant", "elementary_charge", "vacuum_permittivity", "boltzmann_constant")
        }
        N, e, vacuum, k = value.values()
        bjerrum = e**2 / (4 * pi * vacuum * self.record("water.permittivity") * k * self.T)
        return sqrt(2 * pi * N * self.rho) * bjerrum**1.5 / 3

    def ready_ions(self) -> Heat:
        """The parameters of the ions and the constants of the reactions, needed in the flask and not above it."""
        names = [[f"pitzer.{c}_{LIKE.get(a, a)}" for a in ANIONS] for c in CATIONS]
        self.beta0, self.beta1, self.C = (
            np.array([[self.record(f"{n}.{key}") for n in row] for row in names]) for key in ("beta0", "beta1", "Cphi")
        )
        self.C = self.C / (2 * np.sqrt(CHARGE))
        self.mixing = self.model.mixing
        pK = ("water.pKw", "carbonic.pK1", "carbonic.pK2", "benzoic acid.pKa")
        self.Kw, self.K1, self.K2, self.Ka = (10 ** -self.record(name) for name in pK)
        self.k, self.K = self.model.constants(self.T)
        return self
