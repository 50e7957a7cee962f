"""What speaks for a hold: a rise beyond noise, step and wandering of the gauge, and from when on it rose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.phases.cuts import corner_costs
from decay.phases.readings import Readings
from decay.phases.search import LAGS, SETTLING

# A rise or a fall counts from so many standard errors on.
SURE = 5.0
# Readings just before the valve closed that tell the level there.
JUST_BEFORE = 10
# A slow rise is sought on the means of so many stretches, in what lies below so many times the lowest.
STRETCHES = 64
LOW = 1.6
FEWEST = 12
# It must exceed so many steps of the gauge.
RISE_STEPS = 1.5
# Closings whose misfit is larger by no more than this are as likely: 95 % of a normal law's.
AS_LIKELY = 4.0


def change(readings: Readings, first: int, last: int) -> float:
    """Return by how many standard errors the last third of a stretch lies above its first third. [-]"""
    third = max((last - first + 1) // 3, 1)
    pressure = readings.pressure
    early, late = pressure[first : first + third], pressure[last - third + 1 : last + 1]
    error = np.hypot(
        readings.error_of_mean(first, first + third - 1), readings.error_of_mean(last - third + 1, last)
    )
    return float((late.mean() - early.mean()) / max(float(error), 1e-12))


def is_rise_seen(readings: Readings, first: int, last: int) -> bool:
    """Tell whether a stretch rises, or stands above the readings just before it, by more than chance brings.

    Parameters
    ----------
    readings : Readings
        The log.
    first, last : int
        The stretch, from the closing on. [-]
    """
    if last - first < 2:
        return False
    if change(readings, first, last) > SURE:
        return True
    before = max(first - JUST_BEFORE + 1, 0)
    half = (first + last) // 2
    height = float(np.mean(readings.pressure[half : last + 1]) - np.mean(readings.pressure[before : first + 1]))
    error = np.hypot(readings.error_of_mean(before, first), readings.error_of_mean(half, last))
    return bool(height > SURE * error)


@dataclass(frozen=True, slots=True)
class SlowRise:
    """A rise that only its whole length shows: likeliest closing, and the earliest and latest as likely. [-]"""

    index: int
    earliest: int
    latest: int


def slow_rise(readings: Readings, start: int, end: int) -> SlowRise | None:
    """Return the rise at the end of a fall whose closing leaves no sharp corner, or None.

    Parameters
    ----------
    readings : Readings
        The log.
    start, end : int
        The fall, with what follows. [-]
    """
    smooth = readings.smooth[start : end + 1]
    lowest = float(np.partition(smooth, len(smooth) // 20)[len(smooth) // 20])
    high = np.flatnonzero(smooth > LOW * lowest)
    first = start + (int(high[-1]) + 1 if len(high) else 0)
    width = max((end - first + 1) // STRETCHES, 1)
    count = (end - first + 1) // width
    if count < FEWEST:
        return None
    first = end + 1 - count * width
    time = readings.time[first : end + 1].reshape(count, width).mean(axis=1)
    level = readings.pressure[first : end + 1].reshape(count, width).mean(axis=1)
    error = readings.error_of_mean(end - width + 1, end)
    spacing = float(time[-1] - time[0]) / (count - 1)
    tries = np.arange(3, count - 3)
    since = float(readings.time[start]) - readings.sampling
    cuts = corner_costs(time, level, tries, SETTLING * spacing, np.maximum(LAGS, 0.3 * spacing), since)
    best = np.argmin(cuts.squares, axis=1)
    rows = np.arange(len(tries))
    squares = cuts.squares[rows, best]
    # Where the model leaves more than the errors, they count for as much more.
    unit = max(error**2, float(squares.min()) / max(count - 6, 1))
    at = int(np.argmin(squares))
    likely = np.flatnonzero(squares <= squares[at] + AS_LIKELY * unit)

    def reading(row: int) -> int:
        return first + int(tries[row]) * width + width // 2

    closed = reading(at)
    rise = float(level[-max((count - int(tries[at])) // 3, 1) :].mean() - level[: int(tries[at]) + 1].min())
    if rise < RISE_STEPS * float(readings.step[end]) or not is_rise_seen(readings, closed, end):
        return None
    return SlowRise(closed, reading(int(likely[0])), reading(int(likely[-1])))
