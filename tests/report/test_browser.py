"""The page in a real browser: quiet, alone, right, usable with keys and without scripts, whole in print."""

from __future__ import annotations

import importlib.util
import io
import json
import unicodedata
from pathlib import Path

import numpy as np
import pytest
from batch_of_markup import MARKUP

from kinetics.report.grid import with_settings
from kinetics.run.simulation import simulate

RIGHT, HOME = 39, 36  # key codes
SHOWN = 0.0005  # of the charge: half the last digit that the panel shows
PRINTED_PX = (180.0 / 25.4 * 96.0, 266.0 / 25.4 * 96.0)  # A4 less the margins of the style sheet


@pytest.fixture
def page(made, browser):
    """The page, freshly opened at the width of a desk."""
    browser.open(made.path)
    return browser


def told(browser, key: str) -> float:
    """A number of the panel."""
    return float(browser.evaluate(f"document.getElementById('result-{key}').textContent").split("\u00a0")[0])


def move(browser, key: str, position: int) -> None:
    browser.evaluate(
        f"(() => {{ const s = document.getElementById('set-{key}'); s.value = {position};"
        " s.dispatchEvent(new Event('input', {bubbles: true})); })()"
    )


def test_no_error_no_dialog_no_request(page, made):
    assert page.evaluate("document.readyState") == "complete"
    assert page.told("Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled") == []
    assert page.told("Page.javascriptDialogOpening") == []
    asked = [event["request"]["url"] for event in page.told("Network.requestWillBeSent")]
    assert asked == [made.path.as_uri()]
    assert page.evaluate("performance.getEntriesByType('resource').length") == 0


def test_the_policy_is_in_force(page):
    """A script, a style and a picture put in from outside the policy do nothing, and the browser says so."""
    blocked = page.evaluate(
        """new Promise(done => {
            const seen = [];
            document.addEventListener('securitypolicyviolation', e => {
                seen.push(e.effectiveDirective);
                if (seen.length === 3) done(seen.sort());
            });
            const script = document.createElement('script');
            script.textContent = 'window.intruder = true';
            document.body.append(script);
            const style = document.createElement('style');
            style.textContent = 'body { display: none }';
            document.body.append(style);
            const image = new Image();
            image.src = 'https://example.invalid/x.png';
            document.body.append(image);
        })"""
    )
    assert blocked == ["img-src", "script-src-elem", "style-src-elem"]
    assert page.evaluate("window.intruder") is None


def test_a_title_of_markup_is_shown_as_typed(page):
    typed = " ".join(MARKUP.split())
    assert page.evaluate("document.querySelector('h1').textContent") == typed
    assert page.evaluate("document.title") == typed
    assert page.evaluate("document.images.length") == 0


def test_the_panel_starts_at_the_batch_as_read(page, made):
    grid, run, heating = made.found.grid, made.found.run, made.found.scenario.heating
    end = heating.ramp_s + heating.hold_s
    for key, course in (("conversion", run.series.conversion), ("yield", run.series.yield_)):
        assert told(page, key) / 100.0 == pytest.approx(np.interp(end, run.series.time_s, course), abs=2 * SHOWN)
    for setting in grid.settings:
        assert page.evaluate(f"document.getElementById('value-{setting.key}').textContent").endswith(setting.unit)


@pytest.mark.parametrize(
    "shares", [(0.0, 0.0, 0.0, 0.0), (1.0, 1.0, 1.0, 1.0), (0.6, 0.3, 0.4, 0.25), (0.2, 0.8, 0.7, 0.6), (0.9, 0.55, 0.2, 0.9)]
)
def test_sliders_change_the_numbers_to_those_of_the_engine(page, made, shares):
    """Against a run at the settings chosen, within the largest error that the page prints."""
    grid, scenario = made.found.grid, made.found.scenario
    hours = grid.hold_stops[round(shares[0] * (len(grid.hold_stops) - 1))]
    move(page, "hold", grid.hold_stops.index(hours))
    chosen = {}
    for setting, share in zip(grid.settings, shares[1:], strict=True):
        position = round(share * (len(setting.stops) - 1))
        chosen[setting.key] = setting.stops[position]
        move(page, setting.key, position)
    own = grid.at(hours, chosen)
    for key in ("conversion", "yield"):
        assert told(page, key) / 100.0 == pytest.approx(own[key], abs=1.01 * SHOWN)
    run = simulate(with_settings(scenario, max(hours, 1e-3), chosen))
    assert run.failure is None
    for key, truth in (("conversion", run.summary.conversion), ("yield", run.summary.yield_)):
        assert told(page, key) / 100.0 == pytest.approx(truth, abs=grid.errors[key][0] + SHOWN)
    drawn = page.evaluate("document.getElementById('curve-conversion').getAttribute('d')")
    assert drawn.count("L") == len(grid.hold_h) - 1 and "NaN" not in drawn


def test_keys_move_a_slider_and_its_value_is_spoken(page, made):
    page.evaluate("document.getElementById('set-hold').focus()")
    page.press("Home", HOME)
    assert page.evaluate("document.getElementById('value-hold').textContent") == "0\u00a0h"
    before = told(page, "conversion")
    for _ in range(4):
        page.press("ArrowRight", RIGHT)
    expected = f"{made.found.grid.hold_stops[4]:g}\u00a0h"
    assert page.evaluate("document.getElementById('set-hold').getAttribute('aria-valuetext')") == expected
    assert told(page, "conversion") > before
    page.evaluate("document.getElementById('as-read').click()")
    assert page.evaluate("document.getElementById('value-hold').textContent") == "4\u00a0h"


