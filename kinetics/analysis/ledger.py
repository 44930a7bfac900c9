"""From charge to bottle: one account of the product and one of the carbon, each closing at 100 %."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from math import exp, log

import numpy as np

from kinetics.analysis.applying import Shifts
from kinetics.analysis.calibration_file import CHARGE
from kinetics.analysis.ensemble import SETTINGS, Prior
from kinetics.analysis.runs import Job, moved
from kinetics.analysis.workup import Result, work_up
from kinetics.data.records import Record
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.substrate import Substrate
from kinetics.run.notices import caution_texts
from kinetics.run.result import Run, amounts_put_in
from kinetics.run.scenario import Scenario
from kinetics.run.simulation import simulate

VENTED, TAKEN, BOTTLE = "gone with the air", "taken off with distillate", "in the bottle"
AFTER = "turned to acid by the air"  # of the product, after the flask: a place, not a side product
WORKUP_RECORDS = ("workup.", "brine.")


def product_equivalents(substrate: Substrate) -> dict[str, float] | None:
    """How much substrate each species stands for [mol/mol]: what every reaction of the network leaves unchanged.

    1 for the substrate, 1/(product per substrate) for the product, 0 for a by-product of its own; the others follow
    from sum_i nu_i m_i = 0 for each reaction (least squares, exact where such a count exists).
    None where the reactions allow no such count.
    """
    species = list(substrate.species)
    rows, sides = [], []
    reactions = [one.stoichiometry for one in substrate.equilibria] + [one.stoichiometry for one in substrate.steps]
    for stoichiometry in reactions:
        rows.append([stoichiometry.get(name, 0.0) for name in species])
        sides.append(0.0)
    fixed = {substrate.by_product: 0.0} if substrate.by_product else {}
    fixed |= {substrate.substrate: 1.0, substrate.product: 1.0 / substrate.product_per_substrate}
    for name, value in fixed.items():
        rows.append([float(name == other) for other in species])
        sides.append(value)
    matrix = np.array(rows)
    counts, *_ = np.linalg.lstsq(matrix, np.array(sides), rcond=None)
    if np.abs(matrix @ counts - sides).max() > 1e-9:
        return None
    return {name: float(round(value, 9)) for name, value in zip(species, counts)}


@dataclass(frozen=True)
class Entry:
    """One line of an account: what, where, and its part of the whole [1]."""

    what: str
    where: str
    share: float


@dataclass(frozen=True)
class Ledger:
    """Where everything of a batch ended.

    places: species by place [mol], the bottle last; product and carbon: the accounts, of the substrate put in (and
    product charged as such) and of the organic carbon put in; isolated_g: what is in the bottle; purity: product in it
    by mass; overall: product in the bottle per product possible [1]; bands: factor of one standard uncertainty of
    isolated product, None where it was not asked for, with the records that weigh most.
    """

    title: str
    substrate: str
    product: str
    places: Mapping[str, Mapping[str, float]]
    product_account: tuple[Entry, ...]
    carbon_account: tuple[Entry, ...]
    isolated_g: float
    product_g: float
    purity: float | None
    overall: float | None
    work: Result
    cautions: tuple[str, ...]
    band: Band | None = None

    @property
    def closure(self) -> dict[str, float]:
        """How far each account is from 100 % [1]."""
        accounts = {"product": self.product_account, "carbon": self.carbon_account}
        return {name: float(sum(entry.share for entry in entries)) - 1.0 for name, entries in accounts.items() if entries}


@dataclass(frozen=True)
class Band:
    """Standard uncertainty of the isolated product as a factor, and what makes it: (record, change of its logarithm)."""

    factor: float
    low_g: float
    high_g: float
    purity_sigma: float
    parts: tuple[tuple[str, float], ...]


def ledger_of(run: Run, scenario: Scenario, shelf: Shelf | None = None) -> Ledger:
    """The account of one batch, with the work-up that the scenario describes."""
    shelf = (shelf or load_shelf()).including(scenario.substrate)
    assert run.trajectory is not None, "a ledger wants a run with its trajectory"
    substrate = run.trajectory.network.substrate
    work = work_up(run, scenario, shelf)
    names, series = substrate.species, run.series
    end = {name: amounts_put_in(run.trajectory)[name][-1] for name in names}
    taken = {name: float(series.taken_off_mol[name][-1]) for name in names if name in series.taken_off_mol}
    vented = {name: float(series.left_mol[name][-1]) - taken.get(name, 0.0) for name in names if name in series.left_mol}
    places = {VENTED: vented, TAKEN: taken, **work.places, BOTTLE: work.bottle}
    equivalents = product_equivalents(substrate) or dict.fromkeys(names, 0.0)
    carbon = {name: shelf.substance(name).elements.get("C", 0.0) for name in names}
    grams = {name: amount * shelf.substance(name).molar_mass for name, amount in work.bottle.items()}
    isolated, product = sum(grams.values()), grams.get(substrate.product, 0.0)
    possible = sum(equivalents[name] * end[name] for name in names)
    in_bottle = equivalents[substrate.product] * work.bottle.get(substrate.product, 0.0)
    distils = work.steam is not None or work.distilled is not None
    return Ledger(
        run.title,
        substrate.substrate,
        substrate.product,
        places,
        tuple(product_entries(places, equivalents, substrate, possible)) if possible > 0.0 else (),
        tuple(carbon_entries(places, carbon, substrate, sum(carbon[name] * end[name] for name in names))),
        isolated,
        product,
        product / isolated if isolated > 0.0 else None,
        in_bottle / possible if possible > 0.0 else None,
        work,
        tuple(dict.fromkeys((*run.cautions, *([caution_texts()["distilling"]] if distils else [])))),
    )


def product_entries(
    places: Mapping[str, Mapping[str, float]], counts: Mapping[str, float], substrate: Substrate, whole: float
) -> Iterator[Entry]:
    """First what never became product, wherever it is, then the product by place; acid made in the bottle by place too."""
    product = substrate.product
    for name, count in counts.items():
        if name == product or count == 0.0:
            continue
        inside = [amounts.get(name, 0.0) for place, amounts in places.items() if place != AFTER]
        what = f"{name}, not converted" if name == substrate.substrate else f"as {name}"
        yield Entry(what, "anywhere", count * sum(inside) / whole)
    for place, amounts in places.items():
        those = amounts if place == AFTER else {product: amounts.get(product, 0.0)}
        yield Entry(product, place, sum(counts[name] * amount for name, amount in those.items()) / whole)


def carbon_entries(
    places: Mapping[str, Mapping[str, float]], carbon: Mapping[str, float], substrate: Substrate, whole: float
) -> Iterator[Entry]:
    """Carbon by place and within it by product, substrate, by-product and the rest."""
    named = dict.fromkeys((substrate.product, substrate.substrate, substrate.by_product))
    if whole <= 0.0:
        return
    for place, amounts in places.items():
        shares = {name: carbon[name] * amount / whole for name, amount in amounts.items()}
        for name in named:
            if name:
                yield Entry(name, place, shares.pop(name, 0.0))
        yield Entry("other", place, sum(shares.values()))


# ---------------------------------------------------------------- the band


def uncertain(record: Record) -> bool:
    return record.sigma != 0.0 and record.factor != 1.0


def numbers_that_matter(scenario: Scenario, substrate: Substrate, shelf: Shelf) -> list[str]:
    """The substrate's own reactions, what its substrate and product dissolve and evaporate by, the work-up, the settings."""
    own = [f"reaction.{substrate.name}."]
    own += [f"{name}.{key}" for name in (substrate.substrate, substrate.product) for key in
            ("solubility", "vapour_pressure", "setschenow_salt")]  # fmt: skip
    starts = (*own, f"{substrate.by_product}.henry", *WORKUP_RECORDS)
    found = [name for name in shelf.names() if name.startswith(starts) and not name.endswith("_check") and uncertain(shelf[name])]
    return [*found, *SETTINGS[2 if scenario.vessel.closed else 0 :]]


