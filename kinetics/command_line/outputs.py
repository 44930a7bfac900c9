"""Files that a command writes: looked at before anything is computed, and written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kinetics.command_line.terminal import talk
from kinetics.data.faults import Fault, RefusedInput, listed, quoted

CSV = (".csv",)
FIGURE = (".png", ".svg", ".pdf")
SCENARIO = (".toml",)


class OutputError(RefusedInput):
    """Files that cannot be written, each with what is in the way."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(self.faults)


@dataclass(frozen=True)
class Output:
    """A file: the option that asks for it, its path (None if not asked for) and the endings it may have."""

    option: str
    path: Path | None
    endings: tuple[str, ...]


def check_outputs(outputs: Iterable[Output], force: bool, inputs: Iterable[Path | None] = ()) -> None:
    """Refuse, all at once, files that cannot be written; what is read (`inputs`) is never written over."""
    faults = []
    taken = {path.resolve(): "a file this command reads" for path in inputs if path is not None}
    for output in outputs:
        if output.path is None:
            continue
        try:
            fault = _fault_of(output, force, taken)
        except OSError as error:  # such as a name that is too long
            came = f"{quoted(str(output.path))} ({error.strerror})"
            fault = Fault(output.option, "the path of a file", came)
        faults += [fault] if fault else []
        taken[output.path.resolve()] = f"the file of {output.option} as well"
    if faults:
        raise OutputError(faults)


def _fault_of(output: Output, force: bool, taken: dict[Path, str]) -> Fault | None:
    """What is in the way of one file."""
    path, option = output.path, output.option
    assert path is not None
    came = quoted(str(path))
    if path.is_dir():
        return Fault(option, "the path of a file", f"{came}, which is a folder")
    if path.suffix.lower() not in output.endings:
        return Fault(option, f"a file that ends in {listed(output.endings)}", came)
    if path.resolve() in taken:
        return Fault(option, "a file of its own", f"{came}, which is {taken[path.resolve()]}")
    if not path.parent.is_dir():
        return Fault(option, "a file in a folder that exists", came)
    if path.exists() and not path.is_file():
        return Fault(option, "the path of an ordinary file", came)
    if path.exists() and not force:
        return Fault(option, "a file that does not exist yet", came, "Add --force to write over it.")
    if not os.access(path.parent, os.W_OK):
        return Fault(option, "a file in a folder that may be written to", came)
    return None


@contextmanager
def whole_file(output: Output) -> Iterator[Path]:
    """A path to write to, that takes the place of the file asked for only when all went well."""
    assert output.path is not None
    target = output.path.resolve()
    draft = target.with_name(f".{target.stem}.{os.getpid()}{target.suffix}")
    try:
        yield draft
        os.replace(draft, target)
    except OSError as error:
        came = f"{quoted(str(output.path))} ({error.strerror or error})"
        raise OutputError([Fault(output.option, "a file that can be written", came)]) from error
    finally:
        draft.unlink(missing_ok=True)


def write_figure(output: Output, draw: Callable[[], Any], quiet: bool) -> None:
    """Draw a figure and write it whole, if it is asked for."""
    if output.path is None:
        return
    from kinetics.figures.saving import save_figure

    with whole_file(output) as draft:
        save_figure(draw(), draft)
    talk(f"Wrote {output.path}.", quiet)


def write_text(output: Output, text: str) -> None:
    """Write a text file whole."""
    with whole_file(output) as draft:
        draft.write_text(text, encoding="utf-8", newline="")
