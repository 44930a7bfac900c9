"""One test on the bench that tells the diagnosis from its nearest rival, with what each of them predicts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, log
from typing import TYPE_CHECKING

from kinetics.analysis.base import is_base
from kinetics.analysis.ceiling import HOUR_S, up_to
from kinetics.analysis.idealisation import CROSSED, HYDROXIDE, OIL, TIME, achieved
from kinetics.analysis.levers import BASE_G_PER_L, STIR
from kinetics.analysis.runs import Job, Outcome
from kinetics.data.shelf import load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.scenario import Addition, Scenario

if TYPE_CHECKING:
    from kinetics.analysis.diagnosis import Findings

EARLY_H, PULSE_H, WAIT_H = 1.0, 3.0, 0.5
SEEN = 0.05  # of the charge: what a careful bench sees in one sample
SAMPLE = "Quench each sample in cold dilute acid at once, for the aldehydes recombine as alkaline liquor cools"


@dataclass(frozen=True)
class BenchTest:
    """What to do; the rival explanation; what is seen if the diagnosis holds, and what if the rival does.

    predicted, predicted_by_rival: the same as numbers [parts of the charge].
    """

    test: str
    rival: str
    if_right: str
    if_rival: str
    predicted: Mapping[str, float]
    predicted_by_rival: Mapping[str, float]


def moments_h(hot: Scenario) -> tuple[float, float, float]:
    """When to take an early sample, when to add base, and how long to wait then [h], within the hold of `hot`."""
    hold_h = hot.heating.hold_s / HOUR_S
    pulse = min(PULSE_H, 0.5 * hold_h)
    return min(EARLY_H, 0.1 * hold_h), pulse, min(WAIT_H, hold_h - pulse)


def with_base_again(hot: Scenario, at_h: float) -> tuple[Scenario, str]:
    """The scenario with its base charged once more at `at_h`, and that charge in words."""
    shelf = load_shelf().including(hot.substrate)
    bases = tuple(charge for charge in hot.charges if is_base(charge.substance, shelf))
    if not bases:
        water_kg = sum(charge.components_mol.get("water", 0.0) for charge in hot.charges) * 0.018015
        soda = shelf.substance("sodium carbonate")
        amount = BASE_G_PER_L * water_kg / soda.molar_mass
        parts = {name: nu * amount for name, nu in soda.components.items()}
        some = replace(hot.charges[0], substance="sodium carbonate", components_mol=parts, amount_mol=amount)
        bases = (replace(some, text=f"{BASE_G_PER_L * water_kg:.2g} g"),)
    words = " and ".join(f"{charge.text} of {charge.substance}" for charge in bases)
    additions = sorted([*hot.additions, Addition(at_h * HOUR_S, 0.0, bases)], key=lambda a: a.at_s)
    return replace(hot, additions=tuple(additions)), words


def bench_jobs(hot: Scenario, mechanisms: Mechanisms, shifts: tuple[tuple[str, float], ...]) -> list[Job]:
    """The runs from which a test is chosen: without the crossed aldol, and with base added again; and the plain one."""
    early, pulse, wait = moments_h(hot)
    ramp_s, hold_s = hot.heating.ramp_s, hot.heating.hold_s
    times = tuple(ramp_s + HOUR_S * t for t in (early, pulse, pulse + wait, hold_s / HOUR_S))
    again, _ = with_base_again(up_to(hot, (pulse + wait) * HOUR_S), pulse)
    return [
        Job(hot, mechanisms, shifts, times, key="plain"),
        Job(hot, replace(mechanisms, crossed_aldol=False), shifts, times, key="no crossed aldol"),
        Job(again, mechanisms, shifts, times, key="base again"),
    ]


def bench_test(hot: Scenario, found: Findings, runs: Mapping[object, Outcome]) -> BenchTest:
    """The test that tells most: by the shape of the course, by stirring, or by adding base again."""
    early, _, _ = moments_h(hot)
    plain, without = runs["plain"], runs["no crossed aldol"]
    stir = found.levers.get(STIR)
    if found.main == OIL and stir is not None and stir.conversion_gain > SEEN:
        return stirring_test(stir.conversion_gain)
    if found.main not in (HYDROXIDE, TIME) and without.failure is None and found.shares.of_yield[CROSSED] != 0.0:
        apart = (plain.at_hold(early) or 0.0) - (without.at_hold(early) or 0.0)
        if abs(apart) > SEEN:
            return shape_test(hot, plain, without, early)
    return base_test(hot, found, plain, runs["base again"])


def stirring_test(gain: float) -> BenchTest:
    """Whether the oil waits for stirring."""
    return BenchTest(
        "Repeat the batch with vigorous stirring, all else the same, and compare the conversion at the end.",
        "by-product held back by equilibrium, oil or no oil",
        f"{100.0 * gain:.0f} points more",
        "no change",
        {"gain": gain},
        {"gain": 0.0},
    )


def shape_test(hot: Scenario, plain: Outcome, without: Outcome, early_h: float) -> BenchTest:
    """The shape of the course tells whether the crossed aldol acts: two samples, conversion and yield of each."""
    end_h = hot.heating.hold_s / HOUR_S

    def seen(outcome: Outcome) -> tuple[str, dict[str, float]]:
        numbers: dict[str, float] = {}
        texts = []
        for name, hold_h in (("early", early_h), ("end", end_h)):
            conversion, formed = outcome.at_hold(hold_h) or 0.0, outcome.at_hold(hold_h, "yield_") or 0.0
            numbers |= {f"conversion_{name}": conversion, f"yield_{name}": formed}
            texts.append(f"at {hold_h:.3g} h conversion {100 * conversion:.0f} %, yield {100 * formed:.0f} %")
        return "; ".join(texts), numbers

    right, predicted = seen(plain)
    rival, predicted_by_rival = seen(without)
    return BenchTest(
        f"Take a sample {early_h:.3g} h into the hold and one at {end_h:.3g} h, and measure both what is left of the "
        f"substrate and what has formed of the product. {SAMPLE}.",
        "a liquor without the crossed aldol, whose constants are the least certain here",
        right,
        rival,
        predicted,
        predicted_by_rival,
    )


def base_test(hot: Scenario, found: Findings, plain: Outcome, again: Outcome) -> BenchTest:
    """Base added again tells a liquor that waits for its base from one that stands at its equilibrium.

    The rival of an equilibrium is a plain first-order decay that has come as far, 1 - x = exp(-k t), made faster by as
    much as the hydroxide rises: 1 - x' = (1 - x) exp(-k w [OH-]'/[OH-]). The rival of a slow liquor is an equilibrium,
    which more base does not move.
    """
    _, pulse, wait = moments_h(hot)
    _, words = with_base_again(hot, pulse)
    before, undisturbed = plain.at_hold(pulse) or 0.0, plain.at_hold(pulse + wait) or 0.0
    after = achieved(again)[0] if again.failure is None else undisturbed
    jump = after - before
    if found.main in (HYDROXIDE, TIME):
        rival, rival_jump = "an equilibrium held by by-product in the flask", 0.0
    else:
        rival = "a liquor too weak or a time too short"
        strength = float(again.hydroxide_mol_per_L[-1]) / (plain.at_hold(pulse + wait, "hydroxide_mol_per_L") or 1.0)
        rate = -log(max(1.0 - before, 1e-12)) / (pulse * HOUR_S + 0.25 * hot.heating.ramp_s)
        rival_jump = (1.0 - before) * (1.0 - exp(-rate * wait * HOUR_S * strength))
    return BenchTest(
        f"{pulse:.3g} h into the hold take a sample, add {words} once more, and take another {60 * wait:.3g} min "
        f"later. {SAMPLE}.",
        rival,
        f"the conversion moves by {100 * jump:+.1f} points (from {100 * before:.0f} %)",
        f"it moves by {100 * rival_jump:+.1f} points",
        {"jump": jump, "before": before},
        {"jump": rival_jump, "before": before},
    )
