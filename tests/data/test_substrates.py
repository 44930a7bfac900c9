"""Substrates: networks that balance, constants that close, files of a user's own, and faults named."""

import copy
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from kinetics.data import ShelfError, Substrate, load_shelf

SHELF = load_shelf()
OWN_FILE = Path(__file__).parent / "invented_aldehyde.toml"


def own() -> dict:
    return tomllib.loads(OWN_FILE.read_text(encoding="utf-8"))


def faults_of(table: dict) -> str:
    with pytest.raises(ShelfError) as refusal:
        SHELF.including_table(table)
    return str(refusal.value)


@pytest.mark.parametrize("name", SHELF.substrates())
def test_atoms_balance_by_a_count_of_its_own(name: str) -> None:
    """Formulas here are plain CxHyOz, counted with the chemicals library."""
    chemicals = pytest.importorskip("chemicals")
    substrate = SHELF.substrate(name)
    for reaction in (*substrate.equilibria, *substrate.steps):
        for element in "CHO":
            total = sum(
                nu * chemicals.simple_formula_parser(SHELF.substance(species).formula).get(element, 0)
                for species, nu in reaction.stoichiometry.items()
            )
            assert total == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("3-methyl-2-butenal", "prenal"),
        ("Prenal", "prenal"),
        ("cinnamaldehyde", "cinnamaldehyde"),
        ("4-hydroxy-4-methylpentan-2-one", "diacetone alcohol"),
    ],
)
def test_a_substrate_is_found_by_its_species_too(name: str, found: str) -> None:
    assert SHELF.substrate(name).name == found


def constants(substrate: Substrate) -> dict[str, float]:
    return {step.name: step.k.value for step in substrate.steps} | {
        f"K {equilibrium.name}": equilibrium.K.value for equilibrium in substrate.equilibria
    }


def test_against_guthrie_1984_dehydration_and_aldol_rates() -> None:
    """Can. J. Chem. 62 (1984) 1441: k_dehydration 0.456, k_aldol 0.63, condensation K 1480 L/mol, at 25 C.

    The reverse constants follow from the shelf's K; the paper's own K (not the shelf's reading of it in free
    acetaldehyde) belongs to its aldol rate. Tolerances: three digits, and the paper's 10 to 15 %.
    """
    c = constants(SHELF.substrate("cinnamaldehyde"))
    assert c["hydration"] / c["K hydration"] == pytest.approx(0.456, rel=0.005)
    assert c["retro-aldol"] * 1480 * c["K hydration"] == pytest.approx(0.63, rel=0.15)
    assert c["K cleavage"] * 1480 == pytest.approx(1 / math.sqrt(2.06), rel=0.01)


def test_against_guthrie_dawson_1983_dehydration_rate() -> None:
    """Can. J. Chem. 61 (1983) 171: k_dehydration 8.32e-3 L/mol/s; K is printed to two digits."""
    c = constants(SHELF.substrate("prenal"))
    assert c["hydration"] / c["K hydration"] == pytest.approx(8.32e-3, rel=0.0125)


def test_citral_is_scaled_from_prenal() -> None:
    prenal, citral = constants(SHELF.substrate("prenal")), constants(SHELF.substrate("citral"))
    expected = prenal["K hydration"] / prenal["K aldol of acetone and acetaldehyde"]
    assert citral["K cleavage"] == pytest.approx(expected, rel=0.05)


def test_enthalpy_of_diacetone_alcohol_from_two_compositions() -> None:
    """23 % ketol by mass at 0 C and 9 % at 30 C (from memory): K of 2 acetone = ketol, mole fractions."""

    def K(mass_fraction: float) -> float:
        ketol, acetone = mass_fraction / 116.16, (1 - mass_fraction) / 58.08
        total = ketol + acetone
        return (ketol / total) / (acetone / total) ** 2

    dH = -8.314e-3 * math.log(K(0.09) / K(0.23)) / (1 / 303.15 - 1 / 273.15)
    record = SHELF["reaction.diacetone alcohol.equilibrium.dimerisation of acetone.dH"]
    assert abs(dH - record.value) < record.sigma


# ---------------------------------------------------------------- a file of one's own


