"""One run, whole: integrate a scenario and say what came of it."""

from __future__ import annotations

from collections.abc import Sequence

from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.integrate import RTOL, integrate
from kinetics.run.notices import cautions_of, notices_of
from kinetics.run.result import Run, assemble
from kinetics.run.scenario import Scenario


def simulate(
    scenario: Scenario,
    *,
    shelf: Shelf | None = None,
    mechanisms: Mechanisms | None = None,
    rtol: float = RTOL,
    times: Sequence[float] | None = None,
) -> Run:
    """Compute one batch.

    `shelf`: constants to use instead of the published ones (see Shelf.shifted); `mechanisms`: what acts (all);
    `rtol`: relative tolerance of the integration; `times`: output times [s from the start of the ramp] instead of the
    standard ones. Numerical trouble does not raise: it stands in `Run.failure`, with what was computed until then.
    """
    shelf = (shelf or load_shelf()).including(scenario.substrate)
    trajectory = integrate(scenario, shelf, mechanisms, rtol, times)
    return assemble(
        scenario.title,
        scenario.heating.hold_s / 3600.0,
        trajectory,
        shelf,
        notices_of(scenario, trajectory, shelf),
        cautions_of(scenario, trajectory),
    )
