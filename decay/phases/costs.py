"""What a good piece of a log is: its noise, and how well a valve closing at one reading explains a stretch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray

# Standard deviation of an evenly spread error of one step: step / sqrt(12).
STEP_NOISE = 12.0**-0.5
# A normal law's standard deviation is this many times its median absolute value.
MAD = 1.4826
# Readings in a block over which the noise is taken as constant.
NOISE_BLOCK = 24
# Readings that are worked on at a time, so that what is in between needs no second copy of a long log. Cost only.
AT_ONCE = 65536


def reading_noise(pressure: FloatArray, step: FloatArray) -> FloatArray:
    """Return the standard deviation of each reading, from second differences and the step of the gauge.

    Second differences let a straight line go; their median lets single jumps go.

    Parameters
    ----------
    pressure : ndarray, shape (n,)
        Pressure, finite. [Pa]
    step : ndarray, shape (n,)
        Smallest change the log can show. [Pa]

    Returns
    -------
    ndarray, shape (n,)
        Noise of one reading; never below that of the step. [Pa]
    """
    count = len(pressure)
    out = np.empty(count)
    blocks = max((count - 2) // NOISE_BLOCK, 1)
    each = (count - 2) // blocks
    spread = np.zeros(0) if count < 5 else _spreads(pressure, blocks, each)
    centres = (np.arange(blocks) + 0.5) * each + 1.0
    for begin in range(0, count, AT_ONCE):
        part = slice(begin, min(begin + AT_ONCE, count))
        np.maximum(step[part] * STEP_NOISE, 1e-9 * np.abs(pressure[part]), out=out[part])
        if len(spread):
            np.maximum(out[part], np.interp(np.arange(part.start, part.stop), centres, spread), out=out[part])
    return out


def _spreads(pressure: FloatArray, blocks: int, each: int) -> FloatArray:
    """Return the median of the second differences of each block, as a standard deviation of a reading. [Pa]"""
    found = np.empty(blocks)
    many = max(AT_ONCE // each, 1)
    for begin in range(0, blocks, many):
        end = min(begin + many, blocks)
        part = pressure[begin * each : end * each + 2]
        second = np.abs(part[:-2] - 2.0 * part[1:-1] + part[2:]) * (MAD / 6.0**0.5)
        found[begin:end] = np.median(second.reshape(end - begin, each), axis=1)
    return found


@dataclass(frozen=True, slots=True)
class Corner:
    """Where a stretch is best cut into pumping and holding."""

    index: int  # reading at which the valve closed, counted in the stretch [-]
    gain: float  # misfit that the cut takes away, relative to the noise's variance [-]
    # Slopes of the two sides, the right one after its first settling [Pa/s]
    slope_before: float
    slope_after: float
    jump: float  # height of the settling [Pa]
    misfit: float  # sum of squares that is left, relative to the noise's variance [-]
    # First and last reading, counted in the stretch, that explain it as well within chance [-]
    earliest: int = 0
    latest: int = 0


def line_cost(time: FloatArray, pressure: FloatArray) -> float:
    """Return the sum of squares about one parabola, the smooth rival of a cut. [Pa²]"""
    if len(time) <= 3:
        return 0.0
    first = time - time.mean()
    first /= max(float(first[-1]), 1e-9)
    second = first * first
    second -= second.mean() + first * (float(first @ second) / float(first @ first))
    value = pressure - pressure.mean()
    explained = sum(float(shape @ value) ** 2 / float(shape @ shape) for shape in (first, second))
    return max(float(value @ value) - explained, 0.0)