def in_the_bottle(scenario: Scenario, shifts: Shifts, run: Run | None = None) -> tuple[float, float]:
    """Isolated product [g] and purity [1] with constants and settings moved; `run` where they move the work-up alone.

    Raises NumericalFailure where the run stops short.
    """
    at, shelf = moved(Job(scenario, shifts=shifts))
    run = run or simulate(at, shelf=shelf, times=())
    if run.failure is not None:
        raise run.failure
    ledger = ledger_of(run, at, shelf)
    return ledger.product_g, ledger.purity or 0.0


def with_band(
    ledger: Ledger,
    run: Run,
    scenario: Scenario,
    shifts: Shifts = (),
    prior: Prior | None = None,
    executor: Executor | None = None,
) -> Ledger:
    """The ledger with the band of its product: each uncertain number moved by one of its standard uncertainties.

    First order: sigma^2 = g' C g, g the changes of ln(grams), C the covariance. shifts, prior: of a calibration, where `ledger` and
    `run` are made with it; numbers that it does not know, and all without one, are independent. Raises NumericalFailure.
    """
    assert run.trajectory is not None
    shelf = load_shelf().including(scenario.substrate)
    names = numbers_that_matter(scenario, run.trajectory.network.substrate, shelf)
    after = [name for name in names if name.startswith(WORKUP_RECORDS)]
    before = [name for name in names if name not in after]
    moves = {name: tuple({**dict(shifts), name: dict(shifts).get(name, 0.0) + 1.0}.items()) for name in names}
    each = (map if executor is None else executor.map)(partial(in_the_bottle, scenario), [moves[name] for name in before])
    ends = dict(zip(before, each)) | {name: in_the_bottle(scenario, moves[name], run) for name in after}
    product, purity = ledger.product_g, ledger.purity or 0.0
    change = {name: (log(g / product) if min(g, product) > 0.0 else 0.0, share - purity) for name, (g, share) in ends.items()}
    charged = [c for c in scenario.charges if c.substance == ledger.substrate and c.uncertainty]
    change |= {f"{CHARGE}{c.substance}": (c.uncertainty, 0.0) for c in charged}
    covariance = covariance_of(list(change), prior)
    slopes = np.array(list(change.values())).T
    sigma, purity_sigma = (float(np.sqrt(g @ covariance @ g)) for g in slopes)
    own = slopes[0] * np.sqrt(np.diag(covariance))
    largest = tuple(sorted(zip(change, own.tolist()), key=lambda part: -abs(part[1])))
    return replace(ledger, band=Band(exp(sigma), product * exp(-sigma), product * exp(sigma), purity_sigma, largest))


def covariance_of(names: Sequence[str], prior: Prior | None) -> np.ndarray:
    """Covariance of numbers in their standard uncertainties: that of `prior` for those it knows, the others independent."""
    covariance = np.eye(len(names))
    if prior is not None:
        known = [k for k, name in enumerate(names) if name in prior.names]
        there = [prior.names.index(names[k]) for k in known]
        covariance[np.ix_(known, known)] = (prior.root @ prior.root.T)[np.ix_(there, there)]
    return covariance
