"""Whether the next test that is chosen for a hold which left a leak open decides it, when it is carried out.

`python -m tests.bench.next_score --jobs 40 --seed 33000`: leaks only, the ends of the holds told.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from decay.examine import ExaminedHold, examine_hold, fit_pulls
from decay.judge.finding import Cause
from decay.log.quality import inspect
from decay.phases import find_phases, hold_between
from decay.several.joint import Member, fit_joint
from decay.several.next_test import MORE_PULL, NextTest, TestKind, next_tests
from decay.several.warm import Warmed, WarmMember, fit_warm
from decay.simulation.job import Job, Step
from decay.simulation.kinds import StepKind
from decay.simulation.simulated_run import run
from decay.system import System

from .outside import WARMER, warm_pair

KINDS = ("leak", "leak_damp", "rig_leak", "oil")


@dataclass(frozen=True, slots=True)
class Carried:
    """One chosen test and whether it named the leak."""

    kind: str
    seed: int
    test: TestKind
    minutes: float
    chance: float
    is_decided: bool


def carried_out(kind: str, seed: int, only: TestKind | None = None) -> Carried | None:
    """Choose the next test of one leaking system and do it; None where the first hold needs none."""
    job = warm_pair(kind, seed)
    single = replace(job, steps=job.steps[:3])
    if not job.leaks:
        return None
    (first,), _ = _holds(single, [0.0])
    if first.report.cause is not Cause.UNRESOLVED or not first.report.fit.tests.adequate:
        return None
    ranked = [t for t in next_tests(first.measured, first.report.fit, first.under_vacuum)
              if t.chance is not None and only in (None, t.kind)]
    if not ranked:
        return None
    best = ranked[0]
    return Carried(kind, seed, best.kind, best.minutes, best.chance or 0.0, _decides(job, best))


def _decides(job: Job, test: NextTest) -> bool:
    """Tell whether the test names the leak."""
    length = test.hold or 0.0
    if test.kind is TestKind.LONGER:
        (hold,), _ = _holds(replace(job, steps=(*job.steps[:2], replace(job.steps[2], duration=length))), [0.0])
        return hold.report.fit.leak.low > 0.0
    if test.kind is TestKind.AGAIN:
        again = (Step(StepKind.PUMP, MORE_PULL), Step(StepKind.HOLD, length))
        holds, starts = _holds(replace(job, steps=(*job.steps[:3], *again)), [0.0, 0.0])
        members = [Member(h.measured, s, h.report.fit.plain_inflation, under_vacuum=h.under_vacuum)
                   for h, s in zip(holds, starts, strict=True)]
        found = fit_joint(members, is_split=False)
        return found.is_homogeneous and found.leak.low > 0.0
    steps = (*job.steps[:4], replace(job.steps[4], duration=length))
    holds, starts = _holds(replace(job, steps=steps), [0.0, WARMER])
    cold, warm = (
        WarmMember(h.measured, h.report.fit, s, job.ambient.temperature + t)
        for h, s, t in zip(holds, starts, (0.0, WARMER), strict=True)
    )
    leak = fit_warm(cold, warm, warmed=Warmed.ALL).leak
    return leak is not None and leak.low > 0.0


def _holds(job: Job, warmer: list[float]) -> tuple[list[ExaminedHold], list[float]]:
    """Run a job and examine its holds between their told ends."""
    simulated = run(job)
    log, begin = simulated.to_log(), simulated.readings.time[0]
    phases = find_phases(log, inspect(log))
    holds = []
    for truth, more in zip(simulated.holds, warmer, strict=True):
        phase = hold_between(log, truth.start - begin, min(truth.end - begin, float(log.time[-1])))
        system = System(ambient=job.ambient.temperature + more, ambient_spread=2.0)
        holds.append(examine_hold(log, phase, system, phases=phases, pumpdowns=fit_pulls(log, phases, system)))
    return holds, [truth.start for truth in simulated.holds]


def main() -> None:
    """Choose and carry out many tests, and print how many decided."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10, help="leaks of each kind")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument("--only", choices=list(TestKind), help="always do this one")
    options = parser.parse_args()
    tasks = [(kind, options.seed + i, options.only and TestKind(options.only))
             for kind in KINDS for i in range(options.jobs)]
    with ProcessPoolExecutor(options.workers) as pool:
        found = [c for c in pool.map(carried_out, *zip(*tasks, strict=True), chunksize=2) if c is not None]
    print(f"{'test':10} {'done':>5} {'decided':>8} {'chance':>7} {'minutes':>8}")
    for name in (*TestKind, "all"):
        if rows := [c for c in found if name in (c.test, "all")]:
            print(f"{name:10} {len(rows):5d} {np.mean([c.is_decided for c in rows]):8.2f} "
                  f"{np.mean([c.chance for c in rows]):7.2f} {np.median([c.minutes for c in rows]):8.0f}")
    for low, high in ((0.0, 0.3), (0.3, 0.7), (0.7, 1.01)):
        if rows := [c for c in found if low <= c.chance < high]:
            share = np.mean([c.is_decided for c in rows])
            print(f"chance {low:.1f} to {high:.1f}: {len(rows)} done, {share:.2f} decided")


if __name__ == "__main__":
    main()
