"""Tables whose times stand in several columns, or whose gauges in several rows, put into one row for each moment."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable
from itertools import pairwise

from decay.table.dialect import split_line
from decay.table.digits import is_number
from decay.table.headings import unit_in
from decay.table.read_options import Note
from decay.table.stamps import looks_like_time, read_stamp
from decay.table.table import Table

_PARTS = (("year", "years", "yyyy", "yr", "jahr"), ("month", "mon", "mo", "monat", "mm"), ("day", "dd", "tag"),
          ("hour", "hours", "hr", "hrs", "h", "hh", "std", "stunde", "stunden"),
          ("minute", "minutes", "min", "mins", "mm", "m", "minuten"),
          ("second", "seconds", "sec", "secs", "s", "ss", "sek", "sekunden"))
_LIMITS = ((1970, 2100), (1, 12), (1, 31), (0, 9999), (0, 59), (0, 60))
_CHANNEL = re.compile(r"channel|sensor|gauge|kanal|canal|probe", re.IGNORECASE)
# Words that may head a column of states as well: the rows must share their times.
_PERHAPS = re.compile(r"signal|variable|parameter|quantity|name|tag|point|id\b|what|measure", re.IGNORECASE)
_NUMBERED = re.compile(r"channel|sensor|[ck]anal", re.IGNORECASE)
_MOST_CHANNELS = 40
_LONG = 0.8  # share of sample rows that must tell a channel
_MOST_LINES = 400_000  # of a table that is put into another order


def rearranged(table: Table) -> tuple[bytes, Note] | None:
    """Return a table as text with one row for each moment, each in the line of its first, or ``None`` if it is so."""
    if len(table.starts) > _MOST_LINES or table.dialect.header is None:
        return None
    return _joined_times(table) or _unfolded(table) or _one_below_the_other(table)


def _joined_times(table: Table) -> tuple[bytes, Note] | None:
    """Join columns of hours, minutes and seconds, and of years, months and days, to one."""
    names = [re.sub(r"[\[(].*", "", name).strip().lower() for name in table.names]
    found: list[int | None] = []
    for words, limits in zip(_PARTS, _LIMITS, strict=True):  # "mm" is a month before the hour, a minute behind it
        behind = max((i for i in found if i is not None), default=-1) if "mm" in words else -1
        found.append(next((i for i, name in enumerate(names) if i > behind and name in words
                           and _within(table, i, limits)), None))
    day, clock = found[:3], found[3:]
    if clock[1] is None or (clock[0] is None and clock[2] is None):
        return None
    if not any(_starts_again(table.column(i)) for i in clock if i is not None):
        return None  # each counts by itself
    if None in day:
        day = []
    taken = {i for i in (*day, *clock) if i is not None}
    kept = [i for i in range(len(table.names)) if i not in taken]

    def row(cells: list[str]) -> list[str]:
        hour, minute, second = (cells[i] if i is not None and i < len(cells) and cells[i] else "0" for i in clock)
        whole, _, rest = second.partition(".")
        parts = [cells[i] if i < len(cells) else "" for i in day if i is not None]
        if not all(map(_is_figure, (hour, minute, whole, *parts))):
            return ["", *(cells[i] if i < len(cells) else "" for i in kept)]
        date = f"{parts[0]}-{int(parts[1]):02d}-{int(parts[2]):02d} " if day else ""
        time = f"{date}{int(float(hour)):02d}:{int(float(minute)):02d}:{int(whole):02d}" + (f".{rest}" if rest else "")
        return [time, *(cells[i] if i < len(cells) else "" for i in kept)]

    title = " ".join(table.names[i] for i in (*day, *clock) if i is not None)
    lines = (row(split_line(table.line(number), table.dialect.delimiter)) for number in _data_lines(table))
    names_kept = [f"time ({title})", *(f"{table.names[i]} {table.units[i]}".strip() for i in kept)]
    return _text(table, names_kept, lines), Note(
        "time-joined", f'The time was put together from the columns {title}. --time-column takes one of them alone.')


def _is_figure(text: str) -> bool:
    return text.isascii() and text.replace(".", "", 1).isdigit()


def _within(table: Table, index: int, limits: tuple[int, int]) -> bool:
    cells = table.column(index)
    good = [cell for cell in cells if _is_figure(cell)]
    return len(good) > 0.8 * max(len(cells), 1) and all(limits[0] <= float(cell) <= limits[1] for cell in good)


def _starts_again(cells: list[str]) -> bool:
    """Return whether a column of seconds or minutes begins again from below, as a part of a clock does."""
    values = [float(cell) for cell in cells if _is_figure(cell)]
    return len(values) > 2 and any(after < before for before, after in pairwise(values))


def _unfolded(table: Table) -> tuple[bytes, Note] | None:
    """Put the rows of several gauges or quantities side by side, where a column says which one a row is of."""
    sample = table.sample
    width = len(table.names)
    channel = next((i for i in range(width) if _is_channel([row[i] for row in sample], table.names[i])), None)
    if channel is None:
        return None
    timed = next((i for i in range(width) if i != channel and _mostly(sample, i, looks_like_time)), None)
    numbers = [i for i in range(width) if i not in (channel, timed) and _mostly(sample, i, is_number)]
    if timed is None:
        timed = numbers.pop(0) if numbers else None
    unit = next((i for i in range(width) if i not in (channel, timed) and _mostly(sample, i, _is_unit)), None)
    if timed is None or len(numbers) != 1:
        return None
    value = numbers[0]
    kinds: dict[str, str] = {}
    rows: dict[str, tuple[int, dict[str, str]]] = {}
    count = 0
    for number in _data_lines(table):
        cells = split_line(table.line(number), table.dialect.delimiter)
        if len(cells) <= max(channel, timed, value) or not cells[timed] or not cells[channel]:
            continue
        beside = cells[unit] if unit is not None and unit < len(cells) else ""
        name = f"{cells[channel]} [{beside}]" if beside else cells[channel]
        if len(kinds) < _MOST_CHANNELS:
            kinds.setdefault(name, cells[channel])
        rows.setdefault(cells[timed], (number, {}))[1].setdefault(name, cells[value])
        count += 1
    if len(kinds) < 2 or len(kinds) >= _MOST_CHANNELS or len(rows) < 2:
        return None
    shared = sum(len(cells) > 1 for _, cells in rows.values())
    if _CHANNEL.search(table.names[channel]) is None and shared <= 0.5 * len(rows):
        return None
    if len(set(kinds.values())) < len(kinds):  # one gauge, whose unit changes: its rows tell the unit by themselves
        return None
    at = {number: [time, *(cells.get(name, "") for name in kinds)] for time, (number, cells) in rows.items()}
    lines = (at.get(number, []) for number in _data_lines(table))
    return _text(table, [table.names[timed], *kinds], lines), Note(
        "rows-unfolded", f'Each row is of one of {", ".join(list(kinds)[:6])}, by "{table.names[channel]}": they were '
                         "put side by side, by their times.")


def _one_below_the_other(table: Table) -> tuple[bytes, Note] | None:
    """Put a table that stands in halves side by side, as to fill a page, one half below the other."""
    names = [re.sub(r" \(column \d+\)$", "", name) for name in table.names]
    size = next((size for size in range(2, len(names) // 2 + 1)
                 if len(names) % size == 0 and names == names[:size] * (len(names) // size)), None)
    if size is None or len(set(names[:size])) < size:
        return None
    rows = [split_line(table.line(number), table.dialect.delimiter) for number in _data_lines(table)]
    for timed in range(size):
        halves = [[row[begin : begin + size] for row in rows if len(row) > begin + timed
                   and _order_of(row[begin + timed]) is not None] for begin in range(0, len(names), size)]
        times = [_order_of(row[timed]) or 0.0 for half in halves for row in half]
        if min(map(len, halves)) > 1 and all(after > before for before, after in pairwise(times)):
            break
    else:
        return None  # gauges beside each other, each with its own times
    headings = [f"{table.names[i]} {table.units[i]}".strip() for i in range(size)]
    return _text(table, headings, [row for half in halves for row in half]), Note(
        "halves-joined", f"The same {size} columns stand {len(halves)} times side by side, their times one after the "
                         "other: they were put below each other.")


def _order_of(cell: str) -> float | None:
    """Return what puts a time in order."""
    stamp = read_stamp(cell)
    if stamp is not None:
        return stamp.seconds
    return float(cell.replace(",", ".")) if re.fullmatch(r"\d+(?:[.,]\d+)?", cell) else None


def _mostly(sample: tuple[tuple[str, ...], ...], index: int, test: Callable[[str], bool]) -> bool:
    filled = [row[index] for row in sample if row[index]]
    return bool(filled) and sum(map(test, filled)) > _LONG * len(filled)


def _is_unit(cell: str) -> bool:
    return (unit_in(cell, is_pressure=True) is not None
            or re.fullmatch(r"[°º]?\s?[CFKV%]|deg\s?[CFK]|[mk]?V", cell) is not None)


def _is_channel(cells: list[str], name: str) -> bool:
    """Return whether a column names what a row is of: few words, each in many rows, under a heading that says so."""
    filled = [cell for cell in cells if cell]
    kinds = dict.fromkeys(filled)
    if not 2 <= len(kinds) <= _MOST_CHANNELS or len(filled) < _LONG * len(cells) or len(filled) < 3 * len(kinds):
        return False
    says_so = _CHANNEL.search(name) or _PERHAPS.search(name)
    if says_so is None or any(map(looks_like_time, kinds)):
        return False
    is_numbered = _NUMBERED.search(name) is not None and all(map(str.isdigit, kinds))
    return is_numbered or not any(map(is_number, kinds))  # numbers are readings, unless they number the channels


def _data_lines(table: Table) -> range:
    return range(table.dialect.first + 1, len(table.starts))


def _text(table: Table, names: list[str], rows: Iterable[list[str]]) -> bytes:
    """Return lines before the data as they are, the names in the last of them, and rows, with the same line numbers."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    for number in range(1, table.dialect.first):
        out.write(table.line(number).replace(";", ",") + "\n" if number - 1 != table.dialect.header else "\n")
    writer.writerow(names)
    for row in rows:
        if row:
            writer.writerow(row)
        else:
            out.write("\n")
    return out.getvalue().encode("utf-8")
