"""The page put together: one file, no network, a policy that lets nothing in but what it brings itself."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from string import Template

from kinetics import __version__
from kinetics.figures import style
from kinetics.report import leaning, sections
from kinetics.report.answer import answer, lead
from kinetics.report.bottle import bottle
from kinetics.report.findings import Findings
from kinetics.report.panel import panel
from kinetics.report.words import text

COLOURS = ("INK", "WINE", "INDIGO", "LAKE", "AMBER", "OLIVE", "LILAC", "ASH", "FAINT", "SHADE")


def page_of(found: Findings, calibration: Path | None = None) -> str:
    """The whole page as HTML; calibration: the file it leans on. The same findings give the same text."""
    figures = sections.Figures()
    listed = [
        ("what-if", "Try other settings", panel(found)),
        ("course", "Course of the batch", sections.course(found, figures)),
        ("hours", "What each hour buys", sections.hours(found)),
    ]
    if found.compared:
        listed.append(("options", "The options compared", sections.options(found, figures)))
    listed += [
        ("stall", "Why it stops, and what moves it", sections.stall(found, figures)),
        ("carbon", "Where the carbon is", sections.carbon(found, figures)),
        ("air", "What leaves, and the air it asks for", sections.air(found)),
        ("ledger", "From charge to bottle", bottle(found, figures)),
        ("inputs", "Inputs as read", leaning.inputs(found)),
        ("constants", "What the numbers lean on", leaning.constants(found)),
        ("origin", "To make this page again", leaning.origin(found, calibration)),
    ]
    css = Template(part("page.css")).substitute({name.lower(): getattr(style, name) for name in COLOURS})
    script = part("what_if.js") if found.grid is not None else ""
    return Template(part("page.html")).substitute(
        title=text(found.scenario.title),
        lead=text(lead(found)),
        version=text(__version__),
        policy=text(policy(css, script)),
        css=css,
        script=f"<script>{script}</script>" if script else "",
        answer=answer(found),
        contents="".join(f'<li><a href="#{name}">{text(heading)}</a></li>' for name, heading, _ in listed),
        sections="".join(section(*entry) for entry in listed),
    )


def section(name: str, heading: str, content: str) -> str:
    return f'<section id="{name}" aria-labelledby="{name}-heading"><h2 id="{name}-heading">{text(heading)}</h2>{content}</section>'


def part(name: str) -> str:
    """One of the files that the page is made from."""
    return files("kinetics.report").joinpath(name).read_text(encoding="utf-8")


def policy(css: str, script: str) -> str:
    """A content security policy: this style sheet and this script by their hashes, and nothing from anywhere else."""
    allowed = f"'sha256-{hash_of(script)}'" if script else "'none'"
    return (
        f"default-src 'none'; style-src 'sha256-{hash_of(css)}'; script-src {allowed}; base-uri 'none'; form-action 'none'"
    )


def hash_of(content: str) -> str:
    return b64encode(sha256(content.encode()).digest()).decode()
