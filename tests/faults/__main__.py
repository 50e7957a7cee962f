"""Reads many damaged logs: ``python -m tests.faults --count 200000 --seed 0``; exit code 1 if one fault is found."""

from __future__ import annotations

import argparse
import hashlib
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from tests.faults.run import run

PIECE = 500


def main() -> int:
    """Run, print what came of it, and keep the files with faults where asked."""
    parser = argparse.ArgumentParser(description="Read damaged logs and look for tracebacks, hangs and lost rows.")
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder for the files with faults")
    given = parser.parse_args()
    pieces = [range(at, min(at + PIECE, given.count)) for at in range(0, given.count, PIECE)]
    read = refused = 0
    slowest = (0.0, 0)
    faults: list[tuple[str, bytes]] = []
    reasons: Counter[str] = Counter()
    with ProcessPoolExecutor(given.processes) as pool:
        for tally in pool.map(partial(run, seed=given.seed), pieces):
            read, refused = read + tally.read, refused + tally.refused
            slowest = max(slowest, (tally.slowest, tally.slowest_number))
            faults += tally.faults
            reasons += tally.reasons
            if (read + refused) % (20 * PIECE) == 0:
                print(f"{read + refused} read or refused, {len(faults)} faults", file=sys.stderr, flush=True)
    print(f"{given.count} damaged logs: {read} read, {refused} refused, {len(faults)} faults")
    print(f"  slowest: number {slowest[1]}, {slowest[0]:.2f} s of processor time")
    for reason, count in reasons.most_common(12):
        print(f"  refused {count:7d}  {reason}")
    for what, data in faults[:200]:
        name = hashlib.sha256(data).hexdigest()[:12]
        print(f"  FAULT {name} {what}")
        if given.keep is not None:
            given.keep.mkdir(parents=True, exist_ok=True)
            (given.keep / f"{name}.csv").write_bytes(data)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
