"""Activity coefficients of hot carbonate liquor: Pitzer's equations for alkali hydroxide, bicarbonate, carbonate, chloride.

Source of the equations: C. E. Harvie, N. Moller, J. H. Weare, Geochim. Cosmochim. Acta 48 (1984) 723, eqs 2a-2h;
unsymmetrical mixing of ions of charge 1 and 2: K. S. Pitzer, J. Solution Chem. 4 (1975) 249, eq 47.
The parameters and their sources are on the data shelf (`retroaldol sources pitzer`).

The two alkali metals are written as one cation of total molality `alkali`. Pitzer's equations are linear in the
cation-anion parameters, so this is exact for the anions when each parameter is the mean over the metals.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from kinetics.data.namespace import Namespace

DEBYE_HUCKEL_B = 1.2  # Pitzer's constant, kg^1/2 mol^-1/2, by definition of the model
ALPHA = 2.0  # of every 1-1 and 1-2 salt, by definition of the model


class PitzerParameters(NamedTuple):
    """Interaction parameters at one temperature; pairs are (hydroxide, bicarbonate, carbonate, chloride) with alkali."""

    debye_huckel: Any
    beta0: tuple[Any, Any, Any, Any]
    beta1: tuple[Any, Any, Any, Any]
    C: tuple[Any, Any, Any, Any]
    theta_oh_co3: Any
    theta_hco3_co3: Any
    theta_cl_oh: Any
    theta_cl_co3: Any
    theta_cl_hco3: Any
    psi_oh_co3: Any
    psi_hco3_co3: Any
    psi_cl_oh: Any
    psi_cl_co3: Any
    psi_cl_hco3: Any
    psi_metals: tuple[Any, Any, Any, Any]  # psi(Na, K, anion) times the two metal fractions
    theta_metals: Any  # theta(Na, K) times the two metal fractions


class Activities(NamedTuple):
    """Natural logarithms of the activity coefficients (molal scale), and of the activity of water."""

    ln_hydroxide: Any
    ln_bicarbonate: Any
    ln_carbonate: Any
    ln_univalent: Any  # Debye-Hueckel term alone, charge 1: hydrogen ion, organic anions
    ln_divalent: Any  # the same, charge 2: calcium
    ln_water: Any


def debye_huckel_slope(density: Any, permittivity: Any, temperature: Any) -> Any:
    """Debye-Hueckel slope A_phi [kg^1/2 mol^-1/2] of the osmotic coefficient.

    A_phi = (1/3) (2 pi N_A rho)^(1/2) (e^2 / (4 pi eps0 eps k T))^(3/2); density [kg/m3], relative permittivity [1],
    temperature [K]. Constants: CODATA 2018. At 298.15 K, 997.05 kg/m3 and 78.41: 0.391.
    """
    avogadro, charge, boltzmann, vacuum = 6.02214076e23, 1.602176634e-19, 1.380649e-23, 8.8541878128e-12
    pi = 3.141592653589793
    bjerrum = charge**2 / (4.0 * pi * vacuum * permittivity * boltzmann * temperature)
    return (2.0 * pi * avogadro * density) ** 0.5 * bjerrum**1.5 / 3.0


def unsymmetrical_integral(x: Any, m: Namespace) -> tuple[Any, Any]:
    """Pitzer's J(x) and x J'(x): J = x / (4 + 4.581 x^-0.7237 exp(-0.0120 x^0.528)) (1975, eq 47)."""
    ln_x = m.log(x)
    power = m.exp(0.528 * ln_x)
    tail = 4.581 * m.exp(-0.7237 * ln_x - 0.0120 * power)
    J = x / (4.0 + tail)
    return J, J * (1.0 + J / x * tail * (0.7237 + 0.0120 * 0.528 * power))


def unsymmetrical_mixing(ionic_strength: Any, debye_huckel: Any, m: Namespace) -> tuple[Any, Any]:
    """E-theta [kg/mol] of two anions of charge 1 and 2, and its derivative by ionic strength [kg2/mol2]."""
    unit = 6.0 * debye_huckel * m.sqrt(ionic_strength)
    J12, xJ12 = unsymmetrical_integral(2.0 * unit, m)
    J11, xJ11 = unsymmetrical_integral(unit, m)
    J22, xJ22 = unsymmetrical_integral(4.0 * unit, m)
    theta = (J12 - 0.5 * J11 - 0.5 * J22) / (2.0 * ionic_strength)
    slope = (xJ12 - 0.5 * xJ11 - 0.5 * xJ22) / (4.0 * ionic_strength**2) - theta / ionic_strength
    return theta, slope


def pitzer_activities(
    alkali: Any,
    calcium: Any,
    hydroxide: Any,
    bicarbonate: Any,
    carbonate: Any,
    chloride: Any,
    organic: Any,
    p: PitzerParameters,
    m: Namespace,
) -> Activities:
    """Activity coefficients from the molalities [mol/kg] of the ions and the parameters at their temperature.

    Valid to about 2 mol/kg carbonate and 6 mol/kg hydroxide. Calcium and organic anions count in the ionic strength
    and take the Debye-Hueckel term only. NaOH 1 mol/kg at 25 C: 0.668 (0.678 in R. A. Robinson, R. H. Stokes, Electrolyte Solutions).
    """
    I = 0.5 * (alkali + 4.0 * calcium + hydroxide + bicarbonate + 4.0 * carbonate + chloride + organic) + 1e-7
    root = m.sqrt(I)
    x = ALPHA * root
    decay = m.exp(-x)
    g = 2.0 * (1.0 - (1.0 + x) * decay) / (x * x)
    g_slope = (decay - g) / I
    A = p.debye_huckel
    b = DEBYE_HUCKEL_B
    f = -A * (root / (1.0 + b * root) + 2.0 / b * m.log(1.0 + b * root))
    E_theta, E_slope = unsymmetrical_mixing(I, A, m)
    oh, hco3, co3, cl, M = hydroxide, bicarbonate, carbonate, chloride, alkali
    b0, b1, C = p.beta0, p.beta1, p.C
    Z = M + 2.0 * calcium + oh + hco3 + 2.0 * co3 + cl + organic

    sum_beta1 = oh * b1[0] + hco3 * b1[1] + co3 * b1[2] + cl * b1[3]
    sum_C = oh * C[0] + hco3 * C[1] + co3 * C[2] + cl * C[3]
    univalent = oh + hco3 + cl
    F = f + M * sum_beta1 * g_slope + co3 * univalent * E_slope
    MC = M * sum_C

    ln_oh = F + MC + M * (
        2.0 * (b0[0] + b1[0] * g) + Z * C[0] + M * p.psi_metals[0] + co3 * p.psi_oh_co3 + cl * p.psi_cl_oh
    ) + 2.0 * (co3 * (p.theta_oh_co3 + E_theta) + cl * p.theta_cl_oh)
    ln_hco3 = F + MC + M * (
        2.0 * (b0[1] + b1[1] * g) + Z * C[1] + M * p.psi_metals[1] + co3 * p.psi_hco3_co3 + cl * p.psi_cl_hco3
    ) + 2.0 * (co3 * (p.theta_hco3_co3 + E_theta) + cl * p.theta_cl_hco3)
    ln_co3 = 4.0 * F + 2.0 * MC + M * (
        2.0 * (b0[2] + b1[2] * g) + Z * C[2] + M * p.psi_metals[2]
        + oh * p.psi_oh_co3 + hco3 * p.psi_hco3_co3 + cl * p.psi_cl_co3
    ) + 2.0 * (oh * (p.theta_oh_co3 + E_theta) + hco3 * (p.theta_hco3_co3 + E_theta) + cl * (p.theta_cl_co3 + E_theta))

    sum_b0 = oh * b0[0] + hco3 * b0[1] + co3 * b0[2] + cl * b0[3]
    sum_psi_metals = oh * p.psi_metals[0] + hco3 * p.psi_metals[1] + co3 * p.psi_metals[2] + cl * p.psi_metals[3]
    E_osmotic = E_theta + I * E_slope
    anions = co3 * (
        oh * (p.theta_oh_co3 + E_osmotic + M * p.psi_oh_co3)
        + hco3 * (p.theta_hco3_co3 + E_osmotic + M * p.psi_hco3_co3)
        + cl * (p.theta_cl_co3 + E_osmotic + M * p.psi_cl_co3)
    ) + cl * (oh * (p.theta_cl_oh + M * p.psi_cl_oh) + hco3 * (p.theta_cl_hco3 + M * p.psi_cl_hco3))
    excess = 2.0 * (
        -A * I * root / (1.0 + b * root)
        + M * (sum_b0 + sum_beta1 * decay + Z * sum_C)
        + M * M * (p.theta_metals + sum_psi_metals)
        + anions
    )
    osmoles = M + calcium + oh + hco3 + co3 + cl + organic
    return Activities(ln_oh, ln_hco3, ln_co3, f, 4.0 * f, -0.0180153 * (osmoles + excess))
