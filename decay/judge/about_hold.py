"""What belongs to a hold: its pull, its temperature, the holds that share its leak, and how long it counts."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.interval import Interval
from decay.judge.criteria import Criterion
from decay.log.pressure_log import PressureLog
from decay.log.quality import GAP
from decay.phases.phase import Phase
from decay.system import System

SMALL_SHARE = 0.02
"""A gap shorter than this share of the hold leaves its shape readable; our choice, no source. [-]"""
READINGS_SHORT = 2.0
"""Readings by which a hold may fall short: the first and the last of a stand seldom fall on the minute. [-]"""
LAG = 3.0
"""Time by which a gauge lags behind the valve, so that no closing is told better. Common practice, no source. [s]"""
CLOSING_SHARE = 0.1
"""Largest share of a stand that an uncertain closing may lend it; our choice, no source. [-]"""


def whole_leak(joint: JointFit | None, decisive: int | None, fit: HoldFit | None) -> Interval | None:
    """Return the steady rise of all holds together where they agree and the deciding one is among them. [Pa/s]"""
    if joint is not None and are_together(joint, decisive):
        return joint.leak
    return None if fit is None else fit.leak


def are_together(joint: JointFit | None, decisive: int | None) -> bool:
    """Tell whether one leak explains all holds of a joint fit, and the deciding hold is among them."""
    return joint is not None and joint.is_homogeneous and decisive in joint.holds_used


def pull_before(pumpdowns: tuple[PumpdownFit, ...], time: float) -> PumpdownFit | None:
    """Return the last pull that began before a time [s]."""
    earlier = [pull for pull in pumpdowns if pull.start < time]
    return earlier[-1] if earlier else None


def temperature_during(log: PressureLog, hold: HoldFit | Phase | None, system: System) -> float | None:
    """Return the median logged temperature of a hold, else the stated one, else ``None``. [K]"""
    known = [] if hold is None else sorted(log.temperatures(hold.start, hold.end).tolist())
    return known[len(known) // 2] if known else system.ambient


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
