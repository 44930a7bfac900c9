"""The published experiments run by the program, and what is read out of their .csv by fitting."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from kinetics.command_line.main import main

FOLDER = Path(__file__).parents[2] / "scenarios" / "published"


def course(name: str, folder: Path) -> dict[str, np.ndarray]:
    """Columns of the .csv that `retroaldol run scenarios/published/NAME.toml --csv PATH` writes."""
    target = folder / f"{name}.csv"
    assert main(["run", str(FOLDER / f"{name}.toml"), "--csv", str(target)]) == 0
    with target.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    columns = {key: [row[k] for row in rows[1:]] for k, key in enumerate(rows[0])}
    return {key: np.array(values, float) for key, values in columns.items() if key != "stage" and all(values)}


def concentration(columns: dict[str, np.ndarray], species: str) -> np.ndarray:
    """mol/L in the water."""
    return columns[f"flask_mol[{species}]"] / columns["water_L"]


def first_order(time: np.ndarray, amount: np.ndarray, window: np.ndarray) -> float:
    """-d ln amount/dt [1/s] within the window, by a straight line."""
    return float(-np.polyfit(time[window], np.log(amount[window]), 1)[0])


def slow_and_fast(k12: float, k21: float, k23: float) -> tuple[float, float]:
    """Eigenvalues of E <-> H -> P: sum k12 + k21 + k23, product k12 k23."""
    half = 0.5 * (k12 + k21 + k23)
    root = np.sqrt(half**2 - k12 * k23)
    return half - root, half + root
