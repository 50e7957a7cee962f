"""Cells and readings that are no pressure: words, codes of loggers, and single readings that nothing can have made."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from decay import quantities
from decay.arrays import BoolArray, FloatArray, IntArray, running_median
from decay.constants import HIGHEST_READING
from decay.errors import LogError
from decay.log.pressure_log import PressureLog
from decay.table.digits import number_in
from decay.table.read_options import Note, counted

_NOTHING = {"", "nan", "null", "none", "n/a", "na", "nil", "9.91e+37"}  # the last is SCPI's "not a number"
_ABOVE = re.compile(r"^\s*(?:>|≥|>=)\s*(\d.*)$")
_BELOW = re.compile(r"^\s*(?:<|≤)|^\s*(?:lo|low|under|ul|ur|under[\s-]?range)\b", re.IGNORECASE)
HIGH = 0.3  # a neighbour counts as near the end of the range from this share of the highest reading on
RISE = 1.02  # the readings must move towards the end of the range by more than noise
LONE = 3  # rows; so few between readings that go on as before are a fault of the logger, not the end of a range
_UNLIKELY = 2.0 * quantities.STANDARD_ATMOSPHERE  # Pa; readings that wander about up here are in another unit
_NO_NUMBER = 1e9  # in any unit: SCPI 1999 writes infinity as 9.9E37, loggers write 9.99E+09, 1e308
_FEW_WRONG = 0.02  # share of rows that one wrong number may make up and still be a fault of the logger
LONGEST = 3  # readings in a row; a vent, a leak or a sweep lasts longer or does not come back to where it was
FACTOR = 1.15  # by which a reading must stand off from both neighbours; less is noise, a step or a gauge's range jump
BACK = 1.15  # factor within which the readings before and after must agree, apart from what they do anyway
HALF = 0.5  # of a reading's own distance, within which they must agree as well
SMALL_CHANGE = 0.25  # of a reading's own distance, that may lie between before and after: the valve closed just then
FASTEST_PULL = 0.5  # s; no pump empties a system with a smaller time constant
CLEAR_OF_NOISE = 8.0  # medians of the differences around
FOOT = 10.0  # steps that are added to each reading, so that zero has a logarithm and small numbers count little
SHORTEST_EVENT = 60.0  # s; unequal readings over a longer time may be an event even where they come back
_AROUND = 8  # readings on each side that tell the noise
_AT_ONCE = 65536  # readings; what is in between then needs no second copy of a long log
_PASSES = 3  # a wrong reading beside another shows once that one is gone


def declared(values: FloatArray, said: tuple[str, ...], decimal: str) -> BoolArray:
    """Return which readings are numbers that the user declared to mean over range."""
    is_over = np.zeros(len(values), dtype=bool)
    for number in [cell.value for word in said if (cell := number_in(word, decimal)) is not None]:
        is_over |= np.isclose(values, number, rtol=1e-12, atol=0.0)
    return is_over


def over_range(values: FloatArray, is_declared: BoolArray, words: dict[int, str], line: IntArray, said: tuple[str, ...],
               decimal: str) -> tuple[BoolArray, list[Note]]:
    """Return which rows were above the gauge's range.

    A word means over range only where the readings beside it climb to the top of what the log shows, whatever
    the word is; elsewhere the reading is missing. ``--over-range`` settles it.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings; ``nan`` where there is none. [any unit]
    is_declared : ndarray of bool, shape (n,)
        True where the user declared the number over range. [-]
    words : dict of int to str
        Cells without a reading, by row.
    line : ndarray of int, shape (n,)
        Line of each row. [-]
    said : tuple of str
        Words and numbers that the user declared.
    decimal : str
        Decimal mark of the file.

    Returns
    -------
    is_over_range : ndarray of bool, shape (n,)
        True where the gauge was over range. [-]
    notes : list of Note
        What each word was taken for.
    """
    is_over = is_declared.copy()
    wanted = {word.strip().casefold() for word in said}
    for row, word in words.items():
        if word.casefold() in wanted:
            is_over[row] = True
    notes: list[Note] = []
    if is_over.any():
        notes.append(Note("over-range-declared", f"Over range, as declared: {counted(int(is_over.sum()), 'reading')}.",
                          int(line[int(np.flatnonzero(is_over)[0])])))
    open_rows = np.array(sorted(row for row in words if not is_over[row]), dtype=np.int64)
    if len(open_rows) == 0:
        return is_over, notes
    judged = _judged(values, np.isfinite(values) & ~is_over, words, open_rows, decimal)
    for word, rows in judged.items():
        is_over[rows] = True
        text = f'"{word[:30]}" was read as over range in {counted(len(rows), "row")}, because the readings beside ' \
               "it are at the top of what the log shows. --over-range settles it."
        notes.append(Note("over-range-guessed", text, int(line[rows[0]])))
    return is_over, notes


def _judged(values: FloatArray, is_good: BoolArray, words: dict[int, str], open_rows: IntArray, decimal: str
            ) -> dict[str, list[int]]:
    """Return the words that mean over range by the readings beside them, and their rows."""
    judged: dict[str, list[int]] = {}
    beside = np.concatenate(([False], is_good, [False]))
    in_company = is_good & (beside[:-2] | beside[2:])
    # A number alone among words parts no run of them.
    good = np.flatnonzero(in_company if 2 * in_company.sum() > is_good.sum() else is_good)
    if len(good) == 0:
        return judged
    # A single wrong reading is not the top of what a log shows, and does not part a run of such words.
    usual = running_median(values[good])
    usual[:2], usual[-2:] = np.median(usual[:5]), np.median(usual[-5:])
    is_usual = (values[good] >= HIGH * usual) & (values[good] * HIGH <= usual)
    good = good[is_usual] if is_usual.any() else good
    readings = values[good]
    top = float(readings.max())
    # A run of such rows reaches from one number to the next.
    place = np.searchsorted(good, open_rows)
    ends, begin = np.unique(place, return_index=True)
    for at, run in zip(ends, np.split(open_rows, begin[1:]), strict=True):
        if not _climbs(readings, int(at), top, len(run)):
            run = np.array([row for row in run if _stated(words[int(row)], top, decimal)], dtype=np.int64)
        for row in run:
            word = words[int(row)]
            if word.casefold() not in _NOTHING and not _BELOW.match(word):
                judged.setdefault(word, []).append(int(row))
    return judged


def _climbs(readings: FloatArray, at: int, top: float, count: int) -> bool:
    """Return whether the readings on each side of a run of words climb towards it, near the top of the log."""
    before, after = readings[max(at - 6, 0) : at], readings[at : at + 6]
    sides = [side for side in (before[::-1], after) if len(side)]
    if not sides or any(side[0] < HIGH * top for side in sides):
        return False
    climbs = [len(side) > 1 and side[0] > RISE * side[-1] for side in sides]
    if len(sides) == 2 and count <= LONE:  # the pressure went up out of the range and came back
        return all(climbs)
    return any(climbs) or (all(side[0] > 0.95 * top for side in sides) and float(readings.min()) < 0.5 * top)


def no_numbers(values: FloatArray, size: FloatArray | float | None, name: str, column: str) -> BoolArray:
    """Return which numbers cannot be a pressure under vacuum, and so stand for a word.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings; ``nan`` where there is none. [any unit]
    size : ndarray, shape (n,), float or None
        Size of the unit; ``None`` where it is not known yet. [Pa]
    name, column : str
        The file and the column, for the error.

    Returns
    -------
    is_none : ndarray of bool, shape (n,)
        True where the number is above 1.2 atmospheres, or endless. [-]

    Raises
    ------
    LogError
        If so many different numbers are so high that the unit must be another one.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        if size is None:
            return np.abs(values) >= _NO_NUMBER
        pascal = values * size
        is_high: BoolArray = np.abs(pascal) > HIGHEST_READING
        unlikely = (pascal > _UNLIKELY) & (values < _NO_NUMBER)
    if not unlikely.any():
        return is_high
    kinds, count = np.unique(values[unlikely], return_counts=True)
    is_code = np.array([_is_code(value) for value in kinds[:LONE]], dtype=bool)
    if len(kinds) > LONE or bool(np.any(~is_code & (count > max(LONE, _FEW_WRONG * len(values))))):
        reached = float(np.median(pascal[unlikely])) / quantities.STANDARD_ATMOSPHERE
        raise LogError(name, f"{int(unlikely.sum())} readings are about {reached:.3g} atmospheres in the stated unit",
                       "Expected pressures of a system under vacuum, at most 1.2 atmospheres.",
                       "The unit is another one: state it, e.g.  --unit micron. If the number means over range, "
                       f"add  --over-range {values[unlikely][0]:g}", column=column)
    return is_high


