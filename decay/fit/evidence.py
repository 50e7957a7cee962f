"""How likely a hold's readings are under sources of unknown size: the sizes are integrated out, not fitted.

Every size has a prior that is uniform in its logarithm between two ends. The readings are whitened, so that a model of
known sizes misses them by a sum of squares, and the evidence is the integral of `exp(-misfit / 2)` over the prior.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import log

import numpy as np

from decay.arrays import FloatArray

_WINDOW = 5.5
"""Half width of the stretch that is integrated, in standard deviations about the best size. [-]"""
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(14)
_AROUND_BEST = np.linspace(-5.0, 5.0, 25)
_AROUND_LEAST_RATE = np.linspace(-5.0, 5.0, 15)
_COVER = 12
_TINY = 1e-300
_FAINT = 1e-200
"""Square of what a shape leaves on the readings, at the least: one that is over before the first leaves nothing. [-]"""
_DISTANCES = np.sinh(np.linspace(-17.0, 17.0, 801))
"""Where an integral is tabulated, in standard deviations from an end of its prior: dense about the end. [-]"""


@dataclass(frozen=True, slots=True)
class Size:
    """A prior that is uniform in the logarithm."""

    # Its ends [unit of the size]
    low: float
    high: float

    @property
    def span(self) -> float:
        """Natural logarithm of high over low. [-]"""
        return log(self.high / self.low)

    def at(self, share: FloatArray) -> FloatArray:
        """Return the sizes below which these shares of the prior lie. [unit of the size]"""
        return np.asarray(self.low * np.exp(share * self.span))


def of_none(left: FloatArray) -> FloatArray:
    """Return the log evidence where no size is unknown.

    Parameters
    ----------
    left : ndarray, shape (n, k)
        Whitened readings less what is known of them, one row a shape. [-]

    Returns
    -------
    ndarray, shape (n,)
        Log evidence, up to a constant that all models of the same readings share. [-]
    """
    return np.asarray(-0.5 * np.einsum("ij,ij->i", left, left))


def of_one(left: FloatArray, column: FloatArray, size: Size) -> FloatArray:
    """Return the log evidence where one column has an unknown size.

    Parameters
    ----------
    left : ndarray, shape (n, k)
        Whitened readings less what is known of them, one row a shape. [-]
    column : ndarray, shape (n, k) or (k,)
        Whitened rise for unit size. [per unit of the size]
    size : Size
        Its prior. [unit of the size]

    Returns
    -------
    ndarray, shape (n,)
        Log evidence. [-]
    """
    column = np.broadcast_to(column, left.shape)
    square = np.einsum("ij,ij->i", left, left)
    slope = np.einsum("ij,ij->i", left, column)
    return _over_size(square, slope, np.einsum("ij,ij->i", column, column), size)


def of_two(left: FloatArray, column: FloatArray, size: Size, line: FloatArray, rate: Size) -> FloatArray:
    """Return the log evidence where one column and the line have unknown sizes.

    The rate is integrated at every size of the column. Seen along the size that integral is a bell about the best
    size, or, where the best rate lies below its prior, a narrower bell about the best size at the least rate; the
    points of the trapezoidal rule are dense about both and cover the rest of the prior.

    Parameters
    ----------
    left : ndarray, shape (n, k)
        Whitened readings less what is known of them, one row a shape. [-]
    column : ndarray, shape (n, k)
        Whitened rise for unit size. [per unit of the size]
    size : Size
        Its prior. [unit of the size]
    line : ndarray, shape (k,)
        Whitened line of unit slope. [per unit of the rate]
    rate : Size
        Prior of the slope. [unit of the rate]

    Returns
    -------
    ndarray, shape (n,)
        Log evidence. [-]
    """
    cc, cl, ll = np.maximum(np.einsum("ij,ij->i", column, column), _FAINT), column @ line, float(line @ line)
    yy, cy, ly = np.einsum("ij,ij->i", left, left), np.einsum("ij,ij->i", column, left), left @ line
    apart = np.maximum(cc * ll - cl**2, 1e-14 * cc * ll)  # nothing where a source is as straight as the line
    best, error = (cy * ll - cl * ly) / apart, np.sqrt(ll / apart)
    least, least_error = (cy - cl * rate.low) / cc, 1.0 / np.sqrt(cc)
    points = np.concatenate(
        (
            best[:, None] + error[:, None] * _AROUND_BEST,
            least[:, None] + least_error[:, None] * _AROUND_LEAST_RATE,
            np.broadcast_to(np.geomspace(size.low, size.high, _COVER), (len(left), _COVER)),
        ),
        axis=1,
    )
    points = np.sort(np.clip(points, size.low, size.high), axis=1)
    square = yy[:, None] - 2.0 * points * cy[:, None] + points**2 * cc[:, None]
    inner = _over_rate(square, ly[:, None] - points * cl[:, None], ll, rate)
    # Trapezoids in the logarithm, in which the prior is flat.
    stride = np.diff(np.log(points), axis=1) / (2.0 * size.span)
    weight = np.zeros_like(points)
    weight[:, 1:] += stride
    weight[:, :-1] += stride
    return mean_of_exponentials(inner, weight)


def mean_of_exponentials(logs: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the logarithm of the weighted sum of exponentials over the last axis, none of them overflowing.

    Parameters
    ----------
    logs : ndarray, shape (..., m)
        Logarithms. [-]
    weight : ndarray, shape (..., m)
        Their weights. [-]

    Returns
    -------
    ndarray, shape (...)
        Logarithm of the sum. [-]
    """
    top = logs.max(axis=-1)
    total = np.sum(np.exp(logs - top[..., None]) * weight, axis=-1)
    return np.asarray(top + np.log(np.maximum(total, _TINY)))


