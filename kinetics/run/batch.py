"""Many samples of one scenario at once: the same balance equations on arrays, one entry for each sample."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from kinetics.chemistry.speciation import is_nothing
from kinetics.data.namespace import ARRAYS
from kinetics.data.shelf import Shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.flask.balance import Balance, Memory, condensing_at
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import Network, build_network
from kinetics.flask.programme import Segment
from kinetics.run.integrate import ATOL, DRY, RTOL, initial_state, tolerances, with_additions
from kinetics.run.plan import Planner, surroundings_of, total_added
from kinetics.run.rosenbrock import Index, integrate
from kinetics.run.scenario import Scenario

Array = np.ndarray
RAMP_STEP = 0.05  # of a ramp, at the most: a quick state follows the temperature, and the output in between with it
FIRST_STEP_S = 1.0  # after a kink, at the most


@dataclass(frozen=True)
class Samples:
    """What differs between the samples; arrays (samples,), a number where all agree.

    shifts: shelf records moved by standard uncertainties; amounts: factor on each substance charged or added, by
    name; air_exchange and k_La: factors; approach_K: added to the condenser's temperature.
    """

    count: int
    shifts: Mapping[str, Array] = field(default_factory=dict)
    amounts: Mapping[str, Array] = field(default_factory=dict)
    air_exchange: Any = 1.0
    k_La: Any = 1.0
    approach_K: Any = 0.0


@dataclass(frozen=True)
class BatchTrajectory:
    """States of all samples at the output times: (times, components, samples), NaN where a sample failed before."""

    network: Network
    times: Array
    states: Array
    segments: Sequence[Segment]
    initial: Mapping[str, Any]  # formal components charged [mol], numbers or (samples,)
    final: Mapping[str, Array]  # numbers of the summary that are not amounts: pH, hydroxide, boil point, water
    failures: Mapping[int, str]

    def put_in(self, name: str) -> Array:
        """Of a species, charged and added up to each output time [mol], (times, 1) or (times, samples)."""
        amounts = [np.atleast_1d(total_added(self.segments, self.initial, name, t)) for t in self.times]
        return np.array(np.broadcast_arrays(*amounts))


class System:
    """A balance as the batch integrator wants it, with the time counted from the start of its segment."""

    def __init__(self, balance: Balance) -> None:
        self.balance = balance

    def rhs(self, since: Array, y: Sequence[Array]) -> Sequence[Any]:
        return self.balance.rhs(self.balance.segment.start_s + since, y)

    def jacobian(self, since: Array, y: Sequence[Array]) -> Any:
        return self.balance.jacobian(self.balance.segment.start_s + since, y)

    def take(self, keep: Index) -> System:
        return System(self.balance.take(keep))


def integrate_batch(
    scenario: Scenario,
    shelf: Shelf,
    samples: Samples,
    times: Sequence[float],
    mechanisms: Mechanisms | None = None,
    rtol: float = RTOL,
) -> BatchTrajectory:
    """Integrate all samples of a scenario; `times` [s from the start of the ramp] are those of the output.

    A sample whose integration fails is reported in `failures`, alone. Method and error control: kinetics.run.rosenbrock.
    """
    shelf = shelf.including(scenario.substrate).shifted(samples.shifts)
    network = build_network(shelf.substrate(scenario.substrate), shelf, mechanisms or Mechanisms())
    planner = Planner(scenario, network, shelf, ARRAYS, samples.amounts)
    final = {"boil_point_degC": np.broadcast_to(planner.boil_K - CELSIUS_ZERO_K, samples.count)}

    def note(balance: Balance, t: float, y: Array, **names: str) -> None:
        """Keep some of the state of the samples alive, under the names of the summary."""
        state = balance.state(np.full(y.shape[1], t), list(y))
        for quantity, name in names.items():
            value = state.speciation.pH if quantity == "pH" else getattr(state, quantity)
            final[name] = np.full(samples.count, np.nan)
            final[name][alive] = value

    segments = planner.plan()
    s = surroundings_of(scenario)
    s = s._replace(
        air_exchange=s.air_exchange * samples.air_exchange,
        k_La=s.k_La * samples.k_La,
        condenser_K=s.condenser_K + samples.approach_K,
    )
    condensing = condensing_at(network, shelf, s.condenser_K, s.pressure, ARRAYS)
    scale, nucleus = tolerances(network, planner)
    scale = np.broadcast_to(scale.reshape(len(scale), -1), (len(scale), samples.count))
    atol = rtol / RTOL * ATOL * scale
    wanted = np.array(sorted(set(times)))
    y: Array | None = None
    states = np.full((len(wanted), len(scale), samples.count), np.nan)
    alive = np.arange(samples.count)
    failures: dict[int, str] = {}
    step: Any = 1e-3
    for segment in segments:
        balance = Balance(
            network, shelf, s, condensing, segment, nucleus, ARRAYS, Memory(), min(0.1 * rtol, 1e-7)
        )
        if len(alive) < samples.count:
            balance = balance.take(alive)
        if y is None:
            y = np.array(np.broadcast_arrays(*initial_state(balance, planner.initial), np.zeros(samples.count))[:-1])
            states[wanted <= segment.start_s] = y
            note(balance, segment.start_s, y, pH="pH_start")
        sudden = {name: np.broadcast_to(n, samples.count)[alive] for name, n in segment.sudden.items()}
        y = np.array(with_additions(network, list(y), sudden))
        if segment.stage == "hold" and "pH_hot" not in final:
            note(balance, segment.start_s, y, pH="pH_hot", hydroxide="hydroxide_hot_mol_per_L")
        duration = segment.end_s - segment.start_s
        inside = (wanted > segment.start_s) & (wanted <= segment.end_s)
        result = integrate(
            System(balance), y, 0.0, duration, rtol=rtol, atol=atol[:, alive],
            outputs=np.minimum(wanted[inside] - segment.start_s, duration),
            pattern=pattern_of(balance, segment.start_s, y), autonomous=segment.autonomous, first_step=step,
            max_step=np.inf if segment.isothermal else RAMP_STEP * duration,
        )  # fmt: skip
        states[np.ix_(inside, np.arange(len(scale)), alive)] = result.outputs
        floor = DRY * np.broadcast_to(planner.initial["water"], samples.count)[alive]
        bad = dict.fromkeys(np.flatnonzero(result.y[network.water] < floor).tolist(), "the flask is dry")
        bad |= result.failures()
        failures |= {int(alive[k]): f"{reason} ({segment.stage})" for k, reason in bad.items()}
        fine = np.setdiff1d(np.arange(len(alive)), list(bad))
        y, alive, step = result.y[:, fine], alive[fine], np.minimum(result.step[fine], FIRST_STEP_S)
        if len(alive) == 0:
            break
    else:
        balance = balance.take(fine)
        assert y is not None
        note(balance, segments[-1].end_s, y, pH="pH_end", volume="water_left_in_flask_L")
    return BatchTrajectory(network, wanted, states, segments, planner.initial, final, failures)


def pattern_of(balance: Balance, t: float, y: Array) -> Array:
    """Which rates depend on which states at all: the elements of the Jacobian that are not the plain number 0."""
    probe = balance.take(np.array([0]))
    probe.memory = Memory()
    rows = probe.jacobian(np.array([t]), list(y[:, :1]))
    return np.array([[not is_nothing(element) for element in row] for row in rows])
