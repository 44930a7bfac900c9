"""The shelf as a whole: every entry sound, every name findable, every shift felt by what builds on it."""

import math
import tomllib
from collections.abc import Iterator
from importlib.resources import files

import numpy as np
import pytest

from kinetics.data import ShelfError, load_shelf
from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.data.substances import elements_of, weighted_sum

SHELF = load_shelf()


@pytest.mark.parametrize("name", SHELF.names())
def test_floats_and_arrays_agree_over_the_valid_range(name: str) -> None:
    record = SHELF[name]
    lowest, highest = record.valid_K or (273.15, 373.15)
    T = np.linspace(lowest, min(highest, 450.0), 5)[1:-1]
    values = np.broadcast_to(record(T, ARRAYS), T.shape)
    assert np.all(np.isfinite(values))
    np.testing.assert_allclose(values, [record(float(t), FLOATS) for t in T], rtol=1e-13)


@pytest.mark.parametrize("name", SHELF.names())
def test_one_sigma_up_is_one_sigma_up(name: str) -> None:
    record, T = SHELF[name], 310.0
    moved = SHELF.shifted({name: 1.0})[name](T)
    if record.factor is None:
        assert moved == pytest.approx(record(T) + record.sigma, rel=1e-15, abs=0.0)
        assert (moved > record(T)) == (record.sigma > 0)
    else:
        assert moved / record(T) == pytest.approx(record.factor, rel=1e-12)


def test_names_lead_to_the_nearest_when_wrong() -> None:
    with pytest.raises(ShelfError, match=r"benzaldehyde\.solubility"):
        _ = SHELF["benzaldehyde.solubilty"]
    with pytest.raises(ShelfError, match="sodium carbonate"):
        SHELF.substance("sodium carbonat")
    with pytest.raises(ShelfError, match="cinnamaldehyde"):
        SHELF.substrate("cinamaldehyde")
    with pytest.raises(ShelfError, match=r"water\.pKw"):
        SHELF.shifted({"water.pkW": 1.0})


def test_a_shift_reaches_what_builds_on_the_record_and_nothing_else() -> None:
    moved = SHELF.shifted({"cinnamaldehyde.setschenow_salt": 2.0})
    factor = SHELF["cinnamaldehyde.setschenow_salt"].factor
    child = "cinnamaldehyde.setschenow_carbonate"
    assert moved[child](360.0) / SHELF[child](360.0) == pytest.approx(factor**2)
    changed = {name for name in SHELF.names() if moved[name] is not SHELF[name]}
    assert changed == {"cinnamaldehyde.setschenow_salt", child}


def test_a_shift_reaches_the_substrate() -> None:
    name = "reaction.cinnamaldehyde.equilibrium.cleavage.K"
    K = {s: s.substrate("cinnamaldehyde").equilibria[1].K.value for s in (SHELF, SHELF.shifted({name: 1.0}))}
    plain, moved = K.values()
    assert moved / plain == pytest.approx(SHELF[name].factor)


def test_a_shared_reaction_is_one_record() -> None:
    steps = [
        {step.name: step for step in SHELF.substrate(name).steps}
        for name in ("cinnamaldehyde", "prenal", "citral")
    ]
    assert steps[0]["self aldol"].k is steps[1]["self aldol"].k is steps[2]["self aldol"].k


def test_fits_wait_until_they_are_used() -> None:
    fresh = load_shelf.__wrapped__()
    assert all("_ready" not in vars(fresh[name]) for name in fresh.names())


@pytest.mark.parametrize("name", SHELF.substances())
def test_formal_components_hold_the_elements_of_the_substance(name: str) -> None:
    substance = SHELF.substance(name)
    elements = {c: SHELF.components.get(c) or SHELF.substance(c).elements for c in substance.components}
    assert weighted_sum(substance.components, elements) == pytest.approx(substance.elements)


