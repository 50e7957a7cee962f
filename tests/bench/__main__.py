"""The calibration bench by hand: `python -m tests.bench --jobs 100` judges so many random jobs of every kind."""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from .jobs import KINDS
from .score import Outcome, outcome, table
from .zoo import score as zoo
from .zoo.troubles import BY_NAME

SIZES = ((1.0, "a to 1"), (3.0, "b 1 to 3"), (10.0, "c 3 to 10"), (30.0, "d 10 to 30"), (1e9, "e above 30"))


def main() -> None:
    """Run the bench and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=30, help="jobs of each kind")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--kind", choices=KINDS, action="append", help="only these kinds")
    parser.add_argument("--odd", action="store_true", help="list the jobs that went wrong")
    parser.add_argument("--told", action="store_true", help="give the hold's ends instead of finding them")
    parser.add_argument("--zoo", action="store_true", help="gauges and loggers that misbehave, from text to verdict")
    parser.add_argument("--trouble", choices=tuple(BY_NAME), action="append", help="only these troubles of the zoo")
    options = parser.parse_args()
    if options.zoo:
        _zoo(options.trouble or list(BY_NAME), range(options.seed, options.seed + options.jobs), options.odd)
        return
    kinds = options.kind or KINDS
    tasks = [(kind, options.seed + i, options.told) for kind in kinds for i in range(options.jobs)]
    with ProcessPoolExecutor() as pool:
        outcomes: list[Outcome] = list(pool.map(outcome, *zip(*tasks, strict=True), chunksize=8))
    print(table(outcomes, by=lambda o: o.kind))
    print()
    print(table(outcomes, by=lambda o: f"hold {o.hold / 60:.0f} min"))
    print()
    print(table(outcomes, by=lambda o: f"every {o.interval:g} s"))
    print("\nby the true leak [micron/min]")
    print(table([o for o in outcomes if o.truth > 0], by=lambda o: next(name for top, name in SIZES if o.truth <= top)))
    cycles = [o for o in outcomes if o.joint_high == o.joint_high]
    if cycles:
        covered = sum(o.joint_low <= o.truth <= o.joint_high for o in cycles)
        leaky = [o for o in cycles if o.truth > 0]
        open_before = [o for o in leaky if not o.alone_low > 0]
        print(
            f"\njoint: {covered} of {len(cycles)} covered; of {len(leaky)} leaks {len(open_before)} unresolved by the "
            f"last hold alone, {sum(o.joint_low > 0 for o in open_before)} of these resolved jointly; "
            f"{sum(o.joint_low > 0 for o in cycles if o.truth == 0)} named falsely"
        )
    if options.odd:
        for o in outcomes:
            if not o.is_found or not o.is_covered or o.is_falsely_named or o.is_denied:
                print(o)


def _zoo(troubles: list[str], seeds: range, is_odd_listed: bool) -> None:
    """Run the zoo and print its table."""
    tasks = [(trouble, seed) for trouble in troubles for seed in seeds]
    with ProcessPoolExecutor() as pool:
        outcomes = list(pool.map(zoo.outcome, *zip(*tasks, strict=True), chunksize=4))
    print(zoo.table(outcomes))
    for o in outcomes if is_odd_listed else ():
        if o.is_odd:
            print(o)


if __name__ == "__main__":
    main()