def test_focus_can_be_seen_and_goes_to_every_slider(page):
    style = "getComputedStyle(document.activeElement)"
    reached = []
    for _ in range(40):
        page.press("Tab", 9)
        reached.append(page.evaluate("document.activeElement.id"))
        if reached[-1].startswith("set-"):
            assert page.evaluate(f"{style}.outlineStyle") == "solid"
    assert {"set-hold", "set-base", "set-coolant", "set-sweep", "as-read"} <= set(reached)


def test_without_scripts_the_page_is_whole_and_the_panel_away(made, browser):
    browser.open(made.path, scripts=False)
    assert browser.evaluate("document.getElementById('what-if-panel').getClientRects().length") == 0
    assert "where scripts are allowed to run" in browser.evaluate("document.body.innerText")
    assert browser.evaluate("document.querySelectorAll('figure svg').length") == 5


@pytest.mark.parametrize("width", [1280, 390, 320])
def test_nothing_runs_off_the_side(made, browser, width):
    browser.open(made.path, width=width)
    assert browser.evaluate("document.documentElement.scrollWidth") <= width
    off = browser.evaluate(
        """[...document.querySelectorAll('h1,h2,p,li,dd,dt,label,output,input,button,figcaption,pre')].filter(e =>
            e.getClientRects().length && !e.closest('.scroll, .skip') && !e.classList.contains('said') &&
            (e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0))
            .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert off == []


def test_the_answer_is_on_the_first_screen(made, browser):
    browser.open(made.path, width=1280, height=800)
    bottoms = browser.evaluate("[...document.querySelectorAll('.card h2')].map(e => e.getBoundingClientRect().bottom)")
    assert len(bottoms) == 4 and max(bottoms) < 800


# ---------------------------------------------------------------- print


def sheets_of(browser) -> list[str]:
    """The words on each sheet of the page that is open, printed."""
    pypdf = pytest.importorskip("pypdf", reason="needs pypdf to read the printed pages")
    reader = pypdf.PdfReader(io.BytesIO(browser.printed()))
    for sheet in reader.pages:  # A4: 210 mm by 297 mm in points
        assert (float(sheet.mediabox.width), float(sheet.mediabox.height)) == pytest.approx((595.3, 841.9), abs=1.0)
    return [letters(sheet.extract_text()) for sheet in reader.pages]


def letters(text: str) -> str:
    """A text without blanks and ligatures."""
    return "".join(unicodedata.normalize("NFKC", text).split())


@pytest.mark.parametrize("lower_mm", [0, 40, 80, 120, 160, 200])
def test_no_figure_is_cut_in_print(page, lower_mm):
    """All words of a figure, from its heading to its caption, on one sheet, wherever on the sheet it would begin."""
    page.evaluate(
        f"(() => {{ const d = document.createElement('div'); d.style.height = '{lower_mm}mm';"
        " document.getElementById('main').prepend(d); })()"
    )
    figures = page.evaluate(
        """[...document.querySelectorAll('figure')].map(f =>
            [...f.querySelectorAll('text'), f.querySelector('figcaption')].map(e => e.textContent))"""
    )
    sheets = sheets_of(page)
    assert len(figures) == 5
    for words in figures:
        pieces = [letters(piece) for piece in words]
        assert any(all(piece in sheet for piece in pieces) for sheet in sheets), f"cut: {words[-1][:60]}"


def test_figures_fit_a_sheet(made, browser):
    browser.open(made.path, width=round(PRINTED_PX[0]))
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        sizes = browser.evaluate(
            "[...document.querySelectorAll('figure')].map(f => [f.scrollWidth, f.getBoundingClientRect().height])"
        )
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")
    assert all(width <= PRINTED_PX[0] + 1.0 and 100.0 < height < PRINTED_PX[1] for width, height in sizes)


def test_print_has_the_answer_first_and_no_sliders(page):
    sheets = sheets_of(page)
    assert "Whattodo" in sheets[0] and "Whattoexpect" in sheets[0] and "Whatstandsintheway" in sheets[0]
    assert not any("Tryothersettings" in sheet for sheet in sheets)
    assert any("Tomakethispageagain" in sheet for sheet in sheets)


# ---------------------------------------------------------------- accessibility


def axe() -> str:
    """The source of axe-core, from the package of the test extra that carries it."""
    found = importlib.util.find_spec("axe_core_python")
    if found is None or not found.submodule_search_locations:
        pytest.skip("needs axe-core (axe-core-python)")
    return (Path(found.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8")


@pytest.mark.parametrize("width", [1280, 390])
def test_an_accessibility_checker_finds_nothing(made, browser, width):
    browser.open(made.path, width=width)
    browser.evaluate(axe() + ";0")
    found = json.loads(
        browser.evaluate(
            "axe.run(document, {resultTypes: ['violations', 'passes']}).then(r => JSON.stringify({"
            "violations: r.violations.map(v => [v.id, v.nodes.map(n => n.html.slice(0, 120))]),"
            "passes: r.passes.map(p => p.id)}))"
        )
    )
    assert found["violations"] == []
    assert {"color-contrast", "label", "landmark-one-main", "html-has-lang", "svg-img-alt"} <= set(found["passes"])
