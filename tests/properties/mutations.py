"""Spoiling files at random, and what every reader owes a spoiled file: an answer, or a refusal that says where."""

from __future__ import annotations

import random
import re
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from kinetics.analysis.calibration_file import Calibration, Counted, read_calibration
from kinetics.analysis.measurements import read_measurements
from kinetics.data.faults import RefusedInput
from kinetics.data.shelf import load_shelf
from kinetics.run.reading import parse_scenario, read_scenario
from kinetics.run.template import starting_scenario

ROOT = Path(__file__).parents[2]
LONGEST_S = 2.0  # of processor time
SCHOOL = replace(read_scenario(ROOT / "scenarios" / "perfume_school.toml"), options=())  # each would be read anew each time
SCENARIOS = [
    starting_scenario(),
    *(path.read_text(encoding="utf-8") for path in sorted((ROOT / "scenarios").glob("*.toml"))),
]
SAMPLES = [
    (ROOT / "tests" / "analysis" / "data" / "invented_samples.csv").read_text(encoding="utf-8"),
    "hold time [min];quantity;value;unit;sd;temperature [degC]\n30;conversion;0,5;;0,02;\n60;pH;11,6;;0,1;25\n90;byproduct in trap;1,1;mmol;;\n",
]
BITS = [
    *("0", "-1", "1e400", "nan", "inf", "9" * 400, "1e-320", '"', "'", "[", "]", "{", "}", "=", ",", ";", "\t", "\n", "#"),
    *("\x00", "\r", "\u2028", "\u00b0", "\u2212", "\ud7ff", "[[", "]]", '"""', "\\u0000", "true", "1979-05-27", "5 h", "%"),
    *("[charge]", "[[addition]]", "[[constant]]", "covariance = [[1.0]]", "z = 1e308", "quantity", "value", "pH", "degC"),
]


def calibrations() -> list[str]:
    """Two calibration files, as the program writes them."""
    import numpy as np

    names = ("carbonic.pK2", "cinnamaldehyde.solubility", "charge.cinnamaldehyde")
    shelf = load_shelf()
    counted = [Counted(shelf[n].factor, shelf[n].sigma, None, tuple(map(float, shelf[n].coefficients))) for n in names[:2]]
    counted.append(Counted(relative=0.05))
    one = Calibration("cinnamaldehyde", names, np.array([0.1, -0.4, 1.2]), np.eye(3) * 0.5, tuple(counted), {"runs": ["a"]})
    two = Calibration("prenal", names[:1], np.array([0.0]), np.eye(1), tuple(counted[:1]))
    return [one.to_toml(), two.to_toml()]


def spoiled(text: str, others: Sequence[str], chance: random.Random) -> str:
    """A text with one to four places spoilt: dropped, doubled, swapped, cut, or something strange put in."""
    for _ in range(chance.randint(1, 4)):
        lines = text.splitlines(keepends=True) or [""]
        at = chance.randrange(len(lines))
        place = chance.randrange(len(text) + 1)
        match chance.randrange(9):
            case 0:
                del lines[at]
                text = "".join(lines)
            case 1:
                lines.insert(at, lines[chance.randrange(len(lines))])
                text = "".join(lines)
            case 2:
                lines[at] = chance.choice(chance.choice(others).splitlines(keepends=True))
                text = "".join(lines)
            case 3:
                text = text[:place]
            case 4:
                text = text[:place] + chance.choice(BITS) + text[place:]
            case 5:
                text = text[:place] + chance.choice(BITS) + text[place + chance.randint(1, 6) :]
            case 6:
                text = text[:place] + chr(chance.choice([chance.randrange(1, 128), chance.randrange(0xA0, 0xD800)])) + text[place + 1 :]
            case 7:  # a number made another
                numbers = list(re.finditer(r"[-+]?\d[\d.eE+-]*", text))
                if numbers:
                    found = chance.choice(numbers)
                    text = text[: found.start()] + chance.choice(BITS[:7]) + text[found.end() :]
            case 8:
                other = chance.choice(others)
                cut = chance.randrange(len(other) + 1)
                text = text[:place] + other[cut : cut + chance.randint(1, 60)] + text[place:]
    return text


def reader_of(kind: str, folder: Path) -> tuple[list[str], Callable[[str], object]]:
    """The sound texts of a kind of file, and what reads one."""
    path = folder / f"spoiled_{kind}"
    shelf = load_shelf()

    def written(text: str) -> Path:
        path.write_bytes(text.encode("utf-8", errors="surrogatepass"))
        return path

    if kind == "scenario":
        return SCENARIOS, parse_scenario
    if kind == "measurements":
        return SAMPLES, lambda text: read_measurements(written(text), [SCHOOL])
    return calibrations(), lambda text: read_calibration(written(text), shelf)


KINDS = ("scenario", "measurements", "calibration")


def verdict(text: str, read: Callable[[str], object]) -> str:
    """"read" or "refused"; else what is wrong: another exception, a refusal that names no place, or too long a time."""
    begun = time.process_time()
    try:
        read(text)
        result = "read"
    except RefusedInput as error:
        faults = getattr(error, "faults", ())
        nameless = [str(fault) for fault in faults if not fault.key and "TOML" not in fault.expected]
        whole = ("an empty file", "headings alone")
        named = bool(faults) and all(any(word in fault for word in whole) for fault in nameless)
        result = "refused" if named else f"names no key or row: {error}"
        if not all(str(fault).isprintable() for fault in faults):
            result = "cannot be printed"
    except Exception as error:  # the campaign tells of whatever comes
        result = f"{type(error).__name__}: {error}"
    taken = time.process_time() - begun
    return result if taken <= LONGEST_S else f"took {taken:.1f} s"
