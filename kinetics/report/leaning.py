"""What the page rests on: the inputs as read, the constants and estimates with their sources, and how to make it again."""

from __future__ import annotations

import json
import platform
from collections.abc import Iterable, Iterator
from hashlib import sha256
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from kinetics import __version__
from kinetics.analysis.compare import mass_g
from kinetics.data.records import Record
from kinetics.data.shelf import Shelf, load_shelf
from kinetics.data.units import CELSIUS_ZERO_K
from kinetics.report.findings import Findings
from kinetics.report.words import DASH, as_written, bullets, fixed, paragraph, percent, short, significant, table, text
from kinetics.run.notices import range_notices
from kinetics.run.reading_changes import flattened
from kinetics.run.scenario import Charge, Scenario

COLD_K, HOT_K = 298.15, 373.15
UNSURE = ("estimate", "from memory")
LIBRARIES = ("numpy", "scipy", "matplotlib", "pint")


# ---------------------------------------------------------------- inputs


def inputs(found: Findings) -> str:
    """The scenario as it was read."""
    scenario = found.scenario
    shelf = load_shelf().including(scenario.substrate)
    header = ["charge", "as written", "purity", "pure, g", "pure, mol"]
    parts = [table("In the flask at the start", header, charge_rows(scenario.charges, shelf), 2)]
    for k, addition in enumerate(scenario.additions, 1):
        over = f", over {addition.over_s / 3600.0:.3g} h" if addition.over_s else ""
        said = f"Addition {k}, {addition.at_s / 3600.0:.3g} h into the hold{over}"
        parts.append(table(said, header, charge_rows(addition.charges, shelf), 2))
    settings = {
        key: value
        for key, value in flattened(scenario.document).items()
        if key.split(".")[0] not in ("title", "charge", "addition", "option")
    }
    rows = [[key, as_written(value)] for key, value in settings.items()]
    parts.append(table("Settings, as the file has them", ["key", "value"], rows, 2))
    if scenario.assumed:
        parts.append(f"<h3>Assumed, not being given</h3>{bullets(scenario.assumed)}")
    return "".join(parts)


def charge_rows(charges: Iterable[Charge], shelf: Shelf) -> Iterator[list[str]]:
    for charge in charges:
        purity = percent(charge.purity) + (f" ± {percent(charge.uncertainty)}" if charge.uncertainty else "")
        yield [charge.substance, charge.text, purity, significant(mass_g(charge, shelf), 4), significant(charge.amount_mol, 4)]


# ---------------------------------------------------------------- constants


def constants(found: Findings) -> str:
    """The estimates in full, the least certain first; what is measured or derived by its source; ranges left."""
    unsure = sorted((r for r in found.records if r.status in UNSURE), key=lambda r: -relative(r))
    rows = [[f"{r.quantity} ({r.name})", value_words(r), spread_words(r), r.status, r.source] for r in unsure]
    header = ["constant", "value", "standard uncertainty", "status", "source"]
    leans = table("Estimates, and values from memory, the least certain first", header, rows, 5)
    by_source: dict[str, list[str]] = {}
    for record in found.records:
        if record.status not in UNSURE:
            by_source.setdefault(record.source, []).append(record.name)
    sources = table(
        "Measured, or derived from measurements",
        ["source", "constants"],
        [[source, ", ".join(names)] for source, names in sorted(by_source.items())],
        2,
    )
    return moved(found) + leans + sources + ranges(found) + other_notices(found)


def moved(found: Findings) -> str:
    """What a calibration moved; the values in the tables below are those before it."""
    if not found.shifts:
        return ""
    rows = [[name, fixed(z, 2, True)] for name, z in sorted(found.shifts, key=lambda shift: -abs(shift[1]))]
    said = "Moved by a calibration, in standard uncertainties; below stand the values before it"
    return table(said, ["constant or setting", "moved by"], rows)


def relative(record: Record) -> float:
    """How far one standard uncertainty reaches: a factor less one, or sigma over the value at the boil."""
    if record.factor is not None:
        return record.factor - 1.0
    value = record.value_at(HOT_K)
    assert record.sigma is not None
    return record.sigma / abs(value) if value else float("inf")


def value_words(record: Record) -> str:
    unit = "" if record.unit == "1" else f" {record.unit}"
    if record.form == "constant":
        return f"{short(record.value)}{unit}"
    cold, hot = (DASH if value is None else short(value) for value in (record.value_at(COLD_K), record.value_at(HOT_K)))
    return f"{cold} at 25 °C, {hot} at 100 °C{unit}"


