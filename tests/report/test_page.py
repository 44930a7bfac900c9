"""The page as text: whole, alone, in order, and with every word of the scenario as typed."""

from __future__ import annotations

import hashlib
import json
import re
from base64 import b64encode
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from batch_of_markup import MARKUP, OPTION

import kinetics
from kinetics.analysis.hazard import hazard_report
from kinetics.analysis.ledger import ledger_of
from kinetics.report.findings import findings_of
from kinetics.report.page import page_of
from kinetics.report.words import significant as words_significant
from kinetics.report.words import text
from kinetics.run.notices import caution_texts
from kinetics.run.reading import read_scenario

EMPTY = {"meta", "br", "img", "input", "link", "hr"}


class Reader(HTMLParser):
    """Elements with their attributes and all their text, as a browser would read them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.badly_closed: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.badly_closed.append(tag)

    def handle_data(self, data):
        self.texts.append((self.open[-1] if self.open else "", data))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def all_in(self, tag: str) -> str:
        return "".join(data for place, data in self.texts if place == tag)


@pytest.fixture(scope="module")
def read(made) -> Reader:
    return Reader(made.text)


def test_every_element_is_closed_and_ids_are_unique(read):
    assert (read.badly_closed, read.open) == ([], [])
    ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    for attributes in read.named("a"):
        assert attributes["href"][0] == "#" and attributes["href"][1:] in ids
    for _, attributes in read.elements:
        for key in ("for", "aria-labelledby"):
            assert set((attributes.get(key) or "").split()) <= set(ids)


def test_markup_in_the_scenario_is_shown_as_typed(read):
    assert read.all_in("title").startswith(MARKUP)
    assert MARKUP in read.all_in("h1")
    assert any(OPTION == data for _, data in read.texts)
    in_figures = "".join("".join(data.split()) for place, data in read.texts if place == "text")
    assert "".join(OPTION.split()) in in_figures
    assert "</pre><script>alert(3)</script>" in read.all_in("code")
    assert {name for name, _ in read.elements} & {"img", "b", "i"} == set()
    assert not [key for _, attributes in read.elements for key in attributes if key.startswith("on")]


def test_scripts_and_styles_are_those_the_policy_names(made, read):
    policy = next(m["content"] for m in read.named("meta") if m.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none';") and "unsafe" not in policy and "http" not in policy
    blocks = re.findall(r"<(style|script)>(.*?)</\1>", made.text, re.DOTALL)
    assert [name for name, _ in blocks] == ["style", "script"]
    for _, content in blocks:
        assert f"'sha256-{b64encode(hashlib.sha256(content.encode()).digest()).decode()}'" in policy
    assert [m for m in read.named("script") if m not in ({}, {"type": "application/json", "id": "what-if-data"})] == []
    assert not [1 for _, attributes in read.elements if "style" in attributes]


def test_nothing_is_fetched_from_anywhere(made, read):
    for _, attributes in read.elements:
        for key in ("src", "href", "xlink:href", "data", "action", "poster", "srcset"):
            assert (attributes.get(key) or "#").startswith("#")
    assert set(re.findall(r"https?://[^\s\"'<)]+", made.text)) == {"http://www.w3.org/2000/svg"}
    assert "@import" not in made.text and not re.search(r"url\((?!#)", made.text)


def test_headings_go_down_one_step_at_a_time(read):
    levels = [int(name[1]) for name, _ in read.elements if re.fullmatch("h[1-6]", name)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert read.named("html") == [{"lang": "en"}]
    assert len(read.named("main")) == len(read.named("header")) == len(read.named("footer")) == 1


def test_figures_have_words_that_stand_for_them(read):
    figures = [a for a in read.named("svg") if a.get("class") == "plot"]
    assert len(figures) == 5
    assert all(a.get("role") == "img" and a.get("aria-labelledby") for a in figures)
    descriptions = [data for place, data in read.texts if place == "desc"]
    assert len(descriptions) == 5 and all(len(words) > 60 for words in descriptions)


def test_numbers_on_the_first_screen_are_those_of_the_run(made, read):
    """Conversion and yield as the run has them, within the half digit that is shown."""
    lead = read.all_in("p")
    shown = re.search(r"expect about ([\d.]+)\s%", lead)
    assert shown is not None
    assert float(shown[1]) == pytest.approx(100.0 * made.found.run.summary.conversion, abs=0.5)
    first = made.found.explanation.diagnosis.partition(". ")[0]
    assert first in lead
    for words in made.found.run.cautions:
        assert words in lead


def section_of(page: str, name: str) -> str:
    """The markup of one section."""
    return page.split(f'<section id="{name}"')[1].split("</section>")[0]


def test_the_ledger_of_carbon_and_product_stands_in_its_section(batch):
    charge = {"water": "200 mL", "benzaldehyde": "1 g", "acetaldehyde": "0.4 g", "sodium carbonate": "1 g"}
    found = findings_of(batch(charge, heating={"hold": "10 min"}), 2)
    ledger, section = found.ledger, Reader(section_of(page_of(found), "ledger"))
    cells = [float(data) for place, data in section.texts if place == "td"]
    heads = [data for place, data in section.texts if place == "th"]
    rows = {f"{e.what}, {e.where}" if e.what == ledger.product else e.what: e.share for e in ledger.product_account}
    shown = {head: share for head, share in rows.items() if share >= 5e-4}
    assert len(shown) > 6 and set(shown) <= set(heads)
    assert cells[: len(shown)] == pytest.approx([100.0 * share for share in shown.values()], abs=0.051)
    assert [value for value in cells if value == 100.0] == [100.0, 100.0]  # both accounts close
    words = section.all_in("p")
    assert f"{100.0 * ledger.overall:.0f}\u00a0% of all there could be" in words and "guesses of the trade, no source" in words
    assert "One standard uncertainty" in words and ledger.band.low_g < ledger.product_g < ledger.band.high_g
    assert len(section.named("svg")) == 1


def test_cautions_stand_where_the_act_is_and_once(made):
    """The trap's beside what the trap must hold, the distillation's at the work-up, the law's with the product."""
    texts = caution_texts()
    for circumstance, place in (("trap", "air"), ("distilling", "ledger")):
        words = text(texts[circumstance])
        assert made.text.count(words) == section_of(made.text, place).count(words) == 1
    assert made.text.count(text(texts["legal"])) == 1
    first = made.text.split("<nav")[0]
    assert "acetaldehyde H224, H319, H335, H341, H350" in first and "3-methyl-2-butenal H226" in first
    trap = made.found.hazard.trap
    assert re.search(r"A trap for all of the acetaldehyde \(([\d.]+)", made.text)[1] == words_significant(1e3 * trap.amount_mol, 2)