def _is_code(value: float) -> bool:
    """Return whether a number is one that loggers write for "no reading": nines, or all bits set."""
    digits = f"{value:.10g}".replace(".", "").rstrip("0")
    return digits.strip("9") in {"", "1"} or float(value) in {4095.0, 16383.0, 32767.0, 65535.0, 2147483647.0}


def _stated(word: str, top: float, decimal: str) -> bool:
    match = _ABOVE.match(word)
    cell = number_in(match[1], decimal) if match else None
    return cell is not None and cell.value >= 0.9 * top


def missing(words: dict[int, str], is_over: BoolArray, line: IntArray) -> list[Note]:
    """Return one note for each kind of cell that holds no reading."""
    rows = [row for row in words if not is_over[row]]
    kinds = Counter(words[row] for row in rows)
    notes = []
    shown = kinds.most_common(6)
    for word, count in shown:
        first = min(row for row in rows if words[row] == word)
        what = f'"{word[:30]}"' if word else "an empty cell"
        hint = "" if word.casefold() in _NOTHING else " If it means over range, add --over-range with it."
        notes.append(Note("pressure-missing", f"Left out: {counted(count, 'row')} with {what} instead of a pressure."
                          + hint, int(line[first]), count))
    rest = len(rows) - sum(count for _, count in shown)
    if rest:
        first = min(row for row in rows if words[row] not in dict(shown))
        text = f"Left out: {counted(rest, 'row')} with other text instead of a pressure."
        notes.append(Note("pressure-missing", text, int(line[first]), rest))
    return notes


