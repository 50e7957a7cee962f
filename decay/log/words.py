"""What stands where a pressure should be a number: over range, or simply missing."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.log.numbers import parse
from decay.log.pressure_log import Note

_NOTHING = {"", "nan", "null", "none", "n/a", "na", "nil"}
_ABOVE = re.compile(r"^\s*(?:>|≥|>=)\s*(\d.*)$")
_BELOW = re.compile(r"^\s*(?:<|≤)|^\s*(?:lo|low|under|ul|ur|under[\s-]?range)\b", re.IGNORECASE)
HIGH = 0.3  # a neighbour counts as near the end of the range from this share of the highest reading on
RISE = 1.02  # the readings must move towards the end of the range by more than noise


def over_range(values: FloatArray, words: dict[int, str], line: IntArray, said: tuple[str, ...], decimal: str
               ) -> tuple[BoolArray, list[Note]]:
    """Return which rows were above the gauge's range.

    A word means over range only where the readings beside it climb to the top of what the log shows, whatever
    the word is; elsewhere the reading is missing. ``--over-range`` settles it.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings; ``nan`` where there is none. [any unit]
    words : dict of int to str
        Cells without a number, by row.
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
    is_over = np.zeros(len(values), dtype=bool)
    wanted = {word.strip().casefold() for word in said}
    numbers = [cell.value for word in said if (cell := parse(word, decimal)) is not None]
    for row, word in words.items():
        if word.casefold() in wanted:
            is_over[row] = True
    for number in numbers:
        is_over |= np.isclose(values, number, rtol=1e-12, atol=0.0)
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
            if not _climbs(readings, int(at), top):
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


def _climbs(readings: FloatArray, at: int, top: float) -> bool:
    """Return whether the readings on each side of a run climb towards it, near the top of the log."""
    before, after = readings[max(at - 6, 0) : at], readings[at : at + 6]
    sides = [side for side in (before[::-1], after) if len(side)]
    if not sides or any(side[0] < HIGH * top for side in sides):
        return False
    return any(len(side) > 1 and side[0] > RISE * side[-1] for side in sides) or (
        all(side[0] > 0.95 * top for side in sides) and float(readings.min()) < 0.5 * top)


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
