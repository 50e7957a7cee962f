"""Puts times in order: carries clocks over midnight and summer time, finds stray dates, sorts, and drops doubles."""

from __future__ import annotations

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray, median
from decay.constants import DAY, HOUR
from decay.errors import LogError
from decay.table.read_options import Note, counted

_LEFT_OVER = 3  # rows at an end, apart from the rest by days
_WHOLE = 20  # rows of a log beside which they are left over
LONGEST_SPAN = 3.0 * 365.0 * DAY  # s; a log of one job is shorter


def run_on(seconds: FloatArray, line: IntArray, *, has_date: bool, is_zoned: bool) -> tuple[FloatArray, list[Note]]:
    """Return the times of a clock without its midnights, changes of summer time and coarse steps.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times by a clock, without ``nan``. [s]
    line : ndarray of int, shape (n,)
        Line of each. [-]
    has_date : bool
        Whether dates stand beside the clock.
    is_zoned : bool
        Whether offsets from UTC do.

    Returns
    -------
    seconds : ndarray, shape (n,)
        Mended times. [s]
    notes : list of Note
        What was mended.
    """
    notes: list[Note] = []
    if not has_date:
        seconds, notes = carry_midnights(seconds, line)
    if not is_zoned:
        seconds, more = mend_clock_changes(seconds, line)
        notes = [*notes, *more]
    seconds, more = spread_coarse(seconds)
    return seconds, [*notes, *more]


def carry_midnights(seconds: FloatArray, line: IntArray) -> tuple[FloatArray, list[Note]]:
    """Return times of a clock without dates with each passed midnight (or noon, for 12 hours) added.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Seconds since midnight, without ``nan``. [s]
    line : ndarray of int, shape (n,)
        Line of each, for the notes. [-]

    Returns
    -------
    seconds : ndarray, shape (n,)
        Times that grow. [s]
    notes : list of Note
        How often midnight was passed.
    """
    if len(seconds) < 2 or seconds.max() >= DAY + 1:  # an elapsed hh:mm:ss goes past 24 hours by itself
        return seconds, []
    change = np.diff(seconds)
    notes: list[Note] = []
    half = bool(seconds.max() < 13 * HOUR)
    noon = (change < -10.9 * HOUR) & (change > -12.1 * HOUR) & half
    midnight = (change < -12.1 * HOUR) | ((change < -6 * HOUR) & ~noon & ~half)
    if midnight.any():
        at = int(line[int(np.flatnonzero(midnight)[0]) + 1])
        notes.append(Note("midnight-passed", f"The clock passes midnight {counted(int(midnight.sum()), 'time')}; "
                                             "a day was added each time.", at))
    if noon.any():
        at = int(line[int(np.flatnonzero(noon)[0]) + 1])
        notes.append(Note("clock-twelve-hours", f"The clock goes {counted(int(noon.sum()), 'time')} from 12 to 1 "
                                                "without AM or PM; twelve hours were added each time.", at))
    added = np.concatenate(([0.0], np.cumsum(midnight * DAY + noon * HOUR * 12)))
    return seconds + added, notes


def mend_clock_changes(seconds: FloatArray, line: IntArray) -> tuple[FloatArray, list[Note]]:
    """Return times with steps of a whole hour taken out where summer time begins or ends.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times by a clock without offsets. [s]
    line : ndarray of int, shape (n,)
        Line of each. [-]

    Returns
    -------
    seconds : ndarray, shape (n,)
        Mended times. [s]
    notes : list of Note
        Where the clock was mended.
    """
    if len(seconds) < 4:
        return seconds, []
    change = np.diff(seconds)
    if float(change.min()) > -HOUR / 2 and float(change.max()) < HOUR:
        return seconds, []
    ahead = change[change > 0]
    sampling = median(ahead) if len(ahead) else 0.0
    if not 0 < sampling <= HOUR / 4:
        return seconds, []
    slack = max(3 * sampling, 2.0)
    notes: list[Note] = []
    moved = np.zeros(len(change))
    moves = np.flatnonzero(change)
    for at in np.flatnonzero((change < -HOUR + slack + sampling) & (change > -HOUR - slack)):
        # A clock that was set back stays back; a row out of place returns at once, even if it stands there twice.
        then = seconds[moves[np.searchsorted(moves, at + 1) :][:1] + 1]
        if len(then) and then[0] < seconds[at]:
            moved[at] = HOUR
            notes.append(Note("dst-ends", "The clock goes back one hour; it was read as the end of summer time.",
                              int(line[at + 1])))
    for at in np.flatnonzero(np.abs(change - HOUR - sampling) < 0.5 * sampling + 1e-6):
        # Only the hour that is left out when summer time begins: the hour ends here and the one after next begins.
        before, after = seconds[at] % HOUR, seconds[at + 1] % HOUR
        if before >= HOUR - 1.5 * sampling and after <= 1.5 * sampling and seconds[at] % DAY < 4 * HOUR:
            moved[at] = -HOUR
            notes.append(Note("dst-begins", "The clock leaves out one hour; it was read as the start of summer time.",
                              int(line[at + 1])))
    return seconds + np.concatenate(([0.0], np.cumsum(moved))), notes


