"""A calibration: what measurements taught about the shelf's constants, as a TOML file that any command can apply.

The constants are held in z, standard uncertainties of the shelf away from its values, with their covariance. The file
also keeps what each z is counted in, so that a shelf that has changed since is noticed.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from kinetics.analysis.ensemble import SETTINGS, Prior, prior_of
from kinetics.data.faults import Fault, RefusedInput, nearest, quoted
from kinetics.data.records import Record
from kinetics.data.shelf import Shelf
from kinetics.flask.mechanisms import Mechanisms
from kinetics.run.scenario import Charge, Scenario

Array = np.ndarray
FORMAT = 1
CHARGE = "charge."


class CalibrationError(RefusedInput):
    """A calibration file that cannot be used, with every fault found in it."""

    def __init__(self, faults: Iterable[Fault], where: str = "") -> None:
        self.faults, self.where = tuple(faults), where
        super().__init__(self.faults, where)

    def __str__(self) -> str:
        return "\n  ".join([f"{self.where or 'The calibration'} cannot be used.", *map(str, self.faults)])


@dataclass(frozen=True)
class Counted:
    """What the z of one constant is counted in: its factor, sigma, or a charge's relative uncertainty."""

    factor: float | None = None
    sigma: float | None = None
    relative: float | None = None
    coefficients: tuple[float, ...] = ()


def counted_in(name: str, shelf: Shelf, scenarios: Iterable[Scenario]) -> Counted | None:
    """What the z of a constant or charge is counted in; None where the shelf and the scenarios do not have it."""
    if name.startswith(CHARGE):
        charges = [
            c
            for s in scenarios
            for c in s.charges
            if f"{CHARGE}{c.substance}" == name and c.uncertainty > 0.0
        ]
        return Counted(relative=charges[0].uncertainty) if charges else None
    if name not in shelf:
        return None
    record: Record = shelf[name]
    return Counted(record.factor, record.sigma, None, tuple(map(float, record.coefficients)))


@dataclass(frozen=True)
class Calibration:
    """The posterior of the fitted constants: names, mean z, covariance, and where it comes from.

    counted: what each z is counted in; data: name and SHA-256 of the measurements, their number, the runs; fit:
    what the report said of the fit; versions: of the program and its libraries.
    """

    substrate: str
    names: tuple[str, ...]
    mean: Array
    covariance: Array
    counted: tuple[Counted, ...]
    data: Mapping[str, Any] = field(default_factory=dict)
    fit: Mapping[str, Any] = field(default_factory=dict)
    versions: Mapping[str, str] = field(default_factory=dict)

    def applies(self, scenario: Scenario, shelf: Shelf) -> dict[str, float]:
        """Best z of each constant, setting and charge of this scenario that was calibrated.

        Raises CalibrationError where the shelf counts one of them otherwise than the calibration does. A charge
        whose uncertainty this scenario gives otherwise is another bottle, and left alone.
        """
        result, faults = {}, []
        for name, z, counted in zip(self.names, self.mean, self.counted):
            now = counted_in(name, shelf, [scenario])
            if now is None or (name.startswith(CHARGE) and now != counted):
                continue
            if now != counted:
                faults.append(
                    Fault(name, "the constant as it was when calibrated", "another", "Calibrate again.")
                )
            result[name] = float(z)
        if faults:
            raise CalibrationError(faults)
        return result

    def prior_for(self, scenario: Scenario, shelf: Shelf, mechanisms: Mechanisms | None = None) -> Prior:
        """What to draw samples of this scenario from: the posterior of what was fitted, the shelf's prior of the rest."""
        shelf = shelf.including(scenario.substrate)
        prior = prior_of(scenario, shelf, mechanisms or Mechanisms())
        applied = self.applies(scenario, shelf)
        shared = [k for k, name in enumerate(self.names) if name in prior.names and name in applied]
        places = [prior.names.index(self.names[k]) for k in shared]
        mean, covariance = prior.mean.copy(), np.eye(len(prior.names))
        mean[places] = self.mean[shared]
        covariance[np.ix_(places, places)] = self.covariance[np.ix_(shared, shared)]
        return Prior(prior.names, mean, np.linalg.cholesky(covariance))

    def shifts(self, shelf: Shelf) -> dict[str, float]:
        """Best z of the shelf's constants, without settings and charges: what `Shelf.shifted` and a Job take."""
        return {
            name: float(z) for name, z in zip(self.names, self.mean) if name in shelf and name not in SETTINGS
        }

    def shelf(self, shelf: Shelf) -> Shelf:
        """The shelf with the fitted constants at their best values."""
        return shelf.shifted(self.shifts(shelf))

    def scenario(self, scenario: Scenario, shelf: Shelf) -> Scenario:
        """The scenario with the fitted settings and charges at their best values.

        The last thing to do before a simulation: `with_changes` reads the document, which does not know of it.
        """
        return at_best(scenario, shelf, self.applies(scenario, shelf.including(scenario.substrate)))

    def to_toml(self) -> str:
        """The text of the file."""
        lines = [
            "# What measurements taught about the constants, written by the command `calibrate`; --calibration applies it.",
            "# z counts standard uncertainties of the shelf, from its value; covariance is of z, in the order below.",
            f"format = {FORMAT}",
            f"substrate = {toml_value(self.substrate)}",
            f"covariance = [\n{''.join(f'  {toml_value(row.tolist())},{chr(10)}' for row in self.covariance)}]",
        ]
        for title, table in (("versions", self.versions), ("data", self.data), ("fit", self.fit)):
            lines += ["", f"[{title}]", *(f"{key} = {toml_value(value)}" for key, value in table.items())]
        for name, z, counted in zip(self.names, self.mean, self.counted):
            lines += ["", "[[constant]]", f"name = {toml_value(name)}", f"z = {toml_value(float(z))}"]
            for key in ("factor", "sigma", "relative"):
                if (value := getattr(counted, key)) is not None:
                    lines.append(f"{key} = {toml_value(value)}")
            if counted.coefficients:
                lines.append(f"coefficients = {toml_value(list(counted.coefficients))}")
        return "\n".join(lines) + "\n"


