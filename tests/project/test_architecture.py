"""The shape of the package: imports point one way, each heavy library has one door, no module is long."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "kinetics"
LAYERS = ("data", "chemistry", "flask", "run", "analysis", "figures", "report", "command_line")
DOORS = {"pint": ("data/units.py",), "matplotlib": ("figures/",), "argparse": ("command_line/",)}
MODULES = sorted(PACKAGE.rglob("*.py"))
LONGEST = 400


def imported(module: Path) -> set[str]:
    """Full names of what a module imports, wherever in it the import stands."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: a relative import hides where it points"
            names.add(node.module or "")
    return names


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_imports_point_one_way(module: Path) -> None:
    place = module.relative_to(PACKAGE).as_posix()
    for name in imported(module):
        for library, doors in DOORS.items():
            if name.split(".")[0] == library:
                assert place.startswith(doors), f"{place} imports {library} past its door"
        parts = name.split(".")
        if parts[0] == "kinetics" and len(parts) > 1 and place.split("/")[0] in LAYERS:
            assert LAYERS.index(parts[1]) <= LAYERS.index(place.split("/")[0]), f"{place} imports {name}"


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_modules_are_short_and_say_what_they_are_for(module: Path) -> None:
    text = module.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST
    assert ast.get_docstring(ast.parse(text))


def test_top_level_holds_what_the_design_names() -> None:
    root = PACKAGE.parent
    for name in ("README.md", "DEVELOPERS.md", "pyproject.toml", "kinetics", "tests", "scenarios", "plots"):
        assert (root / name).exists(), name
    assert {path.suffix for path in (root / "scenarios").rglob("*") if path.is_file()} == {".toml"}
