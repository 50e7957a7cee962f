"""Undoes steps of the clock: where it was set on or back, or began again, while the readings simply went on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, IntArray, median
from decay.constants import DAY, HOUR
from decay.errors import LogError
from decay.table.read_options import Note

_SIDE = 30  # readings on each side that show how the pressure goes
_SIDE_OF_A_FALL = 6  # the same where the pressure falls by a share of itself from reading to reading
_FEWEST = 4
_SEEN = 10_000  # distances that tell how the rows come
_STAYS = 3  # rows on each side that run on, where the clock was set back, and no row is out of place
_REGULAR = 1.5  # ratio of the long to the short distances of readings, up to which a missing one would show
_LEAST_ROWS, _LEAST = 20.0, 60.0  # samplings, and seconds, from which on a gap may be a step
_SURE = 4.0  # deviations of the readings from where they should be
_CLOSE = 0.1  # of the level, within which readings go on, however much they scatter
_MOST_STEPS = 20  # more of them are no clock, but rows in disorder


@dataclass(frozen=True, slots=True)
class _Side:
    level: float  # at the end towards the step
    slope: float
    noise: float
    doubt: float  # of the slope


def undo_steps(seconds: FloatArray, pressure: FloatArray, step: FloatArray, line: IntArray, name: str, is_counter: bool
               ) -> tuple[FloatArray, list[Note]]:
    """Return times without the steps of the clock.

    A step is undone where the readings behind it go on where those before it ended, which they would not do had the
    time really passed; or where nothing tells, but it is of whole hours to the second, or of days. A gap that
    readings do not fill stays.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times as the rows stand in the file, without ``nan``. [s]
    pressure : ndarray, shape (n,)
        Readings; ``nan`` where there is none. [Pa]
    step : ndarray, shape (n,)
        Smallest change at each reading. [Pa]
    line : ndarray of int, shape (n,)
        Line of each row. [-]
    name : str
        The file, for an error.
    is_counter : bool
        Whether the times count from the start of the recording instead of telling a clock.

    Returns
    -------
    seconds : ndarray, shape (n,)
        Times by one clock. [s]
    notes : list of Note
        Each step.

    Raises
    ------
    LogError
        If the time begins again and the readings do not go on: how much time lies between is not told.
    """
    is_new = np.ones(len(seconds), dtype=bool)
    is_new[1:] = np.diff(seconds) != 0
    if is_new.all():
        return _undone(seconds, pressure, step, line, name, is_counter)
    # Rows that are there twice say nothing of a clock: it is looked for without them.
    told, notes = _undone(seconds[is_new], pressure[is_new], step[is_new], line[is_new], name, is_counter)
    return seconds + (told - seconds[is_new])[np.cumsum(is_new) - 1], notes


def _undone(seconds: FloatArray, pressure: FloatArray, step: FloatArray, line: IntArray, name: str, is_counter: bool
            ) -> tuple[FloatArray, list[Note]]:
    """Do what `undo_steps` says, where no time is told twice in a row."""
    change = np.diff(seconds)
    ahead = change[:: len(change) // _SEEN + 1]
    ahead = ahead[ahead > 0]
    if len(ahead) < 2 * _FEWEST:
        return seconds, []
    sampling = median(ahead)
    least = max(_LEAST_ROWS * sampling, _LEAST)
    back, begins_again = _set_back(seconds, pressure, change, sampling)
    far = np.flatnonzero(change > least) if not is_counter and _is_regular(ahead) else back[:0]
    if len(back) + len(far) == 0 or len(back) > _MOST_STEPS or len(far) > _MOST_STEPS:
        return seconds, []
    moved = np.zeros(len(change))
    notes = []
    for at in sorted({*back.tolist(), *far.tolist()}):
        size = float(change[at])
        if _goes_on(seconds, pressure, step, at, size, sampling):
            moved[at] = sampling - size
            notes.append(_note(is_counter, size, sampling, int(line[at + 1])))
        elif at in begins_again:
            raise _recordings(name, int(line[at + 1]))
    return (seconds + np.concatenate(([0.0], np.cumsum(moved))), notes) if notes else (seconds, notes)


def _recordings(name: str, line: int) -> LogError:
    return LogError(name, "the time begins again, and the readings do not go on where they were",
                    "Expected one recording, its times one after the other.",
                    "Cut the file into its recordings and give them one by one, or together with --same-job.",
                    line=line)


def _is_regular(ahead: FloatArray) -> bool:
    low, high = np.quantile(ahead, [0.1, 0.9])
    return bool(high <= _REGULAR * low)


def _set_back(seconds: FloatArray, pressure: FloatArray, change: FloatArray, sampling: float
              ) -> tuple[IntArray, set[int]]:
    """Return the rows behind which the time stays behind what it was, and which of them tell the same times again.

    Rows out of place, a damaged time and rows that are there twice are no work of a clock: on both sides it must run.
    """
    at = np.flatnonzero(change < -_STAYS * sampling)
    at = at[(at >= _STAYS) & (at + _STAYS < len(change))]
    around = np.concatenate((np.arange(-_STAYS, 0), np.arange(1, _STAYS + 1)))
    beside = change[at[:, None] + around]
    at = at[((beside > 0) & (beside < _STAYS * sampling)).all(axis=1) & (seconds[at + 1 + _STAYS] < seconds[at])]
    if len(at) > _MOST_STEPS:
        return at[:0], set()
    again: set[int] = set()
    twice: set[int] = set()
    for first, end in zip(at.tolist(), [*at[1:].tolist(), len(seconds) - 1], strict=False):
        told, new = slice(0, first + 1), slice(first + 1, end + 1)
        if float(seconds[new].max()) >= float(seconds[told].min()):
            again.add(first)
            earlier = set(zip(seconds[told].tolist(), pressure[told].tolist(), strict=True))
            rows = list(zip(seconds[new].tolist(), pressure[new].tolist(), strict=True))[:_SIDE]
            if sum(row in earlier for row in rows) > 0.5 * len(rows):
                twice.add(first)
    return np.array([row for row in at.tolist() if row not in twice], dtype=np.int64), again - twice


def _goes_on(
    seconds: FloatArray, pressure: FloatArray, step: FloatArray, at: int, size: float, sampling: float
) -> bool:
    """Return whether the readings behind a step follow those before it: on a line, or a few of them as a pull falls."""
    before, after = (_side(seconds, pressure, step, row, way, sampling) for row, way in ((at, -1), (at + 1, 1)))
    if _follows(before, after, 0.0 if before is None else _CLOSE * abs(before.level), size, sampling):
        return True
    rows = slice(max(at + 1 - _SIDE_OF_A_FALL, 0), at + 1 + _SIDE_OF_A_FALL)
    time, near, coarse, at = seconds[rows], pressure[rows], step[rows], at - rows.start
    if not bool(np.all(near > coarse)):
        return False
    shares = np.log(near), coarse / near
    before, after = (_side(time, *shares, row, way, sampling) for row, way in ((at, -1), (at + 1, 1)))
    return _follows(before, after, _CLOSE, size, sampling)


def _side(seconds: FloatArray, pressure: FloatArray, step: FloatArray, at: int, way: int, sampling: float
          ) -> _Side | None:
    """Return level, slope and noise of the readings on one side of a step, from a straight line."""
    rows = np.arange(at, at + way * _SIDE, way)
    rows = rows[(rows >= 0) & (rows < len(pressure))]
    rows = rows[np.isfinite(pressure[rows])]
    time = (seconds[rows] - seconds[at]) if len(rows) else np.zeros(0)
    within = np.abs(time) < 3.0 * _SIDE * sampling
    rows, time = rows[within], time[within]
    if len(rows) < _FEWEST or float(np.ptp(time)) <= 0:
        return None
    slope, level = np.polyfit(time, pressure[rows], 1)
    noise = float(np.std(pressure[rows] - level - slope * time)) * (len(rows) / (len(rows) - 2)) ** 0.5
    noise = max(noise, float(step[at]) / 12.0**0.5)
    return _Side(float(level), float(slope), noise, noise / (float(np.std(time)) * len(rows) ** 0.5))


def _follows(before: _Side | None, after: _Side | None, close: float, size: float, sampling: float) -> bool:
    """Return whether what lies behind a step follows what lies before it at the usual distance."""
    if before is None or after is None:
        return False
    slope = (before.slope + after.slope) / 2.0
    blur = float(np.hypot(before.noise, after.noise))
    bend = abs(after.slope - before.slope) * sampling
    apart = abs(after.level - before.level - slope * sampling)
    if apart > min(_SURE * blur + bend, max(close, blur)):
        return False
    tells = (abs(slope) - _SURE * float(np.hypot(before.doubt, after.doubt))) * abs(size) > 2.0 * _SURE * blur
    off_hours = abs(size - sampling - HOUR * round((size - sampling) / HOUR))
    return size < 0 or tells or size > DAY or off_hours <= min(0.5 * sampling, 2.0)


def _note(is_counter: bool, size: float, sampling: float, line: int) -> Note:
    if is_counter:
        return Note("time-restarted", "The time starts again; the readings go on, so the rows were put one after the "
                                      "other.", line)
    amount = abs(size - sampling)
    shown = (f"{amount / DAY:.3g} days" if amount > 2 * DAY else f"{amount / HOUR:.3g} h" if amount >= HOUR
             else f"{amount:.0f} s")
    way = "on" if size > 0 else "back"
    return Note("clock-step", f"The clock was set {way} by {shown}, and the readings go on as if nothing had happened: "
                              "the step was undone.", line)
