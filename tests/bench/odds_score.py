"""How often the odds of a leak come true: in the population that they assume, by kind of the bench, and outside both.

`--assumed` draws the jobs from the priors themselves: there the odds have to come true. The bench's kinds are another
population: two of three with dry walls leak, one of three with a slow source, and slow sources are slower and more
alike. There the share is counted twice: as the bench has it, and with every job weighed so that leaks are half of each
kind of source.

`python -m tests.bench.odds_score --jobs 100 --seed 61000`: the ends of the holds are told.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from decay.fit.odds import LIKELY, UNLIKELY
from decay.judge.finding import Cause
from decay.pipeline import Ahead, analyze_log
from decay.simulation.simulated_run import run
from decay.system import System

from .jobs import KINDS
from .outside import ASSUMED, OUTSIDE, any_job

EDGES = (0.0, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99, 1.0001)
NAMED = (Cause.LEAK, Cause.LEAK_AND_OUTGASSING)
SOURCES = {
    "dry": "walls", "leak": "walls", "rig_leak": "walls", "damp": "damp", "leak_damp": "damp", "cycles": "damp",
    "slow_damp": "slow", "oil": "slow", "slow_cycles": "slow",
}
"""What gives off gas in each kind."""


@dataclass(frozen=True, slots=True)
class Graded:
    """One job: whether it leaks, whether the interval names the leak, and the odds where it leaves one open."""

    kind: str
    is_leaky: bool
    is_named: bool
    odds: float | None


def graded(kind: str, seed: int) -> Graded:
    """Run one job and judge its last hold alone."""
    job = any_job(kind, seed)
    simulated = run(job)
    log, first = simulated.to_log(), simulated.readings.time[0]
    truth = simulated.holds[-1]
    system = System(ambient=job.ambient.temperature, ambient_spread=2.0)
    told = (truth.start - first, min(truth.end - first, float(log.time[-1])))
    found = analyze_log(log, system, hold=told, ahead=Ahead.ODDS)
    return Graded(kind, bool(job.leaks), found.verdict.cause in NAMED, found.basis.odds_of_leak)


def balanced(found: list[Graded]) -> np.ndarray:
    """Return each job's weight by which tight and leaking ones of each kind of source count the same."""
    groups = [(SOURCES.get(g.kind, g.kind), g.is_leaky) for g in found]
    return np.array([1.0 / groups.count(group) for group in groups])


def main() -> None:
    """Grade many jobs and print what came true."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10, help="jobs of each kind")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    others = parser.add_mutually_exclusive_group()
    others.add_argument("--outside", action="store_true", help="the kinds outside the model instead")
    others.add_argument("--assumed", action="store_true", help="jobs drawn from the priors instead")
    options = parser.parse_args()
    inside = ASSUMED if options.assumed else tuple(kind for kind in KINDS if kind != "wet")
    kinds = OUTSIDE if options.outside else inside
    tasks = [(kind, options.seed + i) for kind in kinds for i in range(options.jobs)]
    with ProcessPoolExecutor(options.workers) as pool:
        found = list(pool.map(graded, *zip(*tasks, strict=True), chunksize=4))
    weights = balanced(found)
    print(f"{'odds':>14} {'jobs':>5} {'mean':>6} {'leaky':>6} {'mean':>12} {'leaky':>6} (weighed)")
    for low, high in pairwise(EDGES):
        at = [i for i, g in enumerate(found) if g.odds is not None and low <= g.odds < high]
        if at:
            both = np.array([(found[i].odds, found[i].is_leaky) for i in at], dtype=float)
            mean, leaky = both.mean(axis=0)
            evenly, leaking = np.average(both, axis=0, weights=weights[at])
            print(f"{low:6.2f} to {min(high, 1.0):4.2f} {len(at):5d} {mean:6.3f} {leaky:6.3f} "
                  f"{evenly:12.3f} {leaking:6.3f}")
    print(f"\n{'kind':12} {'jobs':>5} {'leaks':>6} {'named':>6} {'likely':>7} {'tight':>6} {'named':>6} {'likely':>7} "
          f"{'unlikely':>9}")
    for kind in (*kinds, "all"):
        rows = [g for g in found if kind in (g.kind, "all")]
        leaks, tight = [g for g in rows if g.is_leaky], [g for g in rows if not g.is_leaky]
        print(f"{kind:12} {len(rows):5d} {len(leaks):6d} {sum(g.is_named for g in leaks):6d} {_likely(leaks):7d} "
              f"{len(tight):6d} {sum(g.is_named for g in tight):6d} {_likely(tight):7d} "
              f"{sum(g.odds is not None and g.odds <= UNLIKELY for g in tight):9d}")


def _likely(rows: list[Graded]) -> int:
    return sum(g.odds is not None and g.odds >= LIKELY for g in rows)


if __name__ == "__main__":
    main()
