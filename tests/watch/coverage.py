"""How often the looks at a growing hold miss the truth: every look, any look, and what ordinary intervals would do.

By hand: `python -m tests.watch.coverage --holds 300`. All holds are synthetic, made by formula; each is watched from
its start to its end with the valve's closing told, so that the looks alone are tried and not the finding of holds. With
`--jobs 10` whole jobs of the calibration bench are watched instead, where holds have to be found among all else.

`--race` holds the spending rule against Bonferroni's inequality over `1/(k(k+1))`: in November 2026, of 96 holds of an
hour, none was wrong and none missed by any look, and they decided after 0.973 of the time on average, by kind 0.958 to
1.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from unittest.mock import patch

import numpy as np

from decay.judge.criteria import load_criterion
from decay.phases.phase import Kind, Phase
from decay.simulation import run
from decay.system import Allowance, AllowKind, System
from decay.watch import sequence, spending
from decay.watch.follow import upto
from decay.watch.look import Decision
from decay.watch.sequence import Watcher

from ..bench.jobs import KINDS as BENCH
from ..bench.jobs import random_job
from ..fit.holds import DRY_PULL, PER_MINUTE, fit_of, hold_log, levelling, steady, together

KINDS = ("dry", "leak", "damp", "leak_damp", "surface", "wander")


@dataclass(frozen=True)
class Watched:
    """One hold: number of looks, and whether any of them missed, at their own levels and at the ordinary one."""

    kind: str
    looks: int
    missed: bool
    missed_by_ordinary: bool
    last_missed: bool
    missed_low: bool
    ordinary_low: bool
    width_ratio: float


PULL = 1800.0  # s


def pulled(log):
    """Return a log with a pull down to the hold's first reading in front of it, and its number of readings."""
    time = np.arange(0.0, PULL, 5.0)
    fall = log.pressure[0] + 101325.0 * np.exp(-time / 25.0) + 40.0 * np.exp(-time / 300.0)
    count = len(time)
    return replace(
        log,
        time=np.append(time, PULL + log.time),
        pressure=np.append(fall, log.pressure),
        line=np.arange(1, count + len(log.time) + 1),
        is_over_range=np.zeros(count + len(log.time), bool),
        step=np.append(np.full(count, log.step[0]), log.step),
        rows=count + len(log.time),
    ), count


def phase_of(log, kind, first, last):
    """Return the phase from one reading to another."""
    return Phase(kind, first, last, float(log.time[first]), float(log.time[last]), float(log.pressure[first]),
                 float(log.pressure[last]))


def rise_of(kind, rng):
    """Return a rise [micron over s] and its true steady part [micron/min]."""
    leak = float(np.exp(rng.uniform(np.log(0.5), np.log(50.0)))) if "leak" in kind or kind == "wander" else 0.0
    parts = [steady(leak)]
    if "damp" in kind:
        parts += [levelling(rng.uniform(50, 800), rng.uniform(60, 1800)) for _ in range(int(rng.integers(1, 3)))]
    if kind == "surface":
        age, scale, power = rng.uniform(1800, 5400), rng.uniform(1, 8) / 60, rng.uniform(0.8, 1.2)
        parts.append(lambda t: scale * age * ((1 + t / age) ** (1.0001 - power) - 1) / (1.0001 - power))
    if kind == "wander":
        step, memory, size = 2.0, rng.uniform(20, 90), rng.uniform(0.2, 0.8)
        n = 5000
        kept = np.exp(-step / memory)
        noise = rng.normal(0, size * np.sqrt(1 - kept**2), n)
        for i in range(1, n):
            noise[i] += kept * noise[i - 1]
        parts.append(lambda t: np.interp(t, step * np.arange(n), noise))
    return together(*parts), leak


