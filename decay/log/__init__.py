"""Reads any gauge's log: bytes in, a `PressureLog` out, and what of it is not to be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from decay.log.pressure_log import Mark, PressureLog, Valve
from decay.table.read_options import FROM_FIRST_ROW, WRITTEN, Note, ReadOptions

if TYPE_CHECKING:
    from decay.log.reader import read_log


def __getattr__(name: str) -> Any:
    """Load the reader only when a log is read."""
    if name == "read_log":
        from decay.log.reader import read_log

        return read_log
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def _from_frame(frame: Any, pressure: str | None = None, unit: str | None = None, **named: Any) -> PressureLog:
    """Return the log in a data frame: one row a reading; ``named`` are ``time``, ``temperature`` and ``time_unit``.

    Parameters, types and errors are those of `decay.log.frame.from_frame`.
    """
    from decay.log.frame import from_frame

    return from_frame(frame, pressure, unit, **named)


# A log does not know its reader: that would close a circle.
PressureLog.from_frame = staticmethod(_from_frame)
