"""What stands where a pressure should be a number: over range, or simply missing."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np

from decay import quantities
from decay.arrays import BoolArray, FloatArray, IntArray
from decay.errors import LogError
from decay.log.numbers import parse
from decay.log.pressure_log import Note

_NOTHING = {"", "nan", "null", "none", "n/a", "na", "nil", "9.91e+37"}  # the last is SCPI's "not a number"
_ABOVE = re.compile(r"^\s*(?:>|≥|>=)\s*(\d.*)$")
_BELOW = re.compile(r"^\s*(?:<|≤)|^\s*(?:lo|low|under|ul|ur|under[\s-]?range)\b", re.IGNORECASE)
HIGH = 0.3  # a neighbour counts as near the end of the range from this share of the highest reading on
RISE = 1.02  # the readings must move towards the end of the range by more than noise
LONE = 3  # rows; so few between readings that go on as before are a fault of the logger, not the end of a range
HIGHEST = 1.2 * quantities.STANDARD_ATMOSPHERE  # Pa; a system under evacuation does not stand above it
_UNLIKELY = 2.0 * quantities.STANDARD_ATMOSPHERE  # Pa; readings that wander about up here are in another unit
_NO_NUMBER = 1e9  # in any unit: SCPI 1999 writes infinity as 9.9E37, loggers write 9.99E+09, 1e308
_FEW_WRONG = 0.02  # share of rows that one wrong number may make up and still be a fault of the logger


def declared(values: FloatArray, said: tuple[str, ...], decimal: str) -> BoolArray:
    """Return which readings are numbers that the user declared to mean over range."""
    is_over = np.zeros(len(values), dtype=bool)
    for number in [cell.value for word in said if (cell := parse(word, decimal)) is not None]:
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
        notes.append(Note("over-range-declared", f"{int(is_over.sum())} reading(s) are over range, as declared.",
                          int(line[int(np.flatnonzero(is_over)[0])])))
    open_rows = np.array(sorted(row for row in words if not is_over[row]), dtype=np.int64)
    if len(open_rows) == 0:
        return is_over, notes
    judged: dict[str, list[int]] = {}
    good = np.flatnonzero(np.isfinite(values) & ~is_over)
    if len(good):
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
                    is_over[row] = True
                    judged.setdefault(word, []).append(int(row))
    for word, rows in judged.items():
        text = f'"{word[:30]}" was read as over range in {len(rows)} row(s), because the readings beside it are at ' \
               "the top of what the log shows. --over-range settles it."
        notes.append(Note("over-range-guessed", text, int(line[rows[0]])))
    return is_over, notes


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
        is_high: BoolArray = np.abs(pascal) > HIGHEST
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
    cell = parse(match[1], decimal) if match else None
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
        notes.append(Note("pressure-missing", f"{count} row(s) hold {what} instead of a pressure and were left out."
                          + hint, int(line[first]), count))
    rest = len(rows) - sum(count for _, count in shown)
    if rest:
        first = min(row for row in rows if words[row] not in dict(shown))
        notes.append(Note("pressure-missing", f"{rest} row(s) hold other text instead of a pressure and were left out.",
                          int(line[first]), rest))
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
    text = f"{len(inner)} row(s) hold {top:g}, ten times above every other reading, and were left out as missing. " \
           f"If it means over range, add --over-range {top:g}."
    return is_top, [Note("sentinel-missing", text, int(line[inner[0]]), len(inner))]
