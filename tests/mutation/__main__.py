"""A long campaign of mutants in chemistry and flask: `python -m tests.mutation` puts in one small fault at a time.

Each fault meets, in a process of its own, the tests that call the faulty function, the quickest first, until one fails.
The last campaign stands in last_campaign.txt; what the tests let live on purpose, with the reason, in argued.toml. Exit
status 1 where fewer than 90 % are found or one that lives is not argued.

Why no ready tool: mutmut 3 was tried first. It works, but it collects the tests anew for each mutant and calls every
function through a detour, half a minute of processor time for each mutant that lives, thousands of them; and it leaves
constants, defaults and properties alone. cosmic-ray starts a whole pytest for each. Here tests are collected once.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import signal
import sys
import time
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

from tests.mutation.mutants import ROOT, Mutant, mutants, put_in_force
from tests.stamp import stamp

SOURCES = ("kinetics/chemistry", "kinetics/flask")
QUICK = ("tests/chemistry", "tests/flask")  # what takes more than SLOW_S here counts as slow
SLOW = ("tests/limits", "tests/run/test_second_implementation.py", "tests/run/test_integrate.py",
        "tests/properties/test_gibbs_energy.py")  # fmt: skip
SLOW_S = 0.12
COMPLETE = ("balance", "speciation")  # modules that come first; the rest follows in random order, a fair sample at any time
ARGUED = Path(__file__).with_name("argued.toml")
TARGET = 0.90
FOUND, LIVES, ENDLESS, UNCALLED = "found", "lives", "endless", "uncalled"


class Campaign:
    """A pytest plugin: the tests are collected as ever, and then run again for each mutant in a forked process."""

    def __init__(self, chosen: list[Mutant], args: argparse.Namespace) -> None:
        self.workers, self.record = args.workers, args.record
        self.end = time.monotonic() + 60.0 * args.minutes
        self.verdicts = recorded(self.record, chosen)
        self.chosen = [m for m in chosen if m not in self.verdicts]
        self.seconds: dict[Any, float] = {}
        self.callers: dict[tuple[str, str], set[Any]] = defaultdict(set)
        self.killers: dict[str, list[Any]] = defaultdict(list)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """First the quick tests; what lives and is not argued meets all of them."""
        first = [item for item in session.items if item.nodeid.startswith(QUICK)]
        self.watch(session, first)
        self.try_all([item for item in first if self.seconds[item] <= SLOW_S], self.chosen)
        reasons = argued()
        left = [m for m, v in self.verdicts.items() if v in (LIVES, UNCALLED) and str(m) not in reasons]
        print(f"{len(left)} live that are not argued; now against all tests", flush=True)
        if left:
            self.end = float("inf")
            self.watch(session, [item for item in session.items if item not in self.seconds])
            self.try_all(session.items, left)
        return True

    def watch(self, session: pytest.Session, items: list[Any]) -> None:
        """Each test once without a fault: it must pass; how long it takes, which functions of the sources it calls."""
        targets = tuple(str(ROOT / source) for source in SOURCES)
        for item in items:
            seen = set()

            def trace(frame: Any, event: str, _: Any, seen: set[tuple[str, str]] = seen) -> None:
                if frame.f_code.co_filename.startswith(targets):
                    seen.add((frame.f_code.co_filename, frame.f_code.co_qualname.split(".<")[0]))

            begun = time.process_time()
            sys.settrace(trace)
            reports = runtestprotocol(item, log=False, nextitem=None)
            sys.settrace(None)
            self.seconds[item] = time.process_time() - begun
            assert not any(r.failed for r in reports), f"{item.nodeid} fails without a fault"
            for call in seen:
                self.callers[call].add(item)

    def try_all(self, items: list[Any], chosen: list[Mutant]) -> None:
        """Each mutant against those of the tests that call it, in a process of its own."""
        running: dict[int, tuple[Mutant, list[Any], int]] = {}
        for mutant in [*chosen, *[None] * self.workers]:
            while running and (mutant is None or len(running) >= self.workers):
                self.harvest(running)
            if mutant is None or time.monotonic() > self.end:
                continue
            tests = self.tests_of(mutant, set(items))
            if not tests:
                self.verdicts.setdefault(mutant, UNCALLED)
                continue
            receive, send = os.pipe()
            pid = os.fork()
            if pid == 0:
                os.close(receive)
                self.meet(mutant, tests, send)
            os.close(send)
            running[pid] = mutant, tests, receive

    def tests_of(self, mutant: Mutant, items: set[Any]) -> list[Any]:
        """The tests that call the function (any of the module, for a fault outside functions), the likeliest first."""
        path = str(ROOT / f"{mutant.module.replace('.', '/')}.py")
        name = mutant.where.split(".")[-1]
        if name[:1].islower() or name[:1] == "_":
            tests = self.callers.get((path, mutant.where), set())
        else:  # a constant of the module or the default of a field
            tests = {i for (file, _), callers in self.callers.items() if file == path for i in callers}
        lucky = [t for t in reversed(self.killers[mutant.where]) if t in tests]
        ordered = dict.fromkeys([*lucky[:3], *sorted(tests, key=lambda t: (self.seconds[t], t.nodeid))])
        return [t for t in ordered if t in items]

    def meet(self, mutant: Mutant, tests: list[Any], send: int) -> None:
        """In the forked process: the fault is put in force, and the tests run until one fails."""
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1), os.dup2(silent, 2)
        limit = int(60 + 4 * sum(self.seconds[t] for t in tests))
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        try:
            put_in_force(mutant)
        except Exception:
            os._exit(1)
        for position, item in enumerate(tests):
            if any(r.failed for r in runtestprotocol(item, log=False, nextitem=None)):
                os.write(send, str(position).encode())
                os._exit(1)
        os._exit(0)

    def harvest(self, running: dict[int, tuple[Mutant, list[Any], int]]) -> None:
        pid, status = os.wait()
        mutant, tests, receive = running.pop(pid)
        position = os.read(receive, 20)
        os.close(receive)
        if position:
            self.killers[mutant.where].append(tests[int(position)])
        endless = os.WIFSIGNALED(status) and os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
        verdict = ENDLESS if endless else LIVES if status == 0 else FOUND
        self.verdicts[mutant] = verdict
        if self.record:
            with self.record.open("a", encoding="utf-8") as file:
                file.write(f"{verdict}\t{key(mutant)}\n")
        if verdict != FOUND:
            print(f"  {len(self.verdicts)} {verdict} {mutant}", flush=True)


def key(mutant: Mutant) -> str:
    return f"{mutant.node}.{mutant.variant} {mutant}"


def recorded(record: Path | None, chosen: list[Mutant]) -> dict[Mutant, str]:
    """Verdicts of an earlier campaign on the same sources, the last of each mutant."""
    if record is None or not record.exists():
        return {}
    known = dict(reversed(line.split("\t", 1)) for line in record.read_text(encoding="utf-8").splitlines())
    return {m: known[key(m)] for m in chosen if key(m) in known}


def argued() -> dict[str, str]:
    """Reason by mutant, as the campaign writes it."""
    groups = tomllib.loads(ARGUED.read_text(encoding="utf-8")).get("lives", []) if ARGUED.exists() else []
    return {f"{g['where']}: {becomes}": g["why"] for g in groups for becomes in g["becomes"]}


def report(verdicts: dict[Mutant, str], chosen: list[Mutant]) -> bool:
    """Print the table and what lives; whether the target is met and nothing lives without a reason."""
    for module in sorted({m.module for m in chosen}):
        of = [v for m, v in verdicts.items() if m.module == module]
        tried = f"{len(of)} of {sum(m.module == module for m in chosen)} mutants tried"
        print(f"{module}: {tried}, {len(of) - of.count(LIVES) - of.count(UNCALLED)} found")
    alive = [m for m, v in verdicts.items() if v in (LIVES, UNCALLED)]
    n = len(verdicts) or 1
    share = 1.0 - len(alive) / n
    half = 1.96 * (share * (1.0 - share) / n * (1.0 - n / len(chosen))) ** 0.5
    endless = sum(v == ENDLESS for v in verdicts.values())
    print(f"all: {len(verdicts)} of {len(chosen)} mutants tried, {len(verdicts) - len(alive)} found "
          f"({endless} of them endless): {share:.1%}{f' +- {half:.1%}' if half else ''}")  # fmt: skip
    reasons, groups = argued(), defaultdict(list)
    for mutant in alive:
        groups[reasons.get(str(mutant), "NOT ARGUED")].append(f"  line {mutant.line}, {mutant}")
    for reason, lines in groups.items():
        print(f"{len(lines)} live: {reason}", *lines, sep="\n")
    return share >= TARGET and "NOT ARGUED" not in groups


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", metavar="TEXT", help="only modules with this in their name")
    parser.add_argument("--minutes", type=float, default=1e6, help="begin no more mutants after so many")
    parser.add_argument("--seed", type=int, default=0, help="of the order (0)")
    parser.add_argument("--record", type=Path, help="file of verdicts: what was found is not tried again")
    parser.add_argument("--quick", action="store_true", help=f"only the tests of {' and '.join(QUICK)}")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="processes at once (all processors)")
    args = parser.parse_args()
    files = [f for source in SOURCES for f in sorted((ROOT / source).glob("*.py")) if args.only in f.stem]
    chosen = [m for f in files for m in mutants(f)]
    random.Random(args.seed).shuffle(chosen)
    chosen.sort(key=lambda m: not m.module.endswith(COMPLETE))
    began = stamp()
    campaign = Campaign(chosen, args)
    pytest.main(["-n", "0", "-q", "-s", "-p", "no:cacheprovider", *QUICK, *(() if args.quick else SLOW)], plugins=[campaign])
    print(f"\n{began}, seed {args.seed}")
    return 0 if report(campaign.verdicts, chosen) else 1


if __name__ == "__main__":
    sys.exit(main())
