"""Bands on what `hours` and `explain` answer: the draws of the uncertain numbers put the same questions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import replace
from typing import Any

import numpy as np

from kinetics.analysis.ceiling import up_to
from kinetics.analysis.ensemble import ERRORS, QUANTILES, Array, Prior, bands_of, quantiles, run_ensemble
from kinetics.analysis.executors import Progress
from kinetics.analysis.explain import Explanation, changed
from kinetics.analysis.hours import HOUR_S, Hours
from kinetics.analysis.levers import levers_of
from kinetics.analysis.same_draws import ensembles, probability_of_more
from kinetics.run.scenario import Scenario


def hours_bands(
    found: Hours,
    scenario: Scenario,
    count: int,
    seed: int = 0,
    *,
    prior: Prior | None = None,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Bands of conversion, yield and gain at every hold time told, of the hours to the target and of the worthwhile stop.

    Where a sample never gets there within the longest hold told it counts as later than all others: a quantile among
    those is None.
    """
    last_h = float(found.hold_h[-1])
    longer = replace(scenario, heating=replace(scenario.heating, hold_s=last_h * HOUR_S, cooling_s=0.0), options=())
    times = scenario.heating.ramp_s + HOUR_S * found.hold_h
    drawn = run_ensemble(
        longer, count, seed, prior=prior, times=times, workers=workers, executor=executor, progress=progress
    )
    bands = bands_of(drawn)
    conversion = drawn.courses["conversion"]
    answers: dict[str, Any] = dict(bands.bands)
    if found.target is not None:
        answers["target_h"] = late_quantiles(first_above(found.hold_h, conversion, found.target))
    answers["worth_stop_h"] = late_quantiles(last_worth(found.hold_h, conversion, found.worth))
    courses = {name: quantiles(values) for name, values in drawn.courses.items()}
    return bands.to_json() | {"bands": answers, "band_series": {"hold_h": found.hold_h.tolist(), **courses}}


def first_above(hold_h: Array, conversion: Array, target: float) -> Array:
    """Hours until each sample (hold times, samples) reaches the target; infinite where it does not, NaN where it failed."""
    result = np.full(conversion.shape[1], np.inf)
    for k, course in enumerate(conversion.T):
        if np.isnan(course).any():
            result[k] = np.nan
        elif (above := np.flatnonzero(course >= target)).size:
            i = int(above[0])
            result[k] = hold_h[0] if i == 0 else np.interp(target, course[i - 1 : i + 1], hold_h[i - 1 : i + 1])
    return result


def last_worth(hold_h: Array, conversion: Array, worth: float) -> Array:
    """Hours past which no hour told adds `worth` in each sample; infinite where the last one still does."""
    starts = hold_h[hold_h <= hold_h[-1] - 1.0]
    result = np.full(conversion.shape[1], np.nan)
    for k, course in enumerate(conversion.T):
        if np.isnan(course).any() or not len(starts):
            continue
        gain = np.interp(starts + 1.0, hold_h, course) - np.interp(starts, hold_h, course)
        enough = np.flatnonzero(gain >= worth)
        if not enough.size:
            result[k] = 0.0
        elif enough[-1] == len(starts) - 1:
            result[k] = np.inf
        else:
            i = int(enough[-1])
            result[k] = np.interp(-worth, -gain[i : i + 2], starts[i : i + 2])
    return result


def late_quantiles(hours: Array) -> dict[str, float | None]:
    """Quantiles of times, some of which lie beyond all that was looked at (infinite): None there, and then no errors."""
    known = hours[~np.isnan(hours)]
    errors = {name: None if np.isinf(known).any() else quantiles(hours)[name] for name in ERRORS.values()}
    if not known.size:
        return {**dict.fromkeys(QUANTILES), **errors}
    found = np.quantile(known, list(QUANTILES.values()), method="inverted_cdf").tolist()
    return {**{key: value if np.isfinite(value) else None for key, value in zip(QUANTILES, found)}, **errors}


def explain_bands(
    found: Explanation,
    scenario: Scenario,
    count: int,
    seed: int = 0,
    *,
    prior: Callable[[list[Scenario]], Prior | None] = lambda scenarios: None,
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Bands of the explained conversion, shortfall and yield, and of what each lever gains over it with the same constants."""
    explained = scenario if found.at_h is None else up_to(scenario, found.at_h * HOUR_S)
    by_change = {lever.change: lever for lever in levers_of(scenario)}
    names = [gain.change for gain in found.levers]
    tried = [changed(by_change[name], found.at_h) for name in names]
    every = [explained, *tried]
    base, *others = ensembles(
        every, count, seed, prior=prior(every), workers=workers, executor=executor, progress=progress
    )
    bands = bands_of(base)
    shortfall = {"shortfall": quantiles(1.0 - base.final["conversion"])}
    levers: dict[str, Mapping[str, Any]] = {}
    for name, other in zip(names, others):
        levers[name] = {
            "conversion_gain": quantiles(other.final["conversion"] - base.final["conversion"]),
            "yield_gain": quantiles(other.final["yield"] - base.final["yield"]),
            "helps_conversion": probability_of_more(other, base, "conversion"),
            "helps_yield": probability_of_more(other, base, "yield"),
        }
    return bands.to_json() | {"bands": {**bands.bands, **shortfall}, "lever_bands": levers}
