"""Uncertainty bands on the command line: the options that ask for them, and how they are shown."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kinetics.command_line.progress import add_executors, add_resume
from kinetics.command_line.terminal import heading, significant, table, wrapped

if TYPE_CHECKING:
    from kinetics.analysis.applying import Shifts
    from kinetics.analysis.ensemble import Bands, Prior
    from kinetics.run.scenario import Scenario

MOST_SAMPLES = 1_000_000
NAMES = {
    "conversion": ("conversion", "%", 100.0),
    "yield": ("yield", "%", 100.0),
    "selectivity": ("selectivity", "%", 100.0),
    "product_in_flask_g": ("product in the flask", "g", 1.0),
    "product_in_oil_g": ("  of it in the oil", "g", 1.0),
    "product_taken_off_g": ("product taken off", "g", 1.0),
    "product_vented_g": ("product gone with the gas", "g", 1.0),
    "unreacted_g": ("substrate left, unreacted", "g", 1.0),
    "byproduct_in_flask_mol": ("by-product in the flask", "mmol", 1e3),
    "byproduct_left_mol": ("by-product gone", "mmol", 1e3),
    "pH_start": ("pH at the start", "", 1.0),
    "pH_hot": ("pH hot, as the hold begins", "", 1.0),
    "pH_end": ("pH at the end", "", 1.0),
    "hydroxide_hot_mol_per_L": ("hydroxide, hot", "mol/L", 1.0),
    "boil_point_degC": ("boil point", "degC", 1.0),
    "water_left_in_flask_L": ("water left in the flask", "L", 1.0),
}


def add_samples(parser: ArgumentParser) -> None:
    """How many samples to draw for the bands and from which seed, as `args.samples` and `args.seed`."""
    parser.add_argument(
        "--samples", metavar="N", type=_whole, default=0, help="draw N sets of all uncertain numbers and show 5-50-95 %% bands"
    )
    parser.add_argument("--seed", metavar="S", type=_whole, default=0, help="seed of the draws (0)")


def add_calibration(parser: ArgumentParser) -> None:
    """The calibration whose constants replace the shelf's, as `args.calibration`."""
    parser.add_argument(
        "--calibration", metavar="PATH", type=Path, help="use what `calibrate` learned: its constants, and its bands"
    )


def add_uncertainty(parser: ArgumentParser) -> None:
    """All that a command with bands takes: a calibration, samples, and where and how its many runs are computed."""
    add_calibration(parser)
    add_samples(parser)
    add_executors(parser)
    add_resume(parser)


def calibrated(args: Namespace, scenario: Scenario) -> tuple[Scenario, Shifts, Callable[[Sequence[Scenario]], Prior | None]]:
    """The scenario and shifts of --calibration, and the distribution to draw samples of scenarios from."""
    if args.calibration is None:
        return scenario, (), lambda scenarios: None
    from kinetics.analysis.applying import apply
    from kinetics.analysis.calibration_file import read_calibration
    from kinetics.data.shelf import load_shelf

    applied = apply(read_calibration(args.calibration, load_shelf()), scenario)
    return applied.scenario, applied.shifts, applied.prior


def _whole(text: str) -> int:
    if not text.isdecimal() or int(text) > MOST_SAMPLES:
        raise ArgumentTypeError(f"expected a whole number from 0 to {MOST_SAMPLES}; came {text!r}")
    return int(text)


def band_json(bands: Bands | None, seed: int) -> dict[str, Any]:
    """The keys that a command's JSON gains."""
    return {"samples": 0, "seed": seed, "bands": None} if bands is None else bands.to_json()


def no_band_lines() -> list[str]:
    """That there are none, and how to get them."""
    return ["", *wrapped("No band computed: --samples 200 draws all uncertain numbers and shows what they leave open.")]


def band_lines(bands: Bands | None) -> list[str]:
    """The bands as a table, or that there are none."""
    if bands is None:
        return no_band_lines()
    header = [["", "5 %", "50 %", "95 %", "+-", ""]]
    rows = [row for name in NAMES if name in bands.bands for row in [band_row(name, bands.bands[name])] if row]
    return [
        "",
        heading(f"Bands from {bands.samples} samples (seed {bands.seed})"),
        *table(header, rows, "<>>>><"),
        *wrapped(
            "Nine in ten samples lie between the 5 % and the 95 % column; +- is the standard error of the 50 % column."
        ),
        *bands.notices,
    ]


def band_row(name: str, band: Mapping[str, float | None] | None) -> tuple[str, ...] | None:
    """One number's band; nothing where it is zero in every sample or not known."""
    if band is None:
        return None
    words, unit, scale = NAMES[name]
    values = [band[key] for key in ("p5", "p50", "p95", "se_p50")]
    if not any(values):
        return None
    shown = [_shown(value, scale, name) for value in values]
    return (words, *shown, unit)


def _shown(value: float | None, scale: float, name: str) -> str:
    if value is None:
        return "-"
    if name.startswith("pH"):
        return f"{value:.2f}"
    if name == "boil_point_degC":
        return f"{value:.1f}"
    if scale == 100.0:
        return f"{scale * value:.1f}"
    return significant(scale * value) if abs(scale * value) >= 1e-3 or value == 0.0 else "<0.001"
