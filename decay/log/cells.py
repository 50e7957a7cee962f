"""The cells of the wanted columns, every line of a table in one fast pass, or line by line where it is torn."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from decay.arrays import FloatArray, IntArray
from decay.log import fixed, stamps
from decay.log.dialect import split
from decay.log.table import Table

_PROBED = 1 << 16  # bytes
_BLOCK = 1 << 16  # rows


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


def read(table: Table, wanted: list[int], text: set[int], dates: dict[int, stamps.DateForm]) -> Columns:
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


def _fast(table: Table, wanted: list[int], text: set[int], dates: dict[int, stamps.DateForm], lines: int
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
                        seconds, open_cells = _seconds_of(block[i], dates[i])
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


def _slow(table: Table, wanted: list[int], dates: dict[int, stamps.DateForm], first: int) -> Columns:
    """Read line by line: for tables with torn lines, stray quotes, or more fields here and there."""
    kept: list[list[str]] = []
    numbers: list[int] = []
    torn: list[int] = []
    width = table.dialect.width
    for index in range(first, len(table.starts) - 1):
        row = split(table.line(index + 1), table.dialect.delimiter)
        if any(row[width:]):
            torn.append(index + 1)
            continue
        kept.append([row[i] if i < len(row) else "" for i in wanted])
        numbers.append(index + 1)
    cells: dict[int, pd.Series[Any]] = {i: pd.Series([row[k] for row in kept], dtype=object)
                                        for k, i in enumerate(wanted)}
    left = {}
    for i, form in dates.items():
        seconds, left[i] = _seconds_of(cells[i], form)
        cells[i] = pd.Series(seconds)
    return Columns(cells, np.array(numbers, dtype=np.int64), np.array(torn, dtype=np.int64), left)


def _seconds_of(cells: pd.Series, form: stamps.DateForm) -> tuple[FloatArray, dict[int, str]]:
    """Return the seconds of each cell, ``nan`` where it has none, and the text of the cells that gave none. [s]"""
    values = np.full(len(cells), np.nan)
    if form.fast is not None:
        together = fixed.seconds(cells.tolist(), form.fast)
        if together is not None:
            return together, {}
        is_iso = form.fast.startswith("%Y-%m-%d") and not form.fast.endswith("%p")
        try:
            parsed = pd.to_datetime(cells, format="ISO8601" if is_iso else form.fast, errors="coerce", utc=form.zoned)
            stamp = parsed.to_numpy(dtype="datetime64[us]").astype(np.int64)
            base = 0.0 if form.dated else -2208988800.0  # a bare clock parses into 1900-01-01
            values = np.where(stamp == np.iinfo(np.int64).min, np.nan, stamp / 1e6 - base)
            if is_iso and form.timed:  # a bare date would pass for a midnight unseen
                at = np.flatnonzero(values % stamps.DAY == 0).tolist()
                values[[row for row in at if len(str(cells.iat[row])) < 12]] = np.nan
        except (ValueError, OverflowError, TypeError):
            pass
    left: dict[int, str] = {}
    for row in np.flatnonzero(np.isnan(values)).tolist():
        text = cells.iat[row]
        if not isinstance(text, str) or not text.strip():
            continue
        mark = stamps.read(text, form.order)
        if mark is not None and mark.has_clock == form.timed and mark.has_date == form.dated:
            values[row] = mark.seconds
        else:
            left[int(row)] = text.strip()
    return values, left