def spread_coarse(seconds: FloatArray) -> tuple[FloatArray, list[Note]]:
    """Return times with rows that share one reading of a coarse clock spread evenly up to the next reading.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times in order. [s]

    Returns
    -------
    seconds : ndarray, shape (n,)
        Spread times. [s]
    notes : list of Note
        Whether it was done.
    """
    change = np.diff(seconds)
    if len(seconds) < 6 or np.mean(change == 0) < 0.3 or float(change.min()) < 0:
        return seconds, []
    start = np.flatnonzero(np.concatenate(([True], change > 0)))
    if len(start) < 3:
        return seconds, []
    count = np.diff(np.append(start, len(seconds)))
    tick = median(np.diff(seconds[start]))
    usual = median(count[1:-1]) if len(count) > 2 else median(count)
    place = np.arange(len(seconds)) - np.repeat(start, count)
    per_tick = np.maximum(count, usual)
    # The first tick may have begun before the log did: its rows sit at its end.
    shift = np.zeros(len(start))
    shift[0] = max(usual - count[0], 0)
    spread = seconds + tick * (place + np.repeat(shift, count)) / np.repeat(per_tick, count)
    text = f"The clock shows steps of {tick:g} s with several rows each; they were spread evenly."
    return spread, [Note("clock-coarse", text)]


def strays(seconds: FloatArray, line: IntArray, is_usable: BoolArray) -> tuple[BoolArray, list[Note]]:
    """Return which rows have a damaged date: far from both neighbours, which agree.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times as the rows stand in the file. [s]
    line : ndarray of int, shape (n,)
        Line of each. [-]
    is_usable : ndarray of bool, shape (n,)
        True where the row has a reading; the others are accounted for already. [-]

    Returns
    -------
    is_stray : ndarray of bool, shape (n,)
        True for the strays. [-]
    notes : list of Note
        How many usable ones there are.
    """
    is_stray = np.zeros(len(seconds), dtype=bool)
    change = np.diff(seconds)
    size = np.abs(change)
    limit = max(DAY / 2, 1000.0 * median(size)) if len(seconds) > 4 else np.inf
    if float(size.max(initial=0.0)) <= limit:
        return is_stray, []
    is_far = size > limit
    is_stray[1:-1] = is_far[:-1] & is_far[1:] & (np.abs(seconds[2:] - seconds[:-2]) <= limit)
    # At the ends one neighbour is missing: a time on the wrong side of it is surely damaged, and a row or two that
    # stand days from a whole log are left over from another recording.
    is_stray[0] = change[0] < -limit and not is_far[1]
    is_stray[-1] = change[-1] < -limit and not is_far[-2]
    kept = np.flatnonzero(~is_stray)
    if len(kept) >= _WHOLE:
        is_far = np.abs(np.diff(seconds[kept])) > limit
        head, tail = np.flatnonzero(is_far[:_LEFT_OVER]), np.flatnonzero(is_far[-_LEFT_OVER:])
        if len(head):
            is_stray[kept[: int(head[-1]) + 1]] = True
        if len(tail):
            is_stray[kept[int(tail[0]) - _LEFT_OVER :]] = True
    lost = is_stray & is_usable
    if not lost.any():
        return is_stray, []
    text = f"Left out: {counted(int(lost.sum()), 'row')} with a time far from the rows around."
    return is_stray, [Note("time-stray", text, int(line[int(lost.argmax())]), int(lost.sum()))]


def in_order(seconds: FloatArray, line: IntArray) -> tuple[IntArray | None, list[Note]]:
    """Return the rows to keep, in order of time, each time once.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Times. [s]
    line : ndarray of int, shape (n,)
        Line of each. [-]

    Returns
    -------
    rows : ndarray of int, shape (m,), or None
        Indices of the rows; ``None`` where all stay as they are. [-]
    notes : list of Note
        What was out of order or twice there.
    """
    notes: list[Note] = []
    change = np.diff(seconds)
    if bool((change > 0).all()):
        return None, notes
    rows = np.arange(len(seconds))
    back: BoolArray = change < 0
    if back.any():
        at = int(line[int(np.flatnonzero(back)[0]) + 1])
        text = f"Time goes back {counted(int(back.sum()), 'time')}; the rows were sorted."
        notes.append(Note("time-disorder", text, at))
        rows = np.argsort(seconds, kind="stable")
    double = np.concatenate(([False], np.diff(seconds[rows]) <= 0))
    if double.any():
        at = int(line[rows[int(np.flatnonzero(double)[0])]])
        count = int(double.sum())
        notes.append(Note("duplicate-time", f"Left out: {counted(count, 'row')} with the time of the row before.",
                          at, count))
        rows = rows[~double]
    return rows, notes


def refuse_ages(seconds: FloatArray, name: str) -> None:
    """Refuse times that span more than any job.

    Raises
    ------
    LogError
        If they do.
    """
    span = float(np.ptp(seconds)) if len(seconds) else 0.0
    if span > LONGEST_SPAN:
        raise LogError(name, f"the times span {span / DAY / 365.0:.3g} years", "Expected the log of one job.",
                       "Cut the log to the job in question, or name the time with --time-column and --time-unit.")
