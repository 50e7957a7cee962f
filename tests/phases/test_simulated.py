"""The edges of physically simulated jobs with a clean gauge: synthetic, from the forward model, not from the search."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from decay.log import quality
from decay.phases import Kind, find_phases
from decay.simulation.simulated_run import run
from tests.bench.jobs import KINDS, random_job

MICRON = 0.133322387415
SEEDS = (100, 103, 107, 108)


@cache
def score() -> tuple[np.ndarray, np.ndarray, np.ndarray, int, int, int]:
    """Return errors at start and end in tolerances, which closings can be seen, holds, missed and invented ones.

    A closing can be seen where the pressure rises by more than two steps of the gauge within the tolerance of
    2 samples or 3 s; where it does not, no method could place it to the reading.
    """
    starts, ends, seen = [], [], []
    holds = missed = invented = 0
    for seed in SEEDS:
        for kind in KINDS:
            job = random_job(kind, seed)
            made = run(replace(job, gauge=replace(job.gauge, wander=0.0, noise=0.1 * MICRON, relative_noise=0.001)))
            log = made.to_log()
            begin = float(made.readings.time[0])
            found = [phase for phase in find_phases(log, quality.inspect(log)) if phase.kind is Kind.HOLD]
            tolerance = max(3.0, 2 * log.sampling)
            used = set()
            for stretch in made.stretches:
                if stretch.kind.value != "hold":
                    continue
                holds += 1
                start, end = stretch.start - begin, min(stretch.end - begin, float(log.time[-1]))
                over = log.time[log.is_over_range & (log.time > start)]
                end = min(end, float(over[0]) - log.sampling) if len(over) else end
                shared = [min(end, phase.end) - max(start, phase.start) for phase in found]
                if not shared or max(shared) <= 0:
                    missed += 1
                    continue
                best = int(np.argmax(shared))
                used.add(best)
                starts.append((found[best].start - start) / tolerance)
                ends.append((found[best].end - end) / tolerance)
                pressure = np.where(log.is_over_range, np.nanmax(log.pressure), log.pressure)
                first, last = np.interp([start, start + tolerance], log.time, pressure)
                seen.append(last - first > 2 * log.step[np.searchsorted(log.time, start)])
            invented += len(found) - len(used)
    return np.abs(starts), np.abs(ends), np.asarray(seen), holds, missed, invented


def test_closings_that_can_be_seen_are_placed():
    starts, _, seen, _, _, _ = score()
    assert seen.sum() >= 15
    assert np.mean(starts[seen] <= 1) >= 0.9


def test_ends_are_placed():
    _, ends, _, _, _, _ = score()
    assert np.mean(ends <= 1) >= 0.95


def test_few_holds_are_missed_or_invented():
    _, _, _, holds, missed, invented = score()
    assert holds >= 36
    assert missed <= 0.05 * holds
    assert invented <= 0.05 * holds
