"""Holds that are stated: by the user, or by the marks of the log, which go before what the readings show."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from decay.errors import RangeError
from decay.log import FROM_FIRST_ROW
from decay.log.pressure_log import PressureLog, Valve
from decay.phases.label import Piece
from decay.phases.phase import Begun, Ended, Kind, Phase, Untold

# Fewest readings within the gauge's range that make a hold.
FEWEST = 5
# Where the valve is closed these are a hold, whatever the readings alone would say.
_HELD = (Kind.PUMPDOWN, Kind.HOLD)
_HELD_IF = (Untold.FLAT, Untold.SHORT)


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


def with_marks(pieces: list[Piece], log: PressureLog) -> list[Piece]:
    """Return the phases of a log, in order of time, its holds begun and ended where its marks say so."""
    if not log.marks:
        return pieces
    made: list[Piece] = []
    spans = _spans(log)
    begin = 0
    for piece in pieces:
        for first, last, valve in spans:
            if first <= piece.last and last >= begin:
                part = replace(piece, last=min(piece.last, last))
                _add(made, _told(part, valve, is_cut=last < piece.last))
        begin = piece.last + 1
    return made


def _spans(log: PressureLog) -> list[tuple[int, int, Valve | None]]:
    """Return first and last reading of each stretch between marks, and what is said of the valve there."""
    # The valve closed between the reading before the mark and the mark's own: a hold begins with the last one before.
    starts = [
        max(int(np.searchsorted(log.time, mark.time)) - (mark.valve is Valve.CLOSED), 0) for mark in log.marks
    ]
    edges = [0, *starts, len(log.time)]
    valves = (None, *(mark.valve for mark in log.marks))
    return [
        (begin, end - 1, valve) for begin, end, valve in zip(edges, edges[1:], valves, strict=False) if end > begin
    ]


def _told(piece: Piece, valve: Valve | None, is_cut: bool) -> Piece:
    """Return a piece as the log's word makes it."""
    if valve is Valve.CLOSED and (piece.kind in _HELD or piece.untold in _HELD_IF):
        ended = Ended.PUMPING if is_cut else piece.ended
        return Piece(Kind.HOLD, piece.last, Begun.MARK, ended)
    if valve is Valve.OPEN and piece.kind is Kind.HOLD:
        return Piece(Kind.UNCLEAR, piece.last, untold=Untold.OPEN)
    return piece


def _add(made: list[Piece], piece: Piece) -> None:
    """Add a piece, as one with the piece before it where nothing parts them."""
    before = made[-1] if made else None
    is_same = before is not None and before.kind is piece.kind and before.untold is piece.untold
    if before is not None and is_same and (piece.kind is not Kind.HOLD or before.begun is piece.begun is Begun.MARK):
        made[-1] = replace(before, last=piece.last, ended=piece.ended)
    else:
        made.append(piece)
