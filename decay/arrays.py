"""The array types that travel between the rooms, the one way to freeze them, and the running median of readings."""

from __future__ import annotations

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