def test_a_file_of_ones_own_needs_no_python() -> None:
    shelf = SHELF.including(OWN_FILE)
    substrate = shelf.substrate("demonstration enal")
    assert substrate.name == SHELF.substrate(str(OWN_FILE)).name == "demonstration aldehyde"
    assert substrate.species[:3] == (
        "3-(4-hydroxyphenyl)prop-2-enal",
        "4-hydroxybenzaldehyde",
        "acetaldehyde",
    )
    assert shelf.substance("demonstration enal").molar_mass == pytest.approx(148.16, abs=0.01)
    assert shelf["3-(4-hydroxyphenyl)prop-2-enal.solubility"](298.15) == pytest.approx(2.0 / 148.16, rel=1e-4)
    assert "demonstration aldehyde" not in SHELF.substrates()
    K = "reaction.demonstration aldehyde.equilibrium.cleavage.K"
    assert shelf.shifted({K: 1.0}).substrate("demonstration aldehyde").equilibria[0].K.value == pytest.approx(
        4e-3
    )
    assert SHELF.including("prenal") is SHELF


def test_a_file_that_is_not_there_or_no_toml_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ShelfError, match="cannot be read"):
        SHELF.substrate(tmp_path / "nothing.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("name = ", encoding="utf-8")
    with pytest.raises(ShelfError, match="not valid TOML"):
        SHELF.including(broken)


def test_unbalanced_elements_are_refused() -> None:
    table = own()
    del table["step"][0]["stoichiometry"]["water"]
    assert "elements do not balance" in faults_of(table)


def test_dependent_equilibria_are_refused() -> None:
    table = own()
    twice = copy.deepcopy(table["equilibrium"][0])
    twice["name"] = "the same again"
    table["equilibrium"].append(twice)
    assert "only 3 are independent" in faults_of(table)


def test_a_reversible_step_outside_the_ledger_is_refused() -> None:
    table = own()
    table["equilibrium"] = []
    assert "no combination of the equilibria" in faults_of(table)


def test_a_unit_that_the_reaction_does_not_have_is_refused() -> None:
    table = own()
    table["equilibrium"][0]["K"]["unit"] = "L/mol"
    table["step"][0]["k"]["unit"] = "1/s"
    faults = faults_of(table)
    assert "K.unit: expected 'mol/L'" in faults and "k.unit: expected 'L/mol/s'" in faults


def test_misspelt_keys_come_with_the_nearest_and_all_at_once() -> None:
    table = own()
    table["species"]["4-hydroxybenzaldehyde"]["vapor_pressure"] = {"value": 1.0}
    table["species"]["4-hydroxybenzaldehyde"]["kind"] = "organics"
    table["step"][0]["k"].pop("source")
    faults = faults_of(table)
    assert "nearest: vapour_pressure" in faults and "kind: expected" in faults and "k: source" in faults


def test_values_that_cannot_be_are_refused() -> None:
    table = own()
    table["species"]["3-(4-hydroxyphenyl)prop-2-enal"]["vapour_pressure"]["coefficients"] = [-0.01]
    assert "vapour_pressure: expected a positive number at 298.15 K" in faults_of(table)


def test_a_reaction_given_twice_is_refused() -> None:
    table = own()
    table["step"].append(copy.deepcopy(table["step"][0]))
    assert "step.cleavage: given twice" in faults_of(table)


def test_a_substrate_that_nothing_consumes_is_refused() -> None:
    table = own()
    table["substrate"] = "acetaldehyd"
    table["product"] = "3-(4-hydroxyphenyl)prop-2-enal"
    faults = faults_of(table)
    assert "no step consumes 'acetaldehyd'; nearest: acetaldehyde" in faults and "no step gives" in faults


def test_an_activation_energy_is_needed_once() -> None:
    table = own()
    del table["step"][0]["Ea"]
    assert "Ea: expected one, came none" in faults_of(table)


def test_what_is_on_the_shelf_cannot_be_given_again() -> None:
    table = own()
    table["species"]["benzaldehyde"] = {"formula": "C7H6O", "kind": "organic"}
    assert "already a substance" in faults_of(table)


def test_a_circle_of_parents_is_refused() -> None:
    table = own()
    species = table["species"]["3-(4-hydroxyphenyl)prop-2-enal"]
    species["solubility"]["parents"] = ["3-(4-hydroxyphenyl)prop-2-enal.solubility"]
    assert "builds on" in faults_of(table)


def places(node: object, path: tuple = ()) -> Iterator[tuple]:
    children = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, child in children:
        yield (*path, key)
        yield from places(child, (*path, key))


@pytest.mark.parametrize("wrong", [None, "words", -1, True, [], {}, [1, 2], {"value": 1}, float("nan")])
def test_whatever_is_wrong_in_a_file_is_refused_in_words(wrong: object) -> None:
    """Every entry in turn deleted (None) or replaced: sound or refused, never another error."""
    refused = 0
    for path in places(own()):
        table = own()
        parent = table
        for key in path[:-1]:
            parent = parent[key]
        if wrong is None:
            del parent[path[-1]]
        else:
            parent[path[-1]] = wrong
        try:
            SHELF.including_table(table)
        except ShelfError:
            refused += 1
    assert refused > 60
