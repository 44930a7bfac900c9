"""Osmotic coefficient and hydroxide of carbonate liquors against PHREEQC (D. L. Parkhurst, C. A. J. Appelo, USGS).

Skipped where the `phreeqc` package is not installed. Two of its databases are asked:
frezchem.dat, with the Pitzer parameters of the same school (He & Morse, Marion): the same equations in other hands, so
osmotic coefficients should agree to 0.003, half of it for its Debye-Hueckel slope and half for its own hydrolysis;
pitzer.dat, with other parameters: [OH-] should agree within two standard uncertainties of our own constants combined.
pH is not compared above 0.1 mol/kg: the two share no convention for single ions, and [OH-] needs none.
"""

from functools import cache
from math import hypot, log

import pytest

from kinetics.analysis.checks import speciated
from kinetics.data import load_shelf

phreeqc = pytest.importorskip("phreeqc", reason="the independent geochemical library phreeqc is not installed")

SALTS = {"carbonate": (2.0, 1.0), "bicarbonate": (1.0, 1.0), "buffer": (1.5, 1.0)}  # sodium, carbon per mol
CONSTANTS = [
    "water.pKw", "carbonic.pK1", "carbonic.pK2", "pitzer.theta.hydroxide_carbonate",
    *(f"pitzer.sodium_{ion}.{name}" for ion in ("carbonate", "bicarbonate") for name in ("beta0", "beta1", "Cphi")),
]  # fmt: skip
REFITTED = (
    "pitzer.dat's bicarbonate was refitted to calcite and is 0.07 off the NBS carbonate standard (test below);"
    " ours is 0.003 off"
)
STRAIGHT = (
    "pitzer.dat carries sodium carbonate's slope at 25 degC on in a straight line; at the boil that gives"
    " 1.2 K for 9.42 % where the handbook has 1.0 and we 0.93"
)


@cache
def asked(database: str, t_C: float, sodium: float, carbon: float, chloride: float = 0.0) -> dict[str, float]:
    """What PHREEQC gives for a liquor [mol/kg]."""
    engine = phreeqc.Phreeqc()
    assert engine.LoadBuiltInDatabase(database) == 0
    trace = f" Cl {chloride}\n" if chloride else ""
    faults = engine.RunString(
        f"SOLUTION 1\n temp {t_C}\n pH 10 charge\n units mol/kgw\n Na {sodium + chloride}\n C(4) {carbon}\n{trace}"
        "SELECTED_OUTPUT\n -reset false\n -high_precision true\n -pH true\n -molalities OH-\n -activities H2O\n"
        'USER_PUNCH\n -headings chloride\n -start\n 10 PUNCH GAMMA("Cl-")\n -end\nEND\n'
    )
    assert faults == 0, engine.GetErrorString()
    return {key: values[-1] for key, values in engine.GetSelectedOutput().items()}


def uncertainty(t_C: float, sodium: float, carbon: float) -> float:
    """Standard uncertainty of ln [OH-] from the shelf's constants."""
    shelf = load_shelf()

    def ln_hydroxide(moved: dict[str, float]) -> float:
        return log(speciated(shelf.shifted(moved), t_C + 273.15, sodium, carbon)[1].hydroxide)

    central = ln_hydroxide({})
    return hypot(*(ln_hydroxide({name: 1.0}) - central for name in CONSTANTS))


def osmotic_cases() -> list:
    reason = "dissolved CO2, 1 to 2 % of a bicarbonate, is not among our osmoles"
    counted = pytest.mark.xfail(strict=True, reason=reason)
    return [
        pytest.param(t_C, salt, molality, marks=[counted] if salt == "bicarbonate" else [])
        for t_C in (0.0, 25.0, 50.0, 90.0) for salt in SALTS for molality in (0.1, 0.5, 1.0, 2.0)
        if (salt, molality) != ("bicarbonate", 2.0)
    ]  # fmt: skip


@pytest.mark.parametrize(("t_C", "salt", "molality"), osmotic_cases())
def test_osmotic_coefficient_with_the_same_parameters(t_C: float, salt: str, molality: float) -> None:
    sodium, carbon = (molality * part for part in SALTS[salt])
    theirs = asked("frezchem.dat", t_C, sodium, carbon)["la_H2O"] * log(10.0)
    ours = speciated(load_shelf(), t_C + 273.15, sodium, carbon)[1].activities.ln_water
    assert abs(ours - theirs) / (0.0180153 * (sodium + carbon)) < 0.003


def hydroxide_cases() -> list:
    known = {
        **{(25.0, "carbonate", m): REFITTED for m in (0.05, 0.1)},
        **{(25.0, "bicarbonate", m): REFITTED for m in (0.1, 0.3, 1.0)},
        **{(25.0, "buffer", m): REFITTED for m in (0.05, 0.1, 0.3)},
        **{(60.0, salt, 1.0): STRAIGHT for salt in ("carbonate", "buffer")},
        **{(90.0, salt, m): STRAIGHT for salt in SALTS for m in (0.3, 1.0)},
    }
    return [
        pytest.param(*case, marks=[pytest.mark.xfail(strict=True, reason=known[case])] if case in known else [])
        for case in ((t, s, m) for t in (25.0, 60.0, 90.0) for s in SALTS for m in (0.01, 0.05, 0.1, 0.3, 1.0))
    ]


@pytest.mark.parametrize(("t_C", "salt", "molality"), hydroxide_cases())
def test_hydroxide_with_other_parameters(t_C: float, salt: str, molality: float) -> None:
    sodium, carbon = (molality * part for part in SALTS[salt])
    theirs = asked("pitzer.dat", t_C, sodium, carbon)["m_OH-(mol/kgw)"]
    ours = speciated(load_shelf(), t_C + 273.15, sodium, carbon)[1].hydroxide
    assert abs(log(ours / theirs)) < 2.0 * uncertainty(t_C, sodium, carbon)


def test_which_of_the_databases_meets_the_carbonate_standard() -> None:
    """p(a_H gamma_Cl) at 25 degC: NBS 10.012 plus 0.109 of Bates & Guggenheim; certified to 0.005, asked to 0.01."""
    deviation = {}
    for database in ("frezchem.dat", "pitzer.dat"):
        answer = asked(database, 25.0, 0.075, 0.05, 1e-6)
        deviation[database] = answer["pH"] - log(answer["chloride"]) / log(10.0) - 10.121
    assert abs(deviation["frezchem.dat"]) < 0.01
    assert deviation["pitzer.dat"] < -0.05


def test_uncertainty_is_that_of_its_parts() -> None:
    """Of bicarbonate [OH-] is Kw/sqrt(K1 K2): sigmas 0.01, 0.01, 0.02 in pK give ln 10 x 0.015, activities aside."""
    expected = log(10.0) * hypot(0.01, 0.005, 0.01)
    assert uncertainty(25.0, 0.01, 0.01) == pytest.approx(expected, rel=0.1)
