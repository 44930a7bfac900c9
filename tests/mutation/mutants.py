"""Small faults put into a module one at a time: what may be changed in its syntax tree, and how a change is put in force.

What changes: signs and operators, comparisons, and/or/not, numbers (by one, or by a tenth where they are no whole number),
true and false, names in strings, the condition of an if (to always and never), maximum and minimum, break, and statements
that act on what there is already, which are left out. Not: annotations, docstrings, decorators, the wording of refusals.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any

ROOT = Path(__file__).parents[2]
OPERATORS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
             ast.And: ast.Or, ast.Or: ast.And, ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
             ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
             ast.NotIn: ast.In}  # fmt: skip
NAMES = {"maximum": "minimum", "minimum": "maximum", "max": "min", "min": "max"}
SIMPLE = (int, float, str, tuple)


@dataclass(frozen=True)
class Mutant:
    """One fault: `node` is its place in the walk of the module's tree, `variant` which of the node's faults."""

    module: str
    where: str  # function or class, "" for the module itself
    line: int
    becomes: str  # the statement with the fault in it
    node: int
    variant: int

    def __str__(self) -> str:
        return f"{self.module}{'.' if self.where else ''}{self.where}: {self.becomes}"


def replacements(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand in the place of a node."""
    match node:
        case ast.BinOp(op=op) | ast.BoolOp(op=op) if type(op) in OPERATORS:
            other = deepcopy(node)
            other.op = OPERATORS[type(op)]()
            yield other
        case ast.Compare(ops=[op]):
            yield ast.Compare(node.left, [OPERATORS[type(op)]()], node.comparators)
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            yield ast.Constant(value + 1 if float(value).is_integer() and value < 1e9 else 1.1 * value)
        case ast.Constant(value=str() as value) if value.strip():
            yield ast.Constant(value + "?")
        case ast.If() | ast.IfExp():
            for always in (True, False):
                other = deepcopy(node)
                other.test = ast.Constant(always)
                yield other
        case ast.Attribute(attr=name) if name in NAMES:
            yield ast.Attribute(node.value, NAMES[name], node.ctx)
        case ast.Name(id=name) if name in NAMES:
            yield ast.Name(NAMES[name], node.ctx)
        case ast.Break() | ast.AugAssign() | ast.Expr():
            yield ast.Pass()
        case ast.Assign(targets=[target], value=value) if set(names(target)) & set(names(value)):
            yield ast.Pass()


def names(node: ast.AST) -> Iterator[str]:
    return (part.id for part in ast.walk(node) if isinstance(part, ast.Name))


def counts(node: ast.AST, field: str, child: ast.AST) -> bool:
    """Whether what stands in this field of a node is part of what the program does."""
    if field in ("annotation", "returns", "decorator_list") or isinstance(node, ast.Raise | ast.Assert | ast.ImportFrom):
        return False
    return not (isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant))  # a docstring


def places(tree: ast.AST) -> list[tuple[ast.AST, ast.AST, str, int | None, str, ast.stmt | None]]:
    """(node, parent, field, position in it, enclosing function or class, enclosing statement), in order."""
    found: list[Any] = []

    def visit(node: ast.AST, where: str, statement: ast.stmt | None, within: bool = False) -> None:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not within:
            where = f"{where}.{node.name}".lstrip(".")
            within = isinstance(node, ast.FunctionDef)  # what is defined in a function counts as the function
        for field, value in ast.iter_fields(node):
            for position, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if isinstance(child, ast.AST) and counts(node, field, child):
                    inner = child if isinstance(child, ast.stmt) else statement
                    found.append((child, node, field, position, where, inner))
                    visit(child, where, inner, within)

    visit(tree, "", None)
    return found


def put(place: Any, node: ast.AST) -> None:
    _, parent, field, position, *_ = place
    if position is None:
        setattr(parent, field, node)
    else:
        getattr(parent, field)[position] = node


def head(statement: ast.AST) -> str:
    """The statement on one line, of a compound one its head."""
    lines = ast.unparse(statement).splitlines()
    return next((x.strip() for x in lines if not x.startswith("@")), "")


def mutants(path: Path) -> list[Mutant]:
    """All faults of a module."""
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    result = []
    for number, place in enumerate(places(ast.parse(path.read_text(encoding="utf-8")))):
        node, _, _, _, where, statement = place
        for variant, other in enumerate(replacements(node)):
            put(place, other)
            if node is statement:
                text = f"without: {head(node)}" if isinstance(other, ast.Pass) else f"{head(other)} for {head(node)}"
            else:
                text = head(statement) if statement else ""
            result.append(Mutant(module, where, node.lineno, text, number, variant))
            put(place, node)
    return result


def put_in_force(mutant: Mutant) -> None:
    """Give the functions, defaults and constants of the loaded module those of its faulty twin."""
    module = sys.modules[mutant.module]
    assert module.__file__ is not None
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    place = places(tree)[mutant.node]
    put(place, list(replacements(place[0]))[mutant.variant])
    twin = ModuleType(mutant.module)
    exec(compile(ast.fix_missing_locations(tree), module.__file__, "exec"), twin.__dict__)
    graft(module, twin, mutant.module)


def graft(old: Any, new: Any, module: str) -> None:
    for name, value in list(vars(new).items()):
        mine = vars(old).get(name)
        if isinstance(value, property):
            mine, value = mine.fget, value.fget
        if isinstance(value, FunctionType) and isinstance(mine, FunctionType) and value.__module__ == module:
            if value.__code__.co_freevars == mine.__code__.co_freevars:
                mine.__code__, mine.__defaults__ = value.__code__, value.__defaults__
                mine.__kwdefaults__ = value.__kwdefaults__
        elif isinstance(value, type) and value.__module__ == module:
            graft(mine, value, module)
        elif isinstance(value, SIMPLE) and not name.startswith("__") and mine != value:
            setattr(old, name, value)
            for holder in list(sys.modules.values()):
                if name in vars(holder) and name in imported(holder, module):
                    setattr(holder, name, value)


def imported(holder: ModuleType, module: str) -> set[str]:
    """Names that a module of the project or its tests imports from another."""
    file = Path(getattr(holder, "__file__", None) or "/")
    if not file.is_relative_to(ROOT) or file.suffix != ".py":
        return set()
    tree = ast.parse(file.read_text(encoding="utf-8"))
    statements = [s for s in ast.walk(tree) if isinstance(s, ast.ImportFrom) and s.module == module]
    return {alias.name for s in statements for alias in s.names}
