"""By hand: whether the true closing lies in the stated range about as often as claimed, and how wide the range is.

`python -m tests.phases.doubts --jobs 20` finds the phases of jobs of the bench, of its zoo and of clean logs, all of
them synthetic and of known truth, and prints one row for each, by whether the readings show the closing themselves.
"""

from __future__ import annotations

import argparse

import numpy as np

from decay.log.quality import inspect
from decay.phases import Kind, Phase, find_phases
from decay.phases.phase import Begun
from tests.phases.constants import Truth, bench_logs, clean_logs, zoo_logs


def closings(made: Truth) -> list[tuple[Phase, float, bool]]:
    """Return the found holds of a log that begin with a closing, each with the true one and whether it shows. [s]"""
    log, ends, visible, _ = made
    holds = [phase for phase in find_phases(log, inspect(log)) if phase.kind is Kind.HOLD]
    found = []
    for (start, end), shows in zip(ends, visible, strict=True):
        shared = [min(end, hold.end) - max(start, hold.start) for hold in holds]
        best = int(np.argmax(shared)) if shared else -1
        is_same = best >= 0 and shared[best] >= 0.5 * min(holds[best].duration, end - start)
        if is_same and holds[best].begun is not Begun.LOG:
            found.append((holds[best], start, shows))
    return found


def row(name: str, found: list[tuple[Phase, float, float]]) -> str:
    """Return the row of a group: each found hold, its true closing, and what counts as none beside the doubt. [s]"""
    if not found:
        return f"{name:18} {0:5d}"
    off = np.array([hold.start - true for hold, true, _ in found])
    earlier, later = np.array([(hold.earlier, hold.later) for hold, _, _ in found]).T
    within = np.array([slack for _, _, slack in found])
    inside = (off <= earlier + within) & (off >= -later - within)
    wide = earlier + later
    numbers = [*np.quantile(np.abs(off), (0.5, 0.9)), *np.quantile(wide, (0.5, 0.9)), wide.mean()]
    return f"{name:18} {len(found):5d} {inside.mean():7.3f} " + " ".join(f"{number:9.1f}" for number in numbers)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=20, help="jobs of each kind, half as many of each trouble")
    parser.add_argument("--seed", type=int, default=500, help="first seed")
    options = parser.parse_args()
    jobs, seed = options.jobs, options.seed
    print(f"{'closings':18} {'holds':>5} {'covered':>7} {'off: half':>9} {'nine of10':>9} {'wide:half':>9} "
          f"{'nine of10':>9} {'mean':>9}")  # fmt: skip
    kinds = (("bench", bench_logs, jobs), ("zoo", zoo_logs, jobs // 2), ("clean", clean_logs, 4 * jobs))
    for name, make, count in kinds:
        logs = make(count, seed)
        found = [(*closing, made[3]) for made in logs for closing in closings(made)]
        for shows, word in ((True, "shown"), (False, "not shown")):
            group = [(hold, true, slack) for hold, true, is_shown, slack in found if is_shown is shows]
            print(row(f"{name}, {word}", group), flush=True)


if __name__ == "__main__":
    main()