def watched(kind, seed, *, length=3600.0, beside=1):
    """Watch one hold to its end; an ordinary interval stands beside every look, or beside one in so many."""
    rng = np.random.default_rng([seed, KINDS.index(kind), 77])
    rise, leak = rise_of(kind, rng)
    log, _ = hold_log(rise, length=length, sampling=float(rng.choice([2.0, 5.0])), noise=rng.uniform(0.3, 1.0),
                      start=rng.uniform(50, 400), seed=seed)
    log, count = pulled(log)
    watcher = Watcher(System(ambient=296.15), load_criterion(), ranks_tests=False)
    truth = leak * PER_MINUTE
    missed, ordinary, low, ordinary_low, widths = [], [], [], [], []
    for end in np.arange(60.0, length + 1, 15.0):
        part = upto(log, int(np.searchsorted(log.time, PULL + end, side="right")))
        pull, phase = phase_of(part, Kind.PUMPDOWN, 0, count - 1), phase_of(part, Kind.HOLD, count, len(part.time) - 1)
        status = watcher.see_hold(part, (pull, phase))
        if not status.is_new_look:
            continue
        missed.append(not status.look.leak.low <= truth <= status.look.leak.high)
        low.append(status.look.leak.low > truth)
        if len(missed) % beside:
            continue
        once = fit_of(part, phase, ambient=296.15, pull=DRY_PULL, under_vacuum=PULL).leak
        ordinary.append(not once.low <= truth <= once.high)
        ordinary_low.append(once.low > truth)
        widths.append(status.look.leak.width / once.width)
    return Watched(kind, len(missed), any(missed), any(ordinary), missed[-1], any(low), any(ordinary_low),
                   float(np.median(widths)))


def table(results):
    """Return one row for each kind and one for all, as text."""
    lines = [f"{'kind':10} {'holds':>6} {'looks':>6} {'any look':>9} {'last look':>10} {'any of 95 %':>12} "
             f"{'named too high':>15} {'of 95 %':>8} {'width':>6}"]
    for kind in [*dict.fromkeys(r.kind for r in results), "all"]:
        own = [r for r in results if kind in (r.kind, "all")]
        share = [float(np.mean([getattr(r, name) for r in own])) for name in
                 ("looks", "missed", "last_missed", "missed_by_ordinary", "missed_low", "ordinary_low", "width_ratio")]
        lines.append(f"{kind:10} {len(own):6d} {share[0]:6.1f} {share[1]:9.3f} {share[2]:10.3f} {share[3]:12.3f} "
                     f"{share[4]:15.3f} {share[5]:8.3f} {share[6]:6.2f}")
    return "\n".join(lines)


@dataclass(frozen=True)
class Race:
    """One hold watched by two rules: when each decided [s], whether wrongly, whether any look's interval missed."""

    kind: str
    decided: tuple[float, float]
    wrong: tuple[bool, bool]
    missed: tuple[bool, bool]


def bonferroni(number, alpha=0.05, growth=1.25):
    """Return the level of the k-th look by Bonferroni's inequality over 1/(k(k+1)): the rule to be better than."""
    return 1.0 - alpha / (number * (number + 1))


def race(kind, seed, *, length=3600.0):
    """Watch one hold to its end by the spending function and by Bonferroni's inequality."""
    rng = np.random.default_rng([seed, KINDS.index(kind), 78])
    rise, leak = rise_of(kind, rng)
    log, _ = hold_log(rise, length=length, sampling=float(rng.choice([2.0, 5.0])), noise=rng.uniform(0.3, 1.0),
                      start=rng.uniform(50, 400), seed=seed)
    log, count = pulled(log)
    allowed = float(np.exp(rng.uniform(np.log(0.2), np.log(10.0))))
    system = System(ambient=296.15, allow=Allowance(AllowKind.RISE, allowed * PER_MINUTE, "allowed"))
    decided, wrong, missed = [], [], []
    for rule in (spending.level_of, bonferroni):
        with patch.object(sequence, "level_of", rule), patch.object(Watcher, "_decisive_length", lambda *_: np.inf):
            watcher = Watcher(system, load_criterion("field-line"), hold_from=lambda started: PULL, ranks_tests=False)
            first, is_wrong, is_missed, end = np.inf, False, False, watcher.first
            while end <= length + 1.0:
                part = upto(log, int(np.searchsorted(log.time, PULL + end, side="right")))
                pull = phase_of(part, Kind.PUMPDOWN, 0, count - 1)
                status = watcher.see_hold(part, (pull, phase_of(part, Kind.HOLD, count, len(part.time) - 1)))
                if status.look is not None and status.is_new_look:
                    is_missed |= not status.look.leak.low <= leak * PER_MINUTE <= status.look.leak.high
                    if status.decision is not Decision.OPEN and not np.isfinite(first):
                        first = status.look.length
                    is_wrong |= (status.decision is Decision.SHOWN and leak <= allowed) or (
                        status.decision is Decision.EXCLUDED and leak > allowed)
                end = max(status.next_look or 0.0, end + 5.0)
            decided.append(first)
            wrong.append(bool(is_wrong))
            missed.append(bool(is_missed))
    return Race(kind, tuple(decided), tuple(wrong), tuple(missed))


