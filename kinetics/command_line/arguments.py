"""Arguments that several commands share. Like every module a command imports at its top, this one is light."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path


def add_scenario(parser: ArgumentParser) -> None:
    """The scenario file, as `args.file`."""
    parser.add_argument("file", metavar="FILE", type=Path, help="the scenario file (TOML)")


def add_json(parser: ArgumentParser) -> None:
    """The option for machine-readable results, as `args.json`."""
    parser.add_argument("--json", action="store_true", help="results as JSON in full precision")


def add_figure(parser: ArgumentParser, drawn: str = "it") -> None:
    """The option that draws the results, as `args.figure`."""
    parser.add_argument("--figure", metavar="PATH", type=Path, help=f"draw {drawn} to a .png, .svg or .pdf file")


def add_force(parser: ArgumentParser) -> None:
    """The option that lets a command write over what is there, as `args.force`."""
    parser.add_argument("--force", action="store_true", help="write over a file that is there already")
