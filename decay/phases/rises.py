"""What speaks for a hold: a rise beyond noise, step and wandering of the gauge, and from when on it rose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.phases.readings import Readings

# A rise or a fall counts from so many standard errors on.
SURE = 4.0
# Readings just before the valve closed that tell the level there.
JUST_BEFORE = 10
# A slow rise is sought on the means of so many stretches, in what lies below so many times the lowest.
STRETCHES = 64
LOW = 1.6
FEWEST = 12
# Means of so long about a closing show whether it turns there, and at least of so many readings. [s, readings]
ABOUT_CLOSING = (60.0, 300.0)
ROWS_ABOUT = 3
# In so many parts of a hold it is looked whether it stands.
STANDING = 24
# What is told of the closing less well than this share of the rise's length is not told.
TOLD = 0.5
# Closings whose misfit is larger by no more than this are as likely: 95 % of a normal law's.
AS_LIKELY = 4.0


def change(readings: Readings, first: int, last: int) -> float:
    """Return by how many standard errors the last third of a stretch lies above its first third. [-]"""
    third = max((last - first + 1) // 3, 1)
    pressure = readings.pressure
    early, late = pressure[first : first + third], pressure[last - third + 1 : last + 1]
    error = np.hypot(readings.error_of_mean(first, first + third - 1), readings.error_of_mean(last - third + 1, last))
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
    half = (first + last) // 2
    late, late_error = float(np.mean(readings.pressure[half : last + 1])), readings.error_of_mean(half, last)
    # What fell before the closing stood higher before: a longer look back only ever makes the rise less.
    for count in (JUST_BEFORE, last - half):
        before = max(first - count + 1, 0)
        height = late - float(np.mean(readings.pressure[before : first + 1]))
        if height > SURE * np.hypot(readings.error_of_mean(before, first), late_error):
            return True
    return False


def turns_sharply(readings: Readings, first: int) -> bool:
    """Tell whether the readings show a step upwards or the end of a fall within the minutes about a closing.

    Parameters
    ----------
    readings : Readings
        The log.
    first : int
        The last reading before the valve closed. [-]

    Notes
    -----
    The mean of a minute, and of five, or of three readings where they are far apart, lies above what the three such
    means before the closing lead to: a fall goes on, by no more than it fell before.
    """
    time = readings.time
    for within in ABOUT_CLOSING:
        edges = [int(np.searchsorted(time, time[first] + k * within, side="right")) for k in (-1, 0, 1)]
        apart = max(ROWS_ABOUT, *np.diff(edges).tolist())
        if first + 1 - 3 * apart < 0 or first + apart >= len(time):
            continue
        ends = [(first + 1 + k * apart, first + (k + 1) * apart) for k in (-3, -2, -1, 0)]
        means = [float(np.mean(readings.pressure[i : j + 1])) for i, j in ends]
        fall, before = means[1] - means[2], means[0] - means[1]
        goes_on = min(max(fall / before, 0.0), 1.0) if before > 0.0 else 1.0
        error = 2.0 * max(readings.error_of_mean(i, j) for i, j in ends)
        if means[3] - (means[2] - max(fall, 0.0) * goes_on) > SURE * error:
            return True
    return False


def stands_until(readings: Readings, first: int, last: int) -> int:
    """Return up to which reading a hold that rises stands still at first, so that it may have been pumped so long.

    The rate of a hold only ever falls: what stands, and then rises, lies below the straight way to its end. A step at
    the closing marks it, and then nothing is asked.

    Parameters
    ----------
    readings : Readings
        The log.
    first, last : int
        The stretch, from the closing on. [-]
    """
    count = (last - first + 1) // STANDING
    if count < 2:
        return first
    time, pressure = readings.time[first : last + 1], readings.pressure[first : last + 1]
    opening, ending = slice(1, count + 1), slice(len(pressure) - count, None)
    begin, end = float(pressure[opening].mean()), float(pressure[ending].mean())
    begun = float(time[opening].mean())
    errors = readings.error_of_mean(first + 1, first + count), readings.error_of_mean(last - count, last)
    sure = SURE * float(np.hypot(*errors))
    if begin - pressure[0] > max(SURE * readings.spread(first), sure) or end - begin <= sure:
        return first
    parts = slice(0, (STANDING - 1) * count)
    rise = pressure[parts].reshape(-1, count).mean(axis=1) - begin
    way = (end - begin) / (float(time[ending].mean()) - begun) * (time[parts].reshape(-1, count).mean(axis=1) - begun)
    stands = np.flatnonzero((rise < sure) & (way - rise > sure))
    return first + (int(stands[-1]) + 1) * count if len(stands) and stands[-1] > 0 else first


@dataclass(frozen=True, slots=True)
class SlowRise:
    """A rise that only its whole length shows: when the valve closed at the latest, by how much earlier. [-, s]"""

    index: int
    earlier: float


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
    bottom = int(np.argmin(smooth))
    lowest = float(np.partition(smooth, len(smooth) // 20)[len(smooth) // 20])
    high = np.flatnonzero(smooth > LOW * lowest)
    split = int(np.searchsorted(high, bottom))
    end = start + int(high[split]) - 1 if split < len(high) else end
    first = start + (int(high[split - 1]) + 1 if split else 0)
    width = max((end - first + 1) // STRETCHES, 1)
    count = (end - first + 1) // width
    if count < FEWEST:
        return None
    first = end + 1 - count * width
    time = readings.time[first : end + 1].reshape(count, width).mean(axis=1)
    level = readings.pressure[first : end + 1].reshape(count, width).mean(axis=1)
    error = readings.error_of_mean(end - width + 1, end)
    # Before the closing nothing rises; after it the rise goes on or levels off.
    squares = _falling_costs(level)[2 : count - 4] + _levelling_costs(time, level)[3 : count - 3]
    tries = np.arange(2, count - 4)
    # Where the model leaves more than the errors, they count for as much more.
    unit = max(error**2, float(squares.min()) / count)
    best = int(np.argmin(squares))
    likely = np.flatnonzero(squares <= squares[best] + AS_LIKELY * unit)
    latest = int(likely[-1])

    def reading(row: int) -> int:
        return first + int(tries[row]) * width + width // 2

    # On made-up jobs the best cut comes early, and the latest likely one is nearest the truth; it also keeps what was
    # pumped out of the hold.
    earliest, closed = reading(int(likely[0])), reading(latest)
    if readings.time[closed] - readings.time[earliest] > TOLD * (readings.time[end] - readings.time[closed]):
        return None
    rise = float(level[-max((count - int(tries[latest])) // 3, 1) :].mean() - level[: int(tries[latest]) + 1].min())
    if rise < float(readings.step[end]) or not is_rise_seen(readings, reading(best), end):
        return None
    return SlowRise(closed, float(readings.time[closed] - readings.time[earliest]) + width * readings.sampling)


def _falling_costs(level: FloatArray) -> FloatArray:
    """Return, up to each point, the least squares about any curve that never rises. [Pa²]

    Neighbours that rise are pooled to their mean, each pool with the one before it, as long as any rise is left.
    """
    squares = np.empty(len(level))
    pools: list[tuple[float, int]] = []
    total = 0.0
    for i, value in enumerate(level.tolist()):
        mean, weight = value, 1
        while pools and pools[-1][0] < mean:
            other, number = pools.pop()
            total += (other - mean) ** 2 * weight * number / (weight + number)
            mean = (mean * weight + other * number) / (weight + number)
            weight += number
        pools.append((mean, weight))
        squares[i] = total
    return squares


def _levelling_costs(time: FloatArray, level: FloatArray) -> FloatArray:
    """Return, from each point on, the least squares about a line, or a parabola that levels off. [Pa²]"""
    x, y = (time - time.mean()) / (time[-1] - time[0]), level - level.mean()
    powers = np.stack([np.ones(len(x)), x, x**2, x**3, x**4, y, x * y, x**2 * y, y * y])
    sums = np.cumsum(powers[:, ::-1], axis=1)[:, ::-1].T
    ridge = 1e-12 * len(x) * np.eye(3)
    squares = np.empty((2, len(x)))
    for row, size in enumerate((2, 3)):
        gram = sums[:, np.add.outer(np.arange(size), np.arange(size))] + ridge[:size, :size]
        right = sums[:, 5 : 5 + size]
        solved = np.linalg.solve(gram, right[..., None])[..., 0]
        squares[row] = np.maximum(sums[:, 8] - np.sum(solved * right, axis=1), 0.0)
    # The last solution is the parabola's.
    return np.asarray(np.where(solved[:, 2] < 0.0, squares[1], squares[0]))
