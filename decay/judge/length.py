"""How long a hold counts: the time that readings fill; and when it is as long as a stand asks."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.fit.results import HoldFit
from decay.judge.criteria import Criterion
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase

GAP = 5.0
"""A distance between readings this many times the usual one is a gap; our choice, no source. [-]"""
SMALL_SHARE = 0.02
"""A gap shorter than this share of the hold leaves its shape readable; our choice, no source. [-]"""
READINGS_SHORT = 2.0
"""Readings by which a hold may fall short: the first and the last of a stand seldom fall on the minute. [-]"""
LAG = 3.0
"""Time by which a gauge lags behind the valve, so that no closing is told better. Common practice, no source. [s]"""
CLOSING_SHARE = 0.1
"""Largest share of a stand that an uncertain closing may lend it; our choice, no source. [-]"""


def gaps(log: PressureLog, hold: HoldFit | Phase) -> tuple[FloatArray, FloatArray]:
    """Return last reading before, and length, of each stretch of a hold that no reading fills; over range fills. [s]"""
    return _gaps(_times(log, hold), log, hold)


def _gaps(time: FloatArray, log: PressureLog, hold: HoldFit | Phase) -> tuple[FloatArray, FloatArray]:
    distance = np.diff(time)
    large = distance > max(GAP * log.sampling, SMALL_SHARE * (hold.end - hold.start))
    return time[:-1][large], distance[large]


def filled(log: PressureLog, hold: HoldFit | Phase) -> tuple[FloatArray, FloatArray]:
    """Return the times of a hold's readings in the log, and the time that readings fill up to each. [s]

    The second is counted from the start of the hold; a gap counts as one distance between readings.
    """
    time = _times(log, hold)
    starts, lengths = _gaps(time, log, hold)
    if not len(starts):
        return time, time - hold.start
    missing = lengths - log.sampling
    before = np.searchsorted(starts, time, side="left")
    return time, time - hold.start - np.concatenate(([0.0], np.cumsum(missing)))[before]


def held(log: PressureLog, hold: HoldFit | Phase) -> float:
    """Return how long a hold was watched, without its gaps. [s]"""
    _, elapsed = filled(log, hold)
    return float(elapsed[-1]) if len(elapsed) else 0.0


def missing_of(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog, doubt: tuple[float, float] = (0.0, 0.0)
               ) -> float:
    """Return what a hold lacks of the length that a criterion asks for.

    Parameters
    ----------
    criterion : Criterion
        The practice.
    hold : HoldFit or Phase
        The hold.
    log : PressureLog
        The readings. [s]
    doubt : tuple of float
        By how much the valve may have closed before and after the hold is seen to begin. [s]

    Returns
    -------
    float
        0 where it is long enough: short by no more than two readings and what the closing is uncertain. A closing that
        may lie later by more than a small share of the stand proves only what came after that. [s]
    """
    earlier, later = doubt
    lent = CLOSING_SHARE * criterion.hold
    lacking = criterion.hold - held(log, hold) + max(later - lent, 0.0)
    sampling = log.sampling if np.isfinite(log.sampling) else 0.0
    slack = READINGS_SHORT * sampling + min(max(earlier, LAG), lent)
    return lacking if lacking > slack else 0.0


def _times(log: PressureLog, hold: HoldFit | Phase) -> FloatArray:
    inside = slice(*np.searchsorted(log.time, (hold.start, np.nextafter(hold.end, np.inf))))
    times: FloatArray = log.time[inside][np.isfinite(log.pressure[inside]) | log.is_over_range[inside]]
    return times
