"""What a column of words or of noughts and ones says of the valve between system and pump."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, IntArray
from decay.log.columns import Column
from decay.log.pressure_log import Mark, Note, Valve
from decay.log.table import Table

_HEADING = re.compile(r"valve|ventil|vanne|valvula|isolat|state|status|mark|event|phase|mode|stage|action|comment|note"
                      r"|hold", re.IGNORECASE)
_CLOSED = re.compile(r"clos|shut|isolat|\bhold|valved? off|blank(ed)? off|rise test|geschlossen|\bzu\b|ferm|cerrad",
                     re.IGNORECASE)
_OPENED = re.compile(r"open|offen", re.IGNORECASE)
_VALVE = re.compile(r"valve|ventil|vanne", re.IGNORECASE)
_OPEN = re.compile(r"open|pump|pull|evacuat|offen|\bauf\b|ouvert|abiert", re.IGNORECASE)
_PLAIN = re.compile(r"\W*(valve\W*)?(open(ed)?|closed?|shut|isolated)\W*", re.IGNORECASE)
_MOST_WORDS = 12  # different ones in a column of states; a column of sentences is no such column
_LONGEST_WORD = 40


@dataclass(frozen=True, slots=True)
class States:
    """A column that tells the state of the valve.

    Parameters
    ----------
    column : Column
        The column.
    means : dict of str to Valve
        What each of its words, in lower case, says.
    is_guess : bool
        Whether noughts and ones were taken by custom: 1 is open.
    """

    column: Column
    means: dict[str, Valve]
    is_guess: bool = False


def find(table: Table, columns: tuple[Column, ...], taken: set[int]) -> States | None:
    """Return the column that tells the state of the valve, by an ordinary word in its heading and by its content."""
    for column in columns:
        if column.index in taken or column.kind not in {"words", "number"}:
            continue
        words = {row[column.index].strip().lower() for row in table.sample if row[column.index].strip()}
        if not 1 <= len(words) <= _MOST_WORDS or any(len(word) > _LONGEST_WORD for word in words):
            continue
        found = _numbers(column, words) if column.kind == "number" else _words(column, words)
        if found is not None:
            return found
    return None


def _words(column: Column, words: set[str]) -> States | None:
    means = {word: Valve.CLOSED if _CLOSED.search(word) else Valve.OPEN for word in words
             if _CLOSED.search(word) or _OPEN.search(word)}
    is_told = Valve.CLOSED in means.values()
    if is_told and (_HEADING.search(column.name) or all(_PLAIN.fullmatch(word) for word in words)):
        return States(column, means)
    return None


def _numbers(column: Column, words: set[str]) -> States | None:
    bits = {word: float(word) for word in words if re.fullmatch(r"[01](\.0*)?", word)}
    if len(bits) != len(words) or set(bits.values()) != {0.0, 1.0}:
        return None
    says_closed, says_open = bool(_CLOSED.search(column.name)), bool(_OPENED.search(column.name))
    if not (says_closed or says_open or _VALVE.search(column.name)):
        return None
    one = Valve.CLOSED if says_closed and not says_open else Valve.OPEN
    other = Valve.OPEN if one is Valve.CLOSED else Valve.CLOSED
    return States(column, {word: one if bit else other for word, bit in bits.items()}, not (says_closed or says_open))


def codes(states: States, cells: list[str]) -> tuple[IntArray, tuple[str, ...]]:
    """Return which word stands in each row, carried on to the rows below where a cell is empty, and the words.

    Parameters
    ----------
    states : States
        The column.
    cells : list of str, length n
        Its cells.

    Returns
    -------
    code : ndarray of int, shape (n,)
        Index of the word; -1 before the first one. [-]
    words : tuple of str
        The words that say something, as written.
    """
    words = tuple(dict.fromkeys(cell.strip() for cell in cells))
    known = {word: index for index, word in enumerate(words)}
    code = np.array([known[cell.strip()] if cell.strip() else -1 for cell in cells], dtype=np.int64)
    place = np.where(code >= 0, np.arange(len(code)), -1)
    last = np.maximum.accumulate(place) if len(place) else place
    return np.where(last >= 0, code[np.maximum(last, 0)], -1), words


def marks(states: States, code: IntArray, words: tuple[str, ...], time: FloatArray, line: IntArray) -> tuple[Mark, ...]:
    """Return where the state of the valve begins and changes, in order of time."""
    number = {None: -1, Valve.OPEN: 0, Valve.CLOSED: 1}
    means = np.array([*(number[states.means.get(word.lower())] for word in words), -1])
    state = means[code]
    told = np.flatnonzero(state >= 0)
    change = told[np.concatenate(([True], np.diff(state[told]) != 0))] if len(told) else told
    return tuple(Mark(float(time[at]), Valve.CLOSED if state[at] else Valve.OPEN, words[code[at]], states.column.name,
                      int(line[at])) for at in change.tolist())


def said(states: States, found: tuple[Mark, ...]) -> list[Note]:
    """Return a note on what the column says."""
    closed = [mark for mark in found if mark.valve is Valve.CLOSED]
    if not closed:
        return []
    times = ", ".join(f"{mark.time:.0f} s" for mark in closed[:5]) + (", ..." if len(closed) > 5 else "")
    guess = " Its 1 was taken as open, its 0 as closed." if states.is_guess else ""
    text = f'"{states.column.name}" says that the valve was closed at {times} ("{closed[0].word}").{guess}'
    return [Note("valve-stated", text, closed[0].line)]