def _over_size(square: FloatArray, slope: FloatArray, curvature: FloatArray | float, size: Size) -> FloatArray:
    """Return the log of the prior's mean of `exp(-(square - 2 x slope + x² curvature) / 2)` over the size x."""
    curvature = np.maximum(curvature, _FAINT)
    centre, error = slope / curvature, 1.0 / np.sqrt(curvature)
    # Beyond an end of the prior the bell's flank is steeper the farther the centre lies outside.
    below, above = np.maximum(size.low - centre, 0.0), np.maximum(centre - size.high, 0.0)
    top = np.clip(np.maximum(centre, size.low) + _WINDOW * error / (1.0 + below / error), size.low, size.high)
    bottom = np.clip(np.minimum(centre, size.high) - _WINDOW * error / (1.0 + above / error), size.low, size.high)
    middle, half = 0.5 * (np.log(top) + np.log(bottom)), 0.5 * (np.log(top) - np.log(bottom))
    x = np.exp(middle[..., None] + half[..., None] * _NODES)
    misfit = ((x - centre[..., None]) / np.asarray(error)[..., None]) ** 2
    least = misfit.min(axis=-1)
    total = np.exp(-0.5 * (misfit - least[..., None])) @ _WEIGHTS * half / size.span
    return np.asarray(-0.5 * (square - slope * centre + least) + np.log(np.maximum(total, _TINY)))


def _over_rate(square: FloatArray, slope: FloatArray, curvature: float, size: Size) -> FloatArray:
    """Return the same where all share one curvature: then it depends on the bell's place alone, and is looked up."""
    places, logs = _table(curvature, size)
    place = slope / curvature**0.5
    outside = _beyond(place, curvature, size)
    return np.asarray(np.interp(place, places, logs) - 0.5 * (square - place**2 + outside**2))


@lru_cache(maxsize=4)
def _table(curvature: float, size: Size) -> tuple[FloatArray, FloatArray]:
    """Return places of a bell in its standard deviations, and the log of its integral less that of its flank. [-]"""
    ends = np.array([size.low, size.high]) * curvature**0.5
    places = np.unique(np.add.outer(ends, _DISTANCES))
    logs = _over_size(places**2, places * curvature**0.5, np.full_like(places, curvature), size)
    return places, logs + 0.5 * _beyond(places, curvature, size) ** 2


def _beyond(place: FloatArray, curvature: float, size: Size) -> FloatArray:
    """Return how far a bell's place lies outside the prior. [standard deviations]"""
    root = curvature**0.5
    return np.asarray(np.maximum(np.maximum(size.low * root - place, place - size.high * root), 0.0))
