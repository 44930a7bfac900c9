"""Reading bench measurements from a CSV file: every fault of the file at once, each naming its row.

Columns: `time [h]` from the start of the heating or `hold time [h]` from the start of the hold (any unit of time),
`quantity`, `value`; where they apply `unit`, `sd` (in the unit of the value), `run` (which scenario), `temperature
[degC]` of a pH, `response factor` of an area ratio, `sample` (tells equal rows apart) and `remark`.
"""

from __future__ import annotations

import csv
import hashlib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from kinetics.analysis.predictions import QUANTITIES, Asked, Details
from kinetics.data.faults import Fault, QuantityError, RefusedInput, listed, nearest, quoted
from kinetics.data.shelf import load_shelf
from kinetics.data.units import NUMBER, quantity, quantity_of
from kinetics.run.scenario import Scenario

TIMES = ("time", "hold time")
WITH_UNIT = (*TIMES, "temperature")
COLUMNS = (*WITH_UNIT, "quantity", "value", "unit", "sd", "run", "sample", "response factor", "remark")
ALIASES = {"standard deviation": "sd", "response": "response factor", "scenario": "run"}
QUANTITY_ALIASES = {"substrate fraction": "enal fraction", "by-product in trap": "byproduct in trap"}
HEADER_UNIT = re.compile(rf"({'|'.join(reversed(WITH_UNIT))})[\s\[(]*([^\])]*)[\])]?")
ROUNDING_S = 1.0  # a time this little beyond the end of the run is its end


class MeasurementsError(RefusedInput):
    """Measurements that cannot be used, with every fault found and the file they are in."""

    def __init__(self, faults: Iterable[Fault], where: str = "") -> None:
        self.faults, self.where = tuple(faults), where
        super().__init__(self.faults, where)

    def __str__(self) -> str:
        return "\n  ".join([f"{self.where} has {len(self.faults)} faults.", *map(str, self.faults)])


@dataclass(frozen=True)
class Measurement:
    """One measured value in house units, with its standard deviation; `assumed_sd` where the file gave none."""

    row: int
    run: str
    asked: Asked
    value: float
    sd: float
    assumed_sd: bool = False


@dataclass(frozen=True)
class Measurements:
    """The measurements of a file, a sentence for each thing that was assumed, and the file's fingerprint."""

    items: tuple[Measurement, ...]
    scenarios: tuple[Scenario, ...]
    notes: tuple[str, ...] = ()
    path: Path | None = None
    sha256: str = ""

    @property
    def asked(self) -> tuple[Asked, ...]:
        return tuple(item.asked for item in self.items)


def runs_known(scenarios: Sequence[Scenario]) -> dict[str, Scenario]:
    """What the column `run` may say: the title or the file's name of a scenario, or the name of an option."""
    known: dict[str, Scenario] = {}
    for scenario in scenarios:
        known[scenario.title] = scenario
        if scenario.path is not None:
            known[scenario.path.stem] = scenario
    for scenario in scenarios:
        for option in scenario.options:
            known.setdefault(option.name, scenario.option(option.name))
    return known


def read_measurements(path: Path, scenarios: Sequence[Scenario]) -> Measurements:
    """The measurements of a CSV file, separated by commas, semicolons or tabs. Raises MeasurementsError."""
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except OSError as error:
        fault = Fault("", "a file that can be read", f"{quoted(str(path))} ({error.strerror})")
        raise MeasurementsError([fault], str(path)) from None
    except UnicodeDecodeError as error:
        came = f"bytes that are not ({error.reason} at byte {error.start})"
        raise MeasurementsError([Fault("", "text in UTF-8", came)], str(path)) from None
    reading = Reading(text, scenarios)
    if reading.faults:
        raise MeasurementsError(reading.faults, str(path))
    digest = hashlib.sha256(raw).hexdigest()
    return Measurements(tuple(reading.items), tuple(reading.used), tuple(reading.notes()), path, digest)


