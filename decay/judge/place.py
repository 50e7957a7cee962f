"""Where a gauge sits, how it jumps, and what the other gauges of a log say beside it.

A pull that quickens fivefold after it had become slow, and then stands still, is a gauge on the pump's side of a valve
that closes (P15): nothing passes. Another gauge of the log that differs by more than 10 % widens the interval until it
holds what either shows (P16). A hold that stands at the gauge's lowest number, all of it or a tenth, hides up to that
number over its length, and the interval reaches so far (P14; both ends of a range are judged in `log/quality.py`).
Readings of a hold that jump at once and go on as before are the gauge's (P18): the interval holds what a step in a line
can feign, 1.5 of its height over the hold, a leak that it may have made is not named, and beyond 4.5 % of the pressure
nothing passes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, median, quantile
from decay.interval import Interval
from decay.judge.answer import IfClosed
from decay.judge.around import STEPS, JudgedStretch, margin, whole
from decay.log.pressure_log import PressureLog
from decay.quantities import MICRON

QUICK = 60.0
"""A pump empties the hose between itself and a closed valve within this time. [s]"""
BEFORE = 300.0
"""Time before a closing in which the fall shows how slow it had become. [s]"""
SHORTEST_BEFORE = 60.0
"""At least so much of it must be in the log. [s]"""
FALLEN = 0.2
"""Share of the pressure that goes at the closing at least. [-]"""
FASTER = 5.0
"""So many times faster than before it falls at the closing: a pull by itself only slows down. [-]"""
LATEST = 900.0
"""The judged stretch may begin so long after the fall. [s]"""
HIGHEST = 5000.0 * MICRON
"""Further up a fall that quickens is the pump that takes hold, or the last of the water. [Pa]"""
DISAGREE = 0.1
"""Share by which two gauges may differ: the trade's gauges are good to 5 or 10 %, by their makers' data in general."""
SIDE = 0.2
"""A gauge whose rise is less than this share of the other's does not see the same volume. [-]"""
OPENING = 3
"""Readings after the closing that must show the fall where the stretch rises after it. [-]"""
FEWEST = 8
"""Readings that both gauges must have in the stretch. [-]"""


@dataclass(frozen=True, slots=True)
class Fall:
    """A sudden fall."""

    # When [s]
    start: float
    end: float
    # From which pressure to which [Pa]
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Beside:
    """Another gauge of the same log during the judged stretch."""

    name: str  # its column
    level: float  # its reading over the judged gauge's, the median of the stretch [-]
    # Mean rise of it and of the judged gauge [Pa/s]
    rate: float
    own_rate: float

    @property
    def is_apart(self) -> bool:
        """Whether it differs by more than two gauges may."""
        return abs(self.level - 1.0) > DISAGREE

    @property
    def is_on_pump_side(self) -> bool:
        """Whether it stands lower and does not follow the rise: the pump's side of the valve."""
        return self.level < 1.0 - DISAGREE and self.own_rate > 0.0 and self.rate < SIDE * self.own_rate

    @property
    def rises_alone(self) -> bool:
        """Whether it stands higher and rises where the judged gauge does not: then that one is on the pump's side."""
        return self.level > 1.0 + DISAGREE and self.rate > 0.0 and self.own_rate < SIDE * self.rate


