"""What was read from a scenario, in figures and in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from kinetics.analysis.base import is_base
from kinetics.analysis.compare import mass_g
from kinetics.analysis.feed import feed_report
from kinetics.analysis.workup import Practice, practice_of
from kinetics.command_line.ledger_text import feed_lines
from kinetics.command_line.terminal import duration, fixed, heading, percent, significant, table, wrapped
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.flask.network import build_network
from kinetics.run.plan import Planner
from kinetics.run.result import plain
from kinetics.run.scenario import Charge, Scenario, Workup

CELSIUS_ZERO_K = 273.15
WATER_G_PER_MOL = 18.015
SECTIONS = ("heating", "vessel", "condenser", "feed", "hazard", "workup")


def figures_of(scenario: Scenario) -> dict[str, Any]:
    """What was read, as numbers and texts: charges in g and mol, base per substrate, boil point, settings."""
    shelf = load_shelf().including(scenario.substrate)
    substrate = load_shelf().substrate(scenario.substrate)
    planner = Planner(scenario, build_network(substrate, shelf, Mechanisms()), shelf)
    heating = scenario.heating
    base = sum(charge.amount_mol for charge in scenario.charges if is_base(charge.substance, shelf))
    aldehyde = planner.initial.get(substrate.substrate, 0.0)
    return {
        "title": scenario.title,
        "substrate": scenario.substrate,
        "cleaved": substrate.substrate,
        "product": substrate.product,
        "by_product": substrate.by_product or None,
        "charge": charges_of(scenario.charges, shelf),
        "additions": [
            {"at_h": a.at_s / 3600.0, "over_h": a.over_s / 3600.0, "charge": charges_of(a.charges, shelf)}
            for a in scenario.additions
        ],
        "base_per_substrate": base / aldehyde if aldehyde > 0.0 else None,
        "boil_point_degC": planner.boil_K - CELSIUS_ZERO_K,
        "hold_degC": planner.hold_K - CELSIUS_ZERO_K,
        "boils": planner.boiling,
        "hold_h": heating.hold_s / 3600.0,
        "pressure_kPa": heating.pressure_Pa / 1000.0,
        "boil_up_g_per_min": heating.boil_up_mol_per_s * WATER_G_PER_MOL * 60.0 if planner.boiling else None,
        "settings": settings_of(scenario),
        "feed": plain(feed_report(scenario)),
        "workup": plain(practice_of(scenario, shelf)),
        "assumed": list(scenario.assumed),
        "options": [{"name": option.name, "changes": dict(option.changes)} for option in scenario.options],
    }


def charges_of(charges: Iterable[Charge], shelf: Shelf) -> list[dict[str, Any]]:
    """Each charge: as written, and how much of the pure substance that is."""
    return [
        {
            "substance": charge.substance,
            "written": charge.text,
            "purity": charge.purity,
            "uncertainty": charge.uncertainty,
            "mass_g": mass_g(charge, shelf),
            "amount_mol": charge.amount_mol,
        }
        for charge in charges
    ]


def settings_of(scenario: Scenario) -> dict[str, object]:
    """The dotted keys of all tables of settings that the file gives, as written."""
    sections: Mapping[str, Any] = scenario.document
    return {f"{name}.{key}": value for name in SECTIONS for key, value in sections.get(name, {}).items()}


def reading_lines(figures: Mapping[str, Any], scenario: Scenario) -> list[str]:
    """The same for a reader."""
    lines = [heading(line) for line in wrapped(f"{figures['title']}: sound, it can be run.")]
    by_product = figures["by_product"]
    formed = [figures["product"], *([by_product] if by_product not in (None, figures["product"]) else [])]
    lines += wrapped(f"{figures['cleaved']} is cleaved to {' and '.join(formed)}.")
    lines += ["", heading("Charge"), *charge_lines(figures["charge"])]
    for addition in figures["additions"]:
        over = f", over {duration(addition['over_h'])}" if addition["over_h"] else ""
        lines += ["", heading(f"Added {duration(addition['at_h'])} into the hold{over}")]
        lines += charge_lines(addition["charge"])
    lines += ["", heading("Read as")]
    ratio = figures["base_per_substrate"]
    base = f"no {figures['cleaved']} charged" if ratio is None else f"{significant(ratio)} mol/mol"
    hold = f"{duration(figures['hold_h'])} at {figures['hold_degC']:.4g} degC"
    rows = [
        (f"base per {figures['cleaved']}", base),
        ("boil point of the liquor", f"{fixed(figures['boil_point_degC'], 1)} degC"),
        ("pressure of the air", f"{fixed(figures['pressure_kPa'], 1)} kPa"),
        ("hold", f"{hold}, {'a boil' if figures['boils'] else 'below the boil or closed'}"),
    ]
    if figures["boil_up_g_per_min"] is not None:
        rows.append(("condensate", f"{significant(figures['boil_up_g_per_min'])} g/min"))
    lines += table([], rows, "<<")
    settings = [(key, setting(value)) for key, value in figures["settings"].items()]
    lines += ["", heading("Settings"), *table([], settings, "<<")]
    feed = feed_report(scenario)
    if feed is not None:
        lines += ["", heading("Feed"), *feed_lines(feed)]
    if scenario.workup != Workup():
        practice = practice_of(scenario, load_shelf())
        lines += ["", heading("Work-up, for the command `ledger`"), *wrapped(f"{practice_words(practice)}.")]
    if figures["assumed"]:
        lines += ["", heading("Assumed, not being given")]
        lines += [line for text in figures["assumed"] for line in wrapped(text, "- ")]
    if figures["options"]:
        lines += ["", heading("Options")]
        for option in figures["options"]:
            changes = "; ".join(f"{key} = {setting(value)}" for key, value in option["changes"].items())
            lines += wrapped(f"{option['name']}: {changes}", "- ")
    return lines


def practice_words(practice: Practice) -> str:
    """A work-up step by step."""
    over = f"{percent(practice.recovered)} % of the product is over"
    if practice.distillate_L is not None:
        over = f"{significant(1e3 * practice.distillate_L)} mL are over"
    steps = [f"Steam until {over}" if practice.steam else "No steam"]
    steps.append("saturate with salt" if practice.salted else "no salt")
    steps.append(f"part at {practice.separation_K - CELSIUS_ZERO_K:.3g} degC")
    steps.append(f"lose {percent(practice.drying_loss)} % in drying and {percent(practice.transfer_loss)} % on glass")
    if practice.pressure_Pa is not None:
        steps.append(f"distil {percent(practice.cut)} % over at {practice.pressure_Pa / 1000.0:.3g} kPa")
    return "; ".join([*steps, f"{duration(practice.exposure_s / 3600.0)} in air"])


def charge_lines(charges: Iterable[Mapping[str, Any]]) -> list[str]:
    """A table of charges."""
    header = [["", "as", "purity", "pure", "pure"], ["", "written", "%", "g", "mol"]]
    rows = []
    for charge in charges:
        pure = (significant(charge[key], 4) for key in ("mass_g", "amount_mol"))
        rows.append((charge["substance"], charge["written"], percent(charge["purity"]), *pure))
    return table(header, rows, "<>")


def setting(value: object) -> str:
    """A value much as a scenario file has it."""
    match value:
        case bool():
            return str(value).lower()
        case Mapping():
            return f"{{{', '.join(f'{key} = {setting(entry)}' for key, entry in value.items())}}}"
        case list() | tuple():
            return f"[{', '.join(map(setting, value))}]"
    return str(value)
