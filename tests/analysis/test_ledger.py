"""The ledger: both accounts close, count what the run counted, and the band follows from its parts."""

import json
from dataclasses import replace
from math import log
from pathlib import Path

import pytest

from kinetics import read_scenario, simulate
from kinetics.analysis import ledger as module
from kinetics.analysis.ledger import BOTTLE, Ledger, carbon_entries, ledger_of, product_equivalents, with_band
from kinetics.command_line.main import main
from kinetics.data.shelf import Shelf
from kinetics.figures.ledger import carbon_by_place, figure_ledger, plot_product, steps_to_bottle
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


@pytest.fixture(scope="module")
def common() -> tuple[Scenario, Run, Ledger]:
    scenario = read_scenario(SCENARIOS / "common_practice.toml").with_changes({"workup.pressure": "2 kPa"})
    run = simulate(scenario)
    return scenario, run, ledger_of(run, scenario)


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.toml")), ids=lambda path: path.stem)
def test_both_accounts_close(path: Path) -> None:
    scenario = read_scenario(path)
    ledger = ledger_of(simulate(scenario), scenario)
    assert ledger.closure.keys() == {"product", "carbon"}
    assert all(abs(error) < 1e-9 for error in ledger.closure.values())
    assert all(entry.share > -1e-9 for entry in (*ledger.product_account, *ledger.carbon_account))


def test_what_is_charged_and_taken_off_is_counted() -> None:
    """Product charged beside the substrate, more added on the way, distillate taken off."""
    scenario = read_scenario(SCENARIOS / "perfume_school.toml").with_changes(
        {"condenser.take_off": "0.1 mL/min", "condenser.make_up": True, "charge.benzaldehyde": "0.2 g",
         "addition": [{"at": "2 h", "cinnamaldehyde": "0.5 g"}], "heating.hold": "4 h"}
    )  # fmt: skip
    ledger = ledger_of(simulate(scenario), scenario)
    assert all(abs(error) < 1e-9 for error in ledger.closure.values())
    taken = next(e for e in ledger.product_account if e.where == "taken off with distillate")
    assert taken.share > 0.01


def test_equivalents_count_the_ring(shelf: Shelf) -> None:
    """The ring of cinnamaldehyde stays whole: all that has it counts 1, what comes of acetaldehyde alone counts 0."""
    counts = product_equivalents(shelf.substrate("cinnamaldehyde"))
    for name, count in counts.items():
        assert count == (1.0 if shelf.substance(name).elements["C"] > 6 else 0.0), name


def test_equivalents_of_a_substrate_that_gives_two(shelf: Shelf) -> None:
    counts = product_equivalents(shelf.substrate("diacetone alcohol"))
    assert (counts["diacetone alcohol"], counts["acetone"]) == (1.0, 0.5)


def test_the_account_agrees_with_the_run(common: tuple[Scenario, Run, Ledger]) -> None:
    _, run, ledger = common
    shares = {(e.what, e.where): e.share for e in ledger.product_account}
    charged_g = 1.2
    unreacted = (run.summary.unreacted_g + run.summary.substrate_left_g) / charged_g
    assert shares["cinnamaldehyde, not converted", "anywhere"] == pytest.approx(unreacted, rel=1e-9)
    possible_g = charged_g / 132.162 * 106.124
    vented = run.summary.product_vented_g / possible_g
    assert shares["benzaldehyde", "gone with the air"] == pytest.approx(vented, rel=1e-4)
    after_flask = sum(s for (what, where), s in shares.items() if what == "benzaldehyde" and where != "gone with the air")
    assert after_flask == pytest.approx(run.summary.product_in_flask_g / possible_g, rel=1e-4)
    assert ledger.overall == pytest.approx(ledger.product_g / possible_g, rel=1e-4)
    assert ledger.overall == pytest.approx(shares["benzaldehyde", BOTTLE], rel=1e-12)


def test_common_practice_expects_about_forty_percent(common: tuple[Scenario, Run, Ledger]) -> None:
    """About 40 % overall for a careful small batch: common practice, no source, so within a factor of 1.4."""
    assert abs(log((common[2].overall or 0.0) / 0.40)) < log(1.4)


def test_the_band_is_made_of_its_parts(common: tuple[Scenario, Run, Ledger], shelf: Shelf, monkeypatch) -> None:
    """10 % on glass, factor 1.5: 0.85/0.90 of the product; 5 % in drying, factor 2: 0.90/0.95."""
    scenario, run, ledger = common
    scenario = read_scenario(SCENARIOS / "common_practice.toml")
    ledger = ledger_of(run, scenario)
    names = ["workup.transfer_loss", "workup.drying_loss"]
    monkeypatch.setattr(module, "numbers_that_matter", lambda *_: names)
    band = with_band(ledger, run, scenario).band
    assert band is not None
    parts = [log(0.85 / 0.90), log(0.90 / 0.95)]
    assert dict(band.parts) == pytest.approx(dict(zip(names, parts)), rel=1e-9)
    assert log(band.factor) == pytest.approx((parts[0] ** 2 + parts[1] ** 2) ** 0.5, rel=1e-9)
    assert band.low_g * band.high_g == pytest.approx(ledger.product_g**2, rel=1e-9)


