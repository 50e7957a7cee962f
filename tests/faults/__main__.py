"""Reads many damaged logs: ``python -m tests.faults --count 200000 --seed 0``; exit code 1 if one fault is found."""

from __future__ import annotations

import argparse
import hashlib
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from tests.faults import laws
from tests.faults.run import run

PIECE = 500


def main() -> int:
    """Run, print what came of it, and keep the files with faults where asked."""
    parser = argparse.ArgumentParser(description="Read damaged logs and look for tracebacks, hangs and lost rows.")
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder for the files with faults")
    parser.add_argument("--structure", action="store_true",
                        help="change structure and meaning, and hold the whole answer against its laws")
    given = parser.parse_args()
    if given.structure:
        return _structure(given.count, given.seed, given.processes, given.keep)
    pieces = [range(at, min(at + PIECE, given.count)) for at in range(0, given.count, PIECE)]
    read = refused = fast = 0
    slowest = (0.0, 0)
    faults: list[tuple[str, bytes]] = []
    reasons: Counter[str] = Counter()
    with ProcessPoolExecutor(given.processes) as pool:
        for tally in pool.map(partial(run, seed=given.seed), pieces):
            read, refused, fast = read + tally.read, refused + tally.refused, fast + tally.fast
            slowest = max(slowest, (tally.slowest, tally.slowest_number))
            faults += tally.faults
            reasons += tally.reasons
            if (read + refused) % (20 * PIECE) == 0:
                print(f"{read + refused} read or refused, {len(faults)} faults", file=sys.stderr, flush=True)
    print(f"{given.count} damaged logs: {read} read, {refused} refused, {len(faults)} faults")
    print(f"  {fast} of them read the fast way too, and held against pandas")
    print(f"  slowest: number {slowest[1]}, {slowest[0]:.2f} s of processor time")
    for reason, count in reasons.most_common(12):
        print(f"  refused {count:7d}  {reason}")
    return _tell(faults, given.keep)


def _structure(count: int, seed: int, processes: int, keep: Path | None) -> int:
    """Judge mutated logs and print what came of it."""
    pieces = [range(at, min(at + 100, count)) for at in range(0, count, 100)]
    judged = refused = 0
    slowest = (0.0, 0)
    results: Counter[str] = Counter()
    faults: list[tuple[str, bytes]] = []
    with ProcessPoolExecutor(processes) as pool:
        for tally in pool.map(partial(laws.run, seed=seed), pieces):
            judged, refused = judged + tally.judged, refused + tally.refused
            slowest = max(slowest, (tally.slowest, tally.slowest_number))
            faults += tally.faults
            results += tally.results
            if (judged + refused) % 2000 < 100:
                print(f"{judged + refused} judged or refused, {len(faults)} faults", file=sys.stderr, flush=True)
    said = ", ".join(f"{number} {result}" for result, number in results.most_common())
    print(f"{count} mutated logs: {judged} judged ({said}), {refused} refused, {len(faults)} faults")
    print(f"  slowest: number {slowest[1]}, {slowest[0]:.2f} s of processor time")
    return _tell(faults, keep)


def _tell(faults: list[tuple[str, bytes]], keep: Path | None) -> int:
    """Print the faults, and keep their files where asked."""
    for what, data in faults[:200]:
        name = hashlib.sha256(data).hexdigest()[:12]
        print(f"  FAULT {name} {what}")
        if keep is not None:
            keep.mkdir(parents=True, exist_ok=True)
            (keep / f"{name}.csv").write_bytes(data)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
