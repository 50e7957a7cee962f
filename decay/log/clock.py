"""From time cells to seconds: dates, clocks that pass midnight, counters, epochs."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from decay.arrays import FloatArray
from decay.errors import LogError
from decay.log import fixed, stamps
from decay.log.numbers import alike, parse
from decay.log.pressure_log import Note

DAY = 86400.0
_DATE_PART = 8  # characters at the start of a cell that hold day and month, whatever the form
_SEEN = 10_000  # times that are looked at to tell what they count
_UNITS = {"s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0, "ms": 1e-3, "msec": 1e-3,
          "milliseconds": 1e-3, "min": 60.0, "mins": 60.0, "minute": 60.0, "minutes": 60.0, "h": 3600.0,
          "hr": 3600.0, "hrs": 3600.0, "hour": 3600.0, "hours": 3600.0, "d": DAY, "day": DAY, "days": DAY}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of each row, before rows are put in order.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        Time on the column's own scale; ``nan`` where a cell says none. [s]
    started : str or None
        Date and time of the first row, ISO 8601.
    zoned : bool
        Whether the file gives offsets, so that a clock change cannot hide.
    notes : tuple of Note
        What was decided.
    """

    seconds: FloatArray
    started: str | None
    zoned: bool
    notes: tuple[Note, ...] = ()


def unit_size(text: str) -> float | None:
    """Return the size of a time unit. [s]"""
    return _UNITS.get(text.strip().lower().rstrip("."))


def unit_in_name(name: str) -> str | None:
    """Return the time unit in a column's name, the last that stands there."""
    words = re.findall(r"[A-Za-z]+", re.sub(r"([a-z])([A-Z])", r"\1 \2", name.replace("_", " ")))
    found = [word for word in words if word.lower() in _UNITS]
    return found[-1].lower() if found else None


def interval_in(lines: tuple[str, ...]) -> float | None:
    """Return the sampling interval that a preamble states. [s]

    Examples
    --------
    >>> interval_in(("## Interval: 60000 milliseconds",))
    60.0
    """
    for line in lines:
        match = re.search(r"(?:interval|sampl\w*|period|logging rate|every)\D{0,25}?(\d+(?:[.,]\d+)?)\s*([A-Za-z]+)",
                          line, re.IGNORECASE)
        if match and unit_size(match[2]):
            return round(float(match[1].replace(",", ".")) * (unit_size(match[2]) or 1.0), 9)
    return None


