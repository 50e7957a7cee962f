"""Reads any gauge's log: bytes in, a `PressureLog` out, and what of it is not to be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from decay.log.pressure_log import Mark, PressureLog, Valve
from decay.table.read_options import FROM_FIRST_ROW, WRITTEN, Note, ReadOptions

if TYPE_CHECKING:
    from decay.log.reader import read_log

__all__ = ["FROM_FIRST_ROW", "WRITTEN", "Mark", "Note", "PressureLog", "ReadOptions", "Valve", "read_log"]


def __getattr__(name: str) -> Any:
    """Load the reader only when a log is read."""
    if name == "read_log":
        from decay.log.reader import read_log

        return read_log
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