def spread_words(record: Record) -> str:
    if record.factor is not None:
        return f"factor {record.factor:.6g}"
    return f"± {record.sigma:g}{'' if record.unit == '1' else f' {record.unit}'}"


def ranges(found: Findings) -> str:
    """Correlations used beyond the temperatures of their source."""
    ends = found.run.series.temperature_K.min(), found.run.series.temperature_K.max()
    rows = []
    for record in found.records:
        beyond = [T for T in ends if not record.in_range(T)]
        if record.valid_K is None or not beyond:
            continue
        low, high = (fixed(T - CELSIUS_ZERO_K, 0) for T in record.valid_K)
        used = " and ".join(fixed(T - CELSIUS_ZERO_K, 0) for T in beyond)
        rows.append([record.name, f"{used} °C", f"{low} to {high} °C", record.source])
    return table("Correlations used outside the range of their source", ["constant", "used at", "range", "source"], rows, 4) if rows else ""


def other_notices(found: Findings) -> str:
    """What else a reader must know: neither an assumption, nor an estimate, nor a range, which are told above."""
    T = found.run.series.temperature_K
    told = {*found.scenario.assumed, *range_notices(found.records, (float(T.min()), float(T.max())))}
    others = [n for n in found.run.notices if n not in told and not n.startswith("leans on an estimate")]
    others = [n for n in others if " used at " not in n]
    bands = [] if found.bands is None else list(found.bands.notices)
    notices = bullets([*others, *bands])
    return f"<h3>Notices</h3>{notices}" if notices else ""


# ---------------------------------------------------------------- origin


def origin(found: Findings, calibration: Path | None = None) -> str:
    """Versions, seed and hashes: with the same file and the same versions the same page comes out, byte for byte."""
    scenario = found.scenario
    name = scenario.path.name if scenario.path else "scenario.toml"
    again = f"retroaldol report {name} --out page.html --samples {found.samples} --seed {found.seed}"
    again += f" --calibration {calibration.name}" if calibration else ""
    again += "" if found.missing.get("what-if") != "they were not asked for" else " --no-what-if"
    rows = [
        ["SHA-256 of the scenario", scenario_hash(scenario)],
        ["SHA-256 of the constants", constants_hash(scenario)],
        *([["SHA-256 of the calibration", sha256(calibration.read_bytes()).hexdigest()]] if calibration else []),
        ["retroaldol", __version__],
        ["Python", platform.python_version()],
        *([library, version(library)] for library in LIBRARIES),
        ["samples", str(found.samples) if found.samples else "none"],
        ["seed", str(found.seed) if found.samples else DASH],
    ]
    return (
        table("Where this page is from", ["", "value"], rows, 2)
        + paragraph("The command that makes it again:")
        + f"<pre><code>{text(again)}</code></pre>"
        + f"<h3>The scenario, as typed</h3><pre><code>{text(scenario_text(scenario))}</code></pre>"
    )


def scenario_text(scenario: Scenario) -> str:
    """The file as it is; of a scenario that is not from a file, its content as JSON."""
    if scenario.path is not None and scenario.path.is_file():
        return scenario.path.read_bytes().decode("utf-8-sig")
    return json.dumps(scenario.document, ensure_ascii=False, indent=1, sort_keys=True, default=str)


def scenario_hash(scenario: Scenario) -> str:
    """SHA-256 of the scenario file's bytes, or of the content as JSON."""
    if scenario.path is not None and scenario.path.is_file():
        return sha256(scenario.path.read_bytes()).hexdigest()
    return sha256(scenario_text(scenario).encode()).hexdigest()


def constants_hash(scenario: Scenario) -> str:
    """SHA-256 of all data files of the package (name, length, content, in the order of their names), and of a substrate file."""
    digest = sha256()
    for name, content in sorted(data_files(files("kinetics.data"), "")):
        digest.update(f"{name}\0{len(content)}\0".encode() + content)
    if scenario.substrate.endswith(".toml"):
        with open(scenario.substrate, "rb") as file:
            digest.update(file.read())
    return digest.hexdigest()


def data_files(folder: Traversable, place: str) -> Iterator[tuple[str, bytes]]:
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from data_files(entry, f"{place}{entry.name}/")
        elif entry.name.endswith(".toml"):
            yield f"{place}{entry.name}", entry.read_bytes().replace(b"\r\n", b"\n")
