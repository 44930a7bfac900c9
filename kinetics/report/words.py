"""Text for the page: everything escaped, numbers rounded to what their uncertainty supports."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from math import floor, isfinite, log10
from typing import Any

Band = Mapping[str, float | None]
NO_BREAK = "\u00a0"
DASH = "\u2013"
WHOLE = 18  # rows: a table of no more stays on one printed page


def text(value: object) -> str:
    """Any text, for an element or an attribute: shown as typed, markup and all."""
    return escape(str(value), quote=True)


def significant(value: float | None, digits: int = 3) -> str:
    """A number to so many digits, without an exponent where it can be read; a dash where there is none."""
    if value is None or not isfinite(value):
        return DASH
    if value == 0.0:
        return "0"
    rounded = float(f"{value:.{digits - 1}e}")
    order = floor(log10(abs(rounded)))
    form = f".{max(0, digits - 1 - order)}f" if -5 <= order < 6 else f".{digits - 1}e"
    return f"{rounded:{form}}".replace("-", "\u2212")


def short(value: float, digits: int = 3) -> str:
    """A number to so many digits, without zeros that tell nothing: 0.5, 8, 1.59."""
    return significant(value, digits) if abs(value) >= 1e3 else f"{value:.{digits}g}".replace("-", "\u2212")


def fixed(value: float | None, decimals: int, sign: bool = False) -> str:
    """A number with so many decimals, never a negative zero; a dash where there is none."""
    if value is None or not isfinite(value):
        return DASH
    return f"{value:{'+' if sign else ''}z.{decimals}f}".replace("-", "\u2212")


def percent(fraction: float | None, decimals: int = 0) -> str:
    """A fraction in percent."""
    return DASH if fraction is None else f"{fixed(100.0 * fraction, decimals)}{NO_BREAK}%"


def decimals_of(spread: float) -> int:
    """Decimals that show a spread to two digits, which is what a value known within it is worth."""
    return max(0, 1 - floor(log10(spread))) if spread > 0.0 else 3


def supported(value: float | None, band: Band | None, scale: float, unit: str) -> tuple[str, str]:
    """A value and its band in words, both rounded to two digits of half the band; to two digits without one."""
    if value is None:
        return DASH, ""
    gap = NO_BREAK if unit else ""
    low, high = (None, None) if band is None else (band["p5"], band["p95"])
    if low is None or high is None or low == high:
        return f"{significant(scale * value, 2)}{gap}{unit}", ""
    decimals = decimals_of(0.5 * scale * (high - low))
    shown, least, most = (fixed(scale * number, decimals) for number in (value, low, high))
    return f"{shown}{gap}{unit}", f"{least} to {most}{gap}{unit}"


def duration(hours: float) -> str:
    """A time in words: 8 h, 25 min, 1.5 h."""
    return f"{short(60.0 * hours)}{NO_BREAK}min" if hours < 1.0 else f"{short(hours)}{NO_BREAK}h"


def as_written(value: object) -> str:
    """A value much as a scenario file has it."""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, default=str)


def paragraph(words: object, kind: str = "") -> str:
    return f"<p{f' class={chr(34)}{kind}{chr(34)}' if kind else ''}>{text(words)}</p>"


def bullets(items: Iterable[object]) -> str:
    """A list; nothing where there is nothing to list."""
    entries = "".join(f"<li>{text(item)}</li>" for item in items)
    return f"<ul>{entries}</ul>" if entries else ""


def caution(words: object) -> str:
    """A caution where it belongs."""
    return f'<p class="caution"><strong>Caution.</strong> {text(words)}</p>'


def table(caption: str, header: Sequence[str], rows: Iterable[Sequence[object]], left: int = 1) -> str:
    """A table with a caption; the first column heads each row, the first `left` columns hold words, the rest numbers."""
    sides = [' class="words"' if column < left else "" for column in range(len(header))]
    head = "".join(f'<th scope="col"{side}>{text(cell)}</th>' for side, cell in zip(sides, header, strict=True))
    lines = []
    for row in rows:
        first, *others = [text(cell) for cell in row]
        cells = "".join(f"<td{side}>{cell}</td>" for side, cell in zip(sides[1:], others, strict=True))
        lines.append(f'<tr><th scope="row" class="words">{first}</th>{cells}</tr>')
    whole = ' class="whole"' if len(lines) <= WHOLE else ""
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{text(caption)}"><table{whole}>'
        f"<caption>{text(caption)}</caption><thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody></table></div>"
    )


def data_block(name: str, value: Any) -> str:
    """JSON for the page's script. What could end the element or begin another is written as an escape."""
    content = json.dumps(value, allow_nan=False, separators=(",", ":"))
    for character in "<>&\u2028\u2029":
        content = content.replace(character, f"\\u{ord(character):04x}")
    return f'<script type="application/json" id="{text(name)}">{content}</script>'