def sentinels(values: FloatArray, line: IntArray) -> tuple[BoolArray, list[Note]]:
    """Return readings that stand for "no sensor": a number of nines or a round thousand far outside all others."""
    none = np.zeros(len(values), dtype=bool)
    top = float(np.max(values, where=np.isfinite(values), initial=-np.inf))
    digits = f"{top:.10g}".replace(".", "").rstrip("0")
    if digits.strip("9") not in {"", "1"} or len(digits) > 8:
        return none, []
    finite = values[np.isfinite(values)]
    below = finite[finite < top]
    if len(finite) < 8 or len(below) < 5 or top < 10 * float(below.max()):
        return none, []
    is_top = values == top
    # At the start or the end of a log a gauge may truly be at the top of its range; inside it cannot jump there.
    inner = np.flatnonzero(is_top)
    if inner[0] == 0 or inner[-1] == len(values) - 1:
        return none, []
    text = f"Left out as missing: {counted(len(inner), 'row')} with {top:g}, ten times above every other reading. " \
           f"If it means over range, add --over-range {top:g}."
    return is_top, [Note("sentinel-missing", text, int(line[inner[0]]), len(inner))]


def set_aside(log: PressureLog) -> PressureLog:
    """Return a log without its single wrong readings, with a note of how many there were; itself where none is wrong.

    A run of one to three readings is wrong where it stands off from the readings before *and* after it, which agree
    with each other. So nothing that stays, climbs or falls is touched: not a vent, not a leak that reaches the top
    of the range within seconds, not the end of a log. Zeros between readings that agree are no pressure either,
    however many there are: a vacuum does not come and go at once.
    """
    wrong = np.zeros(len(log.time), dtype=bool)
    for _ in range(_PASSES):
        is_kept = np.isfinite(log.pressure) & ~wrong
        if int(is_kept.sum()) <= 2 * LONGEST:
            break
        kept = slice(None) if is_kept.all() else is_kept  # a log with nothing missing needs no second copy
        found = _wrong(log.pressure[kept], log.time[kept], log.step[kept])
        if len(found) == 0:
            break
        wrong[np.flatnonzero(is_kept)[found]] = True
    if not wrong.any() or int(wrong.sum()) > len(wrong) // 3:  # so many are not single ones
        return log
    return _without(log, wrong)


