"""Work written down as it is done, so that a command that was killed goes on where it stopped.

The file is text, a record a line: the SHA-256 of the rest of the line, a blank, JSON. The first says whose job it is;
each other one holds a result under a digest of all that it depends on, so that a result is never used for another task.
A line that is torn or damaged is left out and its task computed again. Nothing in the file is ever run: results are
numbers and text in plain JSON, which keeps every digit of a float (pickle would be shorter, but runs what it reads).
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError, Executor, Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from dataclasses import fields, is_dataclass
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from kinetics.analysis.executors import Processes, program
from kinetics.analysis.runs import Outcome
from kinetics.data.faults import Fault, RefusedInput, listed, quoted
from kinetics.data.shelf import load_shelf
from kinetics.run.result import Summary
from kinetics.run.scenario import Scenario

MARK = "progress of retroaldol"
KEPT = {kind.__name__: kind for kind in (Outcome, Summary)}  # the records a result may hold


class ResumeError(RefusedInput):
    """A file of progress that cannot be gone on with."""

    def __init__(self, expected: str, came: str, hint: str = "") -> None:
        self.faults = (Fault("--resume", expected, came, hint),)
        super().__init__(*self.faults)


@contextmanager
def resuming(
    path: Path | None,
    command: str,
    scenarios: Sequence[Scenario],
    job: Mapping[str, Any],
    executor: Executor | None = None,
    workers: int | None = 1,
) -> Iterator[Executor | None]:
    """An executor that does not do again what the file says was done, and writes down what comes; `executor` for None.

    job: what is asked of the scenarios, each under the word for it, such as {"seed": 3}; records may stand in it.
    What is not in the file is left to `executor`, or, where that is None, to so many processes of this machine (one
    for each processor where `workers` is None). A whole Run is not written down but computed again.
    Raises ResumeError where the file is another job's.
    """
    if path is None:
        yield executor
        return
    substrates = [load_shelf().substrate(scenario.substrate) for scenario in scenarios]
    whole_job = {"command": command, "scenario": scenarios, "substrate": substrates, **job}
    own: AbstractContextManager[Executor]
    if executor is not None:
        own = nullcontext(executor)
    else:
        own = ThreadPoolExecutor(1) if workers == 1 else Processes(workers or os.cpu_count() or 1)
    with closing(Journal(path, whole_job)) as journal, own as doing:
        yield Resumed(journal, doing)


class Resumed(Executor):
    """Answers from a journal what is there, has another executor do the rest, and writes it down before it tells."""

    def __init__(self, journal: Journal, executor: Executor) -> None:
        self.journal, self.executor = journal, executor

    def submit(self, function: Callable[..., Any], /, *args: Any, **keywords: Any) -> Future[Any]:
        name = digest_of([f"{function.__module__}.{function.__qualname__}", args, keywords])
        outer: Future[Any] = Future()
        if name in self.journal:
            outer.set_result(self.journal.result(name))
            return outer
        inner = self.executor.submit(function, *args, **keywords)
        outer.add_done_callback(lambda future: future.cancelled() and inner.cancel())
        inner.add_done_callback(lambda future: self._done(name, future, outer))
        return outer

    def _done(self, name: str, inner: Future[Any], outer: Future[Any]) -> None:
        """Write down what came, then hand it on; where it cannot be written, hand that on instead."""
        result, error = None, None
        try:
            result = inner.result()
            self.journal.write(name, result)
        except CancelledError:
            outer.cancel()
        except Exception as fault:
            error = fault
        if not outer.set_running_or_notify_cancel():
            return
        if error is not None:
            outer.set_exception(error)
        else:
            outer.set_result(result)


class Journal:
    """The file of progress of one job, open to be added to."""

    def __init__(self, path: Path, job: Mapping[str, Any]) -> None:
        self.path, self.lock = path, Lock()
        head = {MARK: 1, "job": {**{name: digest_of(value) for name, value in job.items()}, "program": program()}}
        try:
            if not path.exists():
                draft = path.with_name(f".{path.name}.{os.getpid()}")
                draft.write_bytes(_line(json.dumps(head)))
                os.replace(draft, path)
            self.results = self._read(head)
            self.file = path.open("ab", buffering=0)
        except OSError as error:
            raise self._unusable(error) from error

    def _unusable(self, error: OSError) -> ResumeError:
        return ResumeError("a file that can be read and written", f"{quoted(str(self.path))} ({error.strerror})")

    def _read(self, head: Mapping[str, Any]) -> dict[str, str]:
        """The records, still as text, by the digest of their tasks; what a kill tore off at the end is cut away."""
        whole = self.path.read_bytes() if self.path.is_file() else b""
        *lines, torn = whole.split(b"\n")
        first = json.loads(_sound(lines[0]) or "null") if lines else None
        came = quoted(str(self.path))
        if not isinstance(first, dict) or MARK not in first:
            raise ResumeError("a file that --resume has written, or a path where nothing is yet", came)
        if first != head:
            theirs, ours = first.get("job", {}), head["job"]
            other = [name for name in {**ours, **theirs} if theirs.get(name) != ours.get(name)]
            said = f"{came}, which belongs to another job: it differs in the {listed(other or ['form'], 'and')}"
            hint = "Give another path, or delete the file to begin anew."
            raise ResumeError("the progress of this very job, or a path where nothing is yet", said, hint)
        if torn:
            os.truncate(self.path, len(whole) - len(torn))
        records = (text.split(" ", 1) for line in lines[1:] if (text := _sound(line)))
        return {name: result for name, result in records}

    def __contains__(self, name: str) -> bool:
        return name in self.results

    def result(self, name: str) -> Any:
        """What came of a task."""
        return decoded(json.loads(self.results[name]))

    def write(self, name: str, result: Any) -> None:
        """Add a result. One that failed is not kept: it is cheap to find again, and the cause may have gone."""
        if getattr(result, "failure", None) is not None or getattr(result, "run", None) is not None:
            return
        line = _line(f"{name} {json.dumps(encoded(result), separators=(',', ':'))}")
        with self.lock:
            if self.file.closed:
                return
            try:
                self.file.write(line)
            except OSError as error:
                raise self._unusable(error) from error

    def close(self) -> None:
        with self.lock:
            self.file.close()


def _line(text: str) -> bytes:
    """A text without line breaks as a line that shows whether it is whole."""
    return f"{sha256(text.encode()).hexdigest()} {text}\n".encode()


def _sound(line: bytes) -> str:
    """The text of such a line without its end; nothing where it is torn or damaged."""
    check, _, text = line.partition(b" ")
    return text.decode() if sha256(text).hexdigest().encode() == check else ""


def encoded(value: Any) -> Any:
    """A result as what JSON has: None, numbers and text as they are, all else {kind: content}. Raises TypeError."""
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, np.ndarray) and value.dtype == float:
        return {"array": [value.shape, value.ravel().tolist()]}
    if isinstance(value, tuple):
        return {"tuple": [encoded(one) for one in value]}
    if isinstance(value, Mapping):
        return {"mapping": [[encoded(key), encoded(one)] for key, one in value.items()]}
    if type(value) in KEPT.values():
        return {type(value).__name__: {field.name: encoded(getattr(value, field.name)) for field in fields(value)}}
    raise TypeError(f"a {type(value).__name__} cannot be written down to resume from")


def decoded(value: Any) -> Any:
    """The result that `encoded` was given."""
    if not isinstance(value, dict):
        return value
    ((kind, content),) = value.items()
    match kind:
        case "array":
            shape, numbers = content
            return np.array(numbers, dtype=float).reshape(shape)
        case "tuple":
            return tuple(decoded(one) for one in content)
        case "mapping":
            return {decoded(key): decoded(one) for key, one in content}
    return KEPT[kind](**{name: decoded(one) for name, one in content.items()})


def digest_of(value: Any) -> str:
    """SHA-256 over all that a value holds, the same in every process; where a file lies does not count."""
    return sha256(json.dumps(_canonical(value)).encode()).hexdigest()


def _canonical(value: Any) -> Any:
    """A value as nested lists that differ whenever it does."""
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, Path):
        return ["path"]
    if isinstance(value, np.ndarray):
        return ["array", value.dtype.str, value.shape, sha256(np.ascontiguousarray(value).tobytes()).hexdigest()]
    if isinstance(value, Mapping):
        return ["mapping", [[_canonical(key), _canonical(one)] for key, one in value.items()]]
    if isinstance(value, list | tuple):
        return ["list", [_canonical(one) for one in value]]
    if is_dataclass(value):
        return [type(value).__name__, [[field.name, _canonical(getattr(value, field.name))] for field in fields(value)]]
    raise TypeError(f"a {type(value).__name__} has no digest")
