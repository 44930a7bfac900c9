"""Why the conversion stops where it does: the shortfall shared out, a diagnosis, the levers, and one bench test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from kinetics.analysis.bench_test import BenchTest, bench_jobs, bench_test
from kinetics.analysis.ceiling import (
    ALL_ACT,
    HOUR_S,
    IRREVERSIBLE,
    REST_TIMES_S,
    come_to_rest,
    require_substrate,
    shut_in,
    up_to,
    without,
)
from kinetics.analysis.diagnosis import Findings, diagnosis_of, reversibility_of
from kinetics.analysis.executors import default_workers, pool
from kinetics.analysis.idealisation import HYDROXIDE, Sharing, at_rest, completed, idealised
from kinetics.analysis.levers import FURTHER_H, LONGER, Lever, levers_of
from kinetics.analysis.runs import Job, Outcome, Progress, onward, run_jobs
from kinetics.data.faults import Fault, ScenarioError
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.result import Summary, plain
from kinetics.run.scenario import Scenario

COOL_DOWN = "recombined in the cool-down"


@dataclass(frozen=True)
class Gain:
    """What a lever would buy: conversion and yield [parts of the charge], product in the flask or taken off [g]."""

    change: str
    changes: Mapping[str, object]
    conversion_gain: float
    yield_gain: float
    product_gain_g: float
    caution: str


@dataclass(frozen=True)
class Refused:
    """A lever that cannot be had here, and why."""

    change: str
    reason: str


@dataclass(frozen=True)
class Explanation:
    """Why a batch stops where it does. Every conversion, yield and share is a part of the charge: 0.25 is 25 points.

    at_h: the moment of the hold explained [h], hot, or None for the end of the run, cool-down included; conversion,
    yield_: then; conversion_hot, yield_hot: at the end of the hold. shares add up to the shortfall, 1 - conversion,
    and shares_yield to 1 - yield_; a negative share helps. levers: best first, each as if the scenario were run again
    with that change alone. conversion_led_back: where the hot liquor would stop if all by-product that left came back.
    """

    title: str
    substrate: str
    product: str
    by_product: str
    at_h: float | None
    hold_h: float
    conversion: float
    yield_: float
    shortfall: float
    conversion_hot: float
    yield_hot: float
    shares: Mapping[str, float]
    shares_yield: Mapping[str, float]
    diagnosis: str
    levers: tuple[Gain, ...]
    not_applicable: tuple[Refused, ...]
    bench_test: BenchTest
    conversion_led_back: float
    reversibility: str
    notices: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """As plain lists, numbers and text."""
        return plain(self)


def explain(
    scenario: Scenario,
    at_h: float | None = None,
    *,
    mechanisms: Mechanisms = ALL_ACT,
    shifts: tuple[tuple[str, float], ...] = (),
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Explanation:
    """Explain the end of a run, or the moment `at_h` [h] of its hold.

    mechanisms and shifts: see Job; workers, executor and progress: see run_jobs. Some hundred and fifty runs. Raises
    ScenarioError for what cannot be asked and NumericalFailure where a run that it needs stops short.
    """
    substrate = require_substrate(scenario)
    hold_h = scenario.heating.hold_s / HOUR_S
    if at_h is not None and not 0.0 < at_h <= hold_h * (1.0 + 1e-9):
        fault = Fault("--at", f"a time of the hold, above 0 h and up to {hold_h:.6g} h", f"{at_h:.6g} h")
        raise ScenarioError([fault], str(scenario.path or scenario.title))
    hot = up_to(scenario, (hold_h if at_h is None else at_h) * HOUR_S)
    explained = scenario if at_h is None else hot
    levers = levers_of(scenario)
    usable = [(lever, changed(lever, at_h)) for lever in levers if lever.scenario is not None]
    sharing = Sharing(hot, mechanisms, shifts)
    bench = bench_jobs(hot, mechanisms, shifts)
    own = [
        Job(explained, mechanisms, shifts, key="the run itself", whole=True),
        *(Job(after, mechanisms, shifts, ends_of(after), key=lever.name) for lever, after in usable),
        *bench,
    ]
    combined = sharing.first_jobs()
    total = len(own) + 2 * len(combined) + 1
    workers = default_workers(total) if workers is None else workers
    with pool(workers, executor) as doing:
        outcomes = run_jobs([*own, *combined], 1, doing, onward(progress, 0, total))
        first = outcomes[len(own) :]
        base = completed(outcomes[0], "the run itself")
        hot_end = completed(first[0], "the run to the end of its hold")
        back = {
            name: amount + (hot_end.left_end_mol.get(name, 0.0) if name == substrate.by_product else 0.0)
            for name, amount in hot_end.flask_end_mol.items()
        }
        led_back = Job(
            shut_in(hot, back, float(hot_end.temperature_K[-1])),
            without(idealised(mechanisms, frozenset([HYDROXIDE])), IRREVERSIBLE),
            shifts,
            REST_TIMES_S,
            key="by-product led back",
        )
        jobs = [led_back, *sharing.second_jobs(first)]
        second = run_jobs(jobs, 1, doing, onward(progress, len(outcomes), total))
    shares = sharing.shares(first, second[1:])
    end = base.summary
    assert end is not None and end.conversion is not None and end.yield_ is not None
    gains, refused = gains_of([(lever, o) for (lever, _), o in zip(usable, outcomes[1:])], end)
    refused = [Refused(lever.change, lever.refused) for lever in levers if lever.refused] + refused
    conversion_led_back, _ = at_rest(hot, hot_end, completed(come_to_rest(second[0]), "with the by-product led back"))
    by_name = {lever.name: gain for lever, gain in gains}
    findings = Findings(
        substrate,
        base,
        hot_end,
        shares,
        end.conversion,
        end.yield_,
        conversion_led_back,
        scenario.vessel.closed,
        by_name,
    )
    own_bench = dict(zip([job.key for job in bench], outcomes[1 + len(usable) :]))
    ordered = sorted((gain for _, gain in gains), key=lambda g: (-g.conversion_gain, -g.product_gain_g))
    return Explanation(
        scenario.title,
        substrate.substrate,
        substrate.product,
        substrate.by_product,
        at_h,
        hot.heating.hold_s / HOUR_S,
        end.conversion,
        end.yield_,
        1.0 - end.conversion,
        shares.conversion,
        shares.yield_,
        {**shares.of_conversion, COOL_DOWN: shares.conversion - end.conversion},
        {**shares.of_yield, COOL_DOWN: shares.yield_ - end.yield_},
        diagnosis_of(findings),
        tuple(ordered),
        tuple(refused),
        bench_test(hot, findings, own_bench),
        conversion_led_back,
        reversibility_of(findings),
        base.notices,
        base.cautions,
    )


def changed(lever: Lever, at_h: float | None) -> Scenario:
    """The scenario a lever leads to, as far as it is explained; more time moves that moment too."""
    assert lever.scenario is not None
    if at_h is None:
        return lever.scenario
    return up_to(lever.scenario, (at_h + (FURTHER_H if lever.name == LONGER else 0.0)) * HOUR_S)


def ends_of(scenario: Scenario) -> tuple[float, ...]:
    """The end of the hold alone [s]: with the end of the run, which is always kept, all that a lever needs."""
    return (scenario.heating.ramp_s + scenario.heating.hold_s,)


def gains_of(tried: Sequence[tuple[Lever, Outcome]], before: Summary) -> tuple[list[tuple[Lever, Gain]], list[Refused]]:
    """What each lever gains over the run as it is; one whose run stopped short is refused with the reason."""
    gains, refused = [], []
    for lever, outcome in tried:
        after = outcome.summary
        if outcome.failure is not None or after is None or after.conversion is None or after.yield_ is None:
            refused.append(Refused(lever.change, str(outcome.failure)))
            continue
        assert before.conversion is not None and before.yield_ is not None
        gain = Gain(
            lever.change,
            lever.changes,
            after.conversion - before.conversion,
            after.yield_ - before.yield_,
            product_g(after) - product_g(before),
            lever.caution,
        )
        gains.append((lever, gain))
    return gains, refused


def product_g(summary: Summary) -> float:
    """Product in hand at the end [g]: in the flask or in the distillate taken off."""
    return summary.product_in_flask_g + summary.product_taken_off_g
