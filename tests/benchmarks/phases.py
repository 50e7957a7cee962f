"""The phases of a log of 7,200 rows against the change points that ruptures' Pelt finds in the same readings."""

from __future__ import annotations

import numpy as np
import ruptures

from decay.log.quality import inspect
from decay.phases import find_phases

from .invented_logs import evacuation
from .measuring import Row, in_turns, seconds, times_faster

ROWS = 7200
LIMIT = 0.010
"""Goal for such a log. [s]"""


def rows(rounds: int) -> list[Row]:
    """Measure both on one log."""
    log = evacuation(ROWS)
    quality = inspect(log)
    ours = in_turns(10 * rounds, ours=lambda: find_phases(log, quality))["ours"]
    # Pelt takes long: one round after the one that does not count.
    pelt = in_turns(1, pelt=lambda: _change_points(np.log(log.pressure)))["pelt"]
    return [
        Row(f"phases of {ROWS:,} rows", seconds(ours), "", seconds(ours), f"under {seconds(LIMIT)}", ours < LIMIT),
        times_faster(f"phases of {ROWS:,} rows", ours, pelt, 1.0, than="ruptures Pelt (l2, log p)"),
    ]


def _change_points(values: np.ndarray) -> list[int]:
    # A usual penalty: variance of the noise times a few logarithms of the count.
    noise = float(np.median(np.abs(np.diff(values)))) ** 2
    found: list[int] = ruptures.Pelt(model="l2").fit(values).predict(pen=10.0 * np.log(len(values)) * noise)
    return found
