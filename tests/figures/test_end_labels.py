"""Names at the ends of lines: moved apart as little as possible, inside the page, never over one another."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from matplotlib.text import Text

from kinetics.figures.base_sweep import figure_base_sweep
from kinetics.figures.carbon import figure_carbon
from kinetics.figures.comparison import figure_comparison
from kinetics.figures.course import figure_course
from kinetics.figures.labels import END_LABEL, spread
from kinetics.figures.style import retroaldol_style
from kinetics.run.result import Run


def test_labels_with_room_stay_where_they_are_wanted() -> None:
    assert spread([10.0, 50.0, 30.0], [8.0, 8.0, 8.0], 0.0, 100.0) == pytest.approx([10.0, 50.0, 30.0])


def test_two_that_collide_share_the_move() -> None:
    assert spread([50.0, 52.0], [10.0, 10.0], 0.0, 100.0) == pytest.approx([46.0, 56.0])


def test_of_equals_the_first_is_on_top() -> None:
    assert spread([50.0, 50.0, 50.0], [10.0, 20.0, 10.0], 0.0, 100.0) == pytest.approx([65.0, 50.0, 35.0])


def test_edges_hold() -> None:
    assert spread([0.0, 1.0, 100.0], [10.0, 10.0, 10.0], 0.0, 100.0) == pytest.approx([5.0, 15.0, 95.0])


@given(st.lists(st.tuples(st.floats(-50.0, 150.0), st.floats(1.0, 9.0)), min_size=1, max_size=11))
def test_never_over_one_another_and_always_inside(labels: list) -> None:
    wanted, heights = [list(column) for column in zip(*labels)]
    centres = spread(wanted, heights, 0.0, 100.0)
    for (a, b), (h, k) in zip(combinations(centres, 2), combinations(heights, 2)):
        assert abs(a - b) >= (h + k) / 2 - 1e-9
    for centre, height in zip(centres, heights):
        assert height / 2 - 1e-9 <= centre <= 100.0 - height / 2 + 1e-9
    ranked = sorted(range(len(wanted)), key=lambda i: (wanted[i], -i))
    assert [centres[i] for i in ranked] == sorted(centres)


def boxes(figure: Figure) -> list:
    """The rectangles of all names at line ends, without their leaders."""
    texts = [text for ax in figure.axes for text in ax.texts if text.get_gid() == END_LABEL]
    with retroaldol_style():
        figure.draw_without_rendering()
        return [Text.get_window_extent(text) for text in texts]


def assert_legible(figure: Figure, count: int) -> None:
    """At the resolution of a PNG, and at the 72 dots per inch at which SVG and PDF are set."""
    for resolution in (160, 72):
        figure.set_dpi(resolution)
        found = boxes(figure)
        assert len(found) >= count
        for one, other in combinations(found, 2):
            assert not one.overlaps(other)
        for box in found:
            assert box.x0 >= 0.0 and box.x1 <= figure.bbox.x1 and box.y0 >= 0.0 and box.y1 <= figure.bbox.y1


def test_course_is_legible(reflux: Run, prenal: Run, diacetone: Run) -> None:
    assert_legible(figure_course(reflux, ceiling=0.7), 8)
    assert_legible(figure_course(prenal), 8)
    assert_legible(figure_course(diacetone), 6)


def test_carbon_is_legible(reflux: Run, prenal: Run) -> None:
    assert_legible(figure_carbon(reflux), 6)
    assert_legible(figure_carbon(prenal), 6)


def test_comparison_of_runs_that_coincide_is_legible(reflux: Run) -> None:
    names = ["as planned", *(f"an option with a long name, number {k}" for k in range(7))]
    assert_legible(figure_comparison([(name, reflux) for name in names]), 8)


def test_base_sweep_is_legible() -> None:
    sweep = figure_base_sweep(
        [0.1, 1.0, 10.0], {2: [0.5, 0.7, 0.7], 5: [0.6, 0.7, 0.7], 10: [0.7] * 3}, [0.01] * 3
    )
    assert_legible(sweep, 4)
