"""The readings as the phase search sees them: what is above range, what is set aside, the rest smoothed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray, median, running_median
from decay.constants import HIGHEST_READING
from decay.log.pressure_log import PressureLog
from decay.phases.noise import AT_ONCE as READ_AT_ONCE
from decay.phases.noise import FEW_READINGS, reading_noise, slow_wander

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
# So few readings make no event within this time, for the running median takes as many; farther apart only where they
# are off by a factor that no pressure goes and comes back by: the lowest reading by hand is the one at the closing.
# [readings, s, -]
EXCURSION_ALWAYS = 2
EXCURSION_SELDOM = 4.0 * EXCURSION_LASTS
EXCURSION_FACTOR = 2.0
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
# So many readings tell the step of the lowest range. Cost only. [readings]
MANY = 20_000
# Higher than this is atmosphere wherever people live, and so no rail of a gauge that stands there at first. [Pa]
AT_ATMOSPHERE = 6e4


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """One log, prepared for the search."""

    time: FloatArray  # time, shape (n,) [s]
    # Pressure; carried on from the reading before where it was set aside or above range, and raised as a whole where
    # the gauge reads below zero, shape (n,) [Pa]
    pressure: FloatArray
    smooth: FloatArray  # its running median, shape (n,) [Pa]
    # Noise of one reading and step of the gauge, shape (n,) [Pa]
    noise: FloatArray
    step: FloatArray
    is_above: BoolArray  # above the gauge's range, for longer than an excursion, shape (n,) [-]
    is_odd: BoolArray  # set aside: left the curve and came back, shape (n,) [-]
    wander: float  # standard deviation of the gauge's slow wandering in the low part of the log [Pa]
    wander_lasts: float  # time over which it stays alike [s]
    sampling: float  # median distance between readings [s]

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
        return float((median(self.noise[first : last + 1]) ** 2 / count + wander + step**2) ** 0.5)


_ARRAYS = ("time", "pressure", "smooth", "noise", "step", "is_above", "is_odd")


def prepare(log: PressureLog, quality: Any = None) -> Readings:
    """Return the readings of a log, ready for the search, without numbers that only stand for the end of the range."""
    above = np.asarray(log.is_over_range) | ~np.isfinite(log.pressure) | (np.abs(log.pressure) > HIGHEST_READING)
    railed = getattr(quality, "is_railed", None)
    if railed is not None:
        above = above | _high_only(np.asarray(railed, dtype=bool), log.pressure)
    step = np.asarray(log.step)
    if not (np.isfinite(step).all() and step.min() >= 0.0 and step.max() <= HIGHEST_READING):
        step = np.where(np.isfinite(step), np.clip(step, 0.0, HIGHEST_READING), 0.0)
    pressure = carried(np.asarray(log.pressure), above)
    noise = reading_noise(pressure, step, log.time)
    odd = excursions(log.time, np.where(above, np.inf, log.pressure) if above.any() else pressure, noise, step)
    if odd.any():
        # An excursion above range is none of the system's either; one out of it, among readings above it, stays above.
        pressure = carried(pressure, odd | above)
        if above.any():
            missing, source = _sources(odd)
            above[missing] = above[source]
        pressure = carried(pressure, above)
        noise = reading_noise(pressure, step, log.time)
    # Few readings far apart are the curve: a median would take the lowest one, at the closing, for a wrong one.
    is_sparse = len(pressure) < FEW_READINGS and log.sampling > EXCURSION_LASTS
    smooth = pressure if is_sparse else running_median(pressure)
    lowest = float(smooth.min())
    if lowest < 0.0:
        # A gauge whose zero is set off: only differences count here.
        pressure, smooth = pressure - lowest + LEAST, smooth - lowest + LEAST
        noise = reading_noise(pressure, step, log.time)
    sampling = log.sampling
    every = max(len(smooth) // MANY, 1)
    low = step[::every][smooth[::every] <= 3.0 * float(smooth.min()) + LEAST]
    wander, wander_lasts = slow_wander(pressure, noise, sampling, median(low) if len(low) else 0.0)
    wander = min(wander, WANDERS * float(smooth.min()))
    return Readings(log.time, pressure, smooth, noise, step, above, odd, wander, wander_lasts, sampling)


def carried(pressure: FloatArray, is_missing: BoolArray) -> FloatArray:
    """Return the pressures with each missing one replaced by the last before it, or the first after it. [Pa]"""
    if not is_missing.any():
        return pressure
    if is_missing.all():
        return np.zeros(len(pressure))
    out = np.array(pressure)
    missing, source = _sources(is_missing)
    out[missing] = pressure[source]
    return out


def _sources(is_missing: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the missing readings, and for each the last one before it that is there, or else the first of all."""
    missing = np.flatnonzero(is_missing)
    source = np.maximum.accumulate(np.where(np.diff(missing, prepend=-2) > 1, missing, 0)) - 1
    return missing, np.where(source < 0, int(np.argmin(is_missing)), source)


