"""Where a log is not to be trusted: gaps, stuck readings, and readings at the end of a range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, frozen
from decay.log.pressure_log import PressureLog
from decay.quantities import PRESSURE_UNITS

GAP = 5.0  # distances of readings, in medians, from which on readings are missing
FEWEST_RAILED = 5
ATMOSPHERE = (85e3, 106e3)  # Pa, from 1500 m to a high at sea level
FEWEST_STUCK = 30
NOISE = 0.0025  # share of the highest reading within which a railed gauge may still flicker


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
    step : ndarray, shape (n,)
        Smallest change at each reading. [Pa]
    """

    is_gap_before: BoolArray
    is_stuck: BoolArray
    is_railed: BoolArray
    step: FloatArray

    def __post_init__(self) -> None:
        for name in ("is_gap_before", "is_stuck", "is_railed", "step"):
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
    return Quality(_gaps(log), _stuck(log), _railed(log), log.step)


def _gaps(log: PressureLog) -> BoolArray:
    is_gap = np.zeros(len(log.time), dtype=bool)
    if len(log.time) > 2:
        distance = np.diff(log.time)
        is_gap[1:] = distance > GAP * np.median(distance)
    return is_gap


def _runs(values: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Return start and length of the runs of equal values; nan is equal to nothing."""
    start = np.flatnonzero(np.concatenate(([True], ~(np.diff(values) == 0))))
    return start, np.diff(np.append(start, len(values)))


def _railed(log: PressureLog) -> BoolArray:
    values = log.pressure
    none = np.zeros(len(values), dtype=bool)
    finite = values[np.isfinite(values)]
    if len(finite) < 2 * FEWEST_RAILED or finite.min() == finite.max():
        return none
    top = float(finite.max())
    if not _is_limit(top, log.unit):
        return none
    at_top = values >= top - np.maximum(0.51 * log.step, NOISE * top)
    start, length = _runs(np.where(at_top, 1.0, 0.0))
    for begin, count in zip(start, length, strict=True):
        if not at_top[begin] or count < FEWEST_RAILED:
            continue
        # A rail is reached while the pressure still moves, or left so; a plateau is crept up to. An open gauge that
        # waits at atmosphere for the pump to start is neither.
        end = begin + count
        before = top - values[max(begin - 5, 0)] if begin else 0.0
        after = top - values[min(end + 4, len(values) - 1)] if end < len(values) else 0.0
        fast = max(np.nan_to_num(before), np.nan_to_num(after)) > max(2.0 * float(log.step[begin]), 4.0 * NOISE * top)
        waits = begin == 0 and ATMOSPHERE[0] < top < ATMOSPHERE[1]
        if fast and not waits:
            none[begin:end] = True
    return none


def _is_limit(top: float, unit: str) -> bool:
    """Return whether a pressure is a number at which a display ends: all nines, or round, in one of the log's units."""
    for name in unit.split(", "):
        size = PRESSURE_UNITS.get(name)
        digits = f"{top / size:.6g}".replace(".", "").strip("0") if size and "e" not in f"{top / size:.6g}" else ""
        if digits and (len(digits) == 1 or digits in {"12", "15", "25"} or digits.strip("9") == ""):
            return True
    return False


def _stuck(log: PressureLog) -> BoolArray:
    """A run is stuck when the readings around it would have crossed several steps in its length."""
    values = log.pressure
    is_stuck = np.zeros(len(values), dtype=bool)
    if len(values) < 2 * FEWEST_STUCK:
        return is_stuck
    start, length = _runs(values)
    usual = float(np.quantile(length, 0.9))
    for begin, count in zip(start, length, strict=True):
        end = begin + count
        if count < FEWEST_STUCK or count < 10 * usual or not np.isfinite(values[begin]):
            continue
        jumps = [abs(values[begin] - values[begin - 1]) if begin else 0.0,
                 abs(values[end] - values[begin]) if end < len(values) else 0.0]
        # A plateau ends with its own step; a frozen reading ends with a jump to where the pressure has gone.
        if max(jumps) > 5 * float(log.step[begin]):
            is_stuck[begin:end] = True
    return is_stuck
