"""Over many simulated holds: a larger leak does not lower the upper limit, a shorter hold does not narrow the interval.

Each pair shares its noise, so that the difference is the leak's or the length's. The tolerance is the Monte Carlo error
of the mean difference, three times: one of some 700 sound runs would exceed it, and the seeds are fixed.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from decay.fit.hold import excluded_and_shown
from decay.fit.measured import measure
from tests.fit.holds import DRY_PULL, PER_MINUTE, fit_of, hold_log, levelling, steady, together

HOLDS = 14
ERRORS = 3.0  # standard errors of the mean
KINDS = pytest.mark.parametrize("damp", [0.0, 150.0], ids=["dry", "damp"])


def leak_of(log, phase):
    return fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL, ambient=296.0).leak


def hold(leak, damp, seed, length=1200.0):
    """Return a hold of a leak [micron/min] and of moisture that levels off [micron]."""
    return hold_log(together(steady(leak), levelling(damp, 500.0)), length=length, sampling=4.0, seed=seed)


@cache
def upper_limit(leak, damp, seed):
    log, phase = hold(leak, damp, seed)
    return excluded_and_shown(measure(log, phase, 296.0, 3.0), under_vacuum=1800.0, pull=DRY_PULL)[0]


def test_the_upper_limit_is_that_of_the_whole_fit():
    assert upper_limit(2.0, 150.0, 0) == leak_of(*hold(2.0, 150.0, 0)).high


def shortened(log, phase, share):
    """Return the first share of a hold: the same readings with the same noise."""
    n = round(share * len(log.time))
    arrays = {name: getattr(log, name)[:n] for name in ("time", "pressure", "line", "is_over_range", "step")}
    return replace(log, **arrays, rows=n), replace(
        phase, last=n - 1, end=float(log.time[n - 1]), end_pressure=float(log.pressure[n - 1]))


def mean_and_error(differences):
    return float(np.mean(differences)), float(np.std(differences, ddof=1) / np.sqrt(len(differences)))


@KINDS
@pytest.mark.parametrize(("smaller", "larger"), [(0.0, 0.5), (0.5, 2.0), (2.0, 20.0)])
def test_a_larger_leak_does_not_lower_the_upper_limit(damp, smaller, larger):
    differences = [(upper_limit(larger, damp, seed) - upper_limit(smaller, damp, seed)) / PER_MINUTE
                   for seed in range(HOLDS)]
    mean, error = mean_and_error(differences)
    assert mean + ERRORS * error >= 0.0
    # It has to grow, too: a limit that is the same for every leak says nothing. The noise being the same, the limit
    # moves with the leak.
    assert mean > ERRORS * error


@KINDS
@pytest.mark.parametrize("leak", [0.0, 3.0])
def test_a_shorter_hold_does_not_narrow_the_interval(damp, leak):
    differences = []
    for seed in range(HOLDS):
        log, phase = hold(leak, damp, seed, length=2400.0)
        half = leak_of(*shortened(log, phase, 0.5))
        differences.append((half.width - leak_of(log, phase).width) / PER_MINUTE)
    mean, error = mean_and_error(differences)
    assert mean + ERRORS * error >= 0.0
    assert mean > ERRORS * error  # half the hold does cost something
