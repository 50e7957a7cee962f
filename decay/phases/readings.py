"""The readings as the phase search sees them: what is above range, what is set aside, the rest smoothed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.log.pressure_log import PressureLog
from decay.phases.costs import reading_noise
from decay.phases.search import running_median
from decay.phases.wander import slow_wander

# The largest share by which one gauge jumps where it changes its range or its sensor: datasheets of two-sensor gauges
# state up to 5 %, logs show 1 to 4 %.
RANGE_JUMP = 0.045
# A gauge that leaves its curve and comes back to it within so many readings and this time saw no event of the system.
# The time is chosen on the bench. [readings, s]
EXCURSION_READINGS = 8
EXCURSION_LASTS = 45.0
# Meanwhile the curve itself moved by no more than this share of the way out, beyond a range jump.
FAR = 0.1
# It goes out by this share of its height from one reading to the next: a corner comes and goes by and by.
AT_ONCE = 0.6
# So few readings make no event however far apart they are: the running median takes as many. [readings]
EXCURSION_ALWAYS = 2
# What leaves a curve leaves it by so many standard deviations of a reading.
LEAVES = 6.0
# A turn must exceed so many standard deviations of a reading, so many steps, and this share of the pressure.
TURN_NOISE = 3.0
TURN_STEPS = 1.2
TURN_SHARE = 0.003
# What a step leaves in a mean of readings that hardly move, as a share of it.
STEP_OF_MEAN = 0.1
# No gauge wanders by more than this share of the lowest pressure: beyond it the pull's own bends were taken for it.
WANDERS = 0.05
# A step counts as the gauge's in its lowest range where it is taken below this. [Pa]
LEAST = 1.0
# Above 1.2 atmospheres nothing is a vacuum reading. [Pa]
HIGHEST = 1.216e5
# Higher than this is atmosphere wherever people live, and so no rail of a gauge that stands there at first. [Pa]
AT_ATMOSPHERE = 6e4


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """One log, prepared for the search.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure; carried on from the reading before where it was set aside or above range, and raised as a whole where
        the gauge reads below zero. [Pa]
    smooth : ndarray, shape (n,)
        Its running median. [Pa]
    noise, step : ndarray, shape (n,)
        Noise of one reading and step of the gauge. [Pa]
    is_above : ndarray of bool, shape (n,)
        Above the gauge's range, for longer than an excursion. [-]
    is_odd : ndarray of bool, shape (n,)
        Set aside: left the curve and came back. [-]
    wander : float
        Standard deviation of the gauge's slow wandering in the low part of the log. [Pa]
    wander_lasts : float
        Time over which it stays alike. [s]
    sampling : float
        Median distance between readings. [s]
    """

    time: FloatArray
    pressure: FloatArray
    smooth: FloatArray
    noise: FloatArray
    step: FloatArray
    is_above: BoolArray
    is_odd: BoolArray
    wander: float
    wander_lasts: float
    sampling: float

    def between(self, begin: int, end: int) -> Readings:
        """Return the readings from one on up to another, without it."""
        if begin == 0 and end == len(self.time):
            return self
        cut = {name: getattr(self, name)[begin:end] for name in _ARRAYS}
        return replace(self, **cut)

    def spread(self, index: int) -> float:
        """Return the noise about one reading. [Pa]"""
        return float(self.noise[min(max(index, 0), len(self.noise) - 1)])

    def hysteresis(self, index: int) -> float:
        """Return what a turn in log pressure must exceed by noise and step alone. [-]"""
        blur = TURN_NOISE * self.noise[index] + TURN_STEPS * self.step[index]
        return max(float(blur / max(self.smooth[index], 1e-12)), TURN_SHARE)

    def error_of_mean(self, first: int, last: int) -> float:
        """Return the standard error of the mean of some readings: noise, wandering, step. [Pa]"""
        count = max(last - first + 1, 1)
        duration = max(float(self.time[last] - self.time[first]), self.sampling)
        wander = self.wander**2 * min(1.0, self.wander_lasts / duration)
        step = STEP_OF_MEAN * float(self.step[(first + last) // 2])
        return float((float(np.median(self.noise[first : last + 1])) ** 2 / count + wander + step**2) ** 0.5)

    def readings_in(self, seconds: float, at_least: int) -> int:
        """Return how many readings cover a time."""
        return max(at_least, round(seconds / self.sampling)) if self.sampling > 0 else at_least


_ARRAYS = ("time", "pressure", "smooth", "noise", "step", "is_above", "is_odd")


def prepare(log: PressureLog, quality: Any = None) -> Readings:
    """Return the readings of a log, ready for the search.

    Parameters
    ----------
    log : PressureLog
        The log.
    quality : Quality, optional
        Its flags; ``is_railed`` marks numbers that only stand for the end of the range.

    Returns
    -------
    Readings
        Arrays of the log's length.
    """
    above = np.asarray(log.is_over_range) | ~np.isfinite(log.pressure) | (np.abs(log.pressure) > HIGHEST)
    railed = getattr(quality, "is_railed", None)
    if railed is not None:
        above = above | _high_only(np.asarray(railed, dtype=bool), log.pressure)
    step = np.where(np.isfinite(log.step), np.clip(log.step, 0.0, HIGHEST), 0.0)
    filled = carried(np.asarray(log.pressure), above)
    noise = reading_noise(filled, step)
    odd = excursions(log.time, np.where(above, np.inf, log.pressure), LEAVES * noise + 2.0 * step)
    # An excursion above range is none of the system's either; one out of it, among readings above it, stays above.
    pressure = carried(filled, odd | above)
    above = (above & ~odd) | (odd & _amid(above & ~odd, odd))
    pressure = carried(pressure, above)
    lowest = float(running_median(pressure).min())
    if lowest < 0.0:
        # A gauge whose zero is set off: only differences count here.
        pressure = pressure - lowest + LEAST
    noise = reading_noise(pressure, step)
    smooth = running_median(pressure)
    low = step[smooth <= 3.0 * float(smooth.min()) + LEAST]
    wander, wander_lasts = slow_wander(pressure, noise, log.sampling, float(np.median(low)) if len(low) else 0.0)
    wander = min(wander, WANDERS * float(smooth.min()))
    return Readings(log.time, pressure, smooth, noise, step, above, odd, wander, wander_lasts, log.sampling)


def carried(pressure: FloatArray, is_missing: BoolArray) -> FloatArray:
    """Return the pressures with each missing one replaced by the last before it, or the first after it. [Pa]"""
    if not is_missing.any():
        return pressure
    present = np.flatnonzero(~is_missing)
    if not len(present):
        return np.zeros(len(pressure))
    place = np.searchsorted(present, np.arange(len(pressure)), side="right") - 1
    return np.asarray(pressure[present[np.maximum(place, 0)]])


def _amid(is_above: BoolArray, is_odd: BoolArray) -> BoolArray:
    """Tell of each reading that is set aside whether the last one before it that is not was above range."""
    kept = np.flatnonzero(~is_odd)
    if not len(kept):
        return np.zeros(len(is_odd), dtype=bool)
    place = np.searchsorted(kept, np.arange(len(is_odd)), side="right") - 1
    return np.asarray(is_above[kept[np.maximum(place, 0)]])


def excursions(time: FloatArray, pressure: FloatArray, blur: FloatArray) -> BoolArray:
    """Return the readings that leave the curve and come back to it within a few readings.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure; ``inf`` above range. [Pa]
    blur : ndarray, shape (n,)
        What noise and steps bring. [Pa]

    Returns
    -------
    ndarray of bool, shape (n,)
        True for a reading to set aside. [-]
    """
    count = len(pressure)
    odd = np.zeros(count, dtype=bool)
    if count < 5:
        return odd
    last = count - 1
    level = np.where(np.isfinite(pressure), np.abs(pressure), 0.0)
    width = np.maximum(RANGE_JUMP * level, blur)
    with np.errstate(invalid="ignore", over="ignore"):
        apart = np.abs(np.diff(pressure)) > np.minimum(width[1:], width[:-1])
    starts = np.flatnonzero(apart)
    low, high = np.full(len(starts), np.inf), np.full(len(starts), -np.inf)
    open_ = np.arange(len(starts))
    for length in range(1, EXCURSION_READINGS + 1):
        open_ = open_[starts[open_] + length + 1 <= last]
        if not len(open_):
            break
        start = starts[open_]
        inner = pressure[start + length]
        low[open_], high[open_] = np.minimum(low[open_], inner), np.maximum(high[open_], inner)
        left = _has_left(pressure[start], low[open_], high[open_], width[start])
        # It lies apart from what comes after it as well: a fall or a rise that goes on is no excursion.
        first, then = pressure[start], pressure[start + length + 1]
        apart_from_both = (low[open_] > np.fmax(first, then) + width[start]) | (
            high[open_] < np.fmin(first, then) - width[start]
        )
        # After a far excursion the curve may have gone on by a small share of it.
        with np.errstate(invalid="ignore"):
            off = np.fmin(np.abs(low[open_] - first), np.abs(high[open_] - first))
            height = np.fmax(np.abs(low[open_] - first), np.abs(high[open_] - first))
            is_sudden = ~(np.abs(pressure[start + 1] - first) < AT_ONCE * height)
        band = np.maximum(width[start], np.where(np.isfinite(off), FAR * off, 0.0))
        is_back = left & is_sudden & apart_from_both & _is_back(pressure, start, length, band)
        is_back &= (time[start + length + 1] - time[start] <= EXCURSION_LASTS) | (length <= EXCURSION_ALWAYS)
        for at in start[is_back].tolist():
            odd[at + 1 : at + length + 1] = True
        open_ = open_[left & ~is_back]
    for end, next_, beyond in ((0, 1, 2), (last, last - 1, last - 2)):
        near, far = pressure[next_], pressure[beyond]
        if np.isfinite(near) and np.isfinite(far) and abs(near - far) <= width[next_]:
            value = pressure[end]
            odd[end] = not (0.5 * near - width[next_] <= value <= 2.0 * near + width[next_])
    return odd


def _has_left(before: FloatArray, low: FloatArray, high: FloatArray, width: FloatArray) -> BoolArray:
    """Tell whether all readings between lie apart from the one before them, on one side."""
    return np.asarray((low > before + width) | (high < before - width))


def _is_back(pressure: FloatArray, start: IntArray, length: int, band: FloatArray) -> BoolArray:
    """Tell whether the curve goes on where it was, or where its fall would have brought it."""
    before, after = pressure[start], pressure[start + length + 1]
    with np.errstate(invalid="ignore"):
        slope = before - pressure[np.maximum(start - 1, 0)]
        carried_on = before + np.where(slope < -band, slope * (length + 1), 0.0)
        carried_on = np.where(np.isfinite(carried_on), carried_on, before)
        inside = (after >= np.minimum(before, carried_on) - band) & (after <= np.maximum(before, carried_on) + band)
    return np.asarray(inside & (np.isfinite(before) == np.isfinite(after)))


def _high_only(railed: BoolArray, pressure: FloatArray) -> BoolArray:
    """Return those railed readings that stand at the upper end: a gauge may rail at its lower end as well."""
    if not railed.any() or not np.isfinite(pressure).any():
        return np.zeros(len(railed), dtype=bool)
    top = float(np.nanmax(pressure))
    at_top = railed & (pressure >= 0.9 * top)
    if top >= AT_ATMOSPHERE and at_top.any():
        # A gauge that stands at atmosphere before the first fall stands at atmosphere, not at its rail.
        first_free = int(np.argmin(at_top)) if at_top[0] else 0
        at_top[:first_free] = False
    return at_top
