"""A log as columns of cells: the sample on which everything is decided, then one fast pass over the rest."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from decay.arrays import IntArray
from decay.errors import LogError
from decay.log import clock
from decay.log.dialect import Dialect, sniff, split, thinned
from decay.log.options import ReadOptions
from decay.log.pressure_log import Note
from decay.log.source import Content

LONGEST_LINE = 100_000  # bytes; the widest table of readings is far below it
LONGEST_NAME = 100  # characters; whatever stands there beyond it is no name
LONGEST_PREAMBLE = 500  # characters of a line before the data that are looked at
_MOST_CELLS = 60_000
_HEAD, _SPREAD, _TAIL = 400, 240, 60  # lines looked at: at the start, evenly over the rest, at the end
_FIRST, _EARLY = 40, 100  # of the head: rows one after the other, and rows evenly over it
_COMMENT = {"#", "%", "!"}
_PROBED = 1 << 16  # bytes
_BLOCK = 1 << 16  # rows


@dataclass(frozen=True, slots=True)
class Table:
    """A table that has been looked at but not yet read.

    Parameters
    ----------
    name : str
        The file as the user named it.
    data : bytes
        The whole text.
    starts : ndarray of int, shape (lines + 1,)
        Where each line begins in ``data``, and the end. [-]
    dialect : Dialect
        How it is written.
    names : tuple of str
        Names of the columns; ``"column N"`` where the file has none.
    units : tuple of str
        Text of the unit line under each name, or empty.
    preamble : tuple of str
        Lines before the data, the names included.
    sample : tuple of tuple of str
        Data rows from everywhere in the file, padded to the width.
    notes : tuple of Note
        What was decided so far.
    """

    name: str
    data: bytes
    starts: NDArray[np.int32]
    dialect: Dialect
    names: tuple[str, ...]
    units: tuple[str, ...]
    preamble: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    notes: tuple[Note, ...] = ()

    def line(self, number: int) -> str:
        """Return the text of a line, counted from 1."""
        return _line(self.data, self.starts, number - 1)

    def without_text(self) -> Table:
        """Return the table without its text, for when no line will be looked at again."""
        return replace(self, data=b"", starts=self.starts[:0].copy())

    def column(self, index: int) -> list[str]:
        """Return the filled sample cells of a column."""
        return [row[index] for row in self.sample if row[index]]


@dataclass(frozen=True, slots=True)
class Columns:
    """Cells of the wanted columns: numbers where a whole column is numbers, text otherwise.

    Parameters
    ----------
    cells : dict of int to Series, shape (n,)
        The columns, by their index.
    line : ndarray of int, shape (n,)
        Line in the file of each row, counted from 1. [-]
    torn : ndarray of int, shape (k,)
        Lines that have more fields than the table. [-]
    left : dict of int to dict of int to str
        Cells of date columns that are not written like the rest, by column and row.
    """

    cells: dict[int, pd.Series]
    line: IntArray
    torn: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    left: dict[int, dict[int, str]] = field(default_factory=dict)


def look(content: Content, options: ReadOptions) -> Table:
    """Return the table in a text, with its dialect, names and a sample of its rows.

    Raises
    ------
    LogError
        If the text is not a table of readings.
    """
    data, name = content.data, content.name
    starts = _starts(data)
    length = np.diff(starts)
    longest = int(length.max())
    if longest > LONGEST_LINE:
        line = int(length.argmax()) + 1
        raise LogError(name, f"the line has {longest} characters", f"Expected at most {LONGEST_LINE}.",
                       "This is not a table of readings; export the log as CSV.", line=line)
    del length
    count = len(starts) - 1
    head = _lines(data, starts, np.arange(min(_HEAD, count)))
    spread = np.linspace(_HEAD, count - 1, _SPREAD).astype(np.int64)
    rest = np.unique(np.concatenate((spread, np.arange(count - _TAIL, count))))
    more = _lines(data, starts, rest[(rest >= _HEAD) & (rest < count)])
    dialect = sniff(name, head, more, options)
    begin = dialect.first + _FIRST
    rows = _sample([*head[dialect.first : begin], *thinned(head[begin:], _EARLY), *more], head, dialect)
    names, units = _names(head, dialect)
    preamble = tuple(line[:LONGEST_PREAMBLE] for line in head[: dialect.first])
    return Table(name, data, starts, dialect, names, units, preamble, rows, content.notes)


def _sample(lines: list[str], head: list[str], dialect: Dialect) -> tuple[tuple[str, ...], ...]:
    repeated = []
    if dialect.header is not None:
        repeated = [cell for cell in split(head[dialect.header], dialect.delimiter) if cell]
    pad = [""] * dialect.width
    rows = []
    for text in lines:
        row = split(text, dialect.delimiter)
        filled = [cell for cell in row if cell]
        if len(filled) >= 0.5 * min(dialect.usual, len(row)) and filled != repeated and (
                text.lstrip()[:1] not in _COMMENT):
            rows.append(tuple((row + pad)[: dialect.width]))
    return tuple(thinned(rows, max(_MOST_CELLS // dialect.width, 50)))


def _starts(data: bytes) -> NDArray[np.int32]:
    """Return where each line begins, and the end of the last; in pieces, so as not to copy the text."""
    piece = 1 << 20
    text = np.frombuffer(data, dtype=np.uint8)
    ends = [(np.flatnonzero(text[at : at + piece] == 10) + (at + 1)).astype(np.int32)
            for at in range(0, len(text), piece)]
    last = [] if data.endswith(b"\n") else [len(data)]
    return np.concatenate((np.zeros(1, dtype=np.int32), *ends, np.array(last, dtype=np.int32)))


def _line(data: bytes, starts: NDArray[np.int32], index: int) -> str:
    return data[starts[index] : starts[index + 1]].decode("utf-8", "replace").rstrip("\r\n")


def _lines(data: bytes, starts: NDArray[np.int32], which: IntArray) -> list[str]:
    return [data[begin:end].decode("utf-8", "replace").rstrip("\r\n")
            for begin, end in zip(starts[which].tolist(), starts[which + 1].tolist(), strict=True)]


def _names(head: list[str], dialect: Dialect) -> tuple[tuple[str, ...], tuple[str, ...]]:
    names: list[str] = []
    units: list[str] = []
    if dialect.header is not None:
        names = _split_names(head[dialect.header], dialect)
        if dialect.header + 1 < dialect.first:
            units = split(head[dialect.header + 1], dialect.delimiter)
            if not any(re.search(r"[A-Za-zµ°]", cell) for cell in units):
                units = []
    names = [name[:LONGEST_NAME] or f"column {i + 1}" for i, name in enumerate(names[: dialect.width])]
    names += [f"column {i + 1}" for i in range(len(names), dialect.width)]
    for i, name in enumerate(names):  # the same name twice cannot be asked for by name
        if name in names[:i]:
            names[i] = f"{name} (column {i + 1})"
    units += [""] * (dialect.width - len(units))
    return tuple(names), tuple(unit[:LONGEST_NAME] for unit in units[: dialect.width])


def _split_names(line: str, dialect: Dialect) -> list[str]:
    """Return the names in a line, without the mark of a comment or the bracket before the first one.

    Between blanks a name may have its unit apart, as in ``time (s) pressure (mbar)``; names that do not come out at
    the number of columns would stand over the wrong ones, and are worth less than none.
    """
    bare = _without_bracket(re.sub(r"^\s*(?:[#%!;]+|//+)\s*", "", line))
    names = [name.strip().rstrip(",") for name in split(bare, dialect.delimiter)]
    if bare != line and names and not names[0] and len(names) > dialect.width:
        names = names[1:]
    if dialect.delimiter != " " or len(names) <= dialect.width:
        return names
    joined: list[str] = []
    for name in names:
        if joined and (name[:1] in "([{/" or joined[-1].count("(") > joined[-1].count(")")
                       or joined[-1].count("[") > joined[-1].count("]")):
            joined[-1] += " " + name
        else:
            joined.append(name)
    apart = [name for name in re.split(r"\s{2,}|\t|,", bare.strip()) if name]
    return next((found for found in (joined, apart) if len(found) == dialect.width), [])


def _without_bracket(line: str) -> str:
    """Return a line without a bracket that is opened before the first name and closed behind the last, or never."""
    line = line.strip()
    if line[:1] not in set("[({<"):
        return line
    depth = 0
    for at, mark in enumerate(line):
        depth += (mark in "[({<") - (mark in "])}>")
        if depth == 0:
            return line[1:-1].strip() if at == len(line) - 1 and not re.search(r"^\S{1,4}$", line[1:-1]) else line
    return line[1:].strip()


def read(table: Table, wanted: list[int], text: set[int], dates: dict[int, clock.DateForm]) -> Columns:
    """Return the wanted columns of every line from the first data line on.

    Parameters
    ----------
    table : Table
        What `look` returned.
    wanted : list of int
        Indices of the columns. [-]
    text : set of int
        Those of them that are to stay text. [-]
    dates : dict of int to DateForm
        Those of them that are dates or clock times, and how they are written.

    Returns
    -------
    Columns
        One row a line, blank lines included.
    """
    first = table.dialect.first
    lines = len(table.starts) - 1 - first
    found = _fast(table, wanted, text, dates, lines)
    if found is None:
        return _slow(table, wanted, dates, first)
    return found


def _fast(table: Table, wanted: list[int], text: set[int], dates: dict[int, clock.DateForm], lines: int
          ) -> Columns | None:
    """Read in blocks, so that the text of a date never stays in memory longer than its block.

    All columns are read: with a choice of columns pandas no longer objects to a row that has too many fields.
    """
    dialect = table.dialect
    stream = io.BytesIO(table.data)
    stream.seek(int(table.starts[dialect.first]))
    blank = dialect.delimiter == " "
    # Skipping blanks before each cell costs half as much again as the rest of the reading.
    begin = int(table.starts[dialect.first])
    padded = not blank and (dialect.delimiter + " ").encode() in table.data[begin : begin + _PROBED]
    parts: dict[int, list[pd.Series]] = {i: [] for i in wanted}
    left: dict[int, dict[int, str]] = {i: {} for i in dates}
    done = 0
    try:
        with pd.read_csv(
            stream, sep=r"\s+" if blank else dialect.delimiter, header=None, names=range(dialect.width),
            dtype=dict.fromkeys({*text, *dates}, object), engine="c",
            decimal=dialect.decimal, skip_blank_lines=False, skipinitialspace=padded,
            keep_default_na=False, na_values=["", "NaN", "nan"], encoding_errors="replace", on_bad_lines="error",
            chunksize=_BLOCK, low_memory=False,
        ) as blocks:  # fmt: skip
            for block in blocks:
                if not isinstance(block.index, pd.RangeIndex):  # the first row has more fields than the table
                    return None
                for i in wanted:
                    if i in dates:
                        seconds, open_cells = clock.seconds_of(block[i], dates[i])
                        parts[i].append(pd.Series(seconds, copy=False))
                        left[i].update({done + row: cell for row, cell in open_cells.items()})
                    else:
                        parts[i].append(block[i])
                done += len(block)
    except (pd.errors.ParserError, pd.errors.EmptyDataError):  # a torn row, or a quote that never ends
        return None
    if done != lines:
        return None
    del stream
    cells = {i: _joined(parts.pop(i)) for i in wanted}
    return Columns(cells, np.arange(dialect.first + 1, dialect.first + 1 + lines), left=left)


def _joined(parts: list[pd.Series]) -> pd.Series:
    if all(part.dtype.kind in "iuf" for part in parts):
        return pd.Series(np.concatenate([part.to_numpy() for part in parts]), copy=False)
    return pd.concat([part.astype(object) for part in parts], ignore_index=True)


def _slow(table: Table, wanted: list[int], dates: dict[int, clock.DateForm], first: int) -> Columns:
    """Read line by line: for tables with torn lines, stray quotes, or more fields here and there."""
    kept: list[list[str]] = []
    numbers: list[int] = []
    torn: list[int] = []
    width = table.dialect.width
    for index in range(first, len(table.starts) - 1):
        row = split(_line(table.data, table.starts, index), table.dialect.delimiter)
        if any(row[width:]):
            torn.append(index + 1)
            continue
        kept.append([row[i] if i < len(row) else "" for i in wanted])
        numbers.append(index + 1)
    cells: dict[int, pd.Series[Any]] = {i: pd.Series([row[k] for row in kept], dtype=object)
                                        for k, i in enumerate(wanted)}
    left = {}
    for i, form in dates.items():
        seconds, left[i] = clock.seconds_of(cells[i], form)
        cells[i] = pd.Series(seconds)
    return Columns(cells, np.array(numbers, dtype=np.int64), np.array(torn, dtype=np.int64), left)
