"""Averaging a hold into a few dozen bins: readings, the rises that sources make in them, and noise made white."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import boxcox

from decay.arrays import FloatArray, IntArray, median
from decay.constants import HOUR
from decay.errors import FitError

FEWEST_READINGS = 4  # a start, a slope, a bend and one more [-]
_EVEN_BINS = 32
_GEOMETRIC_BINS = 20
_GAP = 2.5
"""Distance of two readings, in usual distances, from which on there is a gap between them. [-]"""
_CLOSE = 0.4
"""Distance of two readings, in usual distances, below which they are closer than a logger's jitter makes them. [-]"""
_MOST_GAPS = 40
"""Gaps at which a bin ends, the longest first: a log that is all gaps would have as many bins as readings. [-]"""
_UNSEEN = 1.0
"""Longest gap, in lengths of the time that the readings fill, over which edges are spread. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Bins:
    """Readings averaged over consecutive stretches of time that never span a gap."""

    # Ends of each bin, half a sampling distance beyond its readings at most, shape (k,) [s since isolation]
    left: FloatArray
    right: FloatArray
    pressure: FloatArray  # mean of its readings, shape (k,) [Pa]
    count: FloatArray  # number of its readings, shape (k,) [-]
    reading_noise: float  # standard deviation of one reading about its neighbours, without drift [Pa]
    step: FloatArray  # mean step of the readings in each bin, shape (k,) [Pa]
    # Time in which an empty volume would have taken in what came through a leak up to each bin's middle, where the
    # inflow fades as the volume fills; ``None`` where it does not, shape (k,) [s]
    inflow: FloatArray | None = None

    @property
    def centre(self) -> FloatArray:
        """Middle of each bin. [s since isolation]"""
        return 0.5 * (self.left + self.right)

    @property
    def length(self) -> float:
        """Time from the first to the last bin's end. [s]"""
        return float(self.right[-1] - self.left[0])

    @property
    def time(self) -> FloatArray:
        """Middle of each bin since the first one's left end, shape (k,). [s]"""
        return np.asarray(self.centre - self.left[0])


def bin_readings(time: FloatArray, pressure: FloatArray, step: FloatArray) -> Bins:
    """Average readings into bins, fine just after isolation and even later on.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time since isolation, strictly increasing. [s]
    pressure : ndarray, shape (n,)
        Readings. [Pa]
    step : ndarray, shape (n,)
        Step of each reading. [Pa]

    Raises
    ------
    FitError
        If there are fewer than four readings.
    """
    n = len(time)
    if n < FEWEST_READINGS:
        raise FitError(f"a hold needs at least {FEWEST_READINGS} readings for a fit, this one has {n}")
    noise = _reading_noise(pressure)  # first, while nothing else of a long hold's length is held
    distance = np.diff(time)
    sampling = median(distance)
    # A clock that leaps by years leaves nothing between its two ends: there the edges stand by the time that is filled.
    filled = np.minimum(distance, _UNSEEN * float(np.sum(np.minimum(distance, _GAP * sampling))))
    seen = np.concatenate(([0.0], np.cumsum(filled)))
    # The first seconds carry the equalisation and the fast pools, the rest carries the line: both kinds of edge.
    even = np.linspace(0.0, seen[-1], _EVEN_BINS + 1)[1:-1]
    geometric = np.geomspace(max(sampling, seen[-1] / 1000), seen[-1], _GEOMETRIC_BINS + 1)[:-1]
    edges = np.union1d(even, geometric)
    first = np.unique(np.concatenate(([0], np.searchsorted(seen, edges), _after_gaps(distance, sampling))))
    first = first[first < n]
    last = np.append(first[1:], n) - 1
    count = (last - first + 1).astype(float)
    # What lies much closer than usual, as the first minutes written down by hand do, stands for less time.
    apart = np.concatenate(([distance[0]], distance, [distance[-1]]))
    half = 0.5 * np.where(apart < _CLOSE * sampling, apart, sampling)
    return Bins(
        left=time[first] - half[first],
        right=time[last] + half[last + 1],
        pressure=np.add.reduceat(pressure, first) / count,
        count=count,
        reading_noise=noise,
        step=np.add.reduceat(step, first) / count,
    )


def _after_gaps(distance: FloatArray, sampling: float) -> IntArray:
    gaps = np.flatnonzero(distance > _GAP * sampling)
    return gaps[np.argsort(-distance[gaps], kind="stable")[:_MOST_GAPS]] + 1


def _reading_noise(pressure: FloatArray) -> float:
    """Return the scatter about neighbours: second differences cancel level and slope, their variance is 6 sigma²."""
    square = np.diff(pressure, 2) ** 2 / 6.0
    if len(square) == 0:
        return 0.0
    # A disturbed reading or two must not pass for noise: the largest one per cent counts as its threshold.
    return float(np.sqrt(np.mean(np.minimum(square, np.quantile(square, 0.99)))))


