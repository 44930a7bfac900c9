"""Integrate the balance equations over the programme, segment by segment, from one kink to the next."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from kinetics.data.namespace import FLOATS
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.balance import Balance, Memory, Surroundings, condensing_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import STRONG_IONS, Network, build_network
from kinetics.flask.oil import equilibrium_oil
from kinetics.flask.programme import Segment
from kinetics.run.plan import Planner, surroundings_of
from kinetics.run.scenario import Scenario

RTOL = 1e-6
ATOL = 1e-9  # of the amounts charged
NUCLEUS = 1e-6  # of the organics: an oil this small is none
DRY = 0.02  # of the water ever charged: below this the flask counts as dry
NEGLIGIBLE = 0.1  # of what Newton's method is content with: a correction below this is none, or noise would go on and on
MOST_EVALUATIONS = 100_000  # of the right-hand side in one segment; a hundred times what a lively one takes
FIRST_STEP_S = 1e-7  # after a kink: shorter than the quickest process, the dissolving of a nucleus of oil
POINTS = {"heating": 31, "hold": 181, "cooling": 16}


class NumericalFailure(RuntimeError):
    """The integration stopped short. `reached_s` [s] tells where; what was computed until then is kept."""

    def __init__(self, message: str, reached_s: float) -> None:
        super().__init__(message)
        self.reached_s = reached_s

    def __reduce__(self) -> tuple[type[NumericalFailure], tuple[str, float]]:  # to come back from another process
        return type(self), (str(self), self.reached_s)


@dataclass
class Trajectory:
    """The state vector at the output times, with what is needed to read it."""

    network: Network
    surroundings: Surroundings
    segments: tuple[Segment, ...]
    initial: dict[str, float]
    boil_K: float
    boiling: bool
    times: list[float] = field(default_factory=list)
    states: list[list[float]] = field(default_factory=list)
    balances: list[Balance] = field(default_factory=list)  # the one each output time belongs to
    evaluations: int = 0
    failure: NumericalFailure | None = None


def integrate(
    scenario: Scenario,
    shelf: Shelf | None = None,
    mechanisms: Mechanisms | None = None,
    rtol: float = RTOL,
    times: Sequence[float] | None = None,
) -> Trajectory:
    """Integrate a scenario; `times` [s from the start of the ramp] replaces the standard output times.

    Method: scipy's BDF (variable order 1 to 5) with an absolute tolerance for each component, started anew at every
    kink. It is implicit throughout: the dissolving of a last trace of oil is millions of times faster than the rest.
    """
    shelf = (shelf or load_shelf()).including(scenario.substrate)
    substrate = shelf.substrate(scenario.substrate)
    network = build_network(substrate, shelf, mechanisms or Mechanisms())
    planner = Planner(scenario, network, shelf)
    boil_K = planner.boil_K
    segments = tuple(planner.plan())
    surroundings = surroundings_of(scenario)
    condensing = condensing_at(network, shelf, surroundings.condenser_K, surroundings.pressure, FLOATS)
    result = Trajectory(network, surroundings, segments, planner.initial, boil_K, planner.boiling)
    wanted = None if times is None else sorted(set(times))
    y: list[float] | None = None
    memory = Memory()
    scale, nucleus = tolerances(network, planner)
    for segment in segments:
        balance = Balance(network, shelf, surroundings, condensing, segment, nucleus, FLOATS, memory, 0.1 * rtol)
        if y is None:
            y = initial_state(balance, planner.initial)
            result.times.append(segment.start_s)
            result.states.append(list(y))
            result.balances.append(balance)
        y = with_additions(network, y, segment.sudden)
        y = advance(result, balance, y, output_times(segment, wanted), rtol, rtol / RTOL * ATOL * scale)
        if result.failure is not None:
            break
    return result


def tolerances(network: Network, planner: Planner) -> tuple[np.ndarray, Any]:
    """Scale of the absolute tolerance of each component, (n,) or (n, samples), and the nucleus of oil [mol]."""
    largest = planner.m.maximum
    totals = dict(planner.amounts)
    for name, amount in planner.initial.items():
        totals[name] = largest(totals.get(name, 0.0), amount)
    organics: Any = sum(totals.get(name, 0.0) for name in network.species[: network.carbon])
    metal: Any = sum(totals.get(ion, 0.0) for ion in STRONG_IONS)
    water = totals["water"]
    organic = largest(organics, 1e-9 * water)
    carbon = largest(largest(totals.get("inorganic carbon", 0.0), 1e-3 * metal), 1e-9 * water)
    left = [carbon if i == network.carbon else organic for i in network.volatiles]
    flask = [organic] * network.carbon + [carbon, water]
    scale = np.array(
        np.broadcast_arrays(*flask, *[organic] * len(network.oils), *left, water, *left, water, organic)
    )
    nucleus = NUCLEUS * organics + 1e-14 * water  # oil may form of any: well above the tolerance, far below saturation
    return scale, nucleus


def initial_state(balance: Balance, amounts: dict[str, Any]) -> list[Any]:
    """The state vector at the start: as charged, oil and water in equilibrium."""
    network = balance.network
    y = [amounts.get(name, 0.0) for name in network.species]
    state = balance.state(balance.segment.start_s, y)
    factor = balance.salting_factors(state)
    capacities = [
        s / factor[i] * state.volume for i, s in zip(network.oils, state.conditions.saturation, strict=True)
    ]
    y += equilibrium_oil([y[i] for i in network.oils], capacities, balance.m)
    return y + [0.0] * (2 * (len(network.volatiles) + 1) + 1)


def with_additions(network: Network, y: Sequence[Any], amounts: Mapping[str, Any]) -> list[Any]:
    """A state with amounts [mol] added to the flask; what forms oil falls in as oil."""
    added = list(y)
    for name, amount in amounts.items():
        i = network.position(name)
        added[i] = added[i] + amount
        if i in network.oils:
            k = len(network.species) + network.oils.index(i)
            added[k] = added[k] + amount
    return added


def output_times(segment: Segment, wanted: Sequence[float] | None) -> list[float]:
    """Times [s] within a segment at which to keep the state; its end always."""
    if wanted is None:
        count = max(3, POINTS[segment.stage])
        step = (segment.end_s - segment.start_s) / (count - 1)
        return [segment.start_s + step * k for k in range(1, count - 1)] + [segment.end_s]
    return [t for t in wanted if segment.start_s < t < segment.end_s] + [segment.end_s]


def advance(
    result: Trajectory, balance: Balance, y: list[float], times: list[float], rtol: float, atol: np.ndarray
) -> list[float]:
    """Integrate one segment to each of `times`, keep the states, return the last.

    The integrator counts time from the segment's start: late in a batch the first steps would be lost in rounding.
    """
    segment, water, floor = balance.segment, balance.network.water, DRY * result.initial["water"]
    duration = segment.end_s - segment.start_s
    last_error = ""

    def rhs(since: float, vector: np.ndarray) -> np.ndarray:
        nonlocal last_error
        try:
            return np.array(balance.rhs(segment.start_s + since, vector.tolist()))
        except (ArithmeticError, ValueError) as error:  # a guess gone astray: the integrator tries a shorter step
            last_error = f" ({error})"
            return np.full(len(vector), np.nan)

    def jacobian(since: float, vector: np.ndarray) -> np.ndarray:
        try:
            return np.array(balance.jacobian(segment.start_s + since, vector.tolist()))
        except (ArithmeticError, ValueError):
            return np.zeros((len(vector), len(vector)))

    solver = stepper(rhs, jacobian, duration, y, rtol, atol)
    trouble, reached, due = "", 0.0, list(reversed(times))

    def keep(t: float, state: np.ndarray) -> None:
        result.times.append(t)
        result.states.append(state.tolist())
        result.balances.append(balance)

    while solver.status == "running" and not trouble:
        message = solver.step()
        reached = solver.t
        if solver.status == "failed":
            trouble = f"the integrator stopped: {message}{last_error}"
        elif not np.isfinite(solver.y).all():
            trouble = "the integrator lost its way"
        elif solver.y[water] < floor:
            trouble = f"the flask is dry: less than {DRY:.0%} of its water is left"
            reached = crossing(solver, water, floor)
            due = [segment.start_s + reached, *(t for t in due if t < segment.start_s + reached)]
        elif solver.nfev > MOST_EVALUATIONS:
            trouble = f"the integrator stopped: no end in sight after {MOST_EVALUATIONS} evaluations"
        between = None
        while due and due[-1] - segment.start_s <= reached:
            between = between or solver.dense_output()
            keep(due[-1], between(due.pop() - segment.start_s))
    result.evaluations += solver.nfev
    if trouble:
        at = segment.start_s + reached
        result.failure = NumericalFailure(f"{trouble} (at {at / 3600:.3g} h, {segment.stage})", at)
    return list(result.states[-1])  # a copy: what is added next is not in the state kept


def crossing(solver: Any, i: int, level: float) -> float:
    """Time at which component i went through a level in the last step of an integrator."""
    from scipy.optimize import brentq

    between = solver.dense_output()
    return float(brentq(lambda t: between(t)[i] - level, solver.t_old, solver.t))


def stepper(rhs: Callable, jacobian: Callable, duration: float, y: list[float], rtol: float, atol: np.ndarray) -> Any:
    """scipy's BDF. Its linear equations are small here: LAPACK is called without the checks of its front end."""
    from scipy.integrate import BDF
    from scipy.linalg.lapack import dgetrf, dgetrs

    solver = BDF(rhs, 0.0, y, duration, rtol=rtol, atol=atol, jac=jacobian, first_step=min(FIRST_STEP_S, duration))
    solver.lu = lambda matrix: dgetrf(matrix)[:2]
    negligible = len(y) * (NEGLIGIBLE * solver.newton_tol) ** 2

    def solve(factors: tuple[np.ndarray, np.ndarray], right: np.ndarray) -> np.ndarray:
        correction: np.ndarray = dgetrs(*factors, right)[0]
        part = correction / atol
        return np.zeros_like(correction) if part @ part < negligible else correction

    solver.solve_lu = solve
    return solver