def table_of_races(races):
    """Return one row for each kind and one for all, as text."""
    lines = [f"{'kind':10} {'holds':>6} {'wrong':>6} {'missed':>7} {'decided':>8} {'by old':>7} {'length, of old':>15}"]
    for kind in [*dict.fromkeys(r.kind for r in races), "all"]:
        own = [r for r in races if kind in (r.kind, "all")]
        both = [r for r in own if np.isfinite(r.decided).all()]
        ratio = np.exp(np.mean([np.log(r.decided[0] / r.decided[1]) for r in both])) if both else np.nan
        new, old = (sum(np.isfinite(r.decided[i]) for r in own) for i in (0, 1))
        lines.append(f"{kind:10} {len(own):6d} {sum(r.wrong[0] for r in own):6d} {sum(r.missed[0] for r in own):7d} "
                     f"{new:8d} {old:7d} {ratio:15.3f}")
    return "\n".join(lines)


@dataclass(frozen=True)
class Job:
    """One whole invented job, watched from its first reading, its hold found or told."""

    kind: str
    looks: int
    missed: bool
    wrongly_excluded: bool
    wrongly_shown: bool
    decided: str
    strayed: int


def job(kind, seed, is_told, allowed=2.0):
    """Watch one random job of the calibration bench; the leak that matters is in microns a minute."""
    made_for = random_job(kind, seed)
    made = run(made_for)
    log, first, truth = made.to_log(), made.readings.time[0], made.holds[-1]
    begin = truth.start - first
    leak = truth.leak_rate if made_for.leaks else 0.0
    system = System(ambient=made_for.ambient.temperature, ambient_spread=2.0,
                    allow=Allowance(AllowKind.RISE, allowed * PER_MINUTE, "allowed"))
    watcher = Watcher(system, load_criterion(), hold_from=(lambda log: begin) if is_told else None, ranks_tests=False)
    looks = strayed = 0
    missed = excluded = shown = False
    status = None
    for end in np.arange(60.0, log.time[-1] + 30.0, 30.0):
        if is_told and end < begin + 60.0:
            continue
        status = watcher.see(upto(log, int(np.searchsorted(log.time, end, side="right"))))
        if status is None or status.look is None:
            continue
        if status.is_new_look:
            is_it = abs(status.look.start - begin) < max(30.0, 0.1 * status.look.length)
            looks += is_it
            strayed += not is_it
            missed |= is_it and not status.look.leak.low <= leak <= status.look.leak.high
        excluded |= status.decision is Decision.EXCLUDED and leak > allowed * PER_MINUTE
        shown |= status.decision is Decision.SHOWN and leak <= allowed * PER_MINUTE
    return Job(kind, looks, missed, excluded, shown, str(status.decision) if status else "", strayed)


def table_of_jobs(jobs):
    """Return one row for each kind and one for all, as text."""
    lines = [f"{'kind':10} {'jobs':>5} {'looks':>6} {'astray':>7} {'any look':>9} {'wrongly excluded':>17} "
             f"{'wrongly shown':>14} {'decided':>8}"]
    for kind in [*dict.fromkeys(j.kind for j in jobs), "all"]:
        own = [j for j in jobs if kind in (j.kind, "all")]
        lines.append(f"{kind:10} {len(own):5d} {np.mean([j.looks for j in own]):6.1f} "
                     f"{np.mean([j.strayed for j in own]):7.1f} {sum(j.missed for j in own):9d} "
                     f"{sum(j.wrongly_excluded for j in own):17d} {sum(j.wrongly_shown for j in own):14d} "
                     f"{np.mean([j.decided in ('shown', 'excluded') for j in own]):8.2f}")
    return "\n".join(lines)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--holds", type=int, default=30, help="holds of each kind")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--kind", choices=[*KINDS, *BENCH], action="append", help="only these kinds")
    parser.add_argument("--jobs", type=int, default=0, help="whole jobs of each kind of the bench instead")
    parser.add_argument("--race", action="store_true", help="against looks by Bonferroni's inequality")
    parser.add_argument("--told", action="store_true", help="with --jobs: tell when the valve was closed")
    asked = parser.parse_args()
    if asked.jobs:
        kinds = asked.kind or BENCH
        print(table_of_jobs([job(kind, asked.seed + i, asked.told) for kind in kinds for i in range(asked.jobs)]))
        sys.exit()
    if asked.race:
        print(table_of_races([race(kind, asked.seed + i) for kind in asked.kind or KINDS for i in range(asked.holds)]))
        sys.exit()
    print(table([watched(kind, asked.seed + i) for kind in asked.kind or KINDS for i in range(asked.holds)]))
