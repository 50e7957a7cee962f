"""The array types that travel between the rooms, the one way to freeze them, and the middle of readings, fast."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
# Readings that a running median takes at a time. Cost only.
BLOCK = 8192


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only copy, so that a result cannot change after it was judged.

    An array that already is read-only and nobody's view is returned itself: a long log is not held twice.
    """
    if not array.flags.writeable and array.flags.owndata:
        return array
    copy = np.array(array)
    copy.flags.writeable = False
    return copy


def last_level(time: FloatArray, values: FloatArray) -> float:
    """Return the median of the last five values, of those in the last tenth of the time: written down by hand, one.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Times, in order. [s]
    values : ndarray, shape (n,)
        Numbers, one at least. [any unit]
    """
    late = int(np.searchsorted(time, time[-1] - 0.1 * (time[-1] - time[0])))
    return median(values[max(late, len(values) - 5) :])


def median(values: FloatArray | IntArray) -> float:
    """Return the median of some values; ``nan`` where there are none, or one is none. [unit of values]

    The same number as numpy's: a log asks for dozens of them, mostly of few readings, and there numpy takes longer to
    look at what it was given than to find the middle.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Numbers. [any unit]
    """
    half = len(values) // 2
    if not len(values):
        return math.nan
    parted = values.copy()
    parted.partition(half)
    top = float(parted[half:].max())
    if top != top:
        return top
    upper = float(parted[half])
    return upper if len(values) % 2 else (float(parted[:half].max()) + upper) / 2.0


def quantile(values: FloatArray, share: float) -> float:
    """Return the value below which a share of some values lies, between two of them where need be. [unit of values]

    The same number as numpy's, as for the median.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Numbers, at least one. [any unit]
    share : float
        From 0 to 1. [-]
    """
    place = share * (len(values) - 1)
    at = int(place)
    parted = values.copy()
    parted.partition(at)
    rest = parted[at:]
    if float(rest.max()) != float(rest.max()):
        return math.nan
    low = float(parted[at])
    high = float(rest[1:].min()) if len(rest) > 1 else low
    part = place - at
    # From whichever is nearer, so that both ends come out as they are.
    return low + (high - low) * part if part < 0.5 else high - (high - low) * (1.0 - part)


def running_median(values: FloatArray) -> FloatArray:
    """Return the running median over five readings, ends repeated.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings. [any unit]

    Returns
    -------
    ndarray, shape (n,)
        Fresh, of the same unit. [any unit]
    """
    count = len(values)
    if count < 5:
        return values.copy()
    out = np.empty(count)
    # Block by block: the many steps then stay in the cache.
    for first in range(0, count, BLOCK):
        last = min(first + BLOCK, count)
        around = values[max(first - 2, 0) : last + 2]
        if first == 0 or last + 2 > count:
            around = np.pad(around, (2 if first == 0 else 0, max(last + 2 - count, 0)), mode="edge")
        out[first:last] = _medians_of_five(around)
    return out


def _medians_of_five(values: FloatArray) -> FloatArray:
    low, high = np.minimum(values[:-1], values[1:]), np.maximum(values[:-1], values[1:])
    # Of two pairs, the least and the greatest are not the median of five.
    inner, outer = np.maximum(low[:-3], low[2:-1]), np.minimum(high[:-3], high[2:-1])
    least, most = np.minimum(inner, outer), np.maximum(inner, outer)
    return np.asarray(np.maximum(least, np.minimum(most, values[4:])))
