"""The text of the page: rounding to what is known, and nothing that could be taken for markup."""

from __future__ import annotations

import json
import re
from math import inf, nan

import pytest

from kinetics.report import words


@pytest.mark.parametrize(
    ("value", "low", "high", "shown", "between"),
    [  # two digits of half the band, after JCGM 100:2008, 7.2.6: no more digits than two in an uncertainty
        (70.9, 45.5, 97.2, "71", "46 to 97"),
        (0.6463, 0.241, 0.917, "0.65", "0.24 to 0.92"),
        (4.02, 1.03, 9.86, "4.0", "1.0 to 9.9"),
        (4.021, 4.012, 4.034, "4.021", "4.012 to 4.034"),
        (1234.5, 1000.0, 1600.0, "1234", "1000 to 1600"),
    ],
)
def test_a_value_has_the_digits_its_band_supports(value, low, high, shown, between):
    band = {"p5": low, "p50": value, "p95": high, "se_p50": None}
    assert words.supported(value, band, 1.0, "") == (shown, between)


def test_a_value_without_a_band_has_two_digits_and_an_unknown_one_is_a_dash():
    assert words.supported(0.709, None, 100.0, "%") == ("71\u00a0%", "")
    assert words.supported(0.06463, None, 1.0, "g") == ("0.065\u00a0g", "")
    assert words.supported(None, None, 1.0, "g") == ("–", "")
    assert words.supported(0.0, {"p5": 0.0, "p95": 0.0}, 1.0, "mmol") == ("0\u00a0mmol", "")


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [(0.0, 3, "0"), (nan, 3, "–"), (inf, 3, "–"), (None, 3, "–"), (0.09996, 3, "0.100"), (1250.0, 3, "1250"),
     (-0.25, 2, "\u22120.25"), (2.1e-7, 2, "2.1e\u221207")],
)  # fmt: skip
def test_significant_digits(value, digits, shown):
    assert words.significant(value, digits) == shown


def test_no_negative_zero():
    assert words.fixed(-0.001, 2) == "0.00"
    assert words.fixed(-0.25, 1, True) == "\u22120.2"


def test_markup_is_shown_as_typed():
    typed = "<b>&\"'</b>"
    assert words.text(typed) == "&lt;b&gt;&amp;&quot;&#x27;&lt;/b&gt;"
    for made in (words.paragraph(typed), words.bullets([typed]), words.caution(typed)):
        assert "<b>" not in made and words.text(typed) in made
    made = words.table(typed, [typed, typed], [[typed, typed]], 2)
    assert "<b>" not in made and made.count(words.text(typed)) == 6


def test_json_in_a_script_cannot_end_it_and_reads_back_as_it_was():
    value = {"</script><!--<script>": "\u2028 & ]]> \u00e9"}
    made = words.data_block("name", value)
    inside = re.fullmatch(r'<script type="application/json" id="name">(.*)</script>', made)
    assert inside is not None
    assert not re.search("[<>&\u2028\u2029]", inside[1])
    assert json.loads(inside[1]) == value
