"""The hold that the user points at."""

from __future__ import annotations

from typing import Any

import numpy as np

from decay.errors import RangeError
from decay.log import FROM_FIRST_ROW
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Begun, Kind, Phase

# Fewest readings within the gauge's range that make a hold.
FEWEST = 5


def make_phase(log: PressureLog, kind: Kind, first: int, last: int, **told: Any) -> Phase:
    """Return a phase between two readings of a log, both included."""
    return Phase(
        kind,
        int(first),
        int(last),
        float(log.time[first]),
        float(log.time[last]),
        float(log.pressure[first]),
        float(log.pressure[last]),
        **told,
    )


def hold_between(log: PressureLog, start_s: float, end_s: float) -> Phase:
    """Return the hold that the user states, from the first to the last reading inside it.

    Parameters
    ----------
    log : PressureLog
        The log.
    start_s, end_s : float
        Its ends, since the first row of the log. [s]

    Raises
    ------
    RangeError
        If the ends are out of order, lie outside the log, or leave too few readings.
    """
    if not (np.isfinite(start_s) and np.isfinite(end_s)) or end_s <= start_s:
        raise RangeError(
            f"the hold from {start_s:g} s to {end_s:g} s does not end after it starts. "
            "Give --hold START..END in seconds since the first row, the smaller first."
        )
    if not len(log.time):
        raise RangeError("the log has no readings, so it holds no hold.")
    begin, end = float(log.time[0]), float(log.time[-1])
    slack = log.sampling if len(log.time) > 1 else 0.0
    if start_s < begin - slack or end_s > end + slack:
        offset = "".join(f" {note.text}" for note in log.notes if note.code == FROM_FIRST_ROW)
        raise RangeError(
            f"the hold from {start_s:g} s to {end_s:g} s is not inside the log, which runs from {begin:g} s to "
            f"{end:g} s. Give --hold START..END in seconds since the first row.{offset}"
        )
    usable = (log.time >= start_s) & (log.time <= end_s) & ~log.is_over_range & np.isfinite(log.pressure)
    index = np.flatnonzero(usable)
    if len(index) < FEWEST:
        raise RangeError(
            f"the hold from {start_s:g} s to {end_s:g} s has {len(index)} readings within the gauge's range; "
            f"at least {FEWEST} are needed. Give a longer stretch with --hold START..END."
        )
    return make_phase(log, Kind.HOLD, int(index[0]), int(index[-1]), begun=Begun.USER)
