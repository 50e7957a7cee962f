"""Whether a log's own times can order its rows: which way they run, and that no two gauges share them."""

from __future__ import annotations

import re

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.constants import HOUR
from decay.errors import LogError
from decay.table.read_options import Note

_DOWN = re.compile(r"remain|count\W?down|to[\W_]go|time[\W_]left|minus|restzeit|verbleib|restant|rimanent",
                   re.IGNORECASE)
_FEWEST = 8  # rows that show which way the times run
_MOST = 0.9  # share of them that must run down
_ENDS, _FALL = 3, 3.0  # rows at each end, and the ratio of their pressures from which on a pull lies between them
_LATEST_COUNT = 3.0 * HOUR  # s; a clock that shows more at its median is a time of day
_MANY, _LEAST_APART, _RATIO = 0.8, 0.05, 5.0  # share of moments with as many rows; logarithms; saw teeth to the rest
_SHARED = 0.3  # share of rows that stand at the time of another and read otherwise


def run_up(seconds: FloatArray, pressure: FloatArray, is_over: BoolArray, line: IntArray, file: str, column: str,
           is_clock: bool) -> tuple[FloatArray, list[Note]]:
    """Return times that run up where they count down, for logs without dates.

    Times that run down either count down to an end, and the rows are in order; or they tell elapsed times, and the
    newest row stands first. The heading says it, or the pressure, which falls in a pull.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times as the rows stand in the file, without ``nan``. [s]
    pressure : ndarray, shape (n,)
        Readings; ``nan`` where there is none. [Pa]
    is_over : ndarray of bool, shape (n,)
        True above the gauge's range. [-]
    line : ndarray of int, shape (n,)
        Line of each row. [-]
    file, column : str
        The file, and the column's heading.
    is_clock : bool
        Whether the cells are clocks, which may be times of day.

    Returns
    -------
    seconds : ndarray, shape (n,)
        Times; as they are where they do not count down. [s]
    notes : list of Note
        Whether they do.

    Raises
    ------
    LogError
        If neither heading nor pressure tells.
    """
    change = np.diff(seconds)
    if len(seconds) < _FEWEST or np.count_nonzero(change < 0) <= _MOST * np.count_nonzero(change):
        return seconds, []
    says_down = _DOWN.search(column) is not None
    if is_clock and not says_down and float(np.median(seconds)) > _LATEST_COUNT:
        return seconds, []
    level = np.where(is_over, np.inf, pressure)
    level = level[~np.isnan(level)]
    start, end = (float(np.median(part)) for part in (level[:_ENDS], level[-_ENDS:])) if len(level) else (0.0, 0.0)
    if not says_down and end > _FALL * start:
        return seconds, []
    if not says_down and not start > _FALL * end:
        raise LogError(file, "the times run down from row to row, and the readings do not show whether they count "
                       "down or the newest row stands first", "Expected the oldest row first, or a heading that says "
                       'it, like "time remaining".', "Sort the rows by time, or name the column so.", column=column)
    why = "" if says_down else ", because the pressure then falls as in a pull"
    text = f'"{column}" counts down: the rows were taken in the order of the file{why}. Sort them if it does not.'
    return float(seconds[0]) - seconds, [Note("time-counts-down", text, int(line[0]))]


def refuse_alternating(seconds: FloatArray, pressure: FloatArray, file: str) -> None:
    """Refuse rows that share their times in sets, and whose readings go up and down within each: several gauges.

    Raises
    ------
    LogError
        If it is so.
    """
    if len(seconds) < 2 * _FEWEST:
        return
    begin = np.flatnonzero(np.diff(seconds, prepend=seconds[0] - 1.0) != 0)
    size = np.diff(np.append(begin, len(seconds)))
    rows = int(np.median(size))
    if rows < 2 or np.mean(size == rows) < _MANY or len(begin) < _FEWEST:
        return
    begin = begin[size == rows]
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(pressure[begin[:, None] + np.arange(rows)])
    logs = logs[np.isfinite(logs).all(axis=1)]
    if len(logs) < _FEWEST:
        return
    within = float(np.median(np.ptp(logs, axis=1)))
    onward = float(np.median(np.abs(np.diff(logs[:, 0]))))
    if within > _LEAST_APART and within > _RATIO * onward:
        raise LogError(file, f"each time stands in {rows} rows, whose readings differ",
                       "Expected one row for each time, the gauges side by side.",
                       "Export one gauge; or name the column that says which gauge a row is of, e.g. \"channel\".")


def is_coarse(seconds: FloatArray, pressure: FloatArray) -> bool:
    """Return whether rows that share a time are readings of their own, and not the same row again."""
    is_double = np.diff(seconds) == 0
    return bool(is_double.any()) and float(np.mean(np.diff(pressure)[is_double] != 0)) > 0.5


def refuse_shared(seconds: FloatArray, pressure: FloatArray, file: str) -> None:
    """Refuse times that hardly move: where many rows would be left out for sharing theirs with another reading.

    Raises
    ------
    LogError
        If it is so.
    """
    rows = np.argsort(seconds, kind="stable")
    is_double = np.diff(seconds[rows]) <= 0
    if int(is_double.sum()) <= _SHARED * len(rows):
        return
    readings = pressure[rows]
    differ = is_double & (readings[1:] != readings[:-1]) & ~(np.isnan(readings[1:]) & np.isnan(readings[:-1]))
    if int(differ.sum()) > _SHARED * len(rows):
        raise LogError(file, f"{int(differ.sum())} of {len(rows)} rows share their times with others that read "
                       "otherwise", "Expected times that tell the rows apart.",
                       "Name another column with --time-column, or state the distance of the rows, e.g.  "
                       '--time-unit "5 s"')
