"""The fall of a pull: its time constant between pressures, and the knee where the fast fall ends."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.special import stdtrit

from decay.arrays import FloatArray
from decay.errors import FitError
from decay.fit.residuals import lag_one_correlation
from decay.fit.results import Band
from decay.interval import Interval

MICRON = 0.133322387415  # Pa, conventional millimetre of mercury / 1000
# Fewest readings of a band, and the least fall (in ln p) that shows a time constant.
FEWEST = 4
LEAST_FALL = 0.25
# The fast fall ends where the local time constant has grown by this factor ...
KNEE_FACTOR = 3.0
BEND_FACTOR = 1.4
# ... looked at in steps of ln p of this size.
LEVEL_STEP = 0.25
# A fall that begins lower than this and shows no knee may be tail throughout. [Pa]
FAST_FROM = 1e4
# A steep stretch far from time zero would carry its start pressure beyond what a float holds.
LARGEST_EXPONENT = 700.0


@dataclass(frozen=True, slots=True)
class Fall:
    """An exponential through a stretch of a pull: time constant with interval [s], pressure at its first time [Pa]."""

    time_constant: Interval
    start_pressure: float


def exponential_fall(time: FloatArray, pressure: FloatArray, level: float = 0.95) -> Fall:
    r"""Fit :math:`p = p_0 \exp(-t/\tau)` as a straight line in ln p.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure, positive. [Pa]
    level : float
        Level of the interval. [-]

    Returns
    -------
    Fall
        Time constant and pressure at time zero of ``time``. [s, Pa]

    Raises
    ------
    FitError
        If there are fewer than three readings, or the pressure does not fall.

    Notes
    -----
    Readings carry equal relative weight. The slope's variance is widened by (1 + rho) / (1 - rho), rho the lag-one
    autocorrelation of the residuals, and Student's t is taken with the number of effectively independent readings
    less two: a band that is not quite exponential gets the wider interval that it deserves.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(0.0, 50.0)
    >>> round(exponential_fall(time, 1e5 * np.exp(-time / 12.5)).time_constant.value, 6)
    12.5

    References
    ----------
    .. [1] Effective number of readings under first-order autocorrelation: Zieba, "Effective number of observations and
       unbiased estimators of variance for autocorrelated data", Metrol. Meas. Syst. 17 (2010) 3-16.
    """
    count = len(time)
    if count < 3 or not np.all(pressure > 0):
        raise FitError("a time constant needs at least three readings above zero")
    log_pressure = np.log(pressure)
    middle = float(time.mean())
    centred = time - middle
    spread = float(centred @ centred)
    slope = float(centred @ (log_pressure - log_pressure.mean())) / spread
    if slope >= 0:
        raise FitError("the pressure does not fall here, so there is no time constant")
    start = float(np.exp(min(log_pressure.mean() - slope * middle, LARGEST_EXPONENT)))
    residuals = log_pressure - log_pressure.mean() - slope * centred
    rho = min(max(lag_one_correlation(residuals), 0.0), 0.98) if count > 3 else 0.0
    variance = float(residuals @ residuals) / max(count - 2, 1) / spread * (1 + rho) / (1 - rho)
    freedom = max(count * (1 - rho) / (1 + rho) - 2.0, 1.0)
    reach = float(stdtrit(freedom, 0.5 + level / 2)) * variance**0.5
    value = -1.0 / slope
    low = -1.0 / (slope - reach)
    high = -1.0 / (slope + reach) if slope + reach < 0 else float("inf")
    return Fall(Interval(value, min(low, value), max(high, value), level), start)


def first_crossings(pressure: FloatArray, levels: FloatArray) -> np.ndarray:
    """Return the first reading at or below each level; the count of readings where there is none. [-]"""
    lowest_so_far = np.minimum.accumulate(pressure)
    return np.searchsorted(-lowest_so_far, -levels, side="left")


def bands(time: FloatArray, pressure: FloatArray) -> tuple[Band, ...]:
    """Return the time constants decade by decade, the decades counted in micron.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure, smoothed, positive. [Pa]

    Returns
    -------
    tuple of Band
        From high to low; the first and the last may cover part of a decade, and are bounded by what was seen.
    """
    highest, lowest = float(pressure[0]), float(pressure.min())
    if lowest >= highest:
        return ()
    top, bottom = np.ceil(np.log10(highest / MICRON)), np.floor(np.log10(lowest / MICRON))
    edges = MICRON * 10.0 ** np.arange(top, bottom - 1, -1)
    edges = np.concatenate([[highest], edges[(edges < highest) & (edges > lowest)], [lowest]])
    at = first_crossings(pressure, edges)
    at[0] = 0
    passed = _passages(time, pressure, edges, at)
    found = []
    for i, (high, low) in enumerate(pairwise(edges)):
        first, last = int(at[i]), int(at[i + 1])
        stretch = slice(first, last + 1)
        if last - first + 1 < FEWEST or np.log(high / low) < LEAST_FALL:
            continue
        try:
            fall = exponential_fall(time[stretch], pressure[stretch])
        except FitError:
            continue
        found.append(Band(float(high), float(low), float(passed[i + 1] - passed[i]), fall.time_constant))
    return tuple(found)


def _passages(time: FloatArray, pressure: FloatArray, levels: FloatArray, at: np.ndarray) -> FloatArray:
    """Return when each level was first passed, between the reading before and the one at or below it. [s]"""
    before = np.maximum(at - 1, 0)
    above, below = np.log(pressure[before]), np.log(pressure[at])
    drop = above - below
    share = np.clip(np.divide(above - np.log(levels), drop, out=np.ones_like(drop), where=drop > 0), 0.0, 1.0)
    return np.asarray(time[before] + share * (time[at] - time[before]))


def fast_fall(time: FloatArray, pressure: FloatArray) -> tuple[Interval | None, int | None]:
    """Return the time constant of the first, fast fall, and the reading at the knee where it ends.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure, smoothed, positive. [Pa]

    Returns
    -------
    tuple of Interval or None, and int or None
        Time constant [s], and index of the knee [-].
    """
    highest, lowest = float(pressure[0]), float(pressure.min())
    if lowest <= 0 or np.log(highest / lowest) < 1.0:
        return None, None
    levels = highest * np.exp(-np.arange(0.0, np.log(highest / lowest), LEVEL_STEP))
    at = np.minimum(first_crossings(pressure, levels), len(time) - 1)
    at[0] = max(int(np.flatnonzero(pressure >= 0.98 * highest)[-1]) if at[0] == 0 else 0, 0)
    if len(at) > 1 and at[0] >= at[1]:
        at[0] = max(int(at[1]) - 1, 0)
    constants = (time[at[1:]] - time[at[:-1]]) / LEVEL_STEP
    # Where sampling is coarse, several levels are crossed between two readings: average over four levels.
    width = min(4, len(constants))
    local = np.convolve(constants, np.ones(width) / width, mode="valid")
    fastest = np.inf
    knee: int | None = None
    # The exponential is fitted up to where the bend begins, the knee lies where it has become plain.
    bend: int | None = None
    for i, value in enumerate(local):
        if value > KNEE_FACTOR * fastest:
            knee = int(at[i + width - 1])
            break
        if value <= BEND_FACTOR * fastest:
            bend = int(at[i + width])
        fastest = min(fastest, max(float(value), 1e-9))
    end = bend if bend is not None else int(np.argmin(pressure))
    begin = int(at[0])
    if knee is None and highest < FAST_FROM:
        return None, None
    if end - begin + 1 < FEWEST or np.log(pressure[begin] / pressure[end]) < 1.0:
        return None, knee
    try:
        return exponential_fall(time[begin : end + 1], pressure[begin : end + 1]).time_constant, knee
    except FitError:
        return None, knee
