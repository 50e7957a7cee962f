"""The array types that travel between the rooms, and the one way to freeze them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only copy, so that a result cannot change after it was judged."""
    copy = np.array(array)
    copy.flags.writeable = False
    return copy
