"""A log as a data frame and back: the readings as they stand in a notebook."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from decay.constants import MICRON
from decay.errors import LogError
from decay.log.pressure_log import PressureLog
from decay.log.reader import read_log
from decay.table.read_options import ReadOptions

if TYPE_CHECKING:
    import pandas as pd

FRAME = "DataFrame"
"""What a log from a data frame is called in reports and errors."""


def from_frame(
    frame: pd.DataFrame,
    pressure: str | None = None,
    unit: str | None = None,
    *,
    time: str | None = None,
    temperature: str | None = None,
    time_unit: str | None = None,
) -> PressureLog:
    """Return the log in a data frame.

    Parameters
    ----------
    frame : DataFrame
        One row a reading. An index of dates, of time differences or with a name is a column of times.
    pressure, time, temperature : str, optional
        Names of the columns; where one is not named, its content decides.
    unit : str, optional
        Unit of the pressures, such as ``"micron"``.
    time_unit : str, optional
        Unit of elapsed times, such as ``"s"``.

    Returns
    -------
    PressureLog
        As `decay.read_log` would read it from a file.

    Raises
    ------
    LogError
        If a named column is not there, or the frame holds no log.
    """
    import pandas as pd

    for name in (pressure, time, temperature):
        if name is not None and name not in (*map(str, frame.columns), frame.index.name):
            raise LogError(FRAME, f'there is no column "{name}"',
                           f"one of: {', '.join(map(str, frame.columns))}", "Name one of these.")
    written = frame
    if isinstance(frame.index, pd.TimedeltaIndex):
        written = frame.set_axis(pd.Index(frame.index.total_seconds(), name="time s"), axis=0)
    has_times = time is None and not isinstance(frame.index, pd.RangeIndex)
    has_times |= time is not None and time == frame.index.name
    text = written.to_csv(index=has_times, index_label=str(written.index.name or "time") if has_times else None)
    content = io.BytesIO(text.encode("utf-8"))
    content.name = FRAME
    options = ReadOptions(gauge=pressure, unit=unit, time_column=time, temperature=temperature, time_unit=time_unit,
                          delimiter=",", decimal=".", encoding="utf-8", header=True)
    return read_log(content, options)


def frame_of(log: PressureLog, **columns: Sequence[str]) -> pd.DataFrame:
    """Return a log as a data frame: ``time_s``, ``pressure_micron``, ``is_over_range``, then more columns by name."""
    import pandas as pd

    return pd.DataFrame({"time_s": log.time, "pressure_micron": log.pressure / MICRON,
                         "is_over_range": log.is_over_range, **columns})