def test_the_band_moves_the_run_too(common: tuple[Scenario, Run, Ledger], shelf: Shelf, monkeypatch) -> None:
    """More enthalpy of cleavage means a larger constant at the boil, and more product."""
    scenario, run, ledger = common
    name = "reaction.cinnamaldehyde.equilibrium.cleavage.dH"
    assert name in module.numbers_that_matter(scenario, shelf.substrate("cinnamaldehyde"), shelf)
    monkeypatch.setattr(module, "numbers_that_matter", lambda *_: [name])
    band = with_band(ledger, run, scenario).band
    assert band is not None and band.parts[0][1] > 0.05


def test_figure_draws_the_accounts(common: tuple[Scenario, Run, Ledger]) -> None:
    ledger = common[2]
    steps = steps_to_bottle(ledger)
    assert steps[0][1] == 1.0
    bars = plot_product(ledger).patches
    assert bars[0].get_width() == 100.0
    assert bars[1].get_width() == pytest.approx(100.0 * (ledger.overall or 0.0))
    drawn = sum(bar.get_width() for bar in bars[2:])
    assert drawn == pytest.approx(100.0 * (1.0 - (ledger.overall or 0.0)), abs=0.2)  # what is too small is left out
    assert sum(sum(bars.values()) for bars in carbon_by_place(ledger).values()) == pytest.approx(1.0, abs=2e-3)
    figure = figure_ledger(ledger)
    assert [ax.get_ylabel()[-3:] for ax in figure.axes] == ["(%)", "(%)"]


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, image = SCENARIOS / "common_practice.toml", tmp_path / "ledger.svg"
    assert main(["ledger", str(path), "--figure", str(image)]) == 0
    text = capsys.readouterr().out
    assert all(len(line) < 80 for line in text.splitlines())
    assert "in the bottle" in text.splitlines()[0] and "no source" in text
    assert "benzaldehyde in the bottle" in image.read_text(encoding="utf-8")
    assert main(["ledger", str(path), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert sum(entry["share"] for entry in result["product_account"]) == pytest.approx(1.0, abs=1e-9)
    assert abs(result["closure"]["carbon"]) < 1e-9
    assert result["work"]["steam"]["distillate_L"] > 0.0 and result["band"] is None


@pytest.mark.parametrize("command", ["base", "hazard"])
def test_the_other_commands(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(SCENARIOS / "common_practice.toml")
    assert main([command, path]) == 0
    text = capsys.readouterr().out
    assert all(len(line) < 80 for line in text.splitlines())
    assert main([command, path, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "Open reflux as commonly run"


def test_a_weight_that_baking_cannot_give_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    path = str(SCENARIOS / "common_practice.toml")
    assert main(["base", path, "--baked", "100 g", "50 g"]) == 2
    assert "63.08 g" in capsys.readouterr().err
    assert main(["base", path, "--baked", "100 mL", "66"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


def test_reactions_that_leave_no_count_unchanged_have_no_equivalents(shelf: Shelf) -> None:
    """A step that makes two products of one substrate, beside reactions that make one: no count fits both."""
    substrate = shelf.substrate("cinnamaldehyde")
    step = substrate.steps[0]
    absurd = {substrate.substrate: -1.0, substrate.product: 2.0}
    assert product_equivalents(replace(substrate, steps=(replace(step, stoichiometry=absurd),))) is None


def test_the_carbon_of_a_substrate_without_by_product_is_told_by_place(shelf: Shelf) -> None:
    """3 mol of carbon of the product in the bottle, 1 of the substrate in the flask, 1 of another: 60, 20 and 20 %."""
    substrate = replace(shelf.substrate("cinnamaldehyde"), by_product="")
    product, enal = substrate.product, substrate.substrate
    places = {"flask": {enal: 0.5, "acetaldehyde": 1.0}, "in the bottle": {product: 1.0}}
    carbon = {product: 3.0, enal: 2.0, "acetaldehyde": 1.0}
    entries = list(carbon_entries(places, carbon, substrate, 5.0))
    assert {(e.what, e.where): e.share for e in entries if e.share} == {
        (enal, "flask"): 0.2, ("other", "flask"): 0.2, (product, "in the bottle"): 0.6,
    }  # fmt: skip
    assert {e.what for e in entries} == {product, enal, "other"}
    assert list(carbon_entries(places, carbon, substrate, 0.0)) == []
