"""The noise of a gauge: of one reading, and how far it wanders slowly, which no average over neighbours takes away."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray, median

# Standard deviation of an evenly spread error of one step: step / sqrt(12).
STEP_NOISE = 12.0**-0.5
# A normal law's standard deviation is this many times its median absolute value.
MAD = 1.4826
# Readings in a block over which the noise is taken as constant. A log of few readings, as one writes them down by hand,
# is cut into fewer and smaller ones.
NOISE_BLOCK = 24
FEW_READINGS = 98
FEW_BLOCKS = 4
SMALLEST_BLOCK = 5
# Readings that are worked on at a time, so that what is in between needs no second copy of a long log. Cost only.
AT_ONCE = 65536
# Lengths of the stretches whose means are compared. [s]
SCALES = (8.0, 16.0, 32.0, 64.0, 128.0)
# A longer stretch tells only where it has so many readings: with few, the bend of the pull is in it. [s, -]
LONG = 80.0
MANY = 16
# Third differences of as many independent means have this variance: 1 + 9 + 9 + 1.
THIRD_DIFFERENCE = 20.0
# Only readings below so many times the lowest ones tell: further up the pull itself bends.
LOW = 3.0
# Third differences of means show this share of what a stationary walk strays, by trial with made-up walks.
SHOWN = 0.5
# Noise above this share of a step blurs it: a mean then tells more than the step.
BLURS = 0.4
# Fewest third differences that tell.
FEWEST = 10
# A gauge wanders all through a log; holds that level off bend the parts in which they lie. Of so many the quietest
# tells.
PARTS = 3


def reading_noise(pressure: FloatArray, step: FloatArray, time: FloatArray) -> FloatArray:
    """Return the standard deviation of each reading, from second differences and the step of the gauge.

    Second differences let a straight line go; their median lets single jumps go.

    Parameters
    ----------
    pressure : ndarray, shape (n,)
        Pressure, finite. [Pa]
    step : ndarray, shape (n,)
        Smallest change the log can show. [Pa]
    time : ndarray, shape (n,)
        Time; it counts where readings are few, and then seldom at even distances. [s]

    Returns
    -------
    ndarray, shape (n,)
        Noise of one reading; never below that of the step. [Pa]
    """
    count = len(pressure)
    out = np.empty(count)
    is_few = count < FEW_READINGS
    block = max((count - 2) // FEW_BLOCKS, SMALLEST_BLOCK) if is_few else NOISE_BLOCK
    blocks = max((count - 2) // block, 1)
    each = (count - 2) // blocks
    spread = np.zeros(0) if count < 5 else _spreads(pressure, blocks, each, time if is_few else None)
    if is_few and len(spread):
        # Between readings so far apart the pull itself bends: the quietest stretch tells the gauge's noise.
        spread = np.full(blocks, float(spread.min()))
    centres = (np.arange(blocks) + 0.5) * each + 1.0
    for begin in range(0, count, AT_ONCE):
        part = slice(begin, min(begin + AT_ONCE, count))
        np.maximum(step[part] * STEP_NOISE, 1e-9 * np.abs(pressure[part]), out=out[part])
        if len(spread):
            np.maximum(out[part], np.interp(np.arange(part.start, part.stop), centres, spread), out=out[part])
    return out


def _spreads(pressure: FloatArray, blocks: int, each: int, time: FloatArray | None) -> FloatArray:
    """Return the median of the second differences of each block, as a standard deviation of a reading. [Pa]"""
    found = np.empty(blocks)
    many = max(AT_ONCE // each, 1)
    for begin in range(0, blocks, many):
        end = min(begin + many, blocks)
        part = pressure[begin * each : end * each + 2]
        if time is None:
            second = np.abs(part[:-2] - 2.0 * part[1:-1] + part[2:]) * (MAD / 6.0**0.5)
        else:
            second = MAD * _off_the_line(time[begin * each : end * each + 2], part)
        found[begin:end] = np.median(second.reshape(end - begin, each), axis=1)
    return found


def _off_the_line(time: FloatArray, pressure: FloatArray) -> FloatArray:
    """Return how far each reading lies off the line through its neighbours, as a standard deviation of one. [Pa]"""
    share = np.diff(time)[:-1] / np.maximum(time[2:] - time[:-2], 1e-9)
    off = pressure[1:-1] - (1.0 - share) * pressure[:-2] - share * pressure[2:]
    return np.asarray(np.abs(off) / np.sqrt(1.0 + share**2 + (1.0 - share) ** 2))


def slow_wander(pressure: FloatArray, noise: FloatArray, sampling: float, step: float = 0.0) -> tuple[float, float]:
    """Return the standard deviation of slow wandering, from third differences of means over neighbouring stretches.

    Third differences let falls and rises go that bend evenly; their median lets single edges go.

    Parameters
    ----------
    pressure : ndarray, shape (n,)
        Pressure, finite. [Pa]
    noise : ndarray, shape (n,)
        Noise of one reading. [Pa]
    sampling : float
        Distance between readings. [s]
    step : float
        Step of the gauge: what it leaves in a mean, where no noise blurs it, is no wandering. [Pa]

    Returns
    -------
    wander : float
        What is left beyond the noise of independent readings, at the length of stretch where it is most; 0 where the
        log is too short to tell. [Pa]
    lasts : float
        That length: means over longer stretches average it out. [s]
    """
    if not sampling > 0:
        return 0.0, SCALES[0]
    wander, lasts = 0.0, SCALES[0]
    lowest = None
    width_before = 0
    for scale in SCALES:
        width = max(round(scale / sampling), 1)
        if width == width_before or (scale > LONG and width < MANY):
            continue
        width_before = width
        count = len(pressure) // width
        if count < FEWEST + 3:
            break
        means = pressure[: count * width].reshape(count, width).mean(axis=1)
        if lowest is None:
            lowest = float(np.partition(means, count // 50)[count // 50])
        third = np.abs(means[3:] - means[:-3] - 3.0 * (means[2:-1] - means[1:-2]))
        high = np.maximum(np.maximum(means[3:], means[:-3]), np.maximum(means[2:-1], means[1:-2]))
        is_low = high < LOW * lowest
        if int(is_low.sum()) < FEWEST:
            break
        spread = _quietest(third[is_low]) * MAD / THIRD_DIFFERENCE**0.5
        white = median(noise[: count * width : width][3:][is_low]) / width**0.5
        left_by_step = step**2 / 12.0 if white * width**0.5 < BLURS * step else 0.0
        beyond = max(spread**2 - white**2 - left_by_step, 0.0) ** 0.5
        if beyond > wander:
            wander, lasts = beyond, scale
    return wander / SHOWN, lasts


def _quietest(third: FloatArray) -> float:
    """Return the median of the quietest of a few successive parts, each long enough to tell. [Pa]"""
    parts = min(PARTS, len(third) // FEWEST)
    return min(median(part) for part in np.array_split(third, max(parts, 1)))
