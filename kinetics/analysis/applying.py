"""Apply a calibration: fitted charges are written into the scenario, fitted constants and settings become shifts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from kinetics.analysis.calibration_file import CHARGE, Calibration
from kinetics.analysis.ensemble import Prior
from kinetics.analysis.levers import scaled
from kinetics.data.shelf import load_shelf
from kinetics.run.scenario import Scenario

Shifts = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Applied:
    """A scenario as a calibration sees it: the charges it found, shifts for every run, and what to draw samples from."""

    scenario: Scenario
    shifts: Shifts
    prior: Callable[[Sequence[Scenario]], Prior]


def apply(calibration: Calibration, scenario: Scenario) -> Applied:
    """The scenario with the fitted charges, the shifts of the fitted constants and settings, and the posterior to draw from."""
    shelf = load_shelf().including(scenario.substrate)
    z = calibration.applies(scenario, shelf)
    changes: dict[str, object] = {}
    for charge in scenario.charges:
        name = f"{CHARGE}{charge.substance}"
        if name in z and charge.text:
            changes[name] = scaled(charge.text, (1.0 + charge.uncertainty) ** z[name])
    shifts = tuple((name, value) for name, value in z.items() if not name.startswith(CHARGE))

    def posterior(scenarios: Sequence[Scenario]) -> Prior:
        return joined([calibration.prior_for(one, shelf) for one in scenarios], [name for name in z if name.startswith(CHARGE)])

    return Applied(scenario.with_changes(changes) if changes else scenario, shifts, posterior)


def joined(priors: Sequence[Prior], settled: Sequence[str] = ()) -> Prior:
    """One distribution over the uncertain numbers of several scenarios, each once.

    `settled` are those whose mean has gone into the scenario already: they are drawn around it.
    """
    names = tuple(dict.fromkeys(name for prior in priors for name in prior.names))
    mean, covariance = np.zeros(len(names)), np.eye(len(names))
    for prior in priors:
        places = [names.index(name) for name in prior.names]
        mean[places] = prior.mean
        covariance[np.ix_(places, places)] = prior.root @ prior.root.T
    mean[[names.index(name) for name in settled if name in names]] = 0.0
    return Prior(names, mean, np.linalg.cholesky(covariance))
