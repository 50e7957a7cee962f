"""The cells of the wanted columns: whole columns at once where they are clean, by pandas or line by line elsewhere."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from decay.arrays import FloatArray, IntArray
from decay.constants import DAY
from decay.table import grid, stamps
from decay.table.dialect import split_line
from decay.table.digits import Cells, texts
from decay.table.table import Table

_PROBED = 1 << 16  # bytes
_BLOCK = 1 << 16  # rows
_FEW = 20_000  # rows up to which looking at each cell takes less time than loading pandas
_BLANK, _QUOTE = b' "'
_MISSING = {"NaN", "nan"}
# Numbers that every way of reading takes for the same float: what they are made of is exact, and divided but once.
_SURE = r"[-+]?(?:[0-9]{1,8}(?:\.[0-9]{0,7})?|\.[0-9]{1,7})(?:[eE][-+]?(?:0?[0-9]|1[0-4]))?"
_ALL_SURE = re.compile(rf"(?:(?:{_SURE})?\n)*+")
_WORD = re.compile(r"[^0-9+\-.,eE\s]|^[^0-9]+$")  # in a cell that nothing takes for a number
_NUMBER_WORD = re.compile(r"[-+\s]*(?:inf|infinity|nan)\s*|0[xX].*", re.IGNORECASE)
_TRUTH = {"true", "false"}


@dataclass(frozen=True, slots=True)
class Columns:
    """Cells of the wanted columns."""

    cells: dict[int, Cells]  # the columns, by their index; seconds where they are dates
    line: IntArray  # line in the file of each row, counted from 1, shape (n,) [-]
    # Lines that have more fields than the table, shape (k,) [-]
    torn: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    # Cells of date columns that are not written like the rest, by column and row
    left: dict[int, dict[int, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CellsWanted:
    """What is wanted of a table."""

    columns: tuple[int, ...]  # indices of the columns [-]
    text: frozenset[int]  # those of them that are to stay text [-]
    dates: dict[int, stamps.DateForm]  # those of them that are dates or clock times, and how they are written


def read_cells(table: Table, wanted: CellsWanted) -> Columns:
    """Return the wanted columns, a row for every line from the first data line on, blank ones included.

    Three ways give the same cells. The first takes tables that are clean throughout and gives up at the least doubt;
    the second is pandas, which is loaded for this; the third takes lines with too many fields, and stray quotes.
    """
    for way in (read_alike, by_pandas):
        found = way(table, wanted)
        if found is not None:
            return found
    return by_line(table, wanted)


def read_alike(table: Table, wanted: CellsWanted) -> Columns | None:
    """Read a table that has all its fields in every line and all cells of a column written alike.

    Returns
    -------
    Columns or None
        ``None`` where it is not so, or where there is any doubt that it is.
    """
    first, data, starts = table.dialect.first, table.data, table.starts
    lines = len(starts) - 1 - first
    filled = lines
    while filled and not data[starts[first + filled - 1] : starts[first + filled]].strip(b"\r\n"):
        filled -= 1
    if filled == 0:
        return None
    is_padded = _is_padded(table)
    numbers = {i: np.full(lines, np.nan) for i in wanted.columns if i not in wanted.text}
    words: dict[int, list[str]] = {i: [] for i in wanted.text}
    for at in range(first, first + filled, _BLOCK):
        last = min(at + _BLOCK, first + filled)
        text = _bytes_of(data[starts[at] : starts[last]])
        if int(text.max()) > 127:
            return None
        found = grid.places(text[grid.WORD : -grid.WIDEST], table.dialect.delimiter, table.dialect.width, last - at)
        if found is None:
            return None
        found = _bare(text, found[0] + grid.WORD, found[1] + grid.WORD, is_padded)
        if found is None:
            return None
        begin, end = found
        for i in wanted.columns:
            cells = _column(text, begin[:, i], end[:, i], i, table, wanted)
            if cells is None:
                return None
            if not isinstance(cells, list):
                numbers[i][at - first : last - first] = cells
            elif i in wanted.text or filled <= _BLOCK:
                words[i] = words.get(i, []) + cells
            else:
                return None
    whole: dict[int, Cells] = {**numbers, **{i: [*cells, *[""] * (lines - filled)] for i, cells in words.items()}}
    return Columns(whole, np.arange(first + 1, first + 1 + lines))


def _bytes_of(block: bytes) -> grid.Bytes:
    """Return lines as bytes, the last one ended, with room before and behind for what is read in one piece."""
    lines = block if block.endswith(b"\n") else block + b"\n"
    text = np.zeros(grid.WORD + len(lines) + grid.WIDEST, dtype=np.uint8)
    text[grid.WORD : grid.WORD + len(lines)] = np.frombuffer(lines, dtype=np.uint8)
    return text


def _is_padded(table: Table) -> bool:
    """Return whether blanks follow the separator, which then belong to no cell."""
    begin = int(table.starts[table.dialect.first])
    mark = table.dialect.delimiter
    return mark != " " and (mark + " ").encode() in table.data[begin : begin + _PROBED]


def _bare(text: grid.Bytes, begin: IntArray, end: IntArray, is_padded: bool) -> tuple[IntArray, IntArray] | None:
    """Return where cells begin and end without blanks before them and quotes around; ``None`` for other quotes."""
    if is_padded:
        while (is_blank := (text[begin] == _BLANK) & (begin < end)).any():
            begin = begin + is_blank
    quotes = int(np.count_nonzero(text == _QUOTE))
    if quotes == 0:
        return begin, end
    is_quoted = (end - begin >= 2) & (text[begin] == _QUOTE) & (text[end - 1] == _QUOTE)
    return (begin + is_quoted, end - is_quoted) if 2 * int(is_quoted.sum()) == quotes else None


def _column(text: grid.Bytes, begin: IntArray, end: IntArray, index: int, table: Table, wanted: CellsWanted
            ) -> Cells | None:
    """Return one column of a block, or ``None`` where it is for another way to read."""
    rows = len(table.starts)
    if index in wanted.dates:
        form = wanted.dates[index]
        size = int(end[0] - begin[0])
        if form.fast is not None and 0 < size <= grid.WIDEST and bool((end - begin == size).all()):
            seconds = grid.seconds_in(grid.cut(text, begin, size), form.fast)
            if seconds is not None:
                return seconds
        return _few_dates(_sliced(text, begin, end), form) if rows <= _FEW else None
    if index in wanted.text:
        return _sliced(text, begin, end)
    values = grid.numbers_in(text, begin, end, table.dialect.decimal)
    if values is not None:
        return values
    return _few_cells(_sliced(text, begin, end), table.dialect.decimal) if rows <= _FEW else None


def _sliced(text: grid.Bytes, begin: IntArray, end: IntArray) -> list[str]:
    whole = text.tobytes().decode("ascii")
    cells = [whole[a:b] for a, b in zip(begin.tolist(), end.tolist(), strict=True)]
    return ["" if cell in _MISSING else cell for cell in cells]


def _few_dates(cells: list[str], form: stamps.DateForm) -> FloatArray | None:
    """Return the seconds of dates that are not all of one width; ``None`` where one is not like the others."""
    if form.fast is not None and "%y" in form.fast:  # which century, each way would have to decide for itself
        return None
    values = np.zeros(len(cells))
    for row, cell in enumerate(cells):
        mark = stamps.read_stamp(cell, form.order)
        if mark is None or mark.has_clock != form.timed or mark.has_date != form.dated or "60" in cell:
            return None
        values[row] = mark.seconds
    return np.round(values * 1e6) / 1e6


def _few_cells(cells: list[str], decimal: str) -> Cells | None:
    """Return numbers that are not all plain digits, or words among numbers; ``None`` where it is neither for sure."""
    shown = "\n".join([*cells, ""])
    if decimal == ".":
        if _ALL_SURE.fullmatch(shown):
            return np.array([cell or "nan" for cell in cells], dtype=np.float64)
    elif "." not in shown and _ALL_SURE.fullmatch(dotted := shown.replace(",", ".")):
        return np.array([cell or "nan" for cell in dotted.split("\n")[:-1]], dtype=np.float64)
    words = {cell for cell in cells if cell}
    if any(_NUMBER_WORD.fullmatch(cell) for cell in words) or {cell.strip().lower() for cell in words} <= _TRUTH:
        return None
    return cells if any(_WORD.search(cell) for cell in words) else None


def by_pandas(table: Table, wanted: CellsWanted) -> Columns | None:
    """Read in blocks, so that the text of a date never stays in memory longer than its block.

    All columns are read: with a choice of columns pandas no longer objects to a row that has too many fields.

    Returns
    -------
    Columns or None
        ``None`` where a row has too many fields, or a quote never ends.
    """
    import pandas as pd

    dialect, first = table.dialect, table.dialect.first
    stream = io.BytesIO(table.data)
    stream.seek(int(table.starts[first]))
    # Skipping blanks before each cell costs half as much again as the rest of the reading.
    parts: dict[int, list[Cells]] = {i: [] for i in wanted.columns}
    left: dict[int, dict[int, str]] = {i: {} for i in wanted.dates}
    done = 0
    try:
        with pd.read_csv(
            stream, sep=r"\s+" if dialect.delimiter == " " else dialect.delimiter, header=None,
            names=range(dialect.width), dtype=dict.fromkeys({*wanted.text, *wanted.dates}, object), engine="c",
            decimal=dialect.decimal, skip_blank_lines=False, skipinitialspace=_is_padded(table),
            keep_default_na=False, na_values=["", *_MISSING], encoding_errors="replace", on_bad_lines="error",
            chunksize=_BLOCK, low_memory=False,
        ) as blocks:  # fmt: skip
            for block in blocks:
                if not isinstance(block.index, pd.RangeIndex):  # the first row has more fields than the table
                    return None
                for i in wanted.columns:
                    cells = _plain(block[i])
                    if i in wanted.dates:
                        cells, open_cells = _seconds_of(texts(cells), wanted.dates[i])
                        left[i].update({done + row: cell for row, cell in open_cells.items()})
                    parts[i].append(cells)
                done += len(block)
    except (pd.errors.ParserError, pd.errors.EmptyDataError):  # a torn row, or a quote that never ends
        return None
    if done != len(table.starts) - 1 - first:
        return None
    cells_of = {i: _joined(parts.pop(i)) for i in wanted.columns}
    return Columns(cells_of, np.arange(first + 1, first + 1 + done), left=left)


def _plain(column: Any) -> Cells:
    if column.dtype.kind in "iuf":
        numbers: FloatArray = column.to_numpy(dtype=np.float64)
        return numbers
    return ["" if cell != cell or cell is None else str(cell) for cell in column.astype(object).tolist()]


def _joined(parts: list[Cells]) -> Cells:
    arrays = [part for part in parts if not isinstance(part, list)]
    if len(arrays) == len(parts):
        return arrays[0] if len(arrays) == 1 else np.concatenate(arrays)
    return [cell for part in parts for cell in texts(part)]


def by_line(table: Table, wanted: CellsWanted) -> Columns:
    """Read line by line: for tables with torn lines, stray quotes, or more fields here and there.

    Returns
    -------
    Columns
        Lines with too many fields are in ``torn`` instead.
    """
    kept: list[list[str]] = []
    numbers: list[int] = []
    torn: list[int] = []
    width = table.dialect.width
    for index in range(table.dialect.first, len(table.starts) - 1):
        row = split_line(table.line(index + 1), table.dialect.delimiter)
        if any(row[width:]):
            torn.append(index + 1)
            continue
        kept.append([row[i] if i < len(row) else "" for i in wanted.columns])
        numbers.append(index + 1)
    cells: dict[int, Cells] = {i: [row[k] for row in kept] for k, i in enumerate(wanted.columns)}
    left = {}
    for i, form in wanted.dates.items():
        cells[i], left[i] = _seconds_of(texts(cells[i]), form)
    return Columns(cells, np.array(numbers, dtype=np.int64), np.array(torn, dtype=np.int64), left)


def _seconds_of(cells: list[str], form: stamps.DateForm) -> tuple[FloatArray, dict[int, str]]:
    """Return the seconds of each cell, ``nan`` where it has none, and the text of the cells that gave none. [s]"""
    values = np.full(len(cells), np.nan)
    if form.fast is not None:
        together = grid.seconds_of(cells, form.fast)
        if together is not None:
            return together, {}
        values = _by_format(cells, form.fast, form)
    left: dict[int, str] = {}
    for row in np.flatnonzero(np.isnan(values)).tolist():
        text = cells[row].strip()
        if not text:
            continue
        mark = stamps.read_stamp(cells[row], form.order)
        if mark is not None and mark.has_clock == form.timed and mark.has_date == form.dated:
            values[row] = mark.seconds
        else:
            left[int(row)] = text
    return values, left


def _by_format(cells: list[str], written: str, form: stamps.DateForm) -> FloatArray:
    """Return the seconds of cells that one format reads; ``nan`` for the others. [s]"""
    import pandas as pd

    is_iso = written.startswith("%Y-%m-%d") and not written.endswith("%p")
    try:
        parsed = pd.to_datetime(pd.Series(cells, dtype=object), format="ISO8601" if is_iso else written,
                                errors="coerce", utc=form.zoned)
        stamp = parsed.to_numpy(dtype="datetime64[us]").astype(np.int64)
    except (ValueError, OverflowError, TypeError):
        return np.full(len(cells), np.nan)
    base = 0.0 if form.dated else -2208988800.0  # a bare clock parses into 1900-01-01
    values: FloatArray = np.where(stamp == np.iinfo(np.int64).min, np.nan, stamp / 1e6 - base)
    if is_iso and form.timed:  # a bare date would pass for a midnight unseen
        at = np.flatnonzero(values % DAY == 0).tolist()
        values[[row for row in at if len(cells[row]) < 12]] = np.nan
    return values
