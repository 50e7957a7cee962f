"""The curve of a pull: its time constant between pressures, the knee where the fast fall ends, and its slow tail."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from decay.arrays import FloatArray
from decay.errors import FitError
from decay.fit.chances import students_quantile
from decay.fit.profile import lag_one_correlation
from decay.fit.results import Band
from decay.interval import Interval
from decay.quantities import MICRON

# Fewest readings of a band, and the least fall (in ln p) that shows a time constant.
FEWEST_OF_BAND = 4
LEAST_FALL_OF_BAND = 0.25
# The fast fall ends where the local time constant has grown by this factor ...
KNEE_FACTOR = 3.0
BEND_FACTOR = 1.4
# ... looked at in steps of ln p of this size.
LEVEL_STEP = 0.25
# A fall that begins lower than this and shows no knee may be tail throughout. [Pa]
FAST_FROM = 1e4
# A steep stretch far from time zero would carry its start pressure beyond what a float holds.
LARGEST_EXPONENT = 700.0
# Bins, evenly spaced in log time, that the tail is averaged into.
TAIL_BINS = 40
FEWEST_TAIL_BINS = 8
# The tail must span this factor in pumping time, and fall by this share.
LEAST_SPAN = 1.5
LEAST_FALL_OF_TAIL = 0.04
# Exponents that are tried; beyond the last the tail is as good as exponential.
TAIL_EXPONENTS = np.geomspace(0.1, 6.0, 80)
# Extra pumping times that are answered, none longer than so many times the pull itself. [s, -]
EXTRA = (600.0, 1800.0, 3600.0)
FARTHEST = 3.0


@dataclass(frozen=True, slots=True)
class ExponentialFall:
    """An exponential through a stretch of a pull: time constant with interval [s], pressure at its first time [Pa]."""

    time_constant: Interval
    start_pressure: float


def exponential_fall(time: FloatArray, pressure: FloatArray, level: float = 0.95) -> ExponentialFall:
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
    ExponentialFall
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
    reach = students_quantile(freedom, 0.5 + level / 2) * variance**0.5
    value = -1.0 / slope
    low = -1.0 / (slope - reach)
    high = -1.0 / (slope + reach) if slope + reach < 0 else float("inf")
    return ExponentialFall(Interval(value, min(low, value), max(high, value), level), start)


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
        if last - first + 1 < FEWEST_OF_BAND or np.log(high / low) < LEAST_FALL_OF_BAND:
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
    if end - begin + 1 < FEWEST_OF_BAND or np.log(pressure[begin] / pressure[end]) < 1.0:
        return None, knee
    try:
        return exponential_fall(time[begin : end + 1], pressure[begin : end + 1]).time_constant, knee
    except FitError:
        return None, knee


@dataclass(frozen=True, slots=True)
class Tail:
    """A fitted tail: exponent with interval [-], ultimate pressure [Pa], height at the reference time [Pa, s]."""

    exponent: Interval
    ultimate: float
    height: float
    reference: float

    def pressure_at(self, pumped: float) -> float:
        """Return the pressure after a pumping time [s] that the tail leads to. [Pa]"""
        return self.ultimate + self.height * float((pumped / self.reference) ** -self.exponent.value)


def fit_tail(pumped: FloatArray, pressure: FloatArray, noise: FloatArray, level: float = 0.95) -> Tail | None:
    r"""Fit :math:`p = p_u + c\,t^{-n}` to a tail; None where the readings do not show one.

    Parameters
    ----------
    pumped : ndarray, shape (n,)
        Time since the pull began, positive. [s]
    pressure : ndarray, shape (n,)
        Pressure. [Pa]
    noise : ndarray, shape (n,)
        Standard deviation of a reading. [Pa]
    level : float
        Level of the interval. [-]

    Returns
    -------
    Tail or None
        For each exponent the ultimate pressure and the height follow by least squares, neither below zero; the
        interval is the profile of the misfit, widened for autocorrelation.
    """
    if len(pumped) < FEWEST_TAIL_BINS or pumped[-1] < LEAST_SPAN * pumped[0]:
        return None
    edges = np.geomspace(pumped[0], pumped[-1] * (1 + 1e-9), TAIL_BINS + 1)
    which = np.clip(np.searchsorted(edges, pumped, side="right") - 1, 0, TAIL_BINS - 1)
    counts = np.bincount(which, minlength=TAIL_BINS)
    kept = counts > 0
    if int(kept.sum()) < FEWEST_TAIL_BINS:
        return None

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(which, weights=values, minlength=TAIL_BINS)[kept] / counts[kept]

    time, value = mean(pumped), mean(pressure)
    # Readings of a coarse gauge do not average out: a third of one reading's error stays.
    sigma = mean(noise) * np.maximum(1.0 / np.sqrt(counts[kept]), 1.0 / 3.0)
    fallen = value[0] - value[-1]
    if fallen < LEAST_FALL_OF_TAIL * value[-1] or fallen < 5.0 * float(np.hypot(sigma[0], sigma[-1])):
        return None
    weight = 1.0 / sigma
    shapes = weight * (time / time[0]) ** -TAIL_EXPONENTS[:, None]
    costs, solutions = _two_terms(weight, shapes, weight * value)
    best = int(np.argmin(costs))
    residuals = (value - solutions[best, 0] - solutions[best, 1] * (time / time[0]) ** -TAIL_EXPONENTS[best]) * weight
    rho = min(max(lag_one_correlation(residuals), 0.0), 0.9)
    count = len(time)
    freedom = max(count * (1 - rho) / (1 + rho) - 3.0, 1.0)
    scale = max(float(costs[best]) / max(count - 3, 1), 1.0) * (1 + rho) / (1 - rho)
    inside = np.flatnonzero(costs <= costs[best] + scale * students_quantile(freedom, 0.5 + level / 2) ** 2)
    low = float(TAIL_EXPONENTS[max(inside[0] - 1, 0)]) if inside[0] > 0 else 0.0
    high = float(TAIL_EXPONENTS[inside[-1] + 1]) if inside[-1] + 1 < len(TAIL_EXPONENTS) else float("inf")
    if best == len(TAIL_EXPONENTS) - 1 or solutions[best, 1] <= 0:
        return None
    interval = Interval(float(TAIL_EXPONENTS[best]), low, high, level)
    return Tail(interval, float(solutions[best, 0]), float(solutions[best, 1]), float(time[0]))


def _two_terms(ones: FloatArray, shapes: FloatArray, target: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return misfit and the two non-negative coefficients of a constant and each shape, all weighted.

    For shapes of shape (e, k) the misfits have shape (e,) and the coefficients shape (e, 2).
    """
    a, b, c = float(ones @ ones), shapes @ ones, np.einsum("ek,ek->e", shapes, shapes)
    u, v = float(ones @ target), shapes @ target
    determinant = a * c - b * b
    is_told = determinant > 0
    divisor = np.where(is_told, determinant, 1.0)
    constant = np.where(is_told, (c * u - b * v) / divisor, u / a)
    height = np.where(is_told, (a * v - b * u) / divisor, 0.0)
    is_below, is_rising = constant < 0, height < 0
    height = np.where(is_below, np.maximum(v / c, 0.0), np.where(is_rising, 0.0, height))
    constant = np.where(is_below, 0.0, np.where(is_rising, u / a, constant))
    residuals = target - constant[:, None] * ones - height[:, None] * shapes
    return np.einsum("ek,ek->e", residuals, residuals), np.stack([constant, height], axis=1)


def led_to_by_longer_pull(tail: Tail | None, pumped: float, end_pressure: float) -> tuple[tuple[float, float], ...]:
    """Return extra pumping times and the pressures that the tail leads to then.

    Parameters
    ----------
    tail : Tail or None
        The tail.
    pumped : float
        Length of the pull. [s]
    end_pressure : float
        Pressure at its end. [Pa]

    Returns
    -------
    tuple of tuple of float
        Pairs of time and pressure, none farther out than three times the pull; empty where there is no tail. [s, Pa]
    """
    if tail is None:
        return ()
    here = tail.pressure_at(pumped)
    return tuple(
        # Carried on from where the pull ended, so that one noisy last reading is not taken for progress.
        (extra, min(end_pressure * tail.pressure_at(pumped + extra) / here, end_pressure))
        for extra in EXTRA
        if extra <= FARTHEST * pumped
    )