class Whitening:
    """One covariance, factored once for all the models that are put to the same bins.

    Parameters
    ----------
    covariance : ndarray, shape (k, k)
        Covariance of the bin means. [Pa²]
    """

    def __init__(self, covariance: FloatArray) -> None:
        self.covariance = covariance
        k = len(covariance)
        self._inverse = np.linalg.solve(np.linalg.cholesky(covariance), np.eye(k))
        self._constant = self._inverse.sum(axis=1)
        self._weight = float(self._constant @ self._constant)

    def white(self, curves: FloatArray) -> FloatArray:
        """Return curves over the bins, shape (k,) or (k, m), in units of their noise. [-]"""
        return np.asarray(self._inverse @ curves)

    def free_of_constant(self, curves: FloatArray) -> FloatArray:
        """Return whitened curves, shape (k,) or (k, m), with the best constant taken out of each. [-]"""
        white = self._inverse @ curves
        share = self._constant @ white / self._weight
        return np.asarray(white - (np.outer(self._constant, share) if white.ndim == 2 else self._constant * share))

    def constant_of(self, curve: FloatArray) -> float:
        """Return the constant that fits a curve over the bins, shape (k,), best. [unit of the curve]"""
        return float(self._constant @ (self._inverse @ curve) / self._weight)


def pool_columns(bins: Bins, time_constants: FloatArray) -> FloatArray:
    """Return the rise `1 - exp(-t/tau)` averaged over each bin.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [s]
    time_constants : ndarray, shape (m,)
        Time constants. [s]

    Returns
    -------
    ndarray, shape (k, m)
        Columns for unit amplitude. [-]
    """
    tau = time_constants[None, :]
    left = ((bins.left - bins.left[0])[:, None]) / tau
    width = (bins.right - bins.left)[:, None] / tau
    return np.asarray(1.0 + np.exp(-left) * np.expm1(-width) / width)


def rise_shapes(time: FloatArray, time_constants: FloatArray) -> FloatArray:
    """Return `1 - exp(-t/tau)` at times since the first bin, shape (len(time), len(time_constants)). [-]"""
    return np.asarray(-np.expm1(-time[:, None] / time_constants[None, :]))


def power_column(bins: Bins, age: float, exponent: float) -> FloatArray:
    r"""Return the rise that walls of a rate :math:`t^{-n}` make, averaged over each bin.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [s]
    age : float
        Time under vacuum at isolation. [s]
    exponent : float
        The power n. [-]

    Returns
    -------
    ndarray, shape (k,)
        The rise since the first bin's left edge, for a rate of one after an hour. [s]
    """
    begin = age + float(bins.left[0])
    power = 1.0 - exponent

    def area(t: FloatArray) -> FloatArray:
        grown = 1.0 + t / begin
        if abs(power) < 1e-9:
            return np.asarray(begin**2 * (grown * np.log(grown) - t / begin))
        return np.asarray(begin**2 / power * ((grown ** (power + 1.0) - 1.0) / (power + 1.0) - t / begin))

    left, right = bins.left - bins.left[0], bins.right - bins.left[0]
    # One scale for all holds: what differs between them is how far the walls have faded.
    return np.asarray((begin / HOUR) ** -exponent * (area(right) - area(left)) / (right - left))


def absorbed_power_columns(
    bins: Bins, ages: FloatArray, exponents: FloatArray, time_constants: FloatArray
) -> FloatArray:
    r"""Return the same beside a pool in equilibrium, which takes up what rises above it: `p' = t^-n - p/tau`.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [s]
    ages : ndarray, shape (n,)
        Time under vacuum at isolation. [s]
    exponents : ndarray, shape (n,)
        The power n of each. [-]
    time_constants : ndarray, shape (m,)
        Time in which the pool comes into equilibrium. [s]

    Returns
    -------
    ndarray, shape (k, n, m)
        The rise since isolation, for a rate of one after an hour, taken as even between two edges of bins. [s]
    """
    left = np.maximum(bins.left, 0.0)
    edges = np.unique(np.concatenate(([0.0], left, bins.right)))
    power = 1.0 - exponents
    age = (ages + edges[:, None]) / HOUR
    came = HOUR * boxcox(age, power)
    stays = np.exp(-np.diff(edges)[:, None] / time_constants)
    adds = (1.0 - stays) * time_constants / np.diff(edges)[:, None]
    pressure = np.zeros((len(edges), len(exponents), len(time_constants)))
    for i, rise in enumerate(np.diff(came, axis=0)):
        pressure[i + 1] = stays[i] * pressure[i] + rise[:, None] * adds[i]
    first, last = np.searchsorted(edges, left), np.searchsorted(edges, bins.right)
    # What came and is not there any more was taken up, in proportion to the mean pressure.
    taken = (came[last] - came[first])[:, :, None] - (pressure[last] - pressure[first])
    return np.asarray(taken * time_constants / (bins.right - left)[:, None, None])
