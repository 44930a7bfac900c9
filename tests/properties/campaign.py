"""A long campaign of spoiled files against every reader: `python -m tests.properties.campaign --seconds 180`.

The last one stands in last_campaign.txt. Prints the date, the commit, and for each kind of file how many were read, how
many refused, and every other outcome with the text that brought it about. Exit status 1 where there was one.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.properties.mutations import KINDS, reader_of, spoiled, verdict
from tests.stamp import stamp


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=180.0, help="how long in all (180)")
    parser.add_argument("--seed", type=int, default=0, help="seed of the spoiling (0)")
    parser.add_argument("--kind", choices=KINDS, action="append", help="only this kind of file")
    args = parser.parse_args()
    kinds = args.kind or list(KINDS)
    print(f"{stamp()}, seed {args.seed}")
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        for kind in kinds:
            sound, read = reader_of(kind, Path(folder))
            chance, counts, shown = random.Random(f"{args.seed} {kind}"), Counter[str](), Counter[str]()
            end, slowest = time.monotonic() + args.seconds / len(kinds), 0.0
            while time.monotonic() < end:
                text = spoiled(chance.choice(sound), sound, chance)
                begun = time.process_time()
                outcome = verdict(text, read)
                slowest = max(slowest, time.process_time() - begun)
                good = outcome in ("read", "refused")
                counts[outcome if good else "other"] += 1
                if not good:
                    wrong += 1
                    shown[outcome.split(":")[0]] += 1
                    if shown[outcome.split(":")[0]] <= 3:
                        print(f"  {kind}: {outcome[:300]!r}\n    {text!r}")
            print(f"{kind}: {counts.total()} spoiled, {counts['read']} read, {counts['refused']} refused, "
                  f"{counts['other']} otherwise; slowest {slowest:.2f} s of processor time")  # fmt: skip
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
