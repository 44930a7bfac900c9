"""A run in words for the bench: the line that matters, the summary, and the course in a dozen rows."""

from __future__ import annotations

from collections.abc import Iterator

from kinetics.command_line.terminal import (
    amount,
    duration,
    fixed,
    heading,
    percent,
    significant,
    table,
    wrapped,
)
from kinetics.data.substrate import Substrate
from kinetics.run.result import Run
from kinetics.run.scenario import Scenario

CELSIUS_ZERO_K = 273.15
ROWS_OF_HOLD = 10


def headline(run: Run, scenario: Scenario, substrate: Substrate) -> list[str]:
    """How long, how much is converted and how much became product, in one sentence."""
    end = run.summary
    hold_K, boil_K = scenario.heating.hold_K, end.boil_point_degC + CELSIUS_ZERO_K
    boils = not scenario.vessel.closed and (hold_K is None or hold_K >= boil_K)
    at = f"{(hold_K or boil_K) - CELSIUS_ZERO_K:.4g} degC"
    at = f"the boil ({end.boil_point_degC:.1f} degC)" if boils else at
    how_long = f"After {duration(end.hold_h)} at {at}"
    if scenario.heating.cooling_s > 0.0:
        how_long += f" and {duration(scenario.heating.cooling_s / 3600.0)} of cooling"
    if run.failure is not None:
        how_long = f"Not run to the end: {run.failure}. Until then"
    if end.conversion is None:
        made = f"{amount(end.product_in_flask_g, 'g')} of {substrate.product}"
        left = f"{amount(end.unreacted_g, 'g')} of {substrate.substrate}"
        sentence = (
            f"{how_long}, the flask holds {made} and {left}; "
            f"no {substrate.substrate} was charged, so there is no conversion."
        )
    else:
        sentence = (
            f"{how_long}, {percent(end.conversion)} % of the {substrate.substrate} is converted, "
            f"and the yield of {substrate.product} is {percent(end.yield_)} %."
        )
    return [heading(line) for line in wrapped(sentence)]


def summary_rows(run: Run, scenario: Scenario, substrate: Substrate) -> Iterator[tuple[str, str]]:
    """What and how much."""
    end = run.summary
    substance, product, by_product = substrate.substrate, substrate.product, substrate.by_product
    if end.conversion is not None:
        yield f"conversion of {substance}", f"{percent(end.conversion)} %"
        yield f"yield of {product}", f"{percent(end.yield_)} %"
        yield "selectivity (yield per conversion)", f"{percent(end.selectivity)} %"
    yield f"{substance} left, unreacted", amount(end.unreacted_g, "g")
    if end.substrate_left_g > 0.0:
        yield f"{substance} gone with gas or distillate", amount(end.substrate_left_g, "g")
    yield f"{product} in the flask", amount(end.product_in_flask_g, "g")
    yield "  of it in the oil", amount(end.product_in_oil_g, "g")
    yield "  of it in the water", amount(end.product_in_flask_g - end.product_in_oil_g, "g")
    if end.product_taken_off_g > 0.0:
        yield f"{product} in the distillate taken off", amount(end.product_taken_off_g, "g")
    if end.product_vented_g > 0.0:
        yield f"{product} gone with the gas", amount(end.product_vented_g, "g")
    if by_product and by_product != product:
        yield f"{by_product} in the flask", amount(1e3 * end.byproduct_in_flask_mol, "mmol")
        yield f"{by_product} gone", amount(1e3 * end.byproduct_left_mol, "mmol")
    hot = next((k for k, stage in enumerate(run.series.stage) if stage == "hold"), -1)
    for words, pH, k in (
        ("at the start", end.pH_start, 0),
        ("hot, as the hold begins", end.pH_hot, hot),
        ("at the end", end.pH_end, -1),
    ):
        celsius = run.series.temperature_K[k] - CELSIUS_ZERO_K
        yield f"pH {words}, at {fixed(celsius, 0)} degC", fixed(pH, 2)
    yield "hydroxide, hot, as the hold begins", f"{significant(end.hydroxide_hot_mol_per_L)} mol/L"
    yield "boil point", f"{fixed(end.boil_point_degC, 1)} degC"
    yield "water left in the flask", f"{significant(end.water_left_in_flask_L)} L"


def summary_lines(run: Run, scenario: Scenario, substrate: Substrate) -> list[str]:
    """The summary as two columns, the numbers set right."""
    rows = [(words, *value.split(" ", 1), "")[:3] for words, value in summary_rows(run, scenario, substrate)]
    return table([], rows, "<><")


def course_lines(run: Run, substrate: Substrate) -> list[str]:
    """The course in time, about a dozen rows."""
    series, by_product = run.series, substrate.by_product
    start_of_hold = chosen(run)[1] if len(chosen(run)) > 1 else 0
    header: list[list[str]] = [
        ["since", "of the", "temper-", "", "con-", ""],
        ["start", "hold", "ature", "", "version", "yield"],
        ["h", "h", "degC", "pH", "%", "%"],
    ]
    if by_product:
        name = by_product[:14]
        for line, cells in zip(header, ((name, name), ("in flask", "gone"), ("mmol", "mmol"))):
            line.extend(cells)
    rows = []
    for k in chosen(run):
        stage = series.stage[k]
        of_hold = (series.time_s[k] - series.time_s[start_of_hold]) / 3600.0
        row = [
            fixed(series.time_s[k] / 3600.0, 2),
            fixed(of_hold, 2) if stage == "hold" or k == start_of_hold else stage,
            fixed(series.temperature_K[k] - CELSIUS_ZERO_K, 1),
            fixed(series.pH[k], 2),
            percent(None if series.conversion is None else series.conversion[k]),
            percent(None if series.yield_ is None else series.yield_[k]),
        ]
        if by_product:
            row.append(fixed(1e3 * series.flask_mol[by_product][k], 3))
            gone = series.left_mol[by_product][k] if by_product in series.left_mol else 0.0
            row.append(fixed(1e3 * gone, 3))
        rows.append(row)
    return table(header, rows)


def chosen(run: Run) -> list[int]:
    """Positions in the series to show: the start, the start of the hold, ten parts of it, the end."""
    stages = run.series.stage
    last = len(stages) - 1
    hold = [k for k, stage in enumerate(stages) if stage == "hold"]
    if not hold:
        return sorted({0, last})
    first = max(hold[0] - 1, 0)
    parts = {first + round((hold[-1] - first) * part / ROWS_OF_HOLD) for part in range(ROWS_OF_HOLD + 1)}
    return sorted({0, *parts, last})
