"""`sources --checks`: the dossier of published numbers is listed whole, with what fails in the open."""

import json

import pytest

from kinetics.analysis.checks import MEASURES, load_checks
from kinetics.command_line.main import main


@pytest.mark.slow
def test_every_check_is_listed_and_what_fails_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sources", "--checks", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["checks"]
    assert [check["what"] for check in found] == [check.what for check in load_checks()]
    for check in found:
        holds = all(point["holds"] for point in check["points"])
        assert holds or check["known_to_fail"]
        for point in check["points"]:
            assert point["holds"] == (abs(point["deviation"]) <= check["tolerance"])
            assert point["ours"] is not None


def test_the_listing_is_readable(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sources", "--checks", "azeotropes"]) == 0
    out = capsys.readouterr().out
    assert "NOT MET" in out and "known to fail" in out and "97.9" in out
    assert max(map(len, out.splitlines())) <= 80


def test_an_unknown_authority_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sources", "--checks", "azeotrope of gold"]) == 2
    assert "no check has" in capsys.readouterr().err


def test_a_band_has_both_its_ends_and_what_could_not_be_computed_is_not_met(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(MEASURES, "sensible conversion", lambda *_: float("nan"))
    assert main(["sources", "--checks", "patent", "--json"]) == 3
    point = json.loads(capsys.readouterr().out)["checks"][0]["points"][0]
    assert point == {"at": 5.0, "published": [0.0, 1.0], "ours": None, "deviation": None, "holds": False}
    assert main(["sources", "--checks", "patent"]) == 3
    out = capsys.readouterr().out
    assert "0 of 27 published numbers are met" in out and "0 to 1.0000" in out and "NOT MET" in out
