"""The sensitivity figure draws the shares it is given, largest first, with units, and says them in words."""

import pytest

from kinetics.figures.sensitivity import figure_sensitivity, largest_first, plot_sensitivity

SHARES = [
    ("the air exchange of the condenser", 0.20, 0.30, 0.05),
    ("the reaction enthalpy of the cleavage", 0.40, 0.61, 0.10),
    ("a number of no weight", 0.0, 0.001, 0.01),
    ("a share lost in noise alone", -0.05, 0.02, 0.02),
]


def test_bars_are_the_shares_in_order() -> None:
    assert [share[0] for share in largest_first(SHARES)] == [SHARES[1][0], SHARES[0][0], SHARES[3][0]]
    ax = plot_sensitivity(SHARES)
    widths = [bar.get_width() for bar in ax.patches]
    assert widths == pytest.approx([40.0, 61.0, 20.0, 30.0, 0.0, 2.0])
    assert "% of the variance" in ax.get_xlabel()


def test_a_panel_for_each_answer_and_the_words_beside() -> None:
    figure = figure_sensitivity([("final conversion", SHARES), ("final yield", SHARES[:1])], title="A batch")
    titles = [ax.get_title() or ax.get_title(loc="left") for ax in figure.axes]
    assert titles == ["final conversion", "final yield"]
