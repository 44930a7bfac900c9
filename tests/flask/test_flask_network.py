"""What a substrate's file and the shelf make of a species: whether it evaporates, forms oil, is an acid or has a hydrate."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kinetics.data.shelf import Shelf
from kinetics.flask.mechanisms import SWITCHES, Mechanisms
from kinetics.flask.network import Network, build_network

E, P, A = "cinnamaldehyde", "benzaldehyde", "acetaldehyde"


def network(shelf: Shelf, *missing: str, substrate: str = E, **switches: bool) -> Network:
    """The network of a substrate from a shelf on which some records are missing."""
    poorer = replace(shelf, records={k: v for k, v in shelf.records.items() if k not in missing})
    return build_network(shelf.substrate(substrate), poorer, Mechanisms(**switches))


def names(found: Network, role: str) -> set[str]:
    return {found.species[i] for i in getattr(found, role)}


@pytest.mark.parametrize("missing", ["vapour_pressure", "solubility"])
def test_an_oil_evaporates_only_with_both_its_vapour_pressure_and_its_solubility(shelf, missing: str) -> None:
    whole, poorer = network(shelf), network(shelf, f"{P}.{missing}")
    assert names(whole, "volatiles") - names(poorer, "volatiles") == {P}


def test_what_has_a_henry_constant_evaporates_without_either(shelf) -> None:
    assert f"{A}.henry" in shelf
    poorer = network(shelf, f"{A}.vapour_pressure", f"{A}.solubility")
    assert A in names(poorer, "volatiles")


def test_places_of_cinnamaldehyde(shelf) -> None:
    """Organics first, then carbon and water; benzoic acid alone is an acid, acetaldehyde alone has a hydrate counted."""
    found = network(shelf)
    assert found.species[found.carbon] == "inorganic carbon" and found.species[found.water] == "water"
    assert found.water == len(found.species) - 1 and found.position(E) == found.species.index(E)
    assert names(found, "acids") == {"benzoic acid"}
    assert names(found, "hydrates") == {A}
    assert {E, P, A, "inorganic carbon"} <= names(found, "volatiles")
    assert "water" not in names(found, "volatiles") and "inorganic carbon" not in names(found, "oils")


def test_switches_of_what_may_leave(shelf) -> None:
    by_product_only = network(shelf, product_venting=False)
    assert not {E, P} & names(by_product_only, "volatiles")
    assert {A, "inorganic carbon"} <= names(by_product_only, "volatiles")
    assert names(network(shelf, venting=False), "volatiles") == {"inorganic carbon"}
    assert "inorganic carbon" not in names(network(shelf, carbon_dioxide_loss=False), "volatiles")
    assert network(shelf, oil_phase=False).oils == ()


def test_where_product_and_by_product_are_one_it_may_leave(shelf) -> None:
    """Diacetone alcohol gives acetone twice: with product_venting off acetone, a by-product too, still leaves."""
    found = network(shelf, substrate="diacetone alcohol", product_venting=False)
    assert "acetone" in names(found, "volatiles") and "diacetone alcohol" not in names(found, "volatiles")


def test_all_switches_on_is_the_model() -> None:
    on = Mechanisms()
    assert all(getattr(on, switch) is True for switch in SWITCHES) and on.activity == "pitzer"
    assert len(SWITCHES) == len(set(SWITCHES)) == 15 and "activity" not in SWITCHES
    assert on.acts("cleavage") and on.acts("crossed aldol") and not Mechanisms(crossed_aldol=False).acts("crossed aldol")