def counter(cells: pd.Series, name: str, column: str, unit: str | None, decimal: str) -> Times:
    """Return the times of a column of numbers: elapsed, epoch, or a spreadsheet's days."""
    values = numbers(cells, decimal)
    notes: list[Note] = []
    started = None
    seen = _finite(values[:: len(values) // _SEEN + 1])
    middle = float(np.median(seen)) if len(seen) else 0.0
    stated = unit or unit_in_name(column)
    size = unit_size(stated) if stated is not None else None
    if unit is not None and size is None:
        raise LogError(name, f'"{unit}" is not a unit of time', "Expected s, ms, min or h.", "Change --time-unit.")
    for scale in (1.0, 1e3, 1e6, 1e9):
        if unit is None and 5e8 < middle / scale < 3e9:
            size = 1.0 / scale
            # An epoch counts in UTC whatever the place of the log; it is told without an offset.
            started = _moment(dt.datetime(1970, 1, 1, tzinfo=dt.UTC), float(_finite(values)[0]) * size)
            break
    else:
        if size is None and 30000 < middle < 60000 and _are_days(_finite(values)):
            size = DAY
            started = _moment(dt.datetime(1899, 12, 30), round(float(_finite(values)[0]) * DAY))
            notes.append(Note("time-unit-assumed", f'"{column}" was read as days since 1900 (a spreadsheet\'s dates). '
                                                   "--time-unit overrides."))
    if size is None:
        size = 1.0
        notes.append(Note("time-unit-assumed", f'The unit of "{column}" is not stated; seconds were assumed. '
                                               "--time-unit overrides."))
    return Times(values * size, started, False, tuple(notes))


def _finite(values: FloatArray) -> FloatArray:
    return values[np.isfinite(values)]


def _are_days(values: FloatArray) -> bool:
    """Tell whether numbers that could be a spreadsheet's dates have times of day, and span no more than a year."""
    return len(values) > 1 and bool(np.any(values != np.round(values))) and float(values[-1] - values[0]) < 400


def numbers(cells: pd.Series, decimal: str) -> FloatArray:
    """Return the numbers of a column; ``nan`` where a cell holds none."""
    if cells.dtype.kind in "iuf":
        return cells.to_numpy(dtype=np.float64)
    if cells.dtype.kind == "b":
        return np.full(len(cells), np.nan)
    text = texts(cells)
    together = alike(text, decimal)
    if together is not None:
        return together[0]
    values = np.full(len(text), np.nan)
    if decimal == ".":
        values = np.array(pd.to_numeric(pd.Series(text, dtype=object), errors="coerce"), dtype=np.float64)
    for row in np.flatnonzero(~np.isfinite(values)).tolist():
        cell = parse(text[row], decimal) if text[row] else None
        values[row] = np.nan if cell is None else cell.value
    return values


def texts(cells: pd.Series) -> list[str]:
    """Return cells as text, empty where a cell holds nothing."""
    return [cell if isinstance(cell, str) else "" if cell is None or cell != cell else str(cell)
            for cell in cells.astype(object).tolist()]


@dataclass(frozen=True, slots=True)
class DateForm:
    """How the dates and clock times of a column are written.

    Parameters
    ----------
    order : str
        ``dmy``, ``mdy`` or ``ymd``, for dates in digits with the year last.
    fast : str or None
        Format with which the column is read in one pass; ``None`` where each cell is read by itself.
    timed, dated, zoned : bool
        Whether clock, date and offset stand in the cells.
    started : str or None
        Date and time of the first row, ISO 8601.
    notes : tuple of Note
        What was decided.
    """

    order: str
    fast: str | None
    timed: bool
    dated: bool
    zoned: bool
    started: str | None
    notes: tuple[Note, ...] = ()


def form_of(sample: list[str], name: str, column: str, day_first: bool | None) -> DateForm:
    """Return how a column of dates or clock times is written.

    Raises
    ------
    LogError
        If day and month cannot be told apart.
    """
    order, notes, open_order = _order(sample, name, column, day_first)
    marks: list[tuple[str, stamps.Stamp]] = []
    for cell in sample:
        read = stamps.read(cell, order)
        if read is not None:
            marks.append((cell, read))
            if read.has_clock:
                break
    if not marks:
        return DateForm(order, None, False, False, False, None, tuple(notes))
    first, mark = marks[-1] if marks[-1][1].has_clock else marks[0]
    fast = stamps.strptime_format(first, order)
    started = None
    if mark.has_date and not open_order:
        begin = marks[0][1]
        local = begin.seconds + stamps.offset(begin.zone)
        moment = _moment(dt.datetime(1970, 1, 1), local)
        started = moment and moment + ("Z" if begin.zone in {"z", "Z", "UTC", "GMT"} else begin.zone)
    return DateForm(order, fast, mark.has_clock, mark.has_date, bool(mark.zone), started, tuple(notes))


def seconds_of(cells: pd.Series, form: DateForm) -> tuple[FloatArray, dict[int, str]]:
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
                at = np.flatnonzero(values % DAY == 0).tolist()
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


def dated(seconds: FloatArray, left: dict[int, str], form: DateForm, clock_beside: FloatArray | None = None) -> Times:
    """Return the times of a column of dates, with the clock in the same cells or in a column beside."""
    notes = list(form.notes)
    if clock_beside is not None:
        return Times(np.floor(seconds / DAY) * DAY + clock_beside, _joined(form, seconds, clock_beside), form.zoned,
                     form.notes)
    seconds = seconds.copy()
    for row, text in left.items():
        mark = stamps.read(text, form.order)
        if mark is None or mark.has_clock or not mark.has_date:
            continue
        before = seconds[row - 1] if row else -np.inf
        after = seconds[row + 1] if row + 1 < len(seconds) else np.inf
        if not before > mark.seconds and not after < mark.seconds:  # midnight lies between its neighbours
            seconds[row] = mark.seconds
            if not any(note.code == "midnight-bare-date" for note in notes):
                said = f'A date without a clock ("{text[:30]}") was read as midnight.'
                notes.append(Note("midnight-bare-date", said))
    return Times(seconds, form.started, form.zoned, tuple(notes))


def _joined(form: DateForm, day: FloatArray, beside: FloatArray) -> str | None:
    at = np.flatnonzero(np.isfinite(day) & np.isfinite(beside))
    if form.started is None or len(at) == 0:
        return None
    return _moment(dt.datetime(1970, 1, 1), float(day[at[0]] + beside[at[0]]))


def later(started: str | None, seconds: float) -> str | None:
    """Return a moment some seconds after another, ISO 8601."""
    return None if started is None else _moment(dt.datetime.fromisoformat(started), seconds)


def _moment(begin: dt.datetime, seconds: float) -> str | None:
    """Return date and time some seconds after another, ISO 8601, or ``None`` beyond the calendar."""
    try:
        return (begin + dt.timedelta(seconds=seconds)).isoformat()
    except (OverflowError, ValueError):
        return None


def _changes(cells: list[str]) -> list[str]:
    """Return the cells whose date part differs from the cell before or behind: the others tell nothing of the order."""
    heads = [cell[:_DATE_PART] if cell[:1].isdigit() else cell for cell in cells]
    return [cell for at, cell in enumerate(cells)
            if at in (0, len(cells) - 1) or heads[at] != heads[at - 1] or heads[at] != heads[at + 1]]


def _order(sample: list[str], name: str, column: str, day_first: bool | None) -> tuple[str, list[Note], bool]:
    """Return the order of day, month and year, what to say of it, and whether it stays open."""
    if sum(cell[:4].isdigit() for cell in sample) > 0.5 * len(sample):  # the year first: a cell cut short tells nothing
        return "dmy", [], False
    parts = {cell: found for cell in _changes(sample) if (found := stamps.local_parts(cell)) is not None}
    local = list(parts)
    if not local:
        return "dmy", [], False
    if day_first is not None:
        return ("dmy" if day_first else "mdy"), [], False
    _, _, year, mark = parts[local[0]]
    short = len(year) == 2 and mark == "-"
    orders = ["dmy", "mdy", "ymd"] if short else ["dmy", "mdy"]
    possible = [order for order in orders if all(stamps.read(cell, order) is not None for cell in local)]
    if not possible:  # one damaged cell must not decide
        counts = {order: sum(stamps.read(cell, order) is not None for cell in local) for order in orders}
        possible = [max(counts, key=lambda order: counts[order])]
    if len(possible) == 1:
        return possible[0], [], False
    days = list(dict.fromkeys(parts[cell][:3] for cell in local))
    if len(days) == 1:
        if "." in local[0] and "dmy" in possible and not short:
            return "dmy", [], False
        if len(set(days[0])) < 3 and days[0][0] == days[0][1]:
            return possible[0], [], short
        text = f'"{local[0]}" may be day or month first; all rows have this date, so no time depends on it. ' \
               "--day-first or --month-first states it."
        return possible[0], [Note("date-order-open", text)], True
    spans = {}
    for order in possible:
        seconds = np.array([stamps.read(cell, order).seconds for cell in local])  # type: ignore[union-attr]
        spans[order] = float(np.sum(np.abs(np.diff(seconds))))
    best = sorted(possible, key=lambda order: spans[order])
    if spans[best[1]] < 5 * spans[best[0]]:
        raise LogError(name, f'"{local[0]}" may be day first or month first, and the rows do not tell which',
                       "Expected dates whose order shows.", "Add --day-first or --month-first.", column=column)
    words = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}[best[0]]
    text = f'Dates such as "{local[0]}" were read {words}, because the rows then follow on. ' \
           "--day-first or --month-first overrides."
    return best[0], [Note("date-order-guessed", text)], False
