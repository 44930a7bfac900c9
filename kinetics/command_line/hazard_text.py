"""Hazards in words for the bench: the air that a batch asks for, the trap, why nothing is closed, statements and cautions."""

from __future__ import annotations

from kinetics.analysis.hazard import Closed, HazardReport, Release, Trap
from kinetics.command_line.notices_text import caution_lines
from kinetics.command_line.terminal import amount, fixed, heading, significant, table, wrapped


def lines_of(report: HazardReport) -> list[str]:
    """The report for the bench."""
    lines = [*map(heading, wrapped(sentence(report))), *wrapped(f"({report.title})")]
    for release in report.releases:
        lines += ["", *release_lines(release, report)]
    if report.releases:
        lines += wrapped(
            f"Steady, well-mixed box: Q = K G/C, G the vapour at its peak, C the limit, K = {report.mixing:g} for "
            "imperfect mixing (1 to 10; a guess where the scenario is silent, as is the speed at the hood's face); harms added up. "
            "It says nothing of the gas close to the vent, and is no permit to do without a hood."
        )
    if report.trap is not None:
        lines += ["", heading("A trap for all of the acetaldehyde"), *trap_lines(report.trap)]
    lines += ["", heading("Never closed"), *closed_lines(report.closed)]
    if report.statements:
        lines += ["", heading("Hazard statements (GHS)")]
        for substance, words, source in report.statements:
            lines += wrapped(f"{substance}: {words} ({source}).", "- ")
    return [*lines, *caution_lines(report.cautions)]


def sentence(report: HazardReport) -> str:
    """The vapour that matters most."""
    if not report.releases:
        return "Nothing with a limit on the shelf leaves the flask."
    most = report.releases[0]
    return (
        f"{amount(most.total_g, 'g')} of {most.species} go into the air, {amount(most.peak_g_per_h, 'g/h')} at the peak: "
        f"{significant(report.together_m3_per_h)} m3/h of clean air keep all that leaves below its short-term limits."
    )


def short_lines(report: HazardReport) -> list[str]:
    """What belongs beside a run: the air, the trap, and the codes of the hazard statements; nothing where there is none of it."""
    lines = wrapped(sentence(report), "- ") if report.releases else []
    if report.trap is not None:
        lines += wrapped(f"A trap for the acetaldehyde: {grams(report.trap)}.", "- ")
    if report.statements:
        codes = "; ".join(f"{name} {', '.join(codes_of(words))}" for name, words, _ in report.statements)
        lines += wrapped(f"GHS hazard statements: {codes}.", "- ")
    return ["", heading("Air and hazards, in full by the command `hazard`"), *lines] if lines else []


def codes_of(words: str) -> list[str]:
    """The codes of hazard statements, without what they say."""
    return [statement.split()[0] for statement in words.split("; ")]


def grams(trap: Trap) -> str:
    """Bisulfite that a trap wants."""
    return " or ".join(f"{significant(mass)} g of {name}" for name, mass in trap.bisulfite_g.items())


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
    return [
        *wrapped(
            f"{significant(1e3 * trap.amount_mol)} mmol: {grams(trap)} ({trap.excess:g} times what 1 mol for 1 mol asks: "
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
