"""The palette holds for red- and green-blind eyes and in grey print; colour arithmetic written out here."""

from itertools import combinations

import numpy as np
import pytest

from kinetics.figures.map import DEPTHS
from kinetics.figures.style import FAINT, INK, PALETTE, SERIES_LOOKS

# Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, severity 1.0, on linear RGB;
# from memory.
EYES = {
    "all three cones": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
}
# sRGB (IEC 61966-2-1) to XYZ, white D65.
TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
WHITE = np.array([0.95047, 1.0, 1.08883])
APART = 20.0  # CIE 1976 colour difference: far beyond what is just noticed (about 2.3)
GREY_STEP = 7.0  # of L*


def linear(colour: str) -> np.ndarray:
    c = np.array([int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    t = TO_XYZ @ np.clip(rgb, 0.0, 1.0) / WHITE
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast_on_white(colour: str) -> float:
    """WCAG 2.1 contrast ratio."""
    return 1.05 / (float(linear(colour) @ [0.2126, 0.7152, 0.0722]) + 0.05)


@pytest.mark.parametrize(
    ("colour", "expected"),
    [
        ("#ffffff", (100.0, 0.0, 0.0)),
        ("#ff0000", (53.24, 80.09, 67.20)),
        ("#0000ff", (32.30, 79.19, -107.86)),
    ],
)
def test_colour_arithmetic_gives_the_tabled_lab_of_srgb_primaries(colour: str, expected: tuple) -> None:
    assert lab(linear(colour)) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("eyes", EYES)
def test_white_stays_white_to_these_eyes(eyes: str) -> None:
    assert EYES[eyes].sum(axis=1) == pytest.approx(1.0, abs=2e-6)


@pytest.mark.parametrize("eyes", EYES)
def test_every_two_colours_are_apart(eyes: str) -> None:
    seen = {colour: lab(EYES[eyes] @ linear(colour)) for colour in PALETTE}
    closest = min(float(np.linalg.norm(seen[a] - seen[b])) for a, b in combinations(PALETTE, 2))
    assert closest > APART


def test_grey_print_keeps_the_order() -> None:
    lightness = [lab(linear(colour))[0] for colour in PALETTE]
    assert min(np.diff(lightness)) > GREY_STEP


def test_text_can_be_read() -> None:
    assert contrast_on_white(INK) > 7.0
    assert contrast_on_white(FAINT) > 4.5


def test_lines_of_a_comparison_differ_without_colour() -> None:
    for one, other in combinations(SERIES_LOOKS, 2):
        step = abs(lab(linear(one.colour))[0] - lab(linear(other.colour))[0])
        same_stroke = (one.dash, one.marker) == (other.dash, other.marker)
        assert not same_stroke or step > GREY_STEP


def test_map_darkens_all_the_way() -> None:
    lightness = [
        lab(linear("#{:02x}{:02x}{:02x}".format(*DEPTHS(k, bytes=True)[:3])))[0] for k in range(0, 256, 5)
    ]
    assert max(np.diff(lightness)) < 0.0
    assert lightness[0] - lightness[-1] > 50.0