def excursions(time: FloatArray, pressure: FloatArray, noise: FloatArray, step: FloatArray) -> BoolArray:
    """Return the readings that leave the curve and come back to it within a few readings.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure; ``inf`` above range. [Pa]
    noise, step : ndarray, shape (n,)
        Noise of one reading and step of the gauge. [Pa]

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

    def widths(at: IntArray) -> FloatArray:
        level = np.where(np.isfinite(pressure[at]), np.abs(pressure[at]), 0.0)
        return np.maximum(RANGE_JUMP * level, LEAVES * noise[at] + 2.0 * step[at])

    starts = _apart(pressure, widths)
    width = widths(starts)
    low, high = np.full(len(starts), np.inf), np.full(len(starts), -np.inf)
    open_ = np.arange(len(starts))
    for length in range(1, EXCURSION_READINGS + 1):
        open_ = open_[starts[open_] + length + 1 <= last]
        if not len(open_):
            break
        start, blur = starts[open_], width[open_]
        inner = pressure[start + length]
        low[open_], high[open_] = np.minimum(low[open_], inner), np.maximum(high[open_], inner)
        left = _has_left(pressure[start], low[open_], high[open_], blur)
        # It lies apart from what comes after it as well: a fall or a rise that goes on is no excursion.
        first, then = pressure[start], pressure[start + length + 1]
        apart_from_both = (low[open_] > np.fmax(first, then) + blur) | (high[open_] < np.fmin(first, then) - blur)
        # After a far excursion the curve may have gone on by a small share of it.
        with np.errstate(invalid="ignore"):
            off = np.fmin(np.abs(low[open_] - first), np.abs(high[open_] - first))
            height = np.fmax(np.abs(low[open_] - first), np.abs(high[open_] - first))
            is_sudden = ~(np.abs(pressure[start + 1] - first) < AT_ONCE * height)
        band = np.maximum(blur, np.where(np.isfinite(off), FAR * off, 0.0))
        is_back = left & is_sudden & apart_from_both & _is_back(pressure, start, length, band)
        lasts = time[start + length + 1] - time[start]
        is_back &= (lasts <= EXCURSION_LASTS) | (length <= EXCURSION_ALWAYS)
        is_far = (low[open_] > EXCURSION_FACTOR * np.fmax(first, then)) | (
            EXCURSION_FACTOR * high[open_] < np.fmin(first, then))
        is_back &= (lasts <= EXCURSION_SELDOM) | is_far
        odd[start[is_back][:, None] + np.arange(1, length + 1)] = True
        open_ = open_[left & ~is_back]
    for end, next_, beyond in ((0, 1, 2), (last, last - 1, last - 2)):
        near, far, room = pressure[next_], pressure[beyond], float(widths(np.array([next_]))[0])
        if np.isfinite(near) and np.isfinite(far) and abs(near - far) <= room:
            odd[end] = not (0.5 * near - room <= pressure[end] <= 2.0 * near + room)
    return odd


def _apart(pressure: FloatArray, widths: Callable[[IntArray], FloatArray]) -> IntArray:
    """Return the readings from which the next one lies apart."""
    found = []
    for first in range(0, len(pressure) - 1, READ_AT_ONCE):
        at = np.arange(first, min(first + READ_AT_ONCE, len(pressure) - 1) + 1)
        width = widths(at)
        with np.errstate(invalid="ignore", over="ignore"):
            found.append(at[:-1][np.abs(np.diff(pressure[at])) > np.minimum(width[1:], width[:-1])])
    return np.concatenate(found)


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