def test_hazards_and_ledger_use_the_calibrated_shelf(batch):
    """Henry's constant of acetaldehyde twice its factor up: less leaves, and water holds more of it."""
    charge = {"water": "200 mL", "benzaldehyde": "1 g", "acetaldehyde": "0.4 g", "sodium carbonate": "1 g"}
    scenario = batch(charge, heating={"hold": "10 min"})
    shelf = kinetics.load_shelf().including("cinnamaldehyde").shifted({"acetaldehyde.henry": 2.0})
    found, moved = findings_of(scenario, shifts=(("acetaldehyde.henry", 2.0),)), kinetics.simulate(scenario, shelf=shelf)
    expected = hazard_report(moved, scenario, shelf)
    assert found.hazard.trap.water_L == pytest.approx(expected.trap.water_L, rel=1e-9)
    assert found.hazard.closed.solute_Pa == pytest.approx(expected.closed.solute_Pa, rel=1e-9)
    assert found.hazard.closed.solute_Pa < 0.8 * hazard_report(moved, scenario).closed.solute_Pa
    assert found.ledger.product_g == pytest.approx(ledger_of(moved, scenario, shelf).product_g, rel=1e-9)


def test_an_oil_is_what_one_weighs_in(tmp_path):
    file = tmp_path / "fed.toml"
    file.write_text(
        'substrate = "prenal"\n[charge]\nwater = "200 mL"\n"3-methyl-2-butenal" = "feed"\n"sodium carbonate" = "1 g"\n'
        '[heating]\nhold = "10 min"\n[feed]\noil = "1.25 g"\naldehyde = 0.8\n',
        encoding="utf-8",
    )
    page = page_of(findings_of(read_scenario(file)))
    assert "1.25\u00a0g of oil with 1.00\u00a0g of 3-methyl-2-butenal in it" in page