def fall_at_closing(log: PressureLog, stretch: JudgedStretch, since: float = -np.inf) -> Fall | None:
    """Return the sudden fall before a stretch that stands still, as a gauge on the pump's side shows the closing.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    stretch : JudgedStretch
        What is judged. [s]
    since : float
        When an earlier hold ended: from there the pump draws it down again, and that is no closing. [s]
    """
    if len(log.time) < FEWEST:
        return None
    pressure = np.maximum(whole(log), 0.5 * log.step)
    latest = stretch.start + min(QUICK, 0.25 * (stretch.end - stretch.start))
    near = np.flatnonzero(log.within(stretch.start - LATEST, latest))
    begin = max(float(log.time[0]), since)
    near = near[log.time[near] - begin >= SHORTEST_BEFORE]
    if not len(near):
        return None
    time, top = log.time[near], pressure[near]
    bottom = np.interp(time + QUICK, log.time, pressure)
    span = np.minimum(BEFORE, time - begin)
    earlier = np.interp(time - span, log.time, pressure)
    quick = np.log(top / bottom) / QUICK
    slow = np.maximum(np.log(earlier / top) / span, 0.0)
    room = margin(log, top, near, stretch.noise)
    is_fall = (quick * QUICK >= -np.log(1.0 - FALLEN)) & (quick > FASTER * slow)
    is_fall &= (top - bottom > room) & (top < HIGHEST)
    # What came up a moment before and goes down again is a hump under the pump, or a hold that no phase tells.
    is_fall &= earlier >= top - room
    if not is_fall.any():
        return None
    at = int(np.argmax(np.where(is_fall, quick, 0.0)))
    return Fall(float(time[at]), float(time[at] + QUICK), float(top[at]), float(bottom[at]))


def fall_before_flat_end(log: PressureLog, told: IfClosed) -> Fall | None:
    """Return the same fall before a flat end in which nothing marks the closing."""
    return fall_at_closing(log, JudgedStretch(told.closed_by, told.end, told.leak.high, 0.0, False))


def opens_with_fall(log: PressureLog, stretch: JudgedStretch) -> bool:
    """Tell whether a stretch that rises opens with a fall, which no gauge on the system's side shows."""
    pressure = whole(log)
    at = min(int(np.searchsorted(log.time, stretch.start)), len(pressure) - 1)
    after = pressure[at + 1 : at + 1 + OPENING]
    fallen = (1.0 - FALLEN) * pressure[at]
    return len(after) == OPENING and bool(np.all(after < fallen))


def gauges_beside(log: PressureLog, stretch: JudgedStretch) -> tuple[Beside, ...]:
    """Return what the other gauges of a log, as far as they have readings there, show during a stretch."""
    inside = log.within(stretch.start, stretch.end)
    found = []
    for name, column in log.other_gauges.items():
        both = inside & np.isfinite(log.pressure) & np.isfinite(column) & (log.pressure > 0) & (column > 0)
        if np.count_nonzero(both) < FEWEST:
            continue
        own, other = log.pressure[both], column[both]
        ratio = median(other / own)
        found.append(Beside(name, ratio, _rate(log.time[both], other), _rate(log.time[both], own)))
    return tuple(found)


