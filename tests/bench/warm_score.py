"""What a warm second hold says of simulated systems against their truth: by kind, inside and outside the model.

`python -m tests.bench.warm_score --jobs 60 --seed 33000` prints the table; the ends of the holds are told.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from decay.examine import examine_hold, fit_pulls
from decay.log.quality import inspect
from decay.phases import find_phases, hold_between
from decay.several.warm import Condition, Warmed, WarmMember, as_joint, fit_warm
from decay.simulation.simulated_run import run
from decay.system import System

from .jobs import RATE
from .outside import OUTSIDE, PAIRED, warm_pair

SPREAD = 2.0


@dataclass(frozen=True, slots=True)
class PairOutcome:
    """One pair of holds, in microns a minute: `detection` is the pair's limit, what is alone is the cold hold's."""

    kind: str
    seed: int
    truth: float
    low: float
    high: float
    alone_low: float
    alone_high: float
    detection: float
    energy: float
    failed: tuple[Condition, ...] = ()

    @property
    def is_denied(self) -> bool:
        """Not named, though the leak is above twice the limit that is stated for the pair."""
        return self.truth > 2 * self.detection and self.low <= 0.0


def pair_outcome(
    kind: str, seed: int, warmer: float = 15.0, is_rig_warmed: bool = True, is_half_warmed: bool = False
) -> PairOutcome:
    """Run one pair, fit it, and compare."""
    job = warm_pair(kind, seed, warmer=warmer, is_rig_warmed=is_rig_warmed, is_half_warmed=is_half_warmed)
    simulated = run(job)
    log, first = simulated.to_log(), simulated.readings.time[0]
    phases = find_phases(log, inspect(log))
    members = []
    for truth, temperature in zip(
        simulated.holds, (job.ambient.temperature, job.ambient.temperature + warmer), strict=True
    ):
        phase = hold_between(log, truth.start - first, min(truth.end - first, float(log.time[-1])))
        system = System(ambient=temperature, ambient_spread=SPREAD)
        hold = examine_hold(log, phase, system, phases=phases, pumpdowns=fit_pulls(log, phases, system))
        members.append(WarmMember(hold.measured, hold.report.fit, truth.start, temperature))
    cold, warm = members
    found = fit_warm(cold, warm, warmed=Warmed.PART if is_half_warmed else Warmed.ALL)
    leak, joint = found.leak, as_joint(found, cold.fit, warm.fit, (), ())
    return PairOutcome(
        kind, seed, simulated.holds[0].leak_rate / RATE if job.leaks else 0.0,
        leak.low / RATE if leak else float("nan"), leak.high / RATE if leak else float("nan"),
        cold.fit.leak.low / RATE, cold.fit.leak.high / RATE, joint.detection_limit / RATE if joint else float("nan"),
        found.energy / 1e3 if found.energy is not None else float("nan"), found.failed,
    )


def table(outcomes: list[PairOutcome]) -> str:
    """Return one row a kind and one for all, as text."""
    lines = [f"{'kind':12} {'pairs':>5} {'refused':>7} {'covered':>8} {'false':>7} {'named':>6} {'width':>6} "
             f"{'denied':>6} {'one hold:':>10} {'named':>6} {'width':>6} {'kJ/mol':>7}"]
    kinds = list(dict.fromkeys(o.kind for o in outcomes))
    for name in [*kinds, "all"]:
        rows = [o for o in outcomes if name in (o.kind, "all")]
        sure = [o for o in rows if not o.failed]
        tight, leaky = [o for o in sure if o.truth == 0], [o for o in sure if o.truth > 0]
        large = [o for o in leaky if o.truth > 3]
        lines.append(
            f"{name:12} {len(rows):5d} {len(rows) - len(sure):7d} "
            f"{_mean(o.low <= o.truth <= o.high for o in sure):8.3f} "
            f"{_mean(o.low > 0 for o in tight):7.4f} {_mean(o.low > 0 for o in leaky):6.3f} "
            f"{_median((o.high - o.low) / o.truth for o in large):6.3f} "
            f"{sum(o.is_denied for o in sure):6d} {'':10} "
            f"{_mean(o.alone_low > 0 for o in leaky):6.3f} "
            f"{_median((o.alone_high - o.alone_low) / o.truth for o in large):6.3f} "
            f"{_median(o.energy for o in sure if o.energy == o.energy):7.0f}"
        )
    return "\n".join(lines)


def _mean(values: object) -> float:
    found = list(values)  # type: ignore[call-overload]
    return float(np.mean(found)) if found else float("nan")


def _median(values: object) -> float:
    found = list(values)  # type: ignore[call-overload]
    return float(np.median(found)) if found else float("nan")


def main() -> None:
    """Run the pairs and print their tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10, help="pairs of each kind")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--warmer", type=float, default=15.0, help="difference of temperature in kelvin")
    parser.add_argument("--cold-rig", action="store_true", help="the rig was not warmed")
    parser.add_argument("--half", action="store_true", help="some sources were hardly warmed, and that is told")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument("--kind", action="append", help="only these kinds")
    options = parser.parse_args()
    kinds = options.kind or (*PAIRED, *OUTSIDE)
    tasks = [(kind, options.seed + i, options.warmer, not options.cold_rig, options.half)
             for kind in kinds for i in range(options.jobs)]
    with ProcessPoolExecutor(options.workers) as pool:
        outcomes = list(pool.map(pair_outcome, *zip(*tasks, strict=True), chunksize=4))
    for group in (PAIRED, OUTSIDE):
        if rows := [o for o in outcomes if o.kind in group]:
            print(table(rows), end="\n\n")
    for o in outcomes:
        if not o.failed and (not o.low <= o.truth <= o.high):
            print(f"missed: {o.kind} {o.seed}: truth {o.truth:.3g}, {o.low:.3g} to {o.high:.3g}")


if __name__ == "__main__":
    main()
