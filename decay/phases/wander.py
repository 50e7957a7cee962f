"""How far a gauge wanders slowly, which no average over neighbouring readings takes away."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray, median
from decay.phases.costs import MAD

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
SHOWN = 0.6
# Noise above this share of a step blurs it: a mean then tells more than the step.
BLURS = 0.4
# Fewest third differences that tell.
FEWEST = 10


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
        spread = median(third[is_low]) * MAD / THIRD_DIFFERENCE**0.5
        white = median(noise[: count * width : width][3:][is_low]) / width**0.5
        left_by_step = step**2 / 12.0 if white * width**0.5 < BLURS * step else 0.0
        beyond = max(spread**2 - white**2 - left_by_step, 0.0) ** 0.5
        if beyond > wander:
            wander, lasts = beyond, scale
    return wander / SHOWN, lasts