class Reading:
    """Reads a text, noting every fault and raising none."""

    def __init__(self, text: str, scenarios: Sequence[Scenario]) -> None:
        self.faults: list[Fault] = []
        self.items: list[Measurement] = []
        self.used: list[Scenario] = []
        self.known, self.only = runs_known(scenarios), scenarios[0] if len(scenarios) == 1 else None
        self.with_commas: list[int] = []
        self.units: dict[str, str] = {}
        self.row = 1
        lines = text.splitlines()
        first = next((line for line in lines if line.strip() and not line.startswith("#")), "")
        self.separator = max(";\t,", key=first.count)
        table = [(k, line) for k, line in enumerate(lines, 1) if line.strip() and not line.startswith("#")]
        if not table:
            self.fault("", "a line of headings and a row for each measurement", "an empty file")
            return
        header, *rows = [(k, self.cells_of(line)) for k, line in table]
        self.row = header[0]
        columns = self.columns_of(header[1])
        if self.faults:
            return
        seen: dict[tuple[str, ...], int] = {}
        for self.row, cells in rows:
            self.read_row(columns, cells, seen)
        if not rows:
            self.fault("", "a row for each measurement", "headings alone")

    def cells_of(self, line: str) -> list[str]:
        """The cells of one line; a line that is no CSV is one cell, and at fault for that."""
        try:
            return next(csv.reader([line], delimiter=self.separator))
        except (csv.Error, StopIteration):
            return [line]

    def fault(self, column: str, expected: str, came: str, hint: str = "") -> None:
        where = f"row {self.row}" + (f", {column}" if column else "")
        self.faults.append(Fault(where, expected, came, hint))

    def notes(self) -> list[str]:
        """What was assumed, in sentences."""
        notes = []
        if self.with_commas:
            rows = listed(map(str, dict.fromkeys(self.with_commas)), "and")
            notes.append(f"decimal commas were read as decimal points (row {rows})")
        bare = dict.fromkeys(item.asked.quantity for item in self.items if item.assumed_sd)
        for name in bare:
            known = QUANTITIES[name]
            relative = f", {known.usual_relative:.0%} if that is more" if known.usual_relative else ""
            unit = "" if known.unit == "1" else f" {known.unit}"
            notes.append(
                f"no standard deviation given for some {name}: taken as {known.usual_sd:g}{unit}{relative} "
                "(common practice, no source)"
            )
        return notes

    def columns_of(self, cells: Sequence[str]) -> list[str]:
        """The columns by their headings; the units in them are kept."""
        columns: list[str] = []
        for cell in cells:
            words = " ".join(cell.replace("_", " ").split()).strip()
            name, unit = ALIASES.get(words.lower(), words.lower()), ""
            if match := HEADER_UNIT.fullmatch(words) or HEADER_UNIT.fullmatch(words.lower()):
                name, unit = match[1], match[2].strip()
            if name not in COLUMNS:
                near = nearest(name, COLUMNS)
                hint = f'Did you mean "{near}"?' if near else "Free text goes into a column `remark`."
                self.fault("headings", listed(COLUMNS), quoted(cell), hint)
            elif name in columns:
                self.fault("headings", f"one column {name}", "two")
            if name in WITH_UNIT:
                self.read_heading_unit(name, unit, cell)
            columns.append(name)
        for name in ("quantity", "value"):
            if name not in columns:
                self.fault("headings", f"a column {name}", "none")
        if sum(name in columns for name in TIMES) != 1:
            expected = "one column of times, `time [h]` from the start of the heating or `hold time [h]`"
            self.fault("headings", expected, "both" if all(n in columns for n in TIMES) else "none")
        return columns

    def read_heading_unit(self, name: str, unit: str, cell: str) -> None:
        kind = "temperature" if name == "temperature" else "time"
        self.units[name] = unit
        try:
            quantity(f"1 {unit}", kind)
        except QuantityError as error:
            example = f"{name} [degC]" if kind == "temperature" else f"{name} [h]"
            self.fault("headings", f'a unit of {kind}, as in "{example}"', quoted(cell), error.hint)

    def number(self, column: str, text: str) -> float | None:
        """A finite number, or None with a fault noted."""
        plain = text.strip().replace("−", "-")
        if re.fullmatch(r"[+-]?\d+,\d+(e[+-]?\d+)?", plain, re.IGNORECASE):
            if self.separator == ",":
                hint = f"Write {plain.replace(',', '.')}, or separate the columns with semicolons."
                self.fault(column, "a number with a decimal point", quoted(text), hint)
                return None
            self.with_commas.append(self.row)
            plain = plain.replace(",", ".")
        value = float(plain) if NUMBER.fullmatch(plain) else math.nan
        if not math.isfinite(value):
            self.fault(column, "a finite number", quoted(text) if plain else "nothing")
            return None
        return value

    def read_row(
        self, columns: Sequence[str], cells: Sequence[str], seen: dict[tuple[str, ...], int]
    ) -> None:
        """One measurement, or its faults."""
        cells = [cell.strip() for cell in cells]
        if not any(cells):
            return
        if len(cells) != len(columns):
            hint = "A decimal comma? Write a point, or separate the columns with semicolons."
            more = hint if self.separator == "," and len(cells) > len(columns) else ""
            self.fault("", f"{len(columns)} cells, as many as headings", f"{len(cells)}", more)
            return
        row = dict(zip(columns, cells))
        known = tuple(value.lower() for name, value in row.items() if name != "remark")
        if known in seen:
            hint = "If it is a second sample, give each its own word in a column `sample`."
            self.fault("", "a row of its own", f"the same as row {seen[known]}", hint)
            return
        seen[known] = self.row
        before = len(self.faults)
        scenario, name = self.run_of(row), self.quantity_of(row)
        time_s = self.time_of(row, scenario)
        details = self.details_of(row, name)
        value, sd = self.value_of(row, name, scenario)
        if len(self.faults) > before:
            return
        assert scenario is not None and name is not None and time_s is not None and value is not None
        if scenario not in self.used:
            self.used.append(scenario)
        asked = Asked(self.used.index(scenario), time_s, name, details)
        usual = max(QUANTITIES[name].usual_sd, QUANTITIES[name].usual_relative * abs(value))
        run = row.get("run") or scenario.title
        self.items.append(Measurement(self.row, run, asked, value, sd or usual, sd is None))

    def run_of(self, row: Mapping[str, str]) -> Scenario | None:
        named = row.get("run", "")
        if not named and self.only is not None:
            return self.only
        if named not in self.known:
            near = nearest(named, self.known)
            hint = f'Did you mean "{near}"?' if near else ""
            self.fault("run", f"a run: {listed(map(quoted, self.known))}", quoted(named or None), hint)
        return self.known.get(named)

    def quantity_of(self, row: Mapping[str, str]) -> str | None:
        words = " ".join(row["quantity"].replace("_", " ").split()).lower()
        names = {name.lower(): name for name in QUANTITIES} | QUANTITY_ALIASES
        if words not in names:
            near = nearest(words, QUANTITIES)
            hint = f'Did you mean "{near}"?' if near else ""
            self.fault("quantity", listed(QUANTITIES), quoted(row["quantity"]), hint)
        return names.get(words)

    def time_of(self, row: Mapping[str, str], scenario: Scenario | None) -> float | None:
        column = next(name for name in TIMES if name in row)
        number = self.number(column, row[column])
        if number is None or scenario is None:
            return None
        unit, heating = self.units[column], scenario.heating
        if number < 0.0:
            self.fault(column, "a time from zero on", f"{row[column]} {unit}")
            return None
        time_s = number * quantity(f"1 {unit}", "time") + (heating.ramp_s if column == "hold time" else 0.0)
        end_s = heating.ramp_s + heating.hold_s + heating.cooling_s
        if time_s > end_s + ROUNDING_S:
            ends = f"a time before the end of the run, {end_s / 3600.0:.4g} h after the start of the heating"
            self.fault(column, ends, f"{row[column]} {unit}", "A longer run: raise heating.hold.")
        return min(time_s, end_s)

    def details_of(self, row: Mapping[str, str], name: str | None) -> Details:
        """What a pH and an area ratio need besides."""
        temperature = factor = None
        if name == "pH":
            if not row.get("temperature"):
                expected = "the temperature at which the pH was measured, in a column `temperature [degC]`"
                self.fault("temperature", expected, "nothing")
            elif (number := self.number("temperature", row["temperature"])) is not None:
                unit = self.units["temperature"]
                temperature = quantity(f"{number!r} {unit}", "temperature") if abs(number) < 1e4 else math.inf
                if not 273.0 <= temperature <= 393.0:
                    self.fault("temperature", "0 to 120 degC", f"{number:g} {unit}")
        if name == "area ratio":
            if not row.get("response factor"):
                expected = (
                    "area per mol of product over area per mol of substrate, in a column `response factor`"
                )
                self.fault("response factor", expected, "nothing")
            elif (number := self.number("response factor", row["response factor"])) is not None:
                if number <= 0.0:
                    self.fault("response factor", "a number above zero", row["response factor"])
                factor = number
        return Details(temperature, factor)

    def value_of(
        self, row: Mapping[str, str], name: str | None, scenario: Scenario | None
    ) -> tuple[float | None, float | None]:
        """Value and standard deviation in the house unit."""
        number = self.number("value", row["value"])
        spread = self.number("sd", row["sd"]) if row.get("sd") else None
        if spread is not None and spread <= 0.0:
            self.fault("sd", "a standard deviation above zero", row["sd"])
        scale = self.scale_of(row, name, scenario)
        if number is None or name is None or scale is None:
            return None, None
        known, value = QUANTITIES[name], number * scale
        if not known.smallest <= value <= known.largest or value == math.inf:
            hint = ""
            if known.per_cent and scale == 1.0 and 0.0 <= number <= 100.0 * known.largest:
                hint = f"If it is {number:g} %, write % in a column `unit`, or {number / 100.0:g}."
            expected = "a fraction from 0 to 1" if known.per_cent else f"from {known.smallest:g} on"
            expected = "a pH, -2 to 16" if name == "pH" else expected
            self.fault("value", expected, f"{row['value']} {row.get('unit', '')}".strip(), hint)
        return value, None if spread is None else spread * scale

    def scale_of(self, row: Mapping[str, str], name: str | None, scenario: Scenario | None) -> float | None:
        """House units per unit of the row, or None with a fault noted."""
        unit = row.get("unit", "")
        if name is None or scenario is None:
            return None
        known = QUANTITIES[name]
        if not known.kinds:
            factors = {"": 1.0, "1": 1.0, "-": 1.0} | ({"%": 0.01} if known.per_cent else {})
            if unit not in factors:
                expected = "no unit" + (", or %" if known.per_cent else "")
                self.fault("unit", f"{expected}, for {name}", quoted(unit))
            return factors.get(unit)
        example = "g" if known.kinds == ("mass",) else "mmol"
        if not unit:
            self.fault("unit", f'the unit of the {name}, such as "{example}"', "nothing")
            return None
        try:
            kind, factor = quantity_of(f"1 {unit}", known.kinds)
        except QuantityError as error:
            self.fault("unit", f'a unit of the {name}, such as "{example}"', quoted(unit), error.hint)
            return None
        if kind == "mass":
            factor *= 1e3
            if known.unit == "mol":
                shelf = load_shelf().including(scenario.substrate)
                factor /= shelf.substance(shelf.substrate(scenario.substrate).by_product).molar_mass
        return factor
