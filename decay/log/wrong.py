"""Single readings that no pressure can have made: a zero, a full scale, a code among readings that go on as before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.log.pressure_log import Note, PressureLog

LONGEST = 3  # readings in a row; a vent, a leak or a sweep lasts longer or does not come back to where it was
FACTOR = 1.3  # by which a reading must stand off from both neighbours; less is noise or a step of the gauge
BACK = 1.15  # factor within which the readings before and after must agree, apart from what they do anyway
SMALL_CHANGE = 0.25  # of a reading's own distance, that may lie between before and after: the valve closed just then
FASTEST_PULL = 0.5  # s; no pump empties a system with a smaller time constant
CLEAR_OF_NOISE = 8.0  # medians of the differences around
FOOT = 10.0  # steps that are added to each reading, so that zero has a logarithm and small numbers count little
SHORTEST_EVENT = 60.0  # s; unequal readings over a longer time may be an event even where they come back
_AROUND = 8  # readings on each side that tell the noise
_PASSES = 3  # a wrong reading beside another shows once that one is gone


def set_aside(log: PressureLog) -> PressureLog:
    """Return a log without its single wrong readings, and with a note of how many there were.

    A run of one to three readings is wrong where it stands off from the readings before *and* after it, which agree
    with each other. So nothing that stays, climbs or falls is touched: not a vent, not a leak that reaches the top
    of the range within seconds, not the end of a log. Zeros between readings that agree are no pressure either,
    however many there are: a vacuum does not come and go at once.

    Parameters
    ----------
    log : PressureLog
        The log.

    Returns
    -------
    PressureLog
        The same object where nothing is wrong.
    """
    wrong = np.zeros(len(log.time), dtype=bool)
    for _ in range(_PASSES):
        kept = np.flatnonzero(np.isfinite(log.pressure) & ~wrong)
        found = _wrong(log.pressure[kept], log.time[kept], log.step[kept]) if len(kept) > 2 * LONGEST else kept[:0]
        if len(found) == 0:
            break
        wrong[kept[found]] = True
    if not wrong.any() or int(wrong.sum()) > len(wrong) // 3:  # so many are not single ones
        return log
    return _without(log, wrong)


def _wrong(values: FloatArray, time: FloatArray, step: FloatArray) -> IntArray:
    """Return the indices of the wrong readings."""
    count = len(values)
    size = np.log(values + FOOT * step)
    jump = np.diff(size)
    begins = np.flatnonzero(np.abs(jump) > np.log(FACTOR)) + 1  # a run begins where the readings jump
    if len(begins) == 0:
        return begins
    is_wrong = np.zeros(count, dtype=bool)
    for length in range(1, LONGEST + 1):
        first = begins[(begins + length < count) & ~is_wrong[begins]]
        if len(first) == 0:
            continue
        before, after = _beside(size, first - 1, -1), _beside(size, first + length, 1)
        run = size[first[:, None] + np.arange(length)]
        off = np.maximum(run.min(axis=1) - np.maximum(before, after), np.minimum(before, after) - run.max(axis=1))
        likely = off > np.log(FACTOR)
        first, before, after, off, run = first[likely], before[likely], after[likely], off[likely], run[likely]
        trend, noise = _usual(jump, first, length)
        apart = np.abs(after - before)
        is_back = np.abs(after - before - (length + 3) * trend) < np.log(BACK) + 4.0 * noise
        is_dip = run.max(axis=1) < np.minimum(before, after)
        too_fast = time[first + length] - time[first + length - 1] < off * FASTEST_PULL
        is_back |= (apart < SMALL_CHANGE * off) & (is_dip | too_fast)
        # A let-in that a slow log shows in one reading is still on its way back in the next.
        stray = np.maximum(np.abs(size[first + length] - after), np.abs(size[first - 1] - before))
        is_back &= (stray < SMALL_CHANGE * off) | is_dip | too_fast
        brief = (time[first + length] - time[first - 1] <= SHORTEST_EVENT) | (np.ptp(run, axis=1) == 0)
        for at in first[is_back & brief & (off > CLEAR_OF_NOISE * noise)]:
            is_wrong[at : at + length] = True
    _mark_zeros(values, size, time, step, is_wrong)
    return np.flatnonzero(is_wrong)


def _beside(size: FloatArray, nearest: IntArray, way: int) -> FloatArray:
    """Return the median of three readings on one side of each run: one of them may be wrong itself."""
    places = np.clip(nearest[:, None] + way * np.arange(3), 0, len(size) - 1)
    median: FloatArray = np.median(size[places], axis=1)
    return median


def _usual(jump: FloatArray, first: IntArray, length: int) -> tuple[FloatArray, FloatArray]:
    """Return the median of the differences around each run, those at its edges left out, and of what strays from it."""
    offsets = np.concatenate((np.arange(-_AROUND - 1, -1), np.arange(length, length + _AROUND)))
    around = jump[np.clip(first[:, None] + offsets, 0, len(jump) - 1)]
    trend = np.median(around, axis=1)
    return trend, np.median(np.abs(around - trend[:, None]), axis=1)


def _mark_zeros(values: FloatArray, size: FloatArray, time: FloatArray, step: FloatArray, is_wrong: BoolArray) -> None:
    """Mark zeros between readings that agree, and up to three at an end, where the readings beside are far above."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], values == 0, [False])).astype(np.int8)))
    count = len(values)
    for begin, end in edges.reshape(-1, 2).tolist():
        sides = [at for at in (begin - 1, end) if 0 <= at < count]
        if not sides or any(values[at] < 2.0 * FOOT * step[at] for at in sides):
            continue
        if len(sides) == 2:
            is_wrong[begin:end] |= abs(size[end] - size[begin - 1]) < np.log(BACK)
        elif end - begin <= LONGEST and float(np.ptp(time[sides[0] : begin + 1] if begin else time[: end + 1])) < (
                SHORTEST_EVENT):
            is_wrong[begin:end] = True


def _without(log: PressureLog, wrong: BoolArray) -> PressureLog:
    at = np.flatnonzero(wrong)
    keep = ~wrong
    arrays = {name: array[keep] for name in ("time", "pressure", "line", "is_over_range", "step", "temperature")
              if (array := getattr(log, name)) is not None}
    others = {name: array[keep] for name, array in log.other_gauges.items()}
    what, were = ("1 reading stands", "was") if len(at) == 1 else (f"{len(at)} readings stand", "were")
    text = f"{what} far from the readings before and after, which agree, and {were} left out."
    note = Note("reading-wrong", text, int(log.line[at[0]]), len(at))
    return replace(log, **arrays, other_gauges=others, notes=(*log.notes, note))
