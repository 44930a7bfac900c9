"""`hazard`: what a batch gives off, the air and the trap it asks for, and why the vessel is never closed."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from typing import TYPE_CHECKING

from kinetics.command_line.arguments import add_json, add_scenario
from kinetics.command_line.bands import add_calibration, calibrated
from kinetics.command_line.command import Command
from kinetics.command_line.notices_text import caution_lines
from kinetics.command_line.terminal import amount, fixed, heading, print_json, print_lines, significant, table, wrapped

if TYPE_CHECKING:
    from kinetics.analysis.hazard import Closed, HazardReport, Release, Trap


def add_arguments(parser: ArgumentParser) -> None:
    add_scenario(parser)
    add_json(parser)
    add_calibration(parser)


def execute(args: Namespace) -> int:
    from kinetics.analysis.hazard import hazard_report
    from kinetics.analysis.runs import Job, moved
    from kinetics.run.reading import read_scenario
    from kinetics.run.result import plain
    from kinetics.run.simulation import simulate

    scenario, shifts, _ = calibrated(args, read_scenario(args.file))
    scenario, shelf = moved(Job(scenario, shifts=shifts))
    run = simulate(scenario, shelf=shelf)
    report = hazard_report(run, scenario, shelf)
    if args.json:
        print_json(plain(report))
    else:
        print_lines(lines_of(report))
    if run.failure is not None:
        raise run.failure
    return 0


def lines_of(report: HazardReport) -> list[str]:
    """The report for the bench."""
    lines = [*headline(report), *wrapped(f"({report.title})")]
    for release in report.releases:
        lines += ["", *release_lines(release, report)]
    if report.releases:
        lines += wrapped(
            f"Steady, well-mixed box: Q = K G/C, G the vapour at its peak, C the limit, K = {report.mixing:g} for "
            "imperfect mixing (1 to 10); harms added up. It says nothing of the gas close to the vent, and is no permit to do without "
            "a hood."
        )
    if report.trap is not None:
        lines += ["", heading("A trap for all of the acetaldehyde"), *trap_lines(report.trap)]
    lines += ["", heading("Never closed"), *closed_lines(report.closed)]
    if report.statements:
        lines += ["", heading("Hazard statements (GHS)")]
        for substance, words, source in report.statements:
            lines += wrapped(f"{substance}: {words} ({source}).", "- ")
    return [*lines, *caution_lines(report.cautions)]


def headline(report: HazardReport) -> list[str]:
    """The vapour that matters most, in one sentence."""
    if not report.releases:
        return [heading("Nothing with a limit on the shelf leaves the flask.")]
    most = report.releases[0]
    sentence = (
        f"{amount(most.total_g, 'g')} of {most.species} go into the air, {amount(most.peak_g_per_h, 'g/h')} at the peak: "
        f"{significant(report.together_m3_per_h)} m3/h of clean air keep all that leaves below its short-term limits."
    )
    return [heading(line) for line in wrapped(sentence)]


def release_lines(release: Release, report: HazardReport) -> list[str]:
    """One vapour."""
    rows = [
        ("given off in all", amount(release.total_g, "g")),
        ("as vapour, at 20 degC", amount(release.vapour_L, "L")),
        ("at the peak", amount(release.peak_g_per_h, "g/h")),
        ("the peak, since the start", f"{fixed(release.peak_at_h, 2)} h"),
        ("part of the gas at the top of the condenser", f"{significant(100.0 * release.vent_fraction)} vol %"),
    ]
    if release.flammable is not None:
        rows.append(("lower flammable limit", f"{significant(100.0 * release.flammable)} vol %"))
    face = 3600.0 * report.face_velocity_m_per_s
    for need in release.needs:
        rows.append((f"air for {need.limit}", f"{significant(need.air_m3_per_h)} m3/h"))
        at = f"  through a hood at {report.face_velocity_m_per_s:g} m/s, a face of"
        rows.append((at, f"{significant(1e4 * need.air_m3_per_h / face)} cm2"))
    if release.reached is not None and report.air_m3_per_h is not None:
        reached = f"{significant(1e6 * release.reached)} mL/m3"
        rows.append((f"reached in the {significant(report.air_m3_per_h)} m3/h given", reached))
    cells = [(words, *value.split(" ", 1)) for words, value in rows]
    lines = [heading(release.species.capitalize()), *table([], cells, "<><")]
    if release.flammable is not None and release.vent_fraction > release.flammable:
        lines += wrapped("The gas at the top of the condenser can burn: no flame, no spark, no hot coil near it.", "! ")
    return lines


def trap_lines(trap: Trap) -> list[str]:
    """Bisulfite or water."""
    grams = " or ".join(f"{significant(mass)} g of {name}" for name, mass in trap.bisulfite_g.items())
    return [
        *wrapped(
            f"{significant(1e3 * trap.amount_mol)} mmol: {grams} ({trap.excess:g} times what 1 mol for 1 mol asks: "
            "common practice, no source).",
            "- ",
        ),
        *wrapped(
            f"Or {significant(trap.water_L)} L of water at {trap.water_K - 273.15:.3g} degC, which keeps "
            f"{100.0 * trap.kept:g} % if the gas leaves it in equilibrium; acetaldehyde comes out again as it warms.",
            "- ",
        ),
    ]


def closed_lines(closed: Closed) -> list[str]:
    """What would burst."""
    solute = f", {closed.solute_Pa / 1000.0:.0f} of acetaldehyde" if closed.solute_Pa > 0.0 else ""
    kPa = [f"{p / 1000.0:.0f}" for p in (closed.total_Pa, closed.water_Pa, closed.air_Pa)]
    return wrapped(
        f"Stoppered and heated to {closed.temperature_K - 273.15:.0f} degC this flask would hold about {kPa[0]} kPa: "
        f"{kPa[1]} of steam, {kPa[2]} of heated air{solute}. Laboratory glass is made for none of it, "
        "and a heater that stays on does not stop there."
    )


COMMAND = Command(
    name="hazard",
    help="what leaves the flask, the air and the trap for it, cautions",
    example="retroaldol hazard scenarios/perfume_school.toml",
    place=70,
    add_arguments=add_arguments,
    execute=execute,
)
