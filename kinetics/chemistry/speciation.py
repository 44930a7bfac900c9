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
LOG10_E = 0.4342944819032518


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
    alkali, chloride = totals.alkali, totals.chloride
    if start is None:
        u, act = first_guess(totals, constants, m), activity(alkali, 0.0, alkali, 0.0, 0.0, 0.0, 0.0)
    else:
        u, act = start.ln_hydroxide, start.activities
    for iteration in range(1, MAX_ITERATIONS + 1):
        conditional = conditional_constants(act, alkali, constants, m)
        ions, step = balance_step(u, conditional, totals, m)
        if iteration > 1 and m.largest(abs(step)) < tolerance:  # balanced, with the activities of its own ions
            break
        u = u + m.maximum(m.minimum(step, LONGEST_STEP), -LONGEST_STEP)
        ions, step = balance_step(u, conditional, totals, m)
        u = u + m.maximum(m.minimum(step, LONGEST_STEP), -LONGEST_STEP)
        act = activity(alkali, ions.calcium, ions.hydroxide, ions.bicarbonate, ions.carbonate, chloride, ions.organic)
    return Speciation(
        -LOG10_E * m.log(conditional.acidity / ions.hydroxide), *ions, act, u, iteration, iteration < MAX_ITERATIONS
    )


class Conditional(NamedTuple):
    """Constants in molalities, for one set of activity coefficients."""

    acidity: Any  # a_H times [OH-]
    hydrogen: Any  # [H+] [OH-]
    carbonate: Any  # [HCO3-] [OH-] / [CO3--]
    bicarbonate: Any  # [CO2] [OH-] / [HCO3-]
    acids: tuple[Any, ...]  # [HA] [OH-] / [A-]
    lime: Any  # [Ca++] [OH-]^2


class Ions(NamedTuple):
    """Molalities [mol/kg] at one hydroxide."""

    hydroxide: Any
    bicarbonate: Any
    carbonate: Any
    carbon_dioxide: Any
    hydrogen: Any
    calcium: Any
    organic: Any


def conditional_constants(act: Activities, alkali: Any, constants: AcidBaseConstants, m: Namespace) -> Conditional:
    """Concentration constants from the thermodynamic ones and the activity coefficients."""
    ln_oh, ln_hco3, ln_co3, ln_1, ln_2, ln_w = act
    Kw_aw = constants.Kw * m.exp(ln_w)
    acidity = Kw_aw * m.exp(-ln_oh)
    return Conditional(
        acidity,
        acidity * m.exp(-ln_1),
        Kw_aw / constants.K2 * m.exp(ln_co3 - ln_hco3 - ln_oh),
        constants.Kw / constants.K1 * m.exp(ln_hco3 - ln_oh - constants.ln_carbon_dioxide * alkali),
        tuple([acidity * m.exp(ln_1) / Ka for Ka in constants.Ka]),
        constants.calcium_hydroxide * m.exp(-ln_2 - 2.0 * ln_oh),
    )


def balance_step(u: Any, k: Conditional, totals: Totals, m: Namespace) -> tuple[Ions, Any]:
    """Composition at ln[OH-] = u, and the Newton step in u that would balance the charges."""
    alkali, calcium_total, chloride, carbon, acids = totals
    w = m.exp(u)
    hydrogen = k.hydrogen / w
    calcium: Any = 0.0
    d_positive = -hydrogen
    if not is_nothing(calcium_total):
        solid = m.minimum(calcium_total, carbon)  # CaCO3
        carbon = carbon - solid
        dissolved = k.lime / (w * w)
        calcium = m.minimum(calcium_total - solid, dissolved)
        d_positive = d_positive - m.where(dissolved < calcium_total - solid, 4.0 * calcium, 0.0)
    bicarbonate_to_carbonate = k.carbonate / w
    co3 = carbon / (1.0 + bicarbonate_to_carbonate * (1.0 + k.bicarbonate / w))
    hco3 = co3 * bicarbonate_to_carbonate
    organic: Any = 0.0
    d_negative: Any = w
    for total, ka in zip(acids, k.acids):
        undissociated = ka / w
        ionised = total / (1.0 + undissociated)
        organic = organic + ionised
        d_negative = d_negative + ionised * undissociated / (1.0 + undissociated)
    positive = alkali - chloride + 2.0 * calcium + hydrogen  # chloride on this side: a neutral salt cancels exactly
    charge = hco3 + 2.0 * co3
    negative = w + charge + organic
    # by ln w; that of the carbonates is the variance of the charge over the three forms
    d_negative = d_negative + hco3 + 4.0 * co3 - charge * charge / (carbon + 1e-300)
    step = m.log(positive / negative) / (d_negative / negative - d_positive / positive)
    return Ions(w, hco3, co3, hco3 * k.bicarbonate / w, hydrogen, calcium, organic), step


def is_nothing(amount: Any) -> bool:
    """Whether an amount is the plain number 0 (an array of samples never is)."""
    return isinstance(amount, (int, float)) and amount == 0
