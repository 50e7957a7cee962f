"""A log as a table that has been looked at: dialect, names, and the sample on which everything is decided."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from decay.arrays import BoolArray, IntArray
from decay.errors import LogError
from decay.table import source
from decay.table.dialect import Dialect, is_value, refuse_points_for_thousands, sniff, split_line, thinned
from decay.table.headings import unit_in
from decay.table.read_options import Note, ReadOptions

LONGEST_LINE = 100_000  # bytes; the widest table of readings is far below it
LONGEST_NAME = 100  # characters; whatever stands there beyond it is no name
LONGEST_PREAMBLE = 500  # characters of a line before the data that are looked at
_MOST_CELLS = 60_000
_HEAD, _SPREAD, _TAIL = 400, 240, 60  # lines looked at: at the start, evenly over the rest, at the end
_FIRST, _EARLY = 40, 100  # of the head: rows one after the other, and rows evenly over it
_COMMENT = {"#", "%", "!"}


@dataclass(frozen=True, slots=True)
class Table:
    """A table that has been looked at but not yet read."""

    name: str  # the file as the user named it
    data: bytes  # the whole text
    starts: NDArray[np.int32]  # where each line begins in ``data``, and the end, shape (lines + 1,) [-]
    dialect: Dialect  # how it is written
    names: tuple[str, ...]  # names of the columns; ``"column N"`` where the file has none
    units: tuple[str, ...]  # text of the unit line under each name, or empty
    preamble: tuple[str, ...]  # lines before the data, the names included
    sample: tuple[tuple[str, ...], ...]  # data rows from everywhere in the file, padded to the width
    notes: tuple[Note, ...] = ()  # what was decided so far

    def line(self, number: int) -> str:
        """Return the text of a line, counted from 1."""
        return _line(self.data, self.starts, number - 1)

    def without_text(self) -> Table:
        """Return the table without its text, for when no line will be looked at again."""
        return replace(self, data=b"", starts=self.starts[:0].copy())

    def column(self, index: int) -> list[str]:
        """Return the filled sample cells of a column."""
        return [row[index] for row in self.sample if row[index]]


def table_of(content: source.Content, options: ReadOptions) -> Table:
    """Return the table in a text, with its dialect, names and a sample of its rows.

    Raises
    ------
    LogError
        If the text is not a table of readings.
    """
    data, name = content.data, content.name
    starts = _starts(data, name)
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
    if options.decimal is None:
        refuse_points_for_thousands(name, rows)
    names, units = _names(head, dialect)
    preamble = tuple(line[:LONGEST_PREAMBLE] for line in head[: dialect.first])
    return Table(name, data, starts, dialect, names, units, preamble, rows, content.notes)


def _sample(lines: list[str], head: list[str], dialect: Dialect) -> tuple[tuple[str, ...], ...]:
    repeated = []
    if dialect.header is not None:
        repeated = [cell for cell in split_line(head[dialect.header], dialect.delimiter) if cell]
    pad, least = [""] * dialect.width, 0.6 * dialect.usual
    rows = []
    for text in lines:
        row = split_line(text, dialect.delimiter)
        filled = row if all(row) else [cell for cell in row if cell]
        # What has fewer fields than the table is a remark below it, such as a sum.
        is_whole = len(row) >= least and (filled is row or len(filled) >= 0.5 * min(dialect.usual, len(row)))
        if is_whole and filled != repeated and text.lstrip()[:1] not in _COMMENT:
            rows.append(tuple(row) if len(row) == dialect.width else tuple((row + pad)[: dialect.width]))
    return tuple(thinned(rows, max(_MOST_CELLS // dialect.width, 50)))


def _starts(data: bytes, name: str) -> NDArray[np.int32]:
    """Return where each line begins, and the end of the last; in pieces, so as not to copy the text."""
    piece = 1 << 20
    text = np.frombuffer(data, dtype=np.uint8)
    ends: list[NDArray[np.int32]] = []
    lines = 0
    for at in range(0, len(text), piece):
        ends.append((np.flatnonzero(text[at : at + piece] == 10) + (at + 1)).astype(np.int32))
        lines += len(ends[-1])
        if lines > source.MOST_LINES:
            raise LogError(name, f"the file has more than {source.MOST_LINES} lines", "Expected a log of one job.",
                           "Cut the log to the job in question.")
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
            units = split_line(head[dialect.header + 1], dialect.delimiter)
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
    names = [name.strip().rstrip(",") for name in split_line(bare, dialect.delimiter)]
    if bare != line and names and not names[0] and len(names) > dialect.width:
        names = names[1:]
    counted = [name.strip() for name in split_line(line, dialect.delimiter)]
    # The rows' numbers, without a name or under a mark, and no comment.
    if len(names) < len(counted) == dialect.width and counted[0] in {"#", ""}:
        return counted
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

    Raises
    ------
    LogError
        If names among the rows give the columns another order or unit.
    """
    is_data = np.ones(len(line), dtype=bool)
    sure = np.flatnonzero(~suspect)
    last = int(sure[-1]) if sure.size else 0
    names = [cell for cell in table.names if not cell.startswith("column ")]
    found: dict[str, list[int]] = {"repeated-header": [], "text-line": []}
    for row in np.flatnonzero(suspect):
        text = table.line(int(line[row]))
        kind = _kind(text, table.dialect.delimiter, names)
        if kind != "data":
            is_data[row] = False
        if kind in found:
            found[kind].append(int(line[row]))
            if row < last and _names_other(text, table, names):
                raise LogError(table.name, f'the columns are named anew: "{text.strip()[:LONGEST_NAME]}"',
                               f'Expected "{table.dialect.delimiter.join(names)[:LONGEST_NAME]}" all through.',
                               "Cut the file in two here, and judge each part.", line=int(line[row]))
    words = {"repeated-header": "line of names", "text-line": "line of text"}
    return is_data, [Note(code, f"Passed over among or after the data: {len(lines):,} times a {words[code]}.", lines[0])
                     for code, lines in found.items() if lines]


def _names_other(text: str, table: Table, names: list[str]) -> bool:
    """Tell whether a line of names gives the columns another order, or one of them another unit of pressure."""
    if text.lstrip()[:1] in _COMMENT:
        return False
    cells = split_line(text, table.dialect.delimiter)
    if sorted(cells) == sorted(names):
        return cells != names
    told = zip_longest(table.names, table.units, fillvalue="")
    units = [unit_in(name) or unit_in(unit, is_pressure=True) for name, unit in told]
    pairs = zip((unit_in(cell) for cell in cells), units, strict=False)
    return any(now is not None and before is not None and now != before for now, before in pairs)


def _kind(text: str, delimiter: str, names: list[str]) -> str:
    if not text.strip(" \t\r\x0b\x0c" + delimiter + '"'):
        return "blank"
    if re.match(r"\s*(#|%|!|//)", text):
        return "text-line"
    cells = [cell for cell in split_line(text, delimiter) if cell]
    if names and sum(cell in names for cell in cells) >= max(1, 0.6 * len(cells)):
        return "repeated-header"
    if not any(is_value(cell) for cell in cells[:3]) and not re.match(r'\s*"?[-+]?\d', text):
        return "text-line"
    return "data"