def test_the_inputs_can_be_traced(made, read):
    cells = read.all_in("td")
    file = made.found.scenario.path
    assert hashlib.sha256(file.read_bytes()).hexdigest() in cells
    assert kinetics.__version__ in cells
    assert file.read_text(encoding="utf-8") in read.all_in("code")
    for record in made.found.records:
        if record.status in ("estimate", "from memory"):
            assert record.source in cells and record.name in read.all_in("th")


def test_the_data_of_the_sliders_reads_back(made, read):
    data = json.loads(read.all_in("script").split('"use strict"')[0])
    grid = made.found.grid
    assert data["hold"] == grid.hold_h.tolist()
    assert [setting["key"] for setting in data["settings"]] == ["base", "coolant", "sweep"]
    assert len(data["values"]["conversion"]) == grid.values["conversion"].size


def test_the_same_findings_make_the_same_page(made):
    assert page_of(made.found) == made.text


def test_what_is_not_computed_is_told_and_the_rest_is_there(made):
    found = replace(
        made.found, bands=None, samples=0, hours=None, explanation=None, grid=None, compared=(),
        missing={"hours": "one <reason>", "explanation": "another", "what-if": "a third"},
    )  # fmt: skip
    page = page_of(found)
    read = Reader(page)
    words = read.all_in("p")
    assert words.count("Not computed: one <reason>.") == 2 and words.count("Not computed: another.") == 2
    assert "No sliders: a third." in words and "No band was computed" in words
    assert "script-src &#x27;none&#x27;" in page and read.named("script") == []
    assert (read.badly_closed, read.open) == ([], [])


def test_a_calibration_moves_every_number_and_is_told(batch, tmp_path):
    """Moved by hand, a constant gives what the engine gives with it; the file is named with its hash."""
    file = tmp_path / "fitted.toml"
    file.write_bytes(b"invented")
    name = "reaction.cinnamaldehyde.step.crossed aldol.k"
    scenario = batch({"water": "200 mL", "benzaldehyde": "1 g", "acetaldehyde": "0.4 g", "sodium carbonate": "1 g"})
    found = findings_of(scenario, shifts=((name, -3.0),))
    moved = kinetics.simulate(scenario, shelf=kinetics.load_shelf().including("cinnamaldehyde").shifted({name: -3.0}))
    assert found.run.summary == moved.summary
    assert found.run.summary.product_in_flask_g != findings_of(scenario).run.summary.product_in_flask_g
    read = Reader(page_of(found, file))
    assert name in read.all_in("th") and "\u22123.00" in read.all_in("td")
    assert hashlib.sha256(b"invented").hexdigest() in read.all_in("td")
    assert "--calibration fitted.toml" in read.all_in("code")


def test_a_batch_without_substrate_has_a_page(batch):
    scenario = batch({"water": "200 mL", "benzaldehyde": "1 g", "acetaldehyde": "0.4 g", "sodium carbonate": "1 g"})
    found = findings_of(scenario)
    assert set(found.missing) == {"what-if", "explanation", "hours"}
    read = Reader(page_of(found))
    assert "no cinnamaldehyde was charged to be converted" in read.all_in("p")
    assert "nan" not in read.all_in("td") and "None" not in read.all_in("td")
