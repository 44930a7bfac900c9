"""Bands on the command line: asked for, shown, reproducible; and said to be missing where nobody asked."""

import json
from types import SimpleNamespace
from typing import Any

import pytest

from kinetics.command_line.commands.compare import band_lines
from kinetics.command_line.main import main

NUMBERS = {"p5", "p50", "p95", "se_p5", "se_p50", "se_p95"}


def test_json_gains_bands_for_every_reported_number(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", quick, "--json", "--samples", "16", "--seed", "3"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["samples"], found["seed"]) == (16, 3)
    unbanded = {"hold_h", "substrate_left_g"}
    assert set(found["summary"]) - unbanded <= set(found["bands"])
    for band in found["bands"].values():
        assert set(band) == NUMBERS
        assert band["p5"] <= band["p50"] <= band["p95"]
    assert len(found["band_series"]["conversion"]["p50"]) == len(found["series"]["time_s"])
    assert main(["run", quick, "--json", "--samples", "16", "--seed", "3"]) == 0
    assert json.loads(capsys.readouterr().out) == found


def test_without_samples_no_band_is_computed_and_that_is_said(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", quick]) == 0
    assert "No band computed" in capsys.readouterr().out
    assert main(["run", quick, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["bands"] is None and found["samples"] == 0


def test_the_table_of_bands_fits_the_page(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", quick, "--samples", "16"]) == 0
    out = capsys.readouterr().out
    assert "Bands from 16 samples (seed 0)" in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize("number", ["-1", "2.5", "many", "10000000"])
def test_a_number_of_samples_that_is_none_is_refused(
    quick: str, number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", quick, "--samples", number]) == 2
    assert "whole number" in capsys.readouterr().err


def test_compare_tells_the_odds_of_a_gain(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Four times the aldehyde in the same water converts less with any constants (more by-product holds it back)."""
    with open(quick, "a", encoding="utf-8") as file:
        file.write('[[option]]\nname = "four times the aldehyde"\ncharge.cinnamaldehyde = "4.8 g"\n')
    assert main(["compare", quick, "--by", "conversion", "--samples", "16", "--json"]) == 0
    options = {one["name"]: one for one in json.loads(capsys.readouterr().out)["options"]}
    assert options["as written"]["beats_first"] is None
    assert options["four times the aldehyde"]["beats_first"] == 0.0
    assert NUMBERS == set(options["as written"]["bands"]["conversion"])
    assert main(["compare", quick, "--samples", "16"]) == 0
    out = capsys.readouterr().out
    assert "Bands of the yield from 16 samples" in out
    assert max(map(len, out.splitlines())) <= 80


def test_sweep_has_a_band_at_every_point(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    vary = ["--vary", "charge.sodium carbonate=1..3 g/2"]
    assert main(["sweep", quick, *vary, "--samples", "16", "--json"]) == 0
    points = json.loads(capsys.readouterr().out)["points"]
    for point in points:
        band = point["bands"]["conversion"]
        assert 0.0 < band["p5"] < band["p50"] < band["p95"] < 1.0
    assert main(["sweep", quick, *vary, "--samples", "16"]) == 0
    out = capsys.readouterr().out
    assert "Bands from 16 samples" in out
    assert max(map(len, out.splitlines())) <= 80


def test_compare_tells_the_odds_where_less_is_better(quick: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Four times the aldehyde leaves more of it unreacted with any constants: never better than the batch as written."""
    with open(quick, "a", encoding="utf-8") as file:
        file.write('[[option]]\nname = "four times the aldehyde"\ncharge.cinnamaldehyde = "4.8 g"\n')
    assert main(["compare", quick, "--by", "unreacted_g", "--samples", "16", "--json"]) == 0
    options = {one["name"]: one for one in json.loads(capsys.readouterr().out)["options"]}
    assert options["four times the aldehyde"]["beats_first"] == 0.0


def test_an_option_without_a_band_has_no_row() -> None:
    """The second of three failed; the third gives none of it in any sample."""

    def option(position: int, name: str) -> Any:
        return SimpleNamespace(position=position, variant=SimpleNamespace(name=name))

    def banded(p50: float, beats: float | None) -> dict[str, Any]:
        band = {"p5": 0.0, "p50": p50, "p95": p50, "se_p50": 0.0}
        return {"bands": {"product_vented_g": band}, "beats_first": beats}

    args: Any = SimpleNamespace(by="product_vented_g", samples=16, seed=3)
    compared = [option(0, "as written"), option(1, "failed"), option(2, "closed")]
    lines = band_lines(compared, {0: banded(0.4, None), 2: banded(0.0, 1.0)}, args)
    assert lines[1] == "Bands of the product_vented_g from 16 samples (seed 3)"
    assert [line.split()[0] for line in lines[3:5]] == ["1", "better:"]
    assert "as written" in " ".join(lines)
