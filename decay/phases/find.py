"""The one way from a log to its phases: parts without long gaps, each prepared, thinned, searched and named."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from decay.arrays import BoolArray
from decay.constants import DAY
from decay.log.pressure_log import PressureLog
from decay.phases.course import course_of
from decay.phases.flat import goes_on
from decay.phases.knots import knots_of
from decay.phases.label import Piece, label
from decay.phases.path import cheapest
from decay.phases.phase import Ended, Kind, Phase, Untold
from decay.phases.readings import LEAVES, RANGE_JUMP, Readings, prepare
from decay.phases.rises import turns_sharply
from decay.phases.stated import make_phase, with_marks

# Fewer readings than these show no shape.
FEWEST = 5
# A pause longer than this, and longer than all before it, is another job unless the same curve goes on; one of a day
# always is. [s]
PAUSE = 600.0


def find_phases(log: PressureLog, quality: Any = None) -> tuple[Phase, ...]:
    """Return what each stretch of a log is.

    Parameters
    ----------
    log : PressureLog
        The readings.
    quality : Quality, optional
        Flags of the readings; those at the upper end of a gauge's range count as over range.

    Returns
    -------
    tuple of Phase
        In order of time and without gaps: every reading belongs to one phase. Empty for an empty log.

    Notes
    -----
    The cheapest path through {above range, pumped, held, let in, standing} is sought over a few hundred means of
    readings, in the gauge's own scale; each segment costs one turn, and what goes against its state. The moment the
    valve closed is then the best cut between a line and a line with a settling step; the ends of a hold are the last
    readings on its curve. A hold needs a rise beyond noise and wandering, or a fall that ends too soon; what is merely
    flat is unclear at the end of a log, and pumping before a further fall. What the log itself says of its valve goes
    before what the readings show.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(0.0, 900.0)
    >>> fall = 1e5 * np.exp(-np.minimum(time, 600.0) / 25.0) + 40.0
    >>> log = PressureLog("-", time, fall + 0.1 * np.maximum(time - 600.0, 0.0), np.arange(900),
    ...                   np.zeros(900, bool), np.full(900, 0.1), "g", "Pa", 900)
    >>> phases = find_phases(log)
    >>> [phase.kind.value for phase in phases], abs(phases[1].start - 600.0) <= 2.0
    (['pumpdown', 'hold'], True)
    """
    count = len(log.time)
    if count == 0:
        return ()
    if count < FEWEST:
        return (make_phase(log, Kind.UNCLEAR, 0, count - 1, untold=Untold.FEW),)
    readings = prepare(log, quality)
    begins = [0, *_pauses(readings).tolist(), count]
    pieces: list[Piece] = []
    for begin, end in pairwise(begins):
        part = _pieces(readings.between(begin, end))
        shifted = [_shifted(piece, begin) for piece in part]
        if end < count:
            shifted[-1] = replace(shifted[-1], ended=Ended.GAP)
        pieces += shifted
    return _phases(log, with_marks(pieces, log), readings.is_odd)


def _pieces(readings: Readings) -> list[Piece]:
    """Return the phases of a part of a log without long gaps."""
    last = len(readings.time) - 1
    if last + 1 < FEWEST:
        return [Piece(Kind.UNCLEAR, last, untold=Untold.FEW)]
    if readings.is_above.all():
        return [Piece(Kind.UNCLEAR, last, untold=Untold.OVER_RANGE)]
    knots = knots_of(readings)
    pieces = label(course_of(readings, knots, cheapest(knots)))
    pieces[-1] = replace(pieces[-1], last=last)
    firsts = [0, *(piece.last + 1 for piece in pieces)]
    for i, piece in enumerate(pieces):
        if piece.kind is Kind.HOLD:
            start = firsts[i - 1] if i and pieces[i - 1].kind is Kind.PUMPDOWN else firsts[i]
            leaves = piece.ended is Ended.OVER_RANGE
            seen = leaves or goes_on(readings, start, firsts[i], piece.last)
            pieces[i] = replace(piece, goes_on=seen, turns=turns_sharply(readings, firsts[i]))
    return pieces


def _pauses(readings: Readings) -> np.ndarray:
    """Return the readings before which a pause ends that parts two jobs."""
    time, smooth = readings.time, readings.smooth
    pause = np.diff(time)
    long = np.flatnonzero(pause > PAUSE)
    if not len(long):
        return long
    after = long + 1
    blur = LEAVES * readings.noise[after] + 2.0 * readings.step[after]
    apart = np.abs(smooth[after] - smooth[long]) > RANGE_JUMP * np.abs(smooth[after]) + blur
    found, since = [], float(time[0])
    for at, is_apart in zip(long.tolist(), apart.tolist(), strict=True):
        if pause[at] > DAY or (is_apart and pause[at] > time[at] - since):
            found.append(at + 1)
            since = float(time[at + 1])
    return np.array(found, dtype=int)


_KEPT = ("begun", "ended", "untold", "earlier", "later", "goes_on", "turns")


def _shifted(piece: Piece, by: int) -> Piece:
    closings = None if piece.closings is None else (piece.closings[0] + by, piece.closings[1] + by)
    return replace(piece, last=piece.last + by, closings=closings)


def _phases(log: PressureLog, pieces: list[Piece], is_odd: BoolArray) -> tuple[Phase, ...]:
    phases = []
    first = 0
    for piece in pieces:
        told = {name: getattr(piece, name) for name in _KEPT}
        if piece.closings is not None:
            told["closings"] = tuple(float(log.time[index]) for index in piece.closings)
        if piece.kind is Kind.HOLD:
            told["aside"] = tuple((first + np.flatnonzero(is_odd[first : piece.last + 1])).tolist())
        phases.append(make_phase(log, piece.kind, first, piece.last, **told))
        first = piece.last + 1
    return tuple(phases)
