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
    floor = np.maximum(step * STEP_NOISE, 1e-9 * np.abs(pressure))
    if count < 5:
        return floor
    second = np.abs(pressure[:-2] - 2.0 * pressure[1:-1] + pressure[2:]) * (MAD / 6.0**0.5)
    blocks = max(len(second) // NOISE_BLOCK, 1)
    used = blocks * (len(second) // blocks)
    by_block = np.median(second[:used].reshape(blocks, -1), axis=1)
    centres = (np.arange(blocks) + 0.5) * (len(second) // blocks) + 1.0
    return np.asarray(np.maximum(floor, np.interp(np.arange(count), centres, by_block)))


@dataclass(frozen=True, slots=True)
class Corner:
    """Where a stretch is best cut into pumping and holding.

    Parameters
    ----------
    index : int
        Reading at which the valve closed, counted in the stretch. [-]
    gain : float
        Misfit that the cut takes away, relative to the noise's variance. [-]
    slope_before, slope_after : float
        Slopes of the two sides, the right one after its first settling. [Pa/s]
    jump : float
        Height of the settling. [Pa]
    misfit : float
        Sum of squares that is left, relative to the noise's variance. [-]
    earliest, latest : int
        First and last reading, counted in the stretch, that explain it as well within chance. [-]
    """

    index: int
    gain: float
    slope_before: float
    slope_after: float
    jump: float
    misfit: float
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
