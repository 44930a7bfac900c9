"""What a reader of the result must know: defaults filled in, estimates leaned on, correlations out of range, cautions."""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from functools import cache
from importlib.resources import files
from typing import Any

from kinetics.data.namespace import FLOATS
from kinetics.data.records import Record
from kinetics.data.shelf import Shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.flask.conditions import conditions_at
from kinetics.flask.network import STRONG_IONS, Network, has
from kinetics.run.integrate import Trajectory
from kinetics.run.scenario import Scenario, Workup

PITZER_LIMIT = 2.0  # mol/kg of carbonate; hydroxide to 6


class Watched:
    """A shelf that keeps a list of the records asked of it."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self.seen: dict[str, Record] = {}

    def __getitem__(self, name: str) -> Record:
        record = self.shelf[name]
        self.note(record)
        return record

    def __contains__(self, name: object) -> bool:
        return name in self.shelf

    def note(self, record: Record) -> None:
        self.seen[record.name] = record
        for parent in record.parents:
            self.note(parent)


def records_used(network: Network, shelf: Shelf, absent: Collection[str]) -> tuple[Record, ...]:
    """The records that the balance equations of this network lean on, without those of ions that are `absent`."""
    watched: Any = Watched(shelf)
    conditions_at(network, watched, 298.15, 0.5, FLOATS)
    for i in {*network.oils, *network.volatiles}:
        for constant in ("setschenow_carbonate", "setschenow_salt"):
            if has(shelf, network.species[i], constant):
                watched.note(shelf[f"{network.species[i]}.{constant}"])
    watched.seen = {name: r for name, r in watched.seen.items() if not any(ion in name for ion in absent)}
    active = {step.name for step in network.steps}
    for equilibrium in network.substrate.equilibria:
        for record in (equilibrium.K, equilibrium.dH, equilibrium.dCp):
            if record is not None:
                watched.note(record)
    for step in network.substrate.steps:
        if step.name in active:
            for record in (step.k, step.Ea):
                if record is not None:
                    watched.note(record)
    if network.substrate.composite is not None:
        watched.note(network.substrate.composite.Ea)
        watched.note(network.substrate.composite.partition_difference)
    return tuple(watched.seen.values())


def celsius(T: float) -> str:
    return f"{T - CELSIUS_ZERO_K:.4g}"


def range_notices(records: tuple[Record, ...], temperatures: tuple[float, ...]) -> list[str]:
    """One sentence for each correlation used outside the range of its source."""
    sentences = []
    for record in records:
        if record.valid_K is None:
            continue
        outside = [T for T in temperatures if not record.in_range(T)]
        if outside:
            low, high = record.valid_K
            worst = max(outside, key=lambda T: max(low - T, T - high))
            sentences.append(
                f"{record.name} used at {celsius(worst)} C, outside its range of {celsius(low)} to {celsius(high)} C "
                f"({record.source})"
            )
    return sentences


def estimate_notice(record: Record) -> str:
    """How sure an estimate is, in words."""
    spread = f"factor {record.factor:g}" if record.factor is not None else f"+- {record.sigma:g} {record.unit}"
    return f"leans on an estimate: {record.name}, {record.quantity} ({spread}, {record.status})"


def notices_of(scenario: Scenario, trajectory: Trajectory, shelf: Shelf) -> list[str]:
    """All notices of a run: assumed settings, trouble, ranges, then estimates with the least certain first."""
    network = trajectory.network
    ends_with = trajectory.segments[-1]
    absent = [ion for ion, n in zip(STRONG_IONS, ends_with.strong_ions(ends_with.end_s)) if n == 0.0]
    records = records_used(network, shelf, absent)
    ends = [T for segment in trajectory.segments for T in (segment.start_K, segment.end_K)]
    sentences = list(scenario.assumed)
    if trajectory.failure is not None:
        sentences.append(f"not run to the end: {trajectory.failure}")
    sentences += solution_notices(trajectory) + undissolved_notices(scenario, trajectory, shelf)
    sentences += range_notices(records, (min(ends), max(ends)))
    uncertain = [r for r in records if r.status in ("estimate", "from memory") and not is_exact(r)]
    uncertain.sort(key=lambda r: -(r.factor or 1.0))
    return sentences + [estimate_notice(record) for record in uncertain]


def is_exact(record: Record) -> bool:
    """Whether a record is exact by definition."""
    return record.sigma == 0.0


def solution_notices(trajectory: Trajectory) -> list[str]:
    """Whether the liquor is stronger than the activity model covers."""
    strongest = max(
        sum(segment.strong.get(ion, 0.0) for ion in ("sodium", "potassium")) / segment.water_kg
        for segment in trajectory.segments
    )
    if strongest > 2.0 * PITZER_LIMIT:
        return [
            f"the liquor holds {strongest:.2g} mol/kg of alkali metal; the activity model is sound to "
            f"{2 * PITZER_LIMIT:g} mol/kg as carbonate"
        ]
    return []


def undissolved_notices(scenario: Scenario, trajectory: Trajectory, shelf: Shelf) -> list[str]:
    """Salts charged beyond what the water dissolves, cold or hot; the model takes all as dissolved."""
    water_g = 1000.0 * trajectory.segments[0].water_kg
    sentences = []
    for charge in scenario.charges:
        name = charge.substance.removesuffix(" decahydrate")
        if f"{name}.salt_solubility" not in shelf:
            continue
        solubility = shelf[f"{name}.salt_solubility"]
        per_100_g = 100.0 * charge.amount_mol * shelf.substance(name).molar_mass / water_g
        for when, T in (("cold", scenario.heating.start_K), ("hot", max(s.end_K for s in trajectory.segments))):
            dissolves = float(solubility(T, FLOATS))
            if solubility.in_range(T) and per_100_g > dissolves:
                sentences.append(
                    f"{when}, at {celsius(T)} C, 100 g of water dissolve {dissolves:.3g} g of {name} and "
                    f"{per_100_g:.3g} g are charged: the model takes all of it as dissolved"
                )
    return sentences


@cache
def caution_texts() -> dict[str, str]:
    """The shelf of cautions by circumstance."""
    text = files("kinetics.data").joinpath("cautions.toml").read_text(encoding="utf-8")
    return {entry["when"]: entry["text"] for entry in tomllib.loads(text)["caution"]}


def cautions_of(scenario: Scenario, trajectory: Trajectory) -> list[str]:
    """The cautions that apply to a run, the most urgent first."""
    texts = caution_texts()
    network = trajectory.network
    organics = network.species[: network.carbon]
    vented = "acetaldehyde" in organics and not scenario.vessel.closed
    work, condenser = scenario.workup, scenario.condenser
    circumstances = {
        "closed": scenario.vessel.closed,
        "acetaldehyde": vented,
        "boiling": trajectory.boiling,
        "alkaline": any(s.strong.get("sodium", 0.0) + s.strong.get("potassium", 0.0) > 0.0 for s in trajectory.segments),
        "organic": any(trajectory.initial.get(name, 0.0) > 0.0 for name in organics),
        "take_off": vented and condenser.take_off_mol_per_s > 0.0,
        "trap": vented and (condenser.sweep_mol_per_s > 0.0 or scenario.hazard.trap_K is not None),
        "distilling": work != Workup() and (work.steam is not False or work.pressure_Pa is not None),
        "benzaldehyde": "benzaldehyde" in organics,
        "acetone": "acetone" in organics,
        "legal": True,
    }
    return [texts[when] for when, applies in circumstances.items() if applies]
