"""What is drawn is what was computed, read back from the artists; every axis tells its unit."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_hex

from kinetics.figures.base_sweep import figure_base_sweep
from kinetics.figures.carbon import REMAINDER, carbon_shares, figure_carbon, plot_carbon
from kinetics.figures.comparison import QUANTITIES, QuantityNameError, figure_comparison, plot_comparison
from kinetics.figures.course import figure_course, plot_amounts, plot_conversion
from kinetics.figures.labels import end_labels
from kinetics.figures.levers import figure_levers
from kinetics.figures.map import figure_map, plot_map
from kinetics.figures.style import page, percent
from kinetics.figures.sweep_lines import figure_lines
from kinetics.figures.timeline import stage_spans
from kinetics.figures.waterfall import figure_waterfall, steps_down
from kinetics.run.integrate import NumericalFailure
from kinetics.run.result import Run


def drawn(ax: Axes, name: str) -> np.ndarray:
    """The y values of the line of that name."""
    (line,) = [line for line in ax.lines if line.get_label() == name]
    return np.asarray(line.get_ydata(), float)


def headings(figure) -> list[str]:
    return [ax.get_ylabel() for ax in figure.axes]


def test_course_draws_the_run(reflux: Run) -> None:
    amounts, conversion, acidity, temperature = figure_course(reflux).axes
    series = reflux.series
    for name in ("cinnamaldehyde", "benzaldehyde", "acetaldehyde"):
        assert drawn(amounts, name) == pytest.approx(1e3 * series.flask_mol[name], rel=1e-12)
    assert drawn(amounts, "acetaldehyde, left") == pytest.approx(
        1e3 * series.left_mol["acetaldehyde"], rel=1e-12
    )
    assert drawn(conversion, "conversion") == pytest.approx(100.0 * series.conversion, rel=1e-12)
    assert drawn(conversion, "yield") == pytest.approx(100.0 * series.yield_, rel=1e-12)
    assert drawn(acidity, "pH") == pytest.approx(series.pH, rel=1e-12)
    assert drawn(temperature, "temperature") == pytest.approx(series.temperature_K - 273.15, rel=1e-12)
    for ax in (amounts, conversion, acidity, temperature):
        assert ax.lines[0].get_xdata() == pytest.approx(series.time_s / 3600.0, rel=1e-12)
        low, high = ax.get_ylim()
        low -= 1e-9 * high  # an amount that is none may be a rounding below it
        assert all(low <= y <= high for line in ax.lines for y in line.get_ydata())


def test_course_names_what_it_leaves_out(reflux: Run) -> None:
    figure = figure_course(reflux)
    lines = {line.get_label() for line in figure.axes[0].lines}
    species = [
        name for name in reflux.series.flask_mol if name not in ("water", "sodium", "inorganic carbon")
    ]
    foot = " ".join(figure.get_supxlabel().split())
    for name in species:
        assert name in lines or name in foot


def test_units_stand_on_every_axis(reflux: Run, diacetone: Run) -> None:
    course = figure_course(reflux)
    assert [unit in text for unit, text in zip(("(mmol)", "(%)", "pH", "(°C)"), headings(course))] == [
        True
    ] * 4
    assert course.axes[-1].get_xlabel().endswith("(h)")
    for quantity in QUANTITIES:
        figure = figure_comparison([("one", reflux), ("other", diacetone)], quantity)
        assert quantity == "pH" or headings(figure)[0].endswith(")")
        assert figure.axes[0].get_xlabel().endswith("(h)")
    assert headings(figure_carbon(reflux))[0].endswith("(%)")
    sweep = figure_base_sweep([1.0, 2.0], {2: [0.5, 0.6]}, [0.01, 0.02])
    assert headings(sweep) == ["conversion (%)", "hydroxide at the start of the hold (mmol/L)"]
    assert sweep.axes[-1].get_xlabel().endswith("(g)")
    assert "(%)" in figure_waterfall(0.7, {"a": 0.3}).axes[0].get_xlabel()
    left, right = figure_levers([("a", 0.1, 0.2)]).axes
    assert "(percentage points)" in left.get_xlabel() and "(g)" in right.get_xlabel()


def test_band_spans_the_samples(reflux: Run) -> None:
    low, high = 0.9 * reflux.series.conversion, np.minimum(1.05 * reflux.series.conversion, 1.0)
    ax = plot_conversion(reflux, band={"conversion": {"p5": low, "p95": high}}, ceiling=0.68)
    (band,) = ax.collections
    heights = band.get_paths()[0].vertices[:, 1]
    assert heights.max() == pytest.approx(100.0 * high.max())
    assert set(np.round(100.0 * low, 9)) <= set(np.round(heights, 9))
    assert drawn(ax, "ceiling") == pytest.approx(68.0)


def test_stages_meet_and_fill_the_run(reflux: Run, diacetone: Run) -> None:
    names, starts, ends = zip(*stage_spans(reflux))
    assert names == ("heating", "hold", "cooling")
    assert starts == pytest.approx((0.0, 1500.0, 37500.0)) and ends == pytest.approx(
        (1500.0, 37500.0, 39300.0)
    )
    assert stage_spans(diacetone) == [("hold", 0.0, 10800.0)]


def test_comparison_draws_each_run(reflux: Run, prenal: Run) -> None:
    ax = plot_comparison([("one", reflux), ("other", prenal)], "yield")
    assert drawn(ax, "one") == pytest.approx(100.0 * reflux.series.yield_, rel=1e-12)
    assert drawn(ax, "other") == pytest.approx(100.0 * prenal.series.yield_, rel=1e-12)


def test_comparison_draws_the_last_bands_beside_the_ends(reflux: Run, prenal: Run) -> None:
    """A bar from 5 to 95 % for each run that has one, after its end and beside the others; the time axis counts no further."""
    bands = {"one": {"p5": 0.5, "p95": 0.8}, "other": {"p5": None, "p95": None}, "third": {"p5": 0.1, "p95": 0.2}}
    figure = figure_comparison([("one", reflux), ("other", prenal), ("third", reflux)], "yield", bands=bands)
    (ax,) = figure.axes
    bars = {line.get_label(): line for line in ax.lines if line.get_label().endswith("5 to 95 %")}
    assert set(bars) == {"one, 5 to 95 %", "third, 5 to 95 %"}
    assert drawn(ax, "one, 5 to 95 %") == pytest.approx([50.0, 80.0])
    ends_h = reflux.series.time_s[-1] / 3600.0
    places = [bars[name].get_xdata()[0] for name in sorted(bars)]
    assert ends_h < places[0] < places[1] < ax.get_xlim()[1] and max(ax.get_xticks()) <= ends_h
    assert "nine in ten" in figure.get_supxlabel()
    assert "nine in ten" not in figure_comparison([("one", reflux)]).get_supxlabel()


def test_sweep_lines_draw_what_they_are_given() -> None:
    panels = {"conversion (%)": {"end": [0.2, np.nan, 0.4], "2 h": [0.1, 0.2, np.nan]}, "yield (%)": {"end": [0.1, 0.2, 0.3]}}
    figure = figure_lines([1.0, 2.0, 4.0], panels, "base (g)", log=True, remarks=["a remark"])
    upper, lower = figure.axes
    assert headings(figure) == list(panels) and lower.get_xlabel() == "base (g)"
    assert drawn(upper, "end") == pytest.approx([20.0, np.nan, 40.0], nan_ok=True)
    assert drawn(lower, "end") == pytest.approx([10.0, 20.0, 30.0])
    assert [(label.get_text(), label.xy) for label in end_labels(upper)] == [("end", (4.0, 40.0)), ("2 h", (2.0, 20.0))]
    assert upper.get_xscale() == "log" and figure.get_supxlabel() == "a remark"


def test_comparison_refuses_an_unknown_quantity(reflux: Run) -> None:
    with pytest.raises(QuantityNameError, match="conversion"):
        plot_comparison([("one", reflux)], "conversoin")


@pytest.mark.parametrize("name", ["reflux", "prenal", "diacetone"])
def test_carbon_closes_at_all_times(name: str, request: pytest.FixtureRequest) -> None:
    run = request.getfixturevalue(name)
    total = sum(share.values for share in carbon_shares(run))
    assert total == pytest.approx(1.0, abs=1e-7)
    top = max(band.get_paths()[0].vertices[:, 1].max() for band in plot_carbon(run).collections)
    assert top == pytest.approx(100.0, abs=1e-5)


def test_carbon_closes_after_an_addition(fed: Run) -> None:
    total = sum(share.values for share in carbon_shares(fed))
    assert total == pytest.approx(1.0, abs=1e-7)


def test_carbon_share_counts_atoms(prenal: Run) -> None:
    """Prenal has five carbons, acetaldehyde two, acetone three."""
    shares = {share.name: share.values for share in carbon_shares(prenal)}
    charged = prenal.series.flask_mol["3-methyl-2-butenal"][0]
    assert shares["acetaldehyde"] == pytest.approx(
        2.0 * prenal.series.flask_mol["acetaldehyde"] / (5.0 * charged)
    )
    assert shares["acetone, gone with the air"] == pytest.approx(
        3.0 * prenal.series.left_mol["acetone"] / (5.0 * charged)
    )


def test_carbon_tells_water_and_oil_apart(reflux: Run) -> None:
    shares = {share.name: share.values for share in carbon_shares(reflux)}
    charged = reflux.series.flask_mol["cinnamaldehyde"][0]
    in_oil = reflux.series.oil_by_species_mol["cinnamaldehyde"]
    assert shares["cinnamaldehyde in oil"] == pytest.approx(in_oil / charged)
    assert REMAINDER in {band.get_label() for band in plot_carbon(reflux).collections}


def test_base_sweep_draws_what_it_is_given() -> None:
    upper, lower = figure_base_sweep(
        [0.1, 1.0, 10.0], {2: [0.4, 0.6, 0.7], 5: [0.5, 0.7, 0.8]}, [1e-3, 5e-3, 2e-2]
    ).axes
    assert drawn(upper, "2 h") == pytest.approx([40.0, 60.0, 70.0])
    assert drawn(upper, "5 h") == pytest.approx([50.0, 70.0, 80.0])
    assert drawn(lower, "hydroxide") == pytest.approx([1.0, 5.0, 20.0])
    assert upper.get_xscale() == lower.get_xscale() == lower.get_yscale() == "log"


def test_map_lines_lie_where_the_plane_has_their_value() -> None:
    """On the plane z = x + 10 y every point of a line has the value written on it."""
    x, y = [0.0, 10.0, 20.0, 40.0], [0.0, 1.0, 3.0]
    ax = plot_map(x, y, [[a + 10.0 * b for a in x] for b in y], "x (a)", "y (b)", "z (c)")
    (lines,) = [c for c in ax.collections if getattr(c, "filled", None) is False]
    for level, path in zip(lines.levels, lines.get_paths()):
        assert path.vertices[:, 0] + 10.0 * path.vertices[:, 1] == pytest.approx(level, abs=1e-9)
    texts = {text.get_text() for text in ax.texts}
    assert texts and texts <= {f"{level:g}" for level in lines.levels}
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("x (a)", "y (b)")


def test_map_leaves_missing_runs_white_and_says_so() -> None:
    figure = figure_map([0, 1, 2], [0, 1], [[1, 2, np.nan], [2, 3, 4]], "x (a)", "y (b)", "z (c)")
    assert "1 of 6 runs gave no value" in figure.get_supxlabel()
    assert len(figure.axes[0].lines[-1].get_xdata()) == 5


def test_map_refuses_a_grid_of_the_wrong_shape() -> None:
    with pytest.raises(ValueError, match="2 rows and 3 columns"):
        plot_map([0, 1, 2], [0, 1], [[1, 2], [2, 3], [3, 4]], "x", "y", "z")


def test_waterfall_walks_from_complete_to_predicted() -> None:
    shares = {"small": 0.05, "large": 0.30, "helps": -0.05}
    steps = steps_down(0.70, shares)
    assert [name for name, _, _ in steps] == ["large", "small", "helps"]
    assert [after for _, _, after in steps] == pytest.approx([0.70, 0.65, 0.70])
    bars = figure_waterfall(0.70, shares).axes[0].patches
    assert [bar.get_width() for bar in bars] == pytest.approx([100.0, 70.0, -30.0, -5.0, 5.0])


def test_waterfall_shows_what_is_not_assigned() -> None:
    assert steps_down(0.70, {"one": 0.2})[-1] == ("not assigned", pytest.approx(0.8), 0.70)


def test_levers_come_best_first() -> None:
    levers = [("loses", -0.1, 0.5), ("best", 0.2, 0.1), ("little", 0.01, 0.02)]
    left, right = figure_levers(levers).axes
    assert [tick.get_text() for tick in left.get_yticklabels()] == ["best", "little", "loses"]
    assert [bar.get_width() for bar in left.patches] == pytest.approx([20.0, 1.0, -10.0])
    assert [bar.get_width() for bar in right.patches] == pytest.approx([0.1, 0.02, 0.5])
    assert to_hex(left.patches[2].get_facecolor()) == "#ffffff"


def test_panels_draw_on_the_axes_given(reflux: Run) -> None:
    ax = page(3.0).add_subplot()
    assert plot_amounts(reflux, ax=ax) is ax


@pytest.mark.parametrize(
    ("fraction", "text"), [(0.0, "0\u00a0%"), (0.004, "<1\u00a0%"), (0.746, "75\u00a0%"), (-1e-9, "0\u00a0%")]
)
def test_percent(fraction: float, text: str) -> None:
    assert percent(fraction) == text


def test_a_flask_without_organics_is_drawn(blank: Run) -> None:
    amounts, conversion, acidity, _ = figure_course(blank).axes
    assert amounts.lines[:] == [] and conversion.lines[:] == []
    assert "no substrate was charged" in conversion.texts[0].get_text()
    assert drawn(acidity, "pH") == pytest.approx(blank.series.pH)
    assert "Not drawn, has no conversion: blank" in figure_comparison([("blank", blank)]).get_supxlabel()
    (only,) = figure_carbon(blank).axes[0].texts
    assert only.get_text() == "no organics were charged"


def test_a_run_that_stopped_says_so(diacetone: Run) -> None:
    stopped = replace(diacetone, failure=NumericalFailure("the flask is dry", 3600.0))
    assert "Not run to its end: the flask is dry" in figure_course(stopped).get_supxlabel()
    assert "one: the flask is dry" in figure_comparison([("one", stopped)]).get_supxlabel()