def _rate(time: FloatArray, pressure: FloatArray) -> float:
    """Return the mean rise between the first and the last third, as medians say. [Pa/s]"""
    third = max(len(time) // 3, 1)
    rise = median(pressure[-third:]) - median(pressure[:third])
    return rise / (median(time[-third:]) - median(time[:third]))


def widened_by(leak: Interval, beside: tuple[Beside, ...]) -> Interval:
    """Return a leak's interval, never narrower, so wide that it holds what either gauge shows. [Pa/s]

    A gauge that agrees, or that sits on the pump's side, changes nothing.
    """
    low, high = leak.low, leak.high
    for other in beside:
        if not other.is_apart or other.is_on_pump_side:
            continue
        scale = other.rate / other.own_rate if other.own_rate > 0.0 and other.rate > 0.0 else other.level
        if other.rises_alone:
            high = max(high, (1.0 + DISAGREE) * other.rate)
            continue
        low, high = min(low, low * scale), max(high, high * scale)
    return leak if low == leak.low and high == leak.high else Interval(leak.value, low, high, leak.level)


BESIDE_JUMP = 8
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
MEETING = 0.05
"""And so long as a share of the hold. [-]"""
SWINGS = 3.0
"""So many times what nearly all of the hold moves in the same time falls at once where a valve is opened. [-]"""


@dataclass(frozen=True, slots=True)
class Jump:
    """One jump."""

    time: float  # of the last reading before it [s]
    size: float  # its height, below zero for a fall [Pa]
    share: float  # the same over the pressure before it, without sign [-]

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
    if len(time) < 4 * BESIDE_JUMP:
        return ()
    moved = np.diff(pressure)
    # Of the differences but the largest: a fit that a jump spoils calls the jump noise.
    noise = _noise(moved)
    least = np.maximum(np.maximum(STEPS * step[:-1], BLURS * noise), SHARE * np.abs(pressure[:-1]))
    found = []
    for at in np.flatnonzero(np.abs(moved) > SHARP * least).tolist():
        if not BESIDE_JUMP - 1 <= at < len(time) - BESIDE_JUMP:
            continue
        slope = _slope_beside(time, pressure, at)
        before, after = slice(at - BESIDE_JUMP + 1, at + 1), slice(at + 1, at + 1 + BESIDE_JUMP)
        apart = float(np.mean(time[after]) - np.mean(time[before]))
        size = median(pressure[after]) - median(pressure[before]) - slope * apart
        at_once = float(moved[at]) - slope * float(time[at + 1] - time[at])
        if abs(size) > least[at] and at_once * np.sign(size) >= SHARP * abs(size):
            found.append(Jump(float(time[at]), size, abs(size) / max(abs(float(pressure[at])), float(step[at]))))
    return tuple(found)


def fall_within(log: PressureLog, start: float, end: float) -> Fall | None:
    """Return the largest sudden fall within a hold, as a pump makes that is let in again.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    start, end : float
        The hold. [s]

    Returns
    -------
    Fall or None
        None where nothing falls by more than noise, waves and a change of the gauge's range make.
    """
    met = start + max(SETTLED, MEETING * (end - start))
    inside = (log.time > met) & (log.time <= end) & np.isfinite(log.pressure)
    count = BESIDE_JUMP * (int(np.count_nonzero(inside)) // BESIDE_JUMP)
    if count < 4 * BESIDE_JUMP:
        return None
    time, pressure, step = (column[inside][:count] for column in (log.time, log.pressure, log.step))
    level = np.median(pressure.reshape(-1, BESIDE_JUMP), axis=1)
    when = np.mean(time.reshape(-1, BESIDE_JUMP), axis=1)
    # At least two groups on: one may lie astride the fall.
    later = np.maximum(np.searchsorted(when, when + QUICK), np.arange(len(when)) + 2)
    first = np.flatnonzero(later < len(when))
    later = later[first]
    if not len(first):
        return None
    moved = level[later] - level[first]
    usual = SWINGS * quantile(np.abs(moved), MOST)
    coarse = STEPS * float(np.max(step))
    least = np.maximum(max(usual, coarse, BLURS * _noise(np.diff(pressure))), RANGE * np.abs(level[first]))
    at = int(np.argmin(moved + least))
    if moved[at] > -least[at]:
        return None
    top, bottom = first[at], later[at]
    return Fall(float(when[top]), float(when[bottom]), float(level[top]), float(level[bottom]))


def _noise(moved: FloatArray) -> float:
    """Return the noise of readings from their differences, in place: a long hold is not held several times. [Pa]"""
    stir = moved - median(moved)
    np.abs(stir, out=stir).sort()
    stir = stir[: int(MOST * len(moved))]
    return float(np.sqrt(np.mean(np.square(stir, out=stir)) / 2.0))


def _slope_beside(time: FloatArray, pressure: FloatArray, at: int) -> float:
    """Return the slope of the readings before and behind a place, the mean of the two. [Pa/s]"""
    sides = (slice(at - BESIDE_JUMP + 1, at + 1), slice(at + 1, at + 1 + BESIDE_JUMP))
    return float(np.mean([np.median(np.diff(pressure[side]) / np.diff(time[side])) for side in sides]))


def feigned(jumps: tuple[Jump, ...], duration: float) -> float:
    """Return the steady rise that jumps can feign or hide. [Pa/s]"""
    return FEIGNS * sum(abs(jump.size) for jump in jumps) / duration
