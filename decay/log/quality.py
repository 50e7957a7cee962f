"""Where a log is not to be trusted: gaps, stuck readings, and readings at the end of a range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, frozen
from decay.log.pressure_log import PressureLog
from decay.log.rails import is_floored, is_railed

GAP = 5.0  # distances of readings, in medians, from which on readings are missing
FEWEST_STUCK = 30
LONGEST_QUIET = 0.98  # quantile of the distances in a log that has rows only on change


@dataclass(frozen=True, slots=True, eq=False)
class Quality:
    """One array for each defect; True means suspect.

    Parameters
    ----------
    is_gap_before : ndarray of bool, shape (n,)
        True where readings are missing before this one. [-]
    is_stuck : ndarray of bool, shape (n,)
        True in a long run of equal readings that noise and step do not explain. [-]
    is_railed : ndarray of bool, shape (n,)
        True where the reading stays at the highest number of the log, the end of the gauge's range. [-]
        The pressure is bounded from below by it.
    is_floored : ndarray of bool, shape (n,)
        True where the reading stays at the lowest number of the log, the bottom of the gauge's range. The pressure is
        bounded from above by it. [-]
    step : ndarray, shape (n,)
        Smallest change at each reading. [Pa]
    """

    is_gap_before: BoolArray
    is_stuck: BoolArray
    is_railed: BoolArray
    is_floored: BoolArray
    step: FloatArray

    def __post_init__(self) -> None:
        for name in ("is_gap_before", "is_stuck", "is_railed", "is_floored", "step"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def inspect(log: PressureLog) -> Quality:
    """Return the defects of a log.

    Parameters
    ----------
    log : PressureLog
        The log.

    Returns
    -------
    Quality
        One boolean array for each defect.
    """
    return Quality(_gaps(log), _stuck(log), is_railed(log), is_floored(log), log.step)


def _gaps(log: PressureLog) -> BoolArray:
    is_gap = np.zeros(len(log.time), dtype=bool)
    if len(log.time) > 2:
        distance = np.diff(log.time)
        usual = float(np.median(distance))
        if _only_changes(log, distance, usual):  # where nothing changed, nothing is missing
            usual = max(usual, float(np.quantile(distance, LONGEST_QUIET)))
        is_gap[1:] = distance > GAP * usual
    return is_gap


def _only_changes(log: PressureLog, distance: FloatArray, usual: float) -> bool:
    """Return whether a row was written only where the reading had changed: uneven rows, no two alike."""
    if len(distance) < FEWEST_STUCK or float(np.quantile(distance, 0.9)) < 3.0 * max(usual, 1e-9):
        return False
    return float(np.mean(np.diff(log.pressure) == 0)) < 0.01


def _runs(values: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Return start and length of the runs of equal values; nan is equal to nothing."""
    start = np.flatnonzero(np.concatenate(([True], ~(np.diff(values) == 0))))
    return start, np.diff(np.append(start, len(values)))


def _stuck(log: PressureLog) -> BoolArray:
    """A run is stuck when the readings around it would have crossed several steps in its length."""
    values = log.pressure
    is_stuck = np.zeros(len(values), dtype=bool)
    if len(values) < 2 * FEWEST_STUCK:
        return is_stuck
    start, length = _runs(values)
    usual = float(np.quantile(length, 0.9))
    for at in np.flatnonzero((length >= max(FEWEST_STUCK, 10 * usual)) & np.isfinite(values[start])):
        begin, end = int(start[at]), int(start[at] + length[at])
        jumps = [abs(values[begin] - values[begin - 1]) if begin else 0.0,
                 abs(values[end] - values[begin]) if end < len(values) else 0.0]
        # A plateau ends with its own step; a frozen reading ends with a jump to where the pressure has gone.
        if max(jumps) > 5 * float(log.step[begin]):
            is_stuck[begin:end] = True
    return is_stuck
