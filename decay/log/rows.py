"""Which lines below the names are rows of data, and which are blank, comments, footers or names once more."""

from __future__ import annotations

import re

import numpy as np

from decay.arrays import BoolArray, IntArray
from decay.log.dialect import is_value, split
from decay.log.pressure_log import Note
from decay.log.table import Table


def sort_out(table: Table, line: IntArray, suspect: BoolArray) -> tuple[BoolArray, list[Note]]:
    """Return which lines are data rows; only suspect lines are looked at.

    Parameters
    ----------
    table : Table
        The table.
    line : ndarray of int, shape (n,)
        Line of each row. [-]
    suspect : ndarray of bool, shape (n,)
        True where the time or the pressure could not be read. [-]

    Returns
    -------
    is_data : ndarray of bool, shape (n,)
        True where the line is a row of data. [-]
    notes : list of Note
        What the other lines are.
    """
    is_data = np.ones(len(line), dtype=bool)
    names = [cell for cell in table.names if not cell.startswith("column ")]
    found: dict[str, list[int]] = {"repeated-header": [], "text-line": []}
    for row in np.flatnonzero(suspect):
        text = table.line(int(line[row]))
        kind = _kind(text, table.dialect.delimiter, names)
        if kind != "data":
            is_data[row] = False
        if kind in found:
            found[kind].append(int(line[row]))
    words = {"repeated-header": "repeat(s) of the names", "text-line": "comment or text line(s)"}
    return is_data, [Note(code, f"{len(lines)} {words[code]} among or after the data were passed over.", lines[0])
                     for code, lines in found.items() if lines]


def _kind(text: str, delimiter: str, names: list[str]) -> str:
    if not text.strip(" \t\r\x0b\x0c" + delimiter + '"'):
        return "blank"
    if re.match(r"\s*(#|%|!|//)", text):
        return "text-line"
    cells = [cell for cell in split(text, delimiter) if cell]
    if names and sum(cell in names for cell in cells) >= max(1, 0.6 * len(cells)):
        return "repeated-header"
    if not any(is_value(cell) for cell in cells[:3]) and not re.match(r'\s*"?[-+]?\d', text):
        return "text-line"
    return "data"
