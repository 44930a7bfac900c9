"""The commands, one module each: what defines COMMAND in this folder is a command, with no other entry."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from kinetics.command_line.command import Command


@cache
def all_commands() -> tuple[Command, ...]:
    """Every command, in the order in which they are listed."""
    modules = [import_module(f"{__name__}.{module.name}") for module in iter_modules(__path__)]
    return tuple(sorted((module.COMMAND for module in modules), key=lambda command: command.place))
