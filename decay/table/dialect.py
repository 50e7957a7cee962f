"""How a text table is written: separator, decimal mark, where names stand and where data begin."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from itertools import zip_longest
from typing import TypeVar

from decay.errors import LogError
from decay.table import stamps
from decay.table.digits import LONGEST_CELL, is_number, number_in
from decay.table.read_options import ReadOptions

_T = TypeVar("_T")
MOST_COLUMNS = 2000
_LINES = 40  # lines from the start, and as many from the rest, that show the dialect
_PROBE = 30  # of them, lines on which each separator is tried
_MANY_FIELDS = 200
_STRONGER = re.compile(r";|\t")
_COMMA = re.compile(r"\d,\d|^,\d")
_POINT = re.compile(r"\d\.\d")
_POINT_GROUPS = re.compile(r"^\D*[1-9]\d{0,2}(\.\d{3})+\D*$")
_GROUPS = re.compile(r"^\D*[1-9](\d{0,2}(,\d{3})+|\d?(,\d{2})+,\d{3})\D*$")
_FEWEST_GROUPS = 5  # numbers with points for thousands, and numbers below a thousand, that show what the points are
_CANDIDATES = (",", ";", "\t", "|", " ")
_NAMED = {"tab": "\t", "\\t": "\t", "comma": ",", "semicolon": ";", "pipe": "|", "space": " ", "blank": " "}


@dataclass(frozen=True, slots=True)
class Dialect:
    """The separator and decimal mark of a table, its width, and where its parts stand."""

    delimiter: str  # field separator; ``" "`` stands for runs of blanks
    decimal: str  # decimal mark
    width: int  # largest number of fields in a data line [-]
    usual: int  # most common number of fields in a data line [-]
    first: int  # index of the first data line, counted from 0 [-]
    header: int | None  # index of the line of names [-]


def split_line(line: str, delimiter: str) -> list[str]:
    """Return the fields of one line, without quotes and outer blanks."""
    if delimiter == " ":
        if '"' not in line:
            return line.split()
        return [a or b for a, b in re.findall(r'"([^"]*)"|(\S+)', line)]
    if '"' not in line:
        return [field.strip() for field in line.split(delimiter)]
    try:
        row = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        row = line.split(delimiter)
    return [field.strip().strip('"') for field in row]


def is_value(text: str) -> bool:
    """Return whether a cell holds a number, a number with a unit, or a time."""
    return len(text) <= LONGEST_CELL and _is_value(text)


@lru_cache(maxsize=65536)
def _is_value(text: str) -> bool:
    return (is_number(text) or stamps.looks_like_time(text) or number_in(text) is not None
            or number_in(text, ",") is not None)


def thinned(lines: list[_T], count: int) -> list[_T]:
    """Return at most ``count`` members from everywhere in a list, its ends among them."""
    if len(lines) <= count:
        return lines
    return [lines[at * (len(lines) - 1) // (count - 1)] for at in range(count)]


def sniff(name: str, head: list[str], more: list[str], options: ReadOptions) -> Dialect:
    """Return the dialect of a table from its first lines and a sample of later ones.

    Raises
    ------
    LogError
        If no line looks like data, or a line has too many fields.
    """
    lines = [line for line in thinned(head[-150:], _LINES) + thinned(more, _LINES) if line.strip()]
    delimiter = _delimiter(name, lines, options)
    rows = [split_line(line, delimiter) for line in lines]
    fields = max(map(len, rows), default=0)
    if fields > MOST_COLUMNS:
        raise _too_wide(name, fields)
    decimal = options.decimal or _decimal(rows, delimiter)
    data = [row for row in rows if _is_data(row)]
    good = [_trimmed(row) for row in data]
    if not good:
        raise _no_rows(name)
    lengths = Counter(len(row) for row in good)
    usual = lengths.most_common(1)[0][0]
    # A length that few rows have is a torn row, not the width of the table.
    widest = max(size for size, count in lengths.items() if count >= 0.05 * len(good) + 1 or size == usual)
    width = max(len(row) for row, trimmed in zip(data, good, strict=True) if len(trimmed) <= widest)
    lead = next(kind for kind, _ in Counter(stamps.looks_like_time(row[0]) for row in good if row).most_common(1))
    is_bare = usual == 1 and sum(is_number(row[0]) for row in good) > 0.5 * len(good)  # "Interval: 5 s" is no reading
    cells: list[list[str]] = []
    for line in head:
        row = split_line(line, delimiter)
        if not _is_comment(line) and _begins(row, usual, lead) and not (is_bare and not is_number(row[0])):
            break
        cells.append(row)
    else:
        raise _no_rows(name)
    first = len(cells)
    timed = next((i for i in range(1, usual) if 2 * sum(
        len(row) > i and stamps.looks_like_time(row[i]) for row in good) > len(good)), None)
    # Time runs on while the gauge shows nothing yet, whichever of them stands first.
    while first and (_is_empty_row(cells[first - 1], usual, lead) or (
            timed is not None and len(cells[first - 1]) == usual and stamps.looks_like_time(cells[first - 1][timed]))):
        first -= 1
    header = _header(cells, first, usual, options)
    if options.header is True and header is None and first == 0:
        header, first = 0, 1
    return Dialect(delimiter, decimal, width, usual, first, header)


def _delimiter(name: str, lines: list[str], options: ReadOptions) -> str:
    if options.delimiter is not None:
        wanted = _NAMED.get(options.delimiter.lower(), options.delimiter)
        if len(wanted) != 1:
            raise LogError(name, f'the separator "{options.delimiter}" is not one character',
                           'Expected one character, or "tab".', "Change --delimiter.")
        return wanted
    probe = thinned(lines, _PROBE)
    scores = {mark: _score(probe, mark) for mark in _CANDIDATES}
    best = max(_CANDIDATES, key=lambda mark: scores[mark])
    fields = max((line.count(mark) + 1 for line in probe for mark in _CANDIDATES if mark != " "), default=0)
    if scores[best] == 0.0 and fields > MOST_COLUMNS:
        raise _too_wide(name, fields)
    return best


def _no_rows(name: str) -> LogError:
    return LogError(name, "no line looks like a row of readings", "Expected lines with a time and a pressure.",
                    "Export the log as CSV, or name the separator with --delimiter.")


def _too_wide(name: str, fields: int) -> LogError:
    return LogError(name, f"a line has {fields} fields", f"Expected at most {MOST_COLUMNS}.",
                    "Check --delimiter, or export fewer columns.")


def _begins(row: list[str], usual: int, lead: bool) -> bool:
    """Return whether a line is the first of the data.

    Besides a row of values it may be a row in which every gauge is over range: words all along, but a time or a
    number in front as in all other rows.
    """
    size = len(_trimmed(row))
    if size < max(1, 0.6 * usual):
        return False
    return _is_data(row) or (size == usual and size > 1 and is_value(row[0])
                             and stamps.looks_like_time(row[0]) == lead)


def _is_empty_row(row: list[str], usual: int, lead: bool) -> bool:
    """Return whether a line is a row of the table that has a time or a number in front and no reading at all."""
    return (len(row) == usual > 1 and is_value(row[0]) and stamps.looks_like_time(row[0]) == lead
            and not any(cell for cell in row[1:] if not stamps.looks_like_time(cell)))


def _trimmed(row: list[str]) -> list[str]:
    end = len(row)
    while end and not row[end - 1]:
        end -= 1
    return row[:end]


def _values(row: list[str]) -> int:
    return sum(is_value(cell) for cell in row)


def _is_comment(line: str) -> bool:
    return line.lstrip()[:1] in {"#", "%", "!"} or line.lstrip()[:2] == "//"


def _is_data(row: list[str]) -> bool:
    filled = [cell for cell in row if cell]
    if not filled or not is_value(filled[0]):
        return False
    return _values(filled) >= 0.4 * len(filled)


def _score(lines: list[str], mark: str) -> float:
    """Return how much a separator explains: value cells in lines of the usual width, penalised for blanks."""
    rows = [_trimmed(split_line(line, mark)) for line in lines if 0 < line.count(mark) < MOST_COLUMNS]
    rows = [row for row in rows if len(row) > 1]
    if not rows:
        return 0.0
    usual, count = Counter(len(row) for row in rows).most_common(1)[0]
    alike = [row for row in rows if len(row) == usual]
    if usual > _MANY_FIELDS:
        alike = alike[: max(_MANY_FIELDS * len(alike) // usual, 5)]
    cells = [cell for row in alike for cell in row]
    share = _values(cells) / len(cells)
    # A blank separates dates from times and numbers from units; a comma stands in decimals: both rank last.
    weight = {" ": 0.5, ",": 0.9}.get(mark, 1.0)
    if mark == "," and sum(bool(_STRONGER.search(line)) for line in lines) > 0.7 * len(lines):
        weight = 0.85
    whole = sum(is_number(cell) or stamps.looks_like_time(cell) for cell in cells) / len(cells)
    return weight * (0.5 * share + 0.5 * whole) * count / len(lines)


def _decimal(rows: list[list[str]], delimiter: str) -> str:
    comma = [cell for row in rows for cell in row if "," in cell and len(cell) <= LONGEST_CELL and _COMMA.search(cell)
             and not stamps.looks_like_time(cell)]
    if not comma:
        return "."
    cells = [cell for row in rows for cell in row if len(cell) <= LONGEST_CELL and not stamps.looks_like_time(cell)]
    comma = [cell for cell in comma if cell.rfind(",") > cell.rfind(".")]
    point = [cell for cell in cells if cell.rfind(".") > cell.rfind(",") and _POINT.search(cell)]
    groups = sum(map(bool, map(_GROUPS.match, comma))), sum(map(bool, map(_POINT_GROUPS.match, point)))
    sure = len(comma) - groups[0], len(point) - groups[1]
    if any(sure):  # three digits behind a mark may be thousands: such cells count little, but one damaged cell less
        return "," if sure[0] + groups[0] / 20 > sure[1] + groups[1] / 20 else "."
    # Only groups of three follow each comma: thousands if plain numbers of the same column stay below a thousand, as
    # 998 before 1,002.
    columns = [column for column in zip_longest(*rows, fillvalue="") if any(map(_GROUPS.match, column))]
    plain = any(cell.isascii() and cell.isdigit() for column in columns for cell in column)
    return "." if plain or delimiter == "," else ","


def refuse_points_for_thousands(name: str, rows: tuple[tuple[str, ...], ...]) -> None:
    """Refuse a column whose points seem to stand for thousands: 1.002 beside 998, and never 998.5 or 0.998."""
    for place, column in enumerate(zip_longest(*rows, fillvalue=""), 1):
        pointed = [cell for cell in column if "." in cell]
        if len(pointed) < _FEWEST_GROUPS or not all(map(_POINT_GROUPS.match, pointed)):
            continue
        plain = [cell for cell in column if cell.isascii() and cell.isdigit()]
        if len(plain) >= _FEWEST_GROUPS and max(map(len, plain)) <= 3:
            raise LogError(name, f'column {place} has numbers like "{pointed[0]}" and "{plain[0]}": the point may '
                           "stand for thousands", "Expected numbers whose points are told.",
                           'Export them without points for thousands; or tell --decimal ".", if it is none.')


def _header(cells: list[list[str]], first: int, usual: int, options: ReadOptions) -> int | None:
    if options.header is False:
        return None
    best, best_fill = None, 0.0
    for index in range(first - 1, max(first - 60, -1), -1):
        row = [cell.lstrip("#%! ") for cell in cells[index]]
        filled = [cell for cell in row if cell]
        if not filled or len(filled) < min(2, usual):
            continue
        named = sum(bool(re.search(r"[A-Za-zµ°]", cell)) and not is_number(cell) for cell in filled) / len(filled)
        fill = min(len(row), usual) / usual
        if named >= 0.5 and fill >= 0.5 and fill > best_fill + 0.3:
            best, best_fill = index, fill
    # A line of bare units right above the data belongs to the names above it.
    if best is not None and best > 0 and _only_units(cells[best]):
        above = [cell for cell in cells[best - 1] if cell]
        is_names = not _only_units(cells[best - 1]) and not any(is_number(cell) for cell in above)
        if len(above) >= max(0.5 * usual, min(2, usual)) and is_names:
            return best - 1
    return best


def _only_units(row: list[str]) -> bool:
    filled = [cell.strip("()[] #") for cell in row if cell]
    return bool(filled) and all(len(cell) <= 12 and " " not in cell.strip() and
                                re.fullmatch(r"[A-Za-zµμ°/:.\-]*", cell) is not None and
                                not re.search(r"time|press|vac|date|temp|gauge", cell.lower())
                                for cell in filled)
