"""Branch coverage of the package by the whole suite: `python -m tests.coverage`, half an hour on two cores.

Processes that the tests start count too. The last result of the whole suite stands in last_coverage.txt: date, commit,
percentage by module, and every function with lines or branches that no test takes, with the reason from argued.toml. Exit
status 1 where a test failed or less than 95 % is covered.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

from tests.stamp import stamp

FOLDER = Path(__file__).parent
ROOT = FOLDER.parents[1]
LEAST_PERCENT = 95.0
TOO_SMALL = "tests/properties/test_files_written.py::test_no_room_for_the_whole_file_leaves_none_of_it"  # nor for coverage's


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("-n", metavar="N", default="logical", help="processes to test in (as many as there are cores)")
    parser.add_argument("paths", nargs="*", help="only these tests; the result is shown, not kept")
    args = parser.parse_args()
    argued = tomllib.loads((FOLDER / "argued.toml").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "coverage"]
        data, report = f"--data-file={folder}/data", Path(folder) / "report.json"
        status, said = watched([*command, "run", data, "-m", "pytest", "-n", args.n, "--deselect", TOO_SMALL, *args.paths])
        subprocess.run([*command, "combine", "-q", data, folder], cwd=ROOT, check=True)
        subprocess.run([*command, "json", "-q", data, "-o", report], cwd=ROOT, check=True)
        found = json.loads(report.read_text(encoding="utf-8"))
    lines = [
        *head(found["totals"], status, said),
        *modules(found["files"]),
        *gaps(found["files"], argued),
    ]
    text = "".join(f"{line}\n" for line in lines)
    print(text, end="")
    if not args.paths:
        (FOLDER / "last_coverage.txt").write_text(text, encoding="utf-8")
    return int(status != 0 or found["totals"]["percent_covered"] < LEAST_PERCENT)


def watched(command: list[str]) -> tuple[int, str]:
    """Exit status and last line of what a command prints, all of which goes on to the error output."""
    last = ""
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for line in process.stdout:
            sys.stderr.write(line)
            last = line.strip() or last
    return process.returncode, last


def head(totals: dict[str, Any], status: int, said: str) -> Iterator[str]:
    """When, what, and how much in all."""
    yield stamp()
    yield f"suite: {'every test as expected' if status == 0 else 'with failures'}, {said.strip('= ')}"
    branches = 100.0 * totals["covered_branches"] / totals["num_branches"]
    statements = 100.0 * totals["covered_lines"] / totals["num_statements"]
    yield f"kinetics: {totals['percent_covered']:.1f} % (branches {branches:.1f} %, statements {statements:.1f} %)"


def modules(files: dict[str, Any]) -> Iterator[str]:
    """Each module, the least covered first."""
    yield "\nby module:"
    for name, entry in sorted(files.items(), key=lambda item: (item[1]["summary"]["percent_covered"], item[0])):
        yield f"{entry['summary']['percent_covered']:6.1f} %  {name}"


def gaps(files: dict[str, Any], argued: dict[str, str]) -> Iterator[str]:
    """Each function that is not covered whole, what of it is not, and why."""
    yield "\ngaps, by function:"
    used = set()
    for name, entry in sorted(files.items()):
        for function, part in entry["functions"].items():
            lines = set(part["missing_lines"])
            branches = [(a, b) for a, b in part["missing_branches"] if not {a, b} & lines]
            if not lines and not branches:
                continue
            where = f"{name} {function or 'itself'}"
            used.add(where)
            what = f"lines {spans(lines)}" if lines else ""
            arrows = ", ".join(f"{a} to {b if b > 0 else 'the end'}" for a, b in branches)
            what += ("; " if lines and branches else "") + (f"branches {arrows}" if branches else "")
            yield f"{where}: {what}: {argued.get(where, 'not argued')}"
    for where in sorted(argued.keys() - used):
        yield f"{where}: argued for, and covered"


def spans(numbers: Iterable[int]) -> str:
    """3, 4, 5, 9 as "3-5, 9"."""
    ordered = sorted(numbers)
    starts = [ordered[0], *(b for a, b in pairwise(ordered) if b != a + 1)]
    ends = [*(a for a, b in pairwise(ordered) if b != a + 1), ordered[-1]]
    return ", ".join(f"{a}-{b}" if a != b else str(a) for a, b in zip(starts, ends))


if __name__ == "__main__":
    sys.exit(main())
