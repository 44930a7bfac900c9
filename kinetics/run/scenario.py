"""What the user asked for, as frozen records in house units: the scenario and its parts.

Amounts in mol, temperatures in K, pressure in Pa, times in s, flows in mol/s. Records are made by
`kinetics.run.reading` only, which has checked them; a variant is a new scenario, never a changed one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal


@dataclass(frozen=True)
class Charge:
    """One substance put into the flask.

    amount_mol: the pure substance [mol] (of baked bicarbonate: carbonate plus leftover bicarbonate);
    components_mol: the same as formal components [mol]; purity: mass fraction of it in what was weighed;
    uncertainty: relative standard uncertainty of the amount; text: the amount as written.
    """

    substance: str
    components_mol: Mapping[str, float]
    amount_mol: float
    purity: float = 1.0
    uncertainty: float = 0.0
    text: str = ""


@dataclass(frozen=True)
class Heating:
    """The temperature programme and the boil.

    hold_K: hold temperature [K], None for the boil; boil_up_mol_per_s: vapour raised during a boil [mol/s],
    0 where nothing boils; pressure_Pa: of the surrounding air [Pa].
    """

    start_K: float
    ramp_s: float
    hold_s: float
    hold_K: float | None
    pressure_Pa: float
    boil_up_mol_per_s: float
    cooling_s: float


@dataclass(frozen=True)
class Vessel:
    """closed: nothing leaves (a calculation only); k_La_per_s: transfer between oil and water [1/s]."""

    closed: bool
    k_La_per_s: float


@dataclass(frozen=True)
class Condenser:
    """What the vapour meets on its way out.

    coolant_K [K] and approach_K [K]: the vapour meets the air at their sum; air_exchange_mol_per_s and
    sweep_mol_per_s: dry gas [mol/s]; sweep_gas: what is led through; take_off_mol_per_s: distillate drawn off
    [mol/s]; make_up: whether water replaces it.
    """

    coolant_K: float
    approach_K: float
    air_exchange_mol_per_s: float
    sweep_mol_per_s: float
    sweep_gas: Literal["inert", "air"]
    take_off_mol_per_s: float
    make_up: bool


@dataclass(frozen=True)
class Addition:
    """Charges added `at_s` after the start of the hold [s], evenly over `over_s` [s]."""

    at_s: float
    over_s: float
    charges: tuple[Charge, ...]


@dataclass(frozen=True)
class Feed:
    """Where the aldehyde comes from: bark, an oil or a layer of oil, and what is known of its aldehyde. None: not given.

    Masses in kg, volumes in L, titrant in mol/L; fractions by mass. `titration` names the reagent, `beside` the one liquid
    that is in the oil with the aldehyde, where its refractive index was read at `read_at_K` [K].
    """

    bark_kg: float | None = None
    oil_content: float | None = None
    recovery: float | None = None
    distillate_L: float | None = None
    oil_kg: float | None = None
    layer_L: float | None = None
    aldehyde: float | None = None
    sample_kg: float | None = None
    titre_L: float | None = None
    titrant_mol_per_L: float | None = None
    titration: str | None = None
    refractive_index: float | None = None
    beside: str | None = None
    read_at_K: float | None = None
    uncertainty: float | None = None


@dataclass(frozen=True)
class Hazard:
    """The air around the flask; None: the shelf's value. air: clean air through the room or the hood [m3/s]."""

    air_m3_per_s: float | None = None
    mixing: float | None = None
    trap_K: float | None = None


@dataclass(frozen=True)
class Workup:
    """What is done with the flask's content; None: the shelf's value, or the usual way.

    separation_K: temperature at which oil and water are parted; steam: whether the liquor is steam-distilled;
    recovered: part of the product carried over, or distillate_L; salt: dissolved to saturation; drying_loss and
    transfer_loss: parts of the oil; exposure_s: time in air; pressure_Pa: of a simple distillation, none where None;
    cut: part of the oil that is taken over in it.
    """

    separation_K: float | None = None
    steam: bool | None = None
    recovered: float | None = None
    distillate_L: float | None = None
    salt: str | None = None
    drying_loss: float | None = None
    transfer_loss: float | None = None
    exposure_s: float | None = None
    pressure_Pa: float | None = None
    cut: float | None = None


@dataclass(frozen=True)
class Option:
    """A named variant: the dotted keys that change and their new values."""

    name: str
    changes: Mapping[str, object]


@dataclass(frozen=True)
class Scenario:
    """One batch as asked for. `assumed` holds a sentence for each value the file left open; `document` is the
    file's own content, to be read and not changed."""

    title: str
    substrate: str
    charges: tuple[Charge, ...]
    heating: Heating
    vessel: Vessel
    condenser: Condenser
    additions: tuple[Addition, ...] = ()
    options: tuple[Option, ...] = ()
    assumed: tuple[str, ...] = ()
    document: Mapping[str, object] = field(default_factory=dict, repr=False, compare=False)
    path: Path | None = None
    feed: Feed | None = None
    hazard: Hazard = Hazard()
    workup: Workup = Workup()

    def with_changes(self, changes: Mapping[str, object]) -> Scenario:
        """The scenario with these dotted keys set, such as {"heating.hold": "5 h"}, checked anew.

        A reading that excludes another (drops and boil_up) takes its place; additions count from 1
        ("addition.1.water"); a bare amount set for a charge that is a table changes the amount alone.
        Raises ScenarioError.
        """
        from kinetics.run.reading import read_changed

        return read_changed(self, changes)

    def option(self, name: str) -> Scenario:
        """The scenario with the changes of its option `name`. Raises ScenarioError if there is none."""
        from kinetics.run.reading import read_option

        return read_option(self, name)

    def key_value(self, key: str) -> object:
        """The value written for a dotted key, or its default; None if neither. Raises ScenarioError."""
        from kinetics.run.reading import written_value

        return written_value(self, key)
