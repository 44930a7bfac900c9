"""What the shares mean, in plain words with the numbers in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kinetics.analysis.ceiling import HOUR_S
from kinetics.analysis.idealisation import (
    BY_PRODUCT,
    CROSSED,
    HYDROXIDE,
    LOST,
    OIL,
    OWN_ALDOLS,
    TIME,
    Shares,
)
from kinetics.analysis.levers import FURTHER_H, LONGER, MORE_BASE
from kinetics.analysis.runs import Outcome
from kinetics.data.substrate import Substrate

if TYPE_CHECKING:
    from kinetics.analysis.explain import Gain

LITTLE = 0.01  # of the charge: a gain that is within the noise of a bench
DONE = 0.02  # a shortfall that needs no explaining


@dataclass(frozen=True)
class Findings:
    """What was computed and is now to be put into words; conversions hot unless they are of the end of the run."""

    substrate: Substrate
    run: Outcome
    hot: Outcome
    shares: Shares
    conversion: float
    yield_: float
    conversion_led_back: float
    closed: bool
    levers: Mapping[str, Gain]

    @property
    def main(self) -> str:
        """The mechanism with the largest share."""
        return max(
            (name for name in self.shares.of_conversion if name != "other"),
            key=lambda name: self.shares.of_conversion[name],
        )

    @property
    def cooling_loss(self) -> float:
        """Conversion that the cool-down takes back."""
        return self.shares.conversion - self.conversion


def points(fraction: float) -> str:
    """A part of the charge in points of conversion: "1.8 points"."""
    text = f"{100.0 * fraction:z.1f}"
    return f"{text} point{'' if text == '1.0' else 's'}"


def percent(fraction: float) -> str:
    return f"{100.0 * fraction:z.1f} %"


def diagnosis_of(found: Findings) -> str:
    """The main cause and its share; whether base and time are limits too; and what of the conversion is no product."""
    short = 1.0 - found.shares.conversion
    if short < DONE:
        text = f"The conversion is as good as complete, hot ({percent(found.shares.conversion)})."
    else:
        share = found.shares.of_conversion[found.main]
        helped = ", other mechanisms helping" if share > short else ""
        text = f"{cause_of(found)}: {points(share)}, with {points(short)} missing while hot{helped}."
    limits = ", and ".join(filter(None, [base_clause(found), time_clause(found)]))
    sentences = [text, f"{limits[0].upper()}{limits[1:]}." if limits else "", product_sentence(found)]
    return " ".join(filter(None, sentences))


def cause_of(found: Findings) -> str:
    """The main mechanism in one sentence."""
    hot, by, enal = found.hot, found.substrate.by_product, found.substrate.substrate
    stuck = 1e3 * hot.flask_end_mol.get(by, 0.0)
    gone = 1e3 * hot.left_end_mol.get(by, 0.0)
    at = f"The conversion stands at {percent(found.shares.conversion)} after {hot.hold_s / HOUR_S:.4g} h of hold"
    strength, oil = float(hot.hydroxide_mol_per_L[-1]), 1e3 * float(hot.oil_mol[-1])
    because = {
        BY_PRODUCT: f"{by} does not get out and adds back to {found.substrate.product} "
        f"({stuck:.2g} mmol of it are still in the flask, {gone:.2g} mmol have gone)",
        HYDROXIDE: f"the liquor is too weak ({strength:.2g} mol/L of hydroxide at pH {hot.pH[-1]:.1f})",
        TIME: "the chemistry has not had the time to come to rest",
        OIL: f"oil floats on the liquor and dissolves too slowly or not at all ({oil:.2g} mmol of it)",
        CROSSED: f"{enal} is tied up with {by} in the crossed aldol",
        OWN_ALDOLS: f"{by} stays in the flask as its own aldols, from which it comes back",
        LOST: f"{enal} or {found.substrate.product} leaves or spoils before its turn",
    }
    return f"{at} because {because[found.main]}"


def base_clause(found: Findings) -> str:
    """Whether the base is a limit, by what more of it would add."""
    lever = found.levers.get(MORE_BASE)
    if lever is None:
        return ""
    gain = lever.conversion_gain
    limit = (
        "more base does harm"
        if gain <= -LITTLE
        else "the base is a limit"
        if gain >= LITTLE
        else "the base is not the limit"
    )
    return f"{limit} ({lever.change}, adds {points(gain)})"


def time_clause(found: Findings) -> str:
    """What waiting would buy, and by which road."""
    lever = found.levers.get(LONGER)
    if lever is None:
        return ""
    gain, chemistry = lever.conversion_gain, found.shares.of_conversion[TIME] + found.shares.of_conversion[HYDROXIDE]
    text = f"{FURTHER_H:g} h more add {points(gain)} of conversion and {points(lever.yield_gain)} of yield"
    if gain > 2e-3 and chemistry < 0.5 * gain and not found.closed:
        text += f", no faster than {found.substrate.by_product} leaks past the condenser"
    return text


def product_sentence(found: Findings) -> str:
    """Conversion that is not product."""
    apart = found.shares.conversion - found.shares.yield_
    if apart < 0.03:
        return ""
    held, lost = found.shares.of_yield[CROSSED], found.shares.of_yield[LOST]
    why = f"the crossed aldol costs {points(held)} of yield" if held > LITTLE else ""
    if lost > LITTLE:
        why += f"{', ' if why else ''}product lost or degraded {points(lost)}"
    text = f"Conversion is not yield: of {percent(found.shares.conversion)} only {percent(found.shares.yield_)} is "
    return f"{text}{found.substrate.product}{f' ({why})' if why else ''}."


def reversibility_of(found: Findings) -> str:
    """What happens if the by-product is led back, and in the cool-down."""
    by, gone = found.substrate.by_product, 1e3 * found.hot.left_end_mol.get(found.substrate.by_product, 0.0)
    hot, back = found.shares.conversion, found.conversion_led_back
    text = "The cleavage runs both ways. "
    if gone < 1e-3:
        text += f"No {by} has left, so there is none to lead back: what is in the flask is all that holds it."
    else:
        ends = f"fall from {percent(hot)} to" if back < hot else f"never pass (it stands at {percent(hot)})"
        text += (
            f"If the {gone:.2g} mmol of {by} that left were led back into the hot liquor, the conversion would {ends} "
            f"{percent(back)}: keep distillate and condensed vent gas out of the flask."
        )
    if found.cooling_loss > 2e-3:
        text += (
            f" Cooling takes {points(found.cooling_loss)} back, since the fragments recombine on the way down: "
            "cool quickly, or take the product off the base while hot."
        )
    return text
