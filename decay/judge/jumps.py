"""Where the readings of a hold jump from one to the next and go on as before: the gauge, and not the system."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.judge.around import STEPS
from decay.log.pressure_log import PressureLog

SIDE = 8
"""Readings on each side that show level and slope. [-]"""
MOST = 0.95
"""Share of the differences between readings that tell the noise. [-]"""
BLURS = 8.0
"""Standard deviations of a reading's noise that a jump exceeds: thousands of places are looked at. [-]"""
SHARE = 0.015
"""Share of the pressure, the same: less is within what any gauge wanders. [-]"""
SHARP = 0.7
"""Share of a jump that happens from one reading to the next; what takes longer is a source. [-]"""
RANGE = 0.045
"""A gauge that changes its range jumps by up to this share, from logs of many gauges (one to four per cent). [-]"""
FEIGNS = 1.5
"""A step in a line changes its least-squares slope by 6 f (1 - f) steps over its length, where it comes after
the share f: by 1.5 at most. [-]"""
SETTLED = 60.0
"""So long after the closing rig and system may still meet. [s]"""


@dataclass(frozen=True, slots=True)
class Jump:
    """One jump.

    Parameters
    ----------
    time : float
        Of the last reading before it. [s]
    size : float
        Its height, below zero for a fall. [Pa]
    share : float
        The same over the pressure before it, without sign. [-]
    """

    time: float
    size: float
    share: float

    @property
    def is_within_a_range_change(self) -> bool:
        """Whether a gauge makes it by itself where it changes its range."""
        return self.share <= RANGE


def jumps_in(log: PressureLog, start: float, end: float) -> tuple[Jump, ...]:
    """Return the jumps within a hold.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    start, end : float
        The hold. [s]

    Returns
    -------
    tuple of Jump
        In order of time.
    """
    inside = (log.time > start + SETTLED) & (log.time <= end) & np.isfinite(log.pressure)
    time, pressure, step = log.time[inside], log.pressure[inside], log.step[inside]
    if len(time) < 4 * SIDE:
        return ()
    moved = np.diff(pressure)
    # Of the differences but the largest: a fit that a jump spoils calls the jump noise.
    noise = _noise(moved)
    least = np.maximum(np.maximum(STEPS * step[:-1], BLURS * noise), SHARE * np.abs(pressure[:-1]))
    found = []
    for at in np.flatnonzero(np.abs(moved) > SHARP * least).tolist():
        if not SIDE - 1 <= at < len(time) - SIDE:
            continue
        slope = _slope_beside(time, pressure, at)
        before, after = slice(at - SIDE + 1, at + 1), slice(at + 1, at + 1 + SIDE)
        apart = float(np.mean(time[after]) - np.mean(time[before]))
        size = float(np.median(pressure[after]) - np.median(pressure[before])) - slope * apart
        at_once = float(moved[at]) - slope * float(time[at + 1] - time[at])
        if abs(size) > least[at] and at_once * np.sign(size) >= SHARP * abs(size):
            found.append(Jump(float(time[at]), size, abs(size) / max(abs(float(pressure[at])), float(step[at]))))
    return tuple(found)


def _noise(moved: FloatArray) -> float:
    """Return the noise of readings from their differences, in place: a long hold is not held several times. [Pa]"""
    stir = moved - np.median(moved)
    np.abs(stir, out=stir).sort()
    stir = stir[: int(MOST * len(moved))]
    return float(np.sqrt(np.mean(np.square(stir, out=stir)) / 2.0))


def _slope_beside(time: FloatArray, pressure: FloatArray, at: int) -> float:
    """Return the slope of the readings before and behind a place, the mean of the two. [Pa/s]"""
    sides = (slice(at - SIDE + 1, at + 1), slice(at + 1, at + 1 + SIDE))
    return float(np.mean([np.median(np.diff(pressure[side]) / np.diff(time[side])) for side in sides]))


def feigned(jumps: tuple[Jump, ...], duration: float) -> float:
    """Return the steady rise that jumps can feign or hide. [Pa/s]"""
    return FEIGNS * sum(abs(jump.size) for jump in jumps) / duration
