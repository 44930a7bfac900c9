"""One page for all tests of it: a batch whose texts are full of markup, computed once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from batch_of_markup import BATCH, MARKUP, OPTION
from browser import Browser, chromium

from kinetics.report.findings import Findings, findings_of
from kinetics.report.page import page_of
from kinetics.run.reading import read_scenario


@dataclass(frozen=True)
class Made:
    """A page, the file it is in and what it was made from."""

    text: str
    path: Path
    found: Findings


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The page of the batch above."""
    folder = tmp_path_factory.mktemp("report")
    file, page = folder / "batch <i>.toml", folder / "page.html"
    file.write_text(BATCH.format(title=MARKUP, option=OPTION), encoding="utf-8")
    found = findings_of(read_scenario(file), 16, 3, workers=os.cpu_count())
    page.write_text(page_of(found), encoding="utf-8", newline="")
    return Made(page.read_text(encoding="utf-8"), page, found)


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A real Chromium; where there is none the tests that need it are skipped."""
    path = chromium()
    if path is None:
        pytest.skip("needs a Chromium on the path, to be driven through a pipe (not on Windows)")
    started = Browser(path, tmp_path_factory.mktemp("profile"))
    yield started
    started.close()