@pytest.mark.parametrize(
    ("name", "published"),
    [  # molar masses as printed on reagent labels [g/mol]
        ("washing soda crystals", 286.14),
        ("soda ash", 105.99),
        ("Baking Soda", 84.01),
        ("slaked lime", 74.09),
        ("potash", 138.205),
        ("benzaldehyde", 106.12),
        ("cinnamaldehyde", 132.16),
        ("water", 18.015),
    ],
)
def test_molar_masses(name: str, published: float) -> None:
    assert SHELF.substance(name).molar_mass == pytest.approx(published, abs=0.006)


def test_atomic_weights_against_the_chemicals_library() -> None:
    """Conventional values move within the natural spread that IUPAC's uncertainty states."""
    chemicals = pytest.importorskip("chemicals")
    for element, weight in SHELF._atomic_weights.items():
        published = chemicals.molecular_weight({element: 1})
        assert abs(weight - published) <= 2 * SHELF[f"element.{element}"].sigma


@pytest.mark.parametrize("formula", ["", "na", "Ca(OH", "CaOH)2", "Na2CO3.", "C9 H8 O", "2"])
def test_a_formula_that_cannot_be_read_is_refused(formula: str) -> None:
    with pytest.raises(ShelfError):
        elements_of(formula)


def test_formulas() -> None:
    assert elements_of("Ca(OH)2") == {"Ca": 1, "O": 2, "H": 2}
    assert elements_of("Na2CO3.10H2O") == {"Na": 2, "C": 1, "O": 13, "H": 20}
    assert elements_of("Fe4(Fe(CN)6)3") == {"Fe": 7, "C": 18, "N": 18}


def test_physical_constants_against_scipy() -> None:
    from scipy import constants

    from kinetics.data.units import GAS_CONSTANT_J_PER_MOL_K

    for name, published in {
        "gas_constant": constants.R,
        "elementary_charge": constants.e,
        "boltzmann_constant": constants.k,
        "avogadro_constant": constants.N_A,
        "vacuum_permittivity": constants.epsilon_0,
    }.items():
        assert SHELF[f"physics.{name}"].value == pytest.approx(published, rel=1e-9)
    assert SHELF["physics.gas_constant"].value == GAS_CONSTANT_J_PER_MOL_K


def leaves(table: dict, path: tuple = ()) -> Iterator[tuple]:
    for key, entry in table.items():
        if isinstance(entry, dict) and not {"value", "form", "source"} & entry.keys() and key != "common":
            yield from leaves(entry, (*path, key))
        elif isinstance(entry, dict):
            yield (*path, key)


def test_no_table_of_the_files_is_passed_over() -> None:
    """Every table with a source in the files of constants is a record on the shelf."""
    for file in files("kinetics.data").joinpath("constants").iterdir():
        table = tomllib.loads(file.read_text(encoding="utf-8"))
        table.pop("component", None)
        for path in leaves(table):
            if path[-1] in ("common", "components"):
                continue
            name = ".".join(path[1:] if path[0] == "species" else path)
            assert name in SHELF


def test_uncertainty_of_what_is_not_exact_is_not_zero() -> None:
    exact = {name for name in SHELF.names() if SHELF[name].sigma == 0 or SHELF[name].factor == 1}
    assert {name.split(".")[0] for name in exact} <= {"physics", "atmosphere", "reaction", "limit"}
    assert {n for n in exact if n.startswith("reaction")} == {"reaction.cinnamaldehyde.step.oxidation.Ea"}


def test_volatility_of_oils_agrees_with_the_measured_henry_constant() -> None:
    """Solubility over vapour pressure against the measured constant: within its uncertainty at 25 C."""
    T = 298.15
    derived = 1000 * SHELF["benzaldehyde.solubility"](T) / SHELF["benzaldehyde.vapour_pressure"](T)
    measured = SHELF["benzaldehyde.henry_check"]
    assert abs(math.log(derived / measured(T))) < math.log(measured.factor)
