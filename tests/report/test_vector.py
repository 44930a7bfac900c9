"""Figures inside the page: no style attribute, no shared id, every reference met, every word as typed."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from kinetics.figures.waterfall import figure_waterfall
from kinetics.report.vector import inline_svg, plain_style

SHARES = {"one <b>thing</b> & another": 0.2, "a help": -0.05}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def drawn() -> str:
    return inline_svg(figure_waterfall(0.85, SHARES, title="Down"), "figure-7", "Down, step by step")


def test_it_is_one_element_of_its_own(drawn):
    root = ET.fromstring(drawn)
    assert root.tag == f"{SVG}svg"
    assert (root.get("role"), root.get("width"), root.get("height")) == ("img", None, None)
    assert "<?xml" not in drawn and "<!DOCTYPE" not in drawn and "<svg:" not in drawn and "ns0:" not in drawn


def test_no_style_and_no_link_outward(drawn):
    root = ET.fromstring(drawn)
    assert all("style" not in element.attrib for element in root.iter())
    assert root.find(f".//{SVG}style") is None and root.find(f".//{SVG}metadata") is None
    assert set(re.findall(r"https?://[^\"]+", drawn)) == {"http://www.w3.org/2000/svg"}


def test_ids_carry_the_name_and_references_are_met(drawn):
    root = ET.fromstring(drawn)
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids)) and all(name.startswith("figure-7-") for name in ids)
    references = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', drawn)
    assert references and {a or b for a, b in references} <= set(ids)
    assert set(root.attrib["aria-labelledby"].split()) <= set(ids)


def test_title_and_words_are_there(drawn):
    root = ET.fromstring(drawn)
    assert root.findtext(f"{SVG}title") == "Down, step by step"
    words = " ".join("".join(t.itertext()) for t in root.iter(f"{SVG}text"))
    assert "one <b>thing</b> & another" in words
    assert "\u221220.0" in words and "+5.0" in words


def test_coordinates_stay_within_a_hundredth_of_a_point(drawn):
    numbers = re.findall(r"-?\d+\.(\d+)", " ".join(e.get("d", "") for e in ET.fromstring(drawn).iter()))
    assert numbers and max(map(len, numbers)) <= 2


@pytest.mark.parametrize(
    ("style", "attributes"),
    [
        ("fill: #ffffff; stroke: none", {"fill": "#ffffff", "stroke": "none"}),
        ("font: 700 10px 'DejaVu Sans', sans-serif; text-anchor: end",
         {"font-weight": "700", "font-size": "10px", "text-anchor": "end"}),
        ("font: 8.5px 'DejaVu Sans'", {"font-size": "8.5px"}),
        ("font-size: 7px; font-family: 'DejaVu Sans'", {"font-size": "7px"}),
    ],
)  # fmt: skip
def test_a_style_becomes_attributes_as_older_and_newer_matplotlib_write_it(style, attributes):
    element = ET.Element("text", {"style": style})
    plain_style(element)
    assert element.attrib == attributes