def at_best(scenario: Scenario, shelf: Shelf, z: Mapping[str, float]) -> Scenario:
    """The scenario with its settings and charges moved by z, as `ensemble.samples_of` moves them."""
    air, approach, transfer = (z.get(name, 0.0) for name in SETTINGS)
    condenser = replace(
        scenario.condenser,
        air_exchange_mol_per_s=scenario.condenser.air_exchange_mol_per_s
        * (shelf[SETTINGS[0]].factor or 1.0) ** air,
        approach_K=max(scenario.condenser.approach_K + (shelf[SETTINGS[1]].sigma or 0.0) * approach, 0.0),
    )
    vessel = replace(
        scenario.vessel,
        k_La_per_s=scenario.vessel.k_La_per_s * (shelf[SETTINGS[2]].factor or 1.0) ** transfer,
    )
    factors = {
        c.substance: (1.0 + c.uncertainty) ** z[f"{CHARGE}{c.substance}"]
        for c in scenario.charges
        if f"{CHARGE}{c.substance}" in z
    }

    def moved(charge: Charge) -> Charge:
        factor = factors.get(charge.substance, 1.0)
        amounts = {name: factor * amount for name, amount in charge.components_mol.items()}
        return replace(charge, amount_mol=factor * charge.amount_mol, components_mol=amounts)

    additions = tuple(replace(a, charges=tuple(map(moved, a.charges))) for a in scenario.additions)
    charges = tuple(map(moved, scenario.charges))
    return replace(scenario, condenser=condenser, vessel=vessel, charges=charges, additions=additions)


def toml_value(value: Any) -> str:
    """A text, number, truth value or list as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    return repr(value)


def read_calibration(path: Path, shelf: Shelf) -> Calibration:
    """The calibration of a file, every fault of it at once. Raises CalibrationError."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        came = f"{quoted(str(path))} ({error.strerror})"
        raise CalibrationError([Fault("", "a file that can be read", came)], str(path)) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CalibrationError([Fault("", "a calibration file in TOML", str(error))], str(path)) from None
    faults: list[Fault] = []
    if table.get("format") != FORMAT:
        expected = f"{FORMAT}, in a file that the command `calibrate` wrote"
        raise CalibrationError([Fault("format", expected, quoted(table.get("format")))], str(path))
    substrate, entries = table.get("substrate"), table.get("constant", [])
    if not isinstance(substrate, str):
        faults.append(Fault("substrate", "the name of a substrate", quoted(substrate)))
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries) or not entries:
        raise CalibrationError(
            [*faults, Fault("constant", "tables [[constant]]", quoted(entries))], str(path)
        )
    names, mean, counted = [], [], []
    known = shelf.including(substrate) if isinstance(substrate, str) else shelf
    for number, entry in enumerate(entries, 1):
        name, z = entry.get("name"), entry.get("z")
        if not isinstance(name, str) or not (name in known or name.startswith(CHARGE)) or name in names:
            near = nearest(str(name), known.names())
            hint = f'Did you mean "{near}"?' if near else ""
            faults.append(
                Fault(f"constant.{number}.name", "a constant of the shelf, once", quoted(name), hint)
            )
        spread = {key: entry.get(key) for key in ("factor", "sigma", "relative")}
        if not is_number(z) or not all(value is None or is_number(value) for value in spread.values()):
            faults.append(Fault(f"constant.{number}", "numbers z and factor, sigma or relative", "others"))
            continue
        coefficients = entry.get("coefficients", [])
        if not isinstance(coefficients, list) or not all(map(is_number, coefficients)):
            faults.append(Fault(f"constant.{number}.coefficients", "numbers", quoted(coefficients)))
            continue
        names.append(name)
        mean.append(float(z))
        counted.append(Counted(**spread, coefficients=tuple(map(float, coefficients))))
    covariance = covariance_of(table.get("covariance"), len(entries), faults)
    if faults:
        raise CalibrationError(faults, str(path))
    tables = (table.get(key, {}) for key in ("data", "fit", "versions"))
    return Calibration(str(substrate), tuple(names), np.array(mean), covariance, tuple(counted), *tables)


def is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300  # an int may be larger


def covariance_of(rows: object, count: int, faults: list[Fault]) -> Array:
    """The covariance matrix, or a fault noted: square, symmetric, positive definite."""
    expected = f"{count} rows of {count} numbers, symmetric and positive definite"
    square = isinstance(rows, list) and len(rows) == count
    square = square and all(isinstance(r, list) and len(r) == count and all(map(is_number, r)) for r in rows)  # type: ignore[attr-defined]
    matrix: Array = np.array(rows, dtype=float) if square else np.zeros((0, 0))
    if not square:
        faults.append(Fault("covariance", expected, "another shape"))
    elif not np.allclose(matrix, matrix.T, rtol=1e-9, atol=1e-15) or np.linalg.eigvalsh(matrix).min() <= 0.0:
        faults.append(Fault("covariance", expected, "a matrix that is not"))
    return matrix
