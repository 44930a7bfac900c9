"""Entries of a constants or substrate file that are refused: each fault by its key, with what was expected and what came."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from kinetics.data import ShelfError
from kinetics.data.faults import QuantityError
from kinetics.data.shelf import Shelf
from kinetics.data.substances import build_substance
from kinetics.data.tables import build_record, record_entries
from kinetics.data.units import quantity

WEIGHTS = {"C": 12.011, "H": 1.008, "O": 15.999, "Na": 22.990}
FORMAL = {"sodium": {"Na": 1.0, "O": 0.5}, "water": {"H": 2.0, "O": 1.0}}
NUMBER = {"value": 1.0, "unit": "1", "quantity": "a number", "factor": 1.1, "status": "estimate", "source": "invented"}


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"formula": "NaXe", "kind": "base"}, "lye.formula: no atomic weight on the shelf for Xe"),
        ({"formula": "NaOH", "kind": "lye"}, "lye.kind: expected one of"),
        ({"formula": "NaOH", "kind": "base", "components": {"sodum": 1.0}}, "sodum is no formal component"),
        ({"formula": "NaOH", "kind": "base", "components": {"sodium": "one"}}, "lye.components.sodium: expected a number"),
        ({"formula": "NaOH", "kind": "base", "components": {"sodium": 1.0}}, "do not add up to NaOH"),
        ({"formula": "NaOH", "kind": "base", "components": "sodium"}, "lye.components: expected a table, came 'sodium'"),
        ({"formula": "NaOH", "kind": "base", "synonyms": "soda"}, "lye.synonyms: expected a list of names, came 'soda'"),
    ],
)  # fmt: skip
def test_a_substance(table: dict[str, Any], said: str) -> None:
    with pytest.raises(ShelfError) as caught:
        build_substance("lye", table, WEIGHTS, FORMAL, None)
    assert said in str(caught.value)


def test_the_sound_one_is_built() -> None:
    """Sodium as NaO1/2 and half a water: 22.990 + 15.999 + 1.008 g/mol."""
    sound = {"formula": "NaOH", "kind": "base", "components": {"sodium": 1.0, "water": 0.5}}
    assert build_substance("lye", sound, WEIGHTS, FORMAL, None).molar_mass == pytest.approx(39.997)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"form": "constant"}, "k: expected either a value or a form"),
        ({"valeu": 2.0}, 'k.valeu: unknown key'),
        ({"times": "twice"}, "k.times: expected a number, came 'twice'"),
        ({"values": [1.0, "two"]}, "k.values: expected numbers"),
        ({"note": 3}, "note: expected words, came 3"),
    ],
)  # fmt: skip
def test_a_record(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ShelfError) as caught:
        build_record("k", NUMBER | change, None, ())
    assert said in str(caught.value)


@pytest.mark.parametrize("nodes", [[20.0, 20.0, 40.0], [20.0, 40.0], [40.0, 30.0, 20.0]])
def test_a_table_whose_nodes_do_not_rise_with_its_values(nodes: list[float]) -> None:
    entry = {key: value for key, value in NUMBER.items() if key != "value"}
    entry |= {"form": "log_polynomial", "nodes_C": nodes, "values": [1.0, 2.0, 3.0]}
    with pytest.raises(ShelfError, match="as many values as rising nodes_C or nodes_K, at least two"):
        build_record("k", entry, None, ())


@pytest.mark.parametrize("entry", [3.0, {}, "k"])
def test_a_group_that_holds_no_table(entry: object) -> None:
    with pytest.raises(ShelfError, match=r"species\.k: expected a table with something in it, came"):
        record_entries({"common": {"status": "estimate"}, "k": entry}, "species.")


def test_a_substrate_file_that_cannot_be_read(shelf: Shelf, tmp_path: Path) -> None:
    with pytest.raises(ShelfError, match="cannot be read"):
        shelf.including(str(tmp_path / "none.toml"))
    (tmp_path / "torn.toml").write_text("name = ", encoding="utf-8")
    with pytest.raises(ShelfError, match="is not valid TOML"):
        shelf.including(str(tmp_path / "torn.toml"))


def test_a_record_without_words_for_its_note(shelf: Shelf) -> None:
    with pytest.raises(ShelfError, match="note: expected words"):
        replace(shelf["water.pKw"], note=3)  # type: ignore[arg-type]


def test_a_unit_of_no_kind_that_is_known_is_told_as_that() -> None:
    with pytest.raises(QuantityError, match="a quantity of another kind"):
        quantity("3 m^2", "mass")
