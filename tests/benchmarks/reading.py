"""Reading a log, long and short, against pandas with dialect and date format told by hand; time and memory."""

from __future__ import annotations

import tempfile
import tracemalloc
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pandas as pd

from decay import read_log
from decay.log.pressure_log import PressureLog

from .invented_logs import evacuation, write_csv
from .measuring import Answer, Row, at_most, in_turns

ROWS = 1_000_000
FEWER = 100_000
HOUR = 3600
LOGS = 20
"""Different one-hour logs, so that nothing is remembered from one reading to the next. [-]"""
SHORT_GOAL = 5.0
SLACK = 1.2
"""Cost a row may grow by from the fewer rows to the many: what no longer fits the cache takes longer. [-]"""
MEMORY_GOAL = 2.5


def rows(rounds: int) -> list[Row]:
    """Measure time for long and short logs, memory for a long one, and how the cost grows."""
    with tempfile.TemporaryDirectory() as folder:
        many = write_csv(Path(folder) / "many.csv", evacuation(ROWS))
        fewer = write_csv(Path(folder) / "fewer.csv", evacuation(FEWER))
        hours = [write_csv(Path(folder) / f"{seed}.csv", evacuation(HOUR, seed=seed)) for seed in range(LOGS)]
        found = in_turns(
            rounds,
            theirs=lambda: _told(many),
            ours=lambda: read_log(many),
            fewer=lambda: read_log(fewer),
            hours=lambda: [read_log(path) for path in hours],
            hours_told=lambda: [_told(path) for path in hours],
        )
        peak, log = _peak(partial(read_log, many))
        their_peak, frame = _peak(partial(_told, many))
    per_row = found["ours"] / ROWS, found["fewer"] / FEWER
    return [
        at_most(f"reading {ROWS:,} rows", found["ours"], found["theirs"], 0.35, than="read_csv"),
        Row(f"reading a row of {ROWS:,} against one of {FEWER:,}", f"{per_row[0] * 1e6:.2f} µs",
            f"{per_row[1] * 1e6:.2f} µs", f"{per_row[0] / per_row[1]:.2f} x", f"at most {SLACK:g} x",
            per_row[0] <= SLACK * per_row[1]),
        at_most(f"reading one hour, {HOUR:,} rows, {LOGS} different logs", found["hours"] / LOGS,
                found["hours_told"] / LOGS, SHORT_GOAL, than="read_csv"),
        _memory(f"peak memory of {ROWS:,} rows against the log's arrays", peak, _size(log)),
        _memory(f"peak memory of {ROWS:,} rows against read_csv's own peak", peak, their_peak, 1.0),
        # For the record: the frame has two columns of eight bytes; a log carries line, step and flags beside them.
        Row(f"peak memory of {ROWS:,} rows against the bare frame", f"{peak / 1e6:.0f} MB",
            f"{frame.memory_usage(deep=True).sum() / 1e6:.0f} MB",
            f"{peak / frame.memory_usage(deep=True).sum():.2f} x", "none set", True),
    ]  # fmt: skip


def _told(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, sep=",", header=0, parse_dates=["Time"], date_format="%Y-%m-%dT%H:%M:%S")


def _peak(function: Callable[[], Answer]) -> tuple[int, Answer]:
    """Return the most memory that a call held at once, as Python and numpy tell it [bytes], and its answer."""
    tracemalloc.start()
    answer = function()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak, answer


def _size(log: PressureLog) -> int:
    """Return the memory of a log's arrays. [bytes]"""
    return sum(array.nbytes for array in (log.time, log.pressure, log.line, log.is_over_range, log.step))


def _memory(what: str, ours: int, yardstick: int, limit: float = MEMORY_GOAL) -> Row:
    ratio = ours / yardstick
    return Row(what, f"{ours / 1e6:.0f} MB", f"{yardstick / 1e6:.0f} MB", f"{ratio:.2f} x", f"at most {limit:g} x",
               ratio <= limit)
