"""The levers: of each thing a user can change, a modest real change, in the scenario's own keys, and its price."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from kinetics.analysis.base import is_base
from kinetics.analysis.ceiling import substrate_of
from kinetics.data.faults import ScenarioError
from kinetics.data.shelf import load_shelf
from kinetics.data.units import CELSIUS_ZERO_K, NUMBER, quantity
from kinetics.run.reading_changes import join_key
from kinetics.run.scenario import Scenario

HOUR_S = 3600.0
FURTHER_H = 2.0
WARMER_K = 10.0
SWEEP = "20 mL/min"
TAKE_OFF = "0.2 mL/min"
PER_1000_M = 0.887  # pressure of the standard atmosphere 1000 m up over that at sea level (ISO 2533:1975)
BASE_G_PER_L = 10.0
MORE_BASE = "more base"  # names that the diagnosis asks for
LONGER, STIR = "longer", "stir"


@dataclass(frozen=True)
class Lever:
    """A change: its name here, in words, as dotted keys, and what it costs or endangers.

    refused: why it cannot be had in this scenario, else empty; scenario: the changed one, None if refused.
    """

    name: str
    change: str
    changes: Mapping[str, object] = field(default_factory=dict)
    caution: str = ""
    refused: str = ""
    scenario: Scenario | None = None


def scaled(text: str, factor: float) -> str:
    """A quantity as written, times a factor: "3 g" doubled is "6 g"."""
    number = NUMBER.match(text.strip())
    assert number is not None, text
    return f"{float(number[0]) * factor:.6g}{text.strip()[number.end() :]}"


def levers_of(scenario: Scenario) -> list[Lever]:
    """Every lever with its changed scenario, or with the reason why it does not apply."""
    levers = []
    for lever in _Proposals(scenario).all():
        if not lever.refused:
            try:
                lever = Lever(
                    lever.name, lever.change, lever.changes, lever.caution, "", scenario.with_changes(lever.changes)
                )
            except ScenarioError as error:
                lever = Lever(lever.name, lever.change, refused="; ".join(map(str, error.faults)))
        levers.append(lever)
    return levers


class _Proposals:
    """What could be changed in one scenario."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario, self.shelf = scenario, load_shelf().including(scenario.substrate)
        self.heating, self.condenser = scenario.heating, scenario.condenser
        self.closed, self.boils = scenario.vessel.closed, scenario.heating.boil_up_mol_per_s > 0.0
        self.substrate = substrate_of(scenario)

    def all(self) -> Iterator[Lever]:
        """All of them, in the order of the bench."""
        yield self.longer()
        yield from self.base()
        yield from self.charge()
        yield from self.heat()
        yield from self.condensing()
        yield self.stirring()

    def longer(self) -> Lever:
        hours = self.heating.hold_s / HOUR_S + FURTHER_H
        price = "energy, and product that goes with the vent gas or oxidises meanwhile"
        return Lever(LONGER, f"{FURTHER_H:g} h longer, {hours:.4g} h", {"heating.hold": f"{hours:.9g} h"}, price)

    def base(self) -> Iterator[Lever]:
        bases = [c for c in self.scenario.charges if is_base(c.substance, self.shelf)]
        stronger = "more caustic: goggles and gloves; strong lye turns the product to alcohol and acid"
        if not bases:
            water = sum(c.components_mol.get("water", 0.0) for c in self.scenario.charges) * 0.018
            grams = f"{BASE_G_PER_L * water:.3g} g"
            changes = {join_key("charge", "sodium carbonate"): grams}
            yield Lever(MORE_BASE, f"{grams} of sodium carbonate, where no base is charged", changes, stronger)
            return
        for lever, words, factor, price in (
            (MORE_BASE, "twice", 2.0, stronger),
            ("less base", "half", 0.5, "the start is slower; milder to hands and product"),
        ):
            new = {charge.substance: scaled(charge.text, factor) for charge in bases}
            listed = " and ".join(f"{text} of {name}" for name, text in new.items())
            changes = {join_key("charge", name): text for name, text in new.items()}
            yield Lever(lever, f"{words} the base, {listed}", changes, price)

    def charge(self) -> Iterator[Lever]:
        enal = self.substrate.substrate
        water = next(c for c in self.scenario.charges if c.substance == "water")  # no file is read without it
        text = scaled(water.text, 1.5)
        price = "a larger flask, and more liquor to work up; thinner base (common practice, no source)"
        yield Lever("more water", f"half as much water again, {text}", {"charge.water": text}, price)
        charges = [c for c in self.scenario.charges if c.components_mol.get(enal, 0.0) > 0.0]
        if not charges:
            yield Lever("less charge", f"half the {enal}", refused="none is in the flask at the start")
            return
        halved = {join_key("charge", c.substance): scaled(c.text, 0.5) for c in charges}
        listed = " and ".join(halved.values())
        yield Lever("less charge", f"half the {enal}, {listed}", halved, "less product from a batch")
        over = f"{0.5 * self.heating.hold_s / HOUR_S:.6g} h"
        feed = {c.substance: self.scenario.key_value(join_key("charge", c.substance)) for c in charges}
        none: dict[str, object] = {join_key("charge", c.substance): "0 g" for c in charges}
        earlier = self.scenario.document.get("addition", [])
        assert isinstance(earlier, list)
        additions = {"addition": [*earlier, {"at": "0 h", "over": over, **feed}]}
        price = "someone must stand by; a dropping funnel on a hot flask stays vented"
        yield Lever("fed slowly", f"the {enal} fed over the first {over}", none | additions, price)

    def heat(self) -> Iterator[Lever]:
        document = self.scenario.document.get("heating", {})
        given: Mapping[str, object] = document if isinstance(document, Mapping) else {}
        if not self.boils:
            yield Lever("more boil-up", "twice the boil-up", refused="nothing boils")
            if self.closed:
                opened = {"vessel.closed": False, "heating.temperature": "boil"}
                price = f"{self.substrate.by_product} comes off: hood, no flame"
                yield Lever("at the boil", "an open flask at the boil", opened, price)
            else:
                price = f"product and {self.substrate.by_product} go with the steam: cold condenser, hood, no flame"
                yield Lever("at the boil", "at the boil", {"heating.temperature": "boil"}, price)
            return
        if "power" in given:
            power, losses = (quantity(given.get(key, "0 W"), "power") for key in ("power", "losses"))
            changes = {"heating.power": f"{2 * power - losses:.6g} W"}
        else:
            key = "heating.drops" if "drops" in given else "heating.boil_up"
            changes = {key: scaled(str(self.scenario.key_value(key)), 2.0)}
        price = "energy, bumping; the condenser must hold it back (boiling stones: common practice, no source)"
        yield Lever("more boil-up", f"twice the boil-up, {next(iter(changes.values()))}", changes, price)
        pressure = f"{self.heating.pressure_Pa * PER_1000_M:.6g} Pa"
        price = "nothing to be chosen: what to expect on a mountain, where it boils some 3 K cooler"
        yield Lever("higher up", "the same 1000 m higher up", {"heating.pressure": pressure}, price)

    def condensing(self) -> Iterator[Lever]:
        by = self.substrate.by_product
        vent = f"carries off {by} and some product: hood, no flame"
        warmer = f"{self.condenser.coolant_K - CELSIUS_ZERO_K + WARMER_K:.4g} degC"
        swept, drawn = self.condenser.sweep_mol_per_s > 0.0, self.condenser.take_off_mol_per_s > 0.0
        sweep = scaled(str(self.scenario.key_value("condenser.sweep")), 2.0) if swept else SWEEP
        take_off = scaled(str(self.scenario.key_value("condenser.take_off")), 2.0) if drawn else TAKE_OFF
        gas = {} if swept else {"condenser.sweep_gas": "inert"}
        make_up = {} if drawn else {"condenser.make_up": True}
        keep = f"product goes over too: keep the distillate, cold, away from flames, for it holds {by}"
        for name, change, changes, price, vapour in (
            (
                "warmer coolant",
                f"coolant {WARMER_K:g} K warmer, {warmer}",
                {"condenser.coolant": warmer},
                vent,
                self.boils or swept,
            ),
            (
                "sweep",
                f"twice the sweep of gas, {sweep}" if swept else f"{sweep} of inert gas led through",
                {"condenser.sweep": sweep, **gas},
                f"{vent}; never into a closed flask",
                True,
            ),
            (
                "take-off",
                f"twice the take-off, {take_off}" if drawn else f"{take_off} taken off, made up with water",
                {"condenser.take_off": take_off, **make_up},
                keep,
                self.boils,
            ),
        ):
            refused = "the vessel is closed" if self.closed else "" if vapour else "nothing boils"
            yield Lever(name, change, changes, price, refused)

    def stirring(self) -> Lever:
        vigorous = self.shelf["apparatus.k_La.vigorous"].value
        if self.scenario.vessel.k_La_per_s >= vigorous:
            return Lever(STIR, "vigorous stirring", refused="it is stirred as fast already")
        price = "more air into the liquor; no loose stirrer bar in a boiling flask"
        return Lever(STIR, "vigorous stirring", {"vessel.stirring": "vigorous"}, price)
