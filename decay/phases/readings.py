"""The readings as the phase search sees them: filled where over range, smoothed, each with its noise and hysteresis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from decay.arrays import BoolArray, FloatArray
from decay.log.pressure_log import PressureLog
from decay.phases.costs import reading_noise
from decay.phases.search import running_median
from decay.phases.wander import slow_wander

# A turn must exceed so many standard deviations of a reading, so many steps, and this share of the pressure.
TURN_NOISE = 3.0
TURN_STEPS = 1.2
TURN_SHARE = 0.003
# What a step leaves in a mean of readings that hardly move, as a share of it.
STEP_OF_MEAN = 0.1
# Over-range readings are taken to stand this far above the highest reading.
ABOVE_RANGE = 1.5
# What never comes up to this is no hold of a system with an ordinary gauge: one micron. [Pa]
LEAST_HELD = 0.133
# Higher than this is atmosphere wherever people live. [Pa]
AT_ATMOSPHERE = 6e4


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """One log, prepared for the search.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure, filled above the range. [Pa]
    smooth : ndarray, shape (n,)
        Its running median. [Pa]
    noise, step : ndarray, shape (n,)
        Noise of one reading and step of the gauge. [Pa]
    is_above : ndarray of bool, shape (n,)
        Above the gauge's range. [-]
    hysteresis : ndarray, shape (n,)
        What a turn in log pressure must exceed by noise and step alone. [-]
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
    hysteresis: FloatArray
    wander: float
    wander_lasts: float
    sampling: float

    def spread(self, index: int) -> float:
        """Return the noise about one reading. [Pa]"""
        return float(self.noise[min(max(index, 0), len(self.noise) - 1)])

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
    above = np.asarray(log.is_over_range) | ~np.isfinite(log.pressure)
    railed = getattr(quality, "is_railed", None)
    if railed is not None:
        above = above | _high_only(np.asarray(railed, dtype=bool), log.pressure)
    seen = log.pressure[~above]
    top = ABOVE_RANGE * float(seen.max()) if len(seen) else 1e5
    pressure = np.where(above, top, log.pressure)
    step = np.where(np.isfinite(log.step), log.step, 0.0)
    least = max(float(step.max(initial=0.0)) * 0.1, 1e-6 * float(np.median(np.abs(pressure))), 1e-12)
    pressure = np.maximum(pressure, least)
    noise = reading_noise(pressure, step)
    smooth = running_median(pressure)
    hysteresis = np.maximum((TURN_NOISE * noise + TURN_STEPS * step) / smooth, TURN_SHARE)
    wander, wander_lasts = slow_wander(pressure, noise, log.sampling)
    return Readings(log.time, pressure, smooth, noise, step, above, hysteresis, wander, wander_lasts, log.sampling)


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
