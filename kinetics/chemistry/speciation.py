"""Acid-base state of the liquor: pH and [OH-] from the balance of charges, with activities, at the flask's temperature.

Equilibria (molal activities a = gamma m):

    H2O = H+ + OH-          Kw = a_H a_OH / a_w
    CO2 + H2O = HCO3- + H+  K1 = a_HCO3 a_H / (a_CO2 a_w)
    HCO3- = CO3-- + H+      K2 = a_CO3 a_H / a_HCO3
    HA = A- + H+            Ka = a_A a_H / m_HA
    Ca(OH)2(s) = Ca++ + 2 OH-,  and CaCO3 taken as insoluble beside the others

Balance of charges: [alkali] + 2 [Ca++] + [H+] = [OH-] + [HCO3-] + 2 [CO3--] + [A-] + [Cl-].
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from kinetics.chemistry.pitzer import Activities
from kinetics.data.namespace import Namespace

TOLERANCE = 1e-11  # of ln[OH-] and of the logarithms of the activity coefficients
MAX_ITERATIONS = 100
LONGEST_STEP = 2.0  # in ln[OH-]


class AcidBaseConstants(NamedTuple):
    """Thermodynamic constants at one temperature (molal)."""

    Kw: Any
    K1: Any
    K2: Any
    Ka: tuple[Any, ...]  # organic acids, in the order of `acids`
    calcium_hydroxide: Any  # solubility product, a_Ca a_OH^2
    ln_carbon_dioxide: Any  # ln gamma of CO2 per mol/kg of alkali (salting out)


class Totals(NamedTuple):
    """What the charge balance is struck over [mol per kg of water]."""

    alkali: Any
    calcium: Any
    chloride: Any
    carbon: Any
    acids: tuple[Any, ...]


class Speciation(NamedTuple):
    """Molalities [mol/kg], pH, and what the next solution starts from."""

    pH: Any
    hydroxide: Any
    bicarbonate: Any
    carbonate: Any
    carbon_dioxide: Any  # dissolved CO2 (with H2CO3)
    hydrogen: Any
    calcium: Any  # dissolved
    organic: Any  # organic anions together
    activities: Activities
    ln_hydroxide: Any
    iterations: int
    converged: bool

    def charge_imbalance(self, totals: Totals) -> Any:
        """Net charge over total charge [1]: the error of the balance."""
        positive = totals.alkali + 2.0 * self.calcium + self.hydrogen
        negative = self.hydroxide + self.bicarbonate + 2.0 * self.carbonate + self.organic + totals.chloride
        return (positive - negative) / (positive + negative)


ActivityModel = Callable[..., Activities]
IDEAL = Activities(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def first_guess(totals: Totals, constants: AcidBaseConstants, m: Namespace) -> Any:
    """ln[OH-] to start from: free hydroxide, carbonate's hydrolysis or the bicarbonate buffer, whichever is more."""
    free = m.maximum(totals.alkali + 2.0 * totals.calcium - totals.chloride - 2.0 * totals.carbon, 0.0)
    hydrolysis = m.sqrt(constants.Kw / constants.K2 * totals.carbon + constants.Kw)
    return m.log(free + 0.5 * hydrolysis)


def speciate(
    totals: Totals,
    constants: AcidBaseConstants,
    activity: ActivityModel,
    m: Namespace,
    start: Speciation | None = None,
    tolerance: float = TOLERANCE,
) -> Speciation:
    """Solve the balance of charges for the hydroxide: two Newton steps in ln[OH-], new activities, and again.

    `activity` takes the molalities (alkali, calcium, hydroxide, bicarbonate, carbonate, chloride, organic);
    `start` is an earlier solution nearby; `tolerance` is that of ln[OH-]. `converged` tells whether it was reached.
    """
    if start is None:
        u, act = first_guess(totals, constants, m), activity(totals.alkali, 0.0, totals.alkali, 0.0, 0.0, 0.0, 0.0)
    else:
        u, act = start.ln_hydroxide, start.activities
    for iteration in range(1, MAX_ITERATIONS + 1):
        _, step = balance_step(u, act, totals, constants, m)
        u = u + m.maximum(m.minimum(step, LONGEST_STEP), -LONGEST_STEP)
        state, second = balance_step(u, act, totals, constants, m)
        if m.largest(m.maximum(abs(step), abs(second))) < tolerance and iteration > 1:
            return state._replace(iterations=iteration, converged=True)
        u = u + m.maximum(m.minimum(second, LONGEST_STEP), -LONGEST_STEP)
        act = activity(
            totals.alkali, state.calcium, state.hydroxide, state.bicarbonate, state.carbonate,
            totals.chloride, state.organic,
        )  # fmt: skip
    return state


def balance_step(
    u: Any, act: Activities, totals: Totals, constants: AcidBaseConstants, m: Namespace
) -> tuple[Speciation, Any]:
    """Composition at ln[OH-] = u with the given activities, and the Newton step that would balance the charges."""
    alkali, calcium_total, _, carbon_total, acids = totals
    solid = m.minimum(calcium_total, carbon_total)  # CaCO3
    calcium_left, carbon = calcium_total - solid, carbon_total - solid
    Kw, K1, K2, Ka, K_lime, salting = constants
    w = m.exp(u)
    g_oh, g_hco3, g_co3, g_1, g_2 = m.exp(act[0]), m.exp(act[1]), m.exp(act[2]), m.exp(act[3]), m.exp(act[4])
    Kw_aw = Kw * m.exp(act.ln_water)
    a_H = Kw_aw / (g_oh * w)
    kb = Kw_aw * g_co3 / (K2 * g_hco3 * g_oh)  # hydrolysis of carbonate
    kc = Kw * g_hco3 / (K1 * g_oh * m.exp(salting * alkali))  # hydrolysis of bicarbonate
    dissolved = K_lime / (g_2 * g_oh * g_oh * w * w)
    calcium = m.minimum(calcium_left, dissolved)
    D = w * w + kb * w + kb * kc
    co3, hco3, co2 = carbon * w * w / D, carbon * kb * w / D, carbon * kb * kc / D
    hydrogen = a_H / g_1
    organic: Any = 0.0
    d_organic: Any = 0.0
    for total, K in zip(acids, Ka):
        ionised_fraction = K / (K + a_H * g_1)
        organic = organic + total * ionised_fraction
        d_organic = d_organic + total * ionised_fraction * (1.0 - ionised_fraction)
    positive = alkali + 2.0 * calcium + hydrogen
    charge = hco3 + 2.0 * co3
    negative = w + charge + organic + totals.chloride
    # by ln w; that of the carbonates is the variance of the charge over the three forms
    d_charge = hco3 + 4.0 * co3 - charge * charge / (carbon + 1e-300)
    d_positive = m.where(dissolved < calcium_left, -4.0 * calcium, 0.0) - hydrogen
    step = m.log(positive / negative) / ((w + d_charge + d_organic) / negative - d_positive / positive)
    pH = -0.4342944819032518 * m.log(a_H)
    return Speciation(pH, w, hco3, co3, co2, hydrogen, calcium, organic, act, u, 0, False), step
