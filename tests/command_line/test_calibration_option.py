"""--calibration: every command computes with what was learned, and draws from it."""

import json
from pathlib import Path

import numpy as np
import pytest

import kinetics
from kinetics.analysis.calibration_file import Calibration, Counted, counted_in
from kinetics.command_line.main import main

K, AIR, BOTTLE = "reaction.cinnamaldehyde.equilibrium.cleavage.K", "apparatus.air_exchange", "charge.cinnamaldehyde"
Z = {K: -1.5, AIR: 1.2, BOTTLE: 2.0}


@pytest.fixture
def learned(tmp_path: Path, quick: str) -> str:
    """A calibration with given means and a hundredth of the prior's variance."""
    shelf, scenario = kinetics.load_shelf(), kinetics.read_scenario(quick)
    counted = tuple(counted_in(name, shelf, [scenario]) or Counted() for name in Z)
    made = Calibration("cinnamaldehyde", tuple(Z), np.array(list(Z.values())), 0.01 * np.eye(3), counted)
    path = tmp_path / "learned.toml"
    path.write_text(made.to_toml(), encoding="utf-8")
    return str(path)


def result(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:  # type: ignore[type-arg]
    assert main([*arguments, "--json"]) == 0
    found: dict = json.loads(capsys.readouterr().out)  # type: ignore[type-arg]
    return found


def by_hand(quick: str) -> kinetics.Run:
    """The same run with the constants moved, the air exchange multiplied, and the charge scaled, one by one."""
    shelf = kinetics.load_shelf()
    factor = shelf[AIR].factor
    assert factor is not None
    scenario = kinetics.read_scenario(quick).with_changes(
        {"charge.cinnamaldehyde": f"{1.2 * 1.1 ** Z[BOTTLE]} g", "condenser.air_exchange": f"{10 * factor ** Z[AIR]} mL/min"}
    )
    return kinetics.simulate(scenario, shelf=shelf.shifted({K: Z[K]}))


def test_run_computes_with_what_was_learned(quick: str, learned: str, capsys: pytest.CaptureFixture[str]) -> None:
    expected = by_hand(quick).summary
    found = result(capsys, "run", quick, "--calibration", learned)["summary"]
    assert found["conversion"] == pytest.approx(expected.conversion, rel=1e-5)
    assert found["byproduct_left_mol"] == pytest.approx(expected.byproduct_left_mol, rel=1e-5)
    assert result(capsys, "run", quick)["summary"]["conversion"] != pytest.approx(expected.conversion, rel=1e-2)


@pytest.mark.parametrize("command", ["compare", "sweep", "hours", "explain"])
def test_the_other_commands_do_so_too(
    command: str, quick: str, learned: str, capsys: pytest.CaptureFixture[str]
) -> None:
    expected = by_hand(quick).summary.conversion
    vary = ["--vary", "heating.hold=20..30 min/2"] if command == "sweep" else []
    found = result(capsys, command, quick, *vary, "--calibration", learned)
    conversion = {
        "compare": lambda: found["options"][0]["summary"]["conversion"],
        "sweep": lambda: found["points"][0]["summary"]["conversion"],
        "hours": lambda: float(np.interp(20 / 60, found["hold_h"], found["conversion"])),
        "explain": lambda: found["conversion"],
    }[command]()
    assert conversion == pytest.approx(expected, rel=5e-3 if command == "hours" else 1e-5)


def test_bands_are_drawn_from_the_posterior(quick: str, learned: str, capsys: pytest.CaptureFixture[str]) -> None:
    narrow = result(capsys, "run", quick, "--calibration", learned, "--samples", "24")
    wide = result(capsys, "run", quick, "--samples", "24")
    expected = by_hand(quick).summary
    band = narrow["bands"]["byproduct_left_mol"]
    assert band["p5"] < expected.byproduct_left_mol < band["p95"]
    spread = [np.log(r["bands"]["byproduct_left_mol"]["p95"] / r["bands"]["byproduct_left_mol"]["p5"]) for r in (narrow, wide)]
    assert spread[0] < 0.7 * spread[1]


def test_hazard_and_ledger_do_so_too(quick: str, learned: str, capsys: pytest.CaptureFixture[str]) -> None:
    run = by_hand(quick)
    hazard = result(capsys, "hazard", quick, "--calibration", learned)
    given_off = next(release for release in hazard["releases"] if release["species"] == "acetaldehyde")
    assert given_off["total_mol"] == pytest.approx(run.series.left_mol["acetaldehyde"][-1], rel=1e-5)
    ledger = result(capsys, "ledger", quick, "--calibration", learned)
    unconverted = next(entry for entry in ledger["product_account"] if "not converted" in entry["what"])
    assert unconverted["share"] == pytest.approx(1.0 - run.summary.conversion, rel=1e-4)


def test_the_band_of_the_ledger_narrows(quick: str, learned: str, capsys: pytest.CaptureFixture[str]) -> None:
    """What was learned weighs a tenth as much: a hundredth of the variance."""
    wide, narrow = (
        dict(result(capsys, "ledger", quick, "--band", *more)["band"]["parts"]) for more in ((), ("--calibration", learned))
    )
    assert abs(wide[K]) > 0.01
    assert narrow[BOTTLE] == pytest.approx(0.1 * wide[BOTTLE], rel=0.01)
    assert abs(narrow[K]) < 0.2 * abs(wide[K])


def test_a_file_that_is_no_calibration_is_refused(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", quick, "--calibration", quick]) == 2
    assert "calibrat" in capsys.readouterr().err