def _wrong(values: FloatArray, time: FloatArray, step: FloatArray) -> IntArray:
    """Return the indices of the wrong readings."""
    count = len(values)
    begins = _jumps(values, step) + 1  # a run begins where the readings jump
    if len(begins) == 0:
        return begins

    def size(at: IntArray) -> FloatArray:
        return np.log(values[at] + FOOT * step[at])

    is_wrong = np.zeros(count, dtype=bool)
    for length in range(1, LONGEST + 1):
        first = begins[(begins + length < count) & ~is_wrong[begins]]
        if len(first) == 0:
            continue
        before, after = (np.median(size(np.clip(nearest[:, None] + way * np.arange(3), 0, count - 1)), axis=1)
                         for nearest, way in ((first - 1, -1), (first + length, 1)))  # one of three may be wrong itself
        run = size(first[:, None] + np.arange(length))
        off = np.maximum(run.min(axis=1) - np.maximum(before, after), np.minimum(before, after) - run.max(axis=1))
        likely = off > np.log(FACTOR)
        first, before, after, off, run = first[likely], before[likely], after[likely], off[likely], run[likely]
        trend, noise = _usual(size, count, first, length)
        apart = np.abs(after - before)
        is_back = np.abs(after - before - (length + 3) * trend) < np.minimum(np.log(BACK), HALF * off) + 4.0 * noise
        is_dip = run.max(axis=1) < np.minimum(before, after)
        too_fast = time[first + length] - time[first + length - 1] < off * FASTEST_PULL
        is_back |= (apart < SMALL_CHANGE * off) & (is_dip | too_fast)
        # A let-in that a slow log shows in one reading is still on its way back in the next.
        stray = np.maximum(np.abs(size(first + length) - after), np.abs(size(first - 1) - before))
        is_back &= (stray < SMALL_CHANGE * off) | is_dip | too_fast
        # The bottom of a pull is no dip: the readings right beside stand off as well, and on the same side.
        low, high = (pick(size(first - 1), size(first + length)) for pick in (np.minimum, np.maximum))
        is_back &= np.where(is_dip, low > run.max(axis=1), high < run.min(axis=1))
        brief = (time[first + length] - time[first - 1] <= SHORTEST_EVENT) | (np.ptp(run, axis=1) == 0)
        for at in first[is_back & brief & (off > CLEAR_OF_NOISE * noise)]:
            is_wrong[at : at + length] = True
    _mark_zeros(values, time, step, is_wrong)
    return np.flatnonzero(is_wrong)


def _jumps(values: FloatArray, step: FloatArray) -> IntArray:
    """Return the readings after which the next one stands off by the factor, looked for block by block."""
    found: list[IntArray] = []
    for begin in range(0, len(values) - 1, _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE + 1)
        raised = values[part] + FOOT * step[part]
        less, more = np.minimum(raised[:-1], raised[1:]), np.maximum(raised[:-1], raised[1:])
        found.append(np.flatnonzero((less >= 0) & (more > FACTOR * less)) + begin)
    return np.concatenate(found)


def _usual(
    size: Callable[[IntArray], FloatArray], count: int, first: IntArray, length: int
) -> tuple[FloatArray, FloatArray]:
    """Return the median of the differences around each run, those at its edges left out, and of what strays from it."""
    offsets = np.concatenate((np.arange(-_AROUND - 1, -1), np.arange(length, length + _AROUND)))
    places = first[:, None] + offsets
    # Near an end of the log those further off on the other side tell it.
    further = 2 * _AROUND + 1 + length
    places = np.where(places < 0, places + further, np.where(places > count - 2, places - further, places))
    places = np.clip(places, 0, count - 2)
    around = size(places + 1) - size(places)
    trend = np.median(around, axis=1)
    return trend, np.median(np.abs(around - trend[:, None]), axis=1)


def _mark_zeros(values: FloatArray, time: FloatArray, step: FloatArray, is_wrong: BoolArray) -> None:
    """Mark zeros between readings that agree, and up to three at an end, where the readings beside are far above."""
    zeros, count = np.flatnonzero(values == 0), len(values)
    parted = np.flatnonzero(np.diff(zeros) > 1)
    edges = np.stack([zeros[np.append(-1, parted) + 1], zeros[np.append(parted, -1)] + 1], 1) if len(zeros) else zeros
    for begin, end in edges.reshape(-1, 2).tolist():
        sides = [at for at in (begin - 1, end) if 0 <= at < count]
        if not sides or any(values[at] < 2.0 * FOOT * step[at] for at in sides):
            continue
        if len(sides) == 2:
            low, high = sorted(float(values[at] + FOOT * step[at]) for at in sides)
            is_wrong[begin:end] |= high < BACK * low
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
