"""The array types that travel between the rooms, and the one way to freeze them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only copy, so that a result cannot change after it was judged.

    An array that already is read-only and nobody's view is returned itself: a long log is not held twice.
    """
    if not array.flags.writeable and array.flags.owndata:
        return array
    copy = np.array(array)
    copy.flags.writeable = False
    return copy
