"""A figure as SVG that may stand inside a page: ids of its own, short numbers, and no style that a strict policy forbids."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

from kinetics.figures.saving import image

SVG, XLINK = "http://www.w3.org/2000/svg", "{http://www.w3.org/1999/xlink}"
FONT = "'DejaVu Sans', Verdana, sans-serif"  # Verdana runs as wide as the letters the figure was laid out with
LONG_NUMBER = re.compile(r"-?\d+\.\d{2,}")
SHORTHAND = re.compile(r"(?:(?P<weight>bold|\d{3})\s+)?(?P<size>[\d.]+px)\s.+")  # font: 700 8px 'DejaVu Sans', ...
REFERENCE = re.compile(r"#([\w.-]+)")


def inline_svg(figure: Any, name: str, title: str) -> str:
    """A matplotlib figure as an <svg> element. name: what its ids begin with, unlike any other on the page; title: in words."""
    text = image(figure, ".svg").decode()
    root = ET.fromstring(text[text.index("<svg ") :])
    for parent in root.iter():
        for child in [c for c in parent if local_name(c) in ("style", "metadata")]:
            parent.remove(child)
    used = set(REFERENCE.findall(text)) | {"figure-title", "figure-description"}
    for element in root.iter():
        plain_style(element)
        rename(element, name, used)
        shorten(element)
    for unwanted in ("width", "height", "version"):
        root.attrib.pop(unwanted, None)
    root.attrib |= {"font-family": FONT, "stroke-linejoin": "round", "stroke-linecap": "butt", "class": "plot"}
    for element in root:
        if local_name(element) == "title":
            element.text = title
    ET.register_namespace("", SVG)
    return ET.tostring(root, encoding="unicode")


def local_name(element: ET.Element) -> str:
    return element.tag.rpartition("}")[2]


def plain_style(element: ET.Element) -> None:
    """Each property of a style attribute as an attribute of its own; the font is that of the whole picture."""
    for declaration in element.attrib.pop("style", "").split(";"):
        key, _, value = (part.strip() for part in declaration.partition(":"))
        if key == "font" and (found := SHORTHAND.match(value)):
            element.set("font-size", found["size"])
            if found["weight"]:
                element.set("font-weight", found["weight"])
        elif key and key != "font-family":
            element.set(key, value)


def rename(element: ET.Element, name: str, used: set[str]) -> None:
    """Ids and references with the name before them; ids that nothing refers to go."""
    for key, value in list(element.attrib.items()):
        if key == "id":
            del element.attrib[key]
            if value in used:
                element.set("id", f"{name}-{value}")
        elif key == "aria-labelledby":
            element.set(key, " ".join(f"{name}-{part}" for part in value.split()))
        elif key == f"{XLINK}href":
            del element.attrib[key]
            element.set("href", f"#{name}-{value[1:]}")
        elif value.startswith("url(#"):
            element.set(key, f"url(#{name}-{value[5:]}")


def shorten(element: ET.Element) -> None:
    """Coordinates to a hundredth of a point; no blanks between elements."""
    for key in ("d", "x", "y", "width", "height", "transform", "points"):
        if key in element.attrib:
            value = LONG_NUMBER.sub(lambda found: f"{float(found[0]):.2f}", element.attrib[key])
            element.set(key, " ".join(value.split()))
    for part in ("text", "tail"):
        if not (getattr(element, part) or "").strip():
            setattr(element, part, None)
