"""Which columns tell the time, and the seconds that they tell: dates, clocks, counters, epochs."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import FloatArray
from decay.constants import DAY, HOUR, MINUTE
from decay.errors import LogError
from decay.log.column import Column, by_name, listed
from decay.log.time_units import interval_in, says_minutes_and_seconds, sizes_beside, stated_size, unit_size
from decay.table import digits, stamps
from decay.table.cells import Columns
from decay.table.read_options import Note, ReadOptions
from decay.table.table import Table

_RANK = {"stamp": 0, "date": 1, "clock": 2, "number": 3}
_DISAGREE = 0.02
_SEEN = 10_000  # times that are looked at to tell what they count
_FEWEST = 8  # times without a unit that show whether they may be seconds
_ASTRAY = 0.1  # share of such numbers that may be none
_SHORTEST, _FARTHEST = 60.0, 500.0  # s; a log of a job is longer, its rows are nearer, unless the unit is another one
_NEAREST = 1e-3  # s; no gauge is asked as often


@dataclass(frozen=True, slots=True)
class TimeChoice:
    """The column or columns that tell the time."""

    main: Column | None  # the column; ``None`` where rows come at a stated interval and none numbers them
    beside: Column | None = None  # clock column that belongs to a date column
    interval: float | None = None  # distance of rows where no column tells the time, or only their number [s]
    rival: Column | None = None  # a counter beside a clock, to compare


def choose_time(table: Table, columns: tuple[Column, ...], options: ReadOptions) -> TimeChoice:
    """Return what tells the time: a date with clock, a date beside a clock, a clock, or a counter, in this order.

    Raises
    ------
    LogError
        If nothing does.
    """
    if options.time_column is not None:
        main = columns[by_name(table, options.time_column, "--time-column")]
        if main.kind not in _RANK:
            raise LogError(table.name, "the column holds no times", "Expected dates, clock times or numbers.",
                           f"Change --time-column; the columns are: {listed(list(table.names))}.", column=main.name)
        beside = next((c for c in columns if c.kind == "clock"), None) if main.kind == "date" else None
        return TimeChoice(main, beside)
    gauge = by_name(table, options.gauge, "--gauge") if options.gauge is not None else None
    timed = sorted((c for c in columns if c.role == "time" and c.index != gauge),
                   key=lambda c: (_RANK[c.kind], c.index))
    counters = [c for c in timed if c.kind == "number"]
    if timed and timed[0].kind == "date":
        beside = next((c for c in timed if c.kind == "clock"), None)
        if beside is None and counters:
            return TimeChoice(counters[0])
        return TimeChoice(timed[0], beside, None, counters[0] if counters else None)
    if timed:
        rival = counters[0] if counters and timed[0].kind != "number" else None
        return TimeChoice(timed[0], rival=rival)
    if options.time_unit is not None:
        number, _, unit = options.time_unit.strip().partition(" ")
        size = unit_size(unit)
        if size is not None and number.replace(".", "", 1).isdigit() and float(number) > 0:
            return TimeChoice(None, interval=float(number) * size)
        index = next((c for c in columns if c.role == "index" or _grows(c, gauge)), None)
        if index is not None:
            return TimeChoice(index)
    interval = interval_in(table.preamble)
    if interval is not None:
        return TimeChoice(next((c for c in columns if c.role == "index"), None), interval=interval)
    growing = [c for c in columns if _grows(c, gauge)]
    if len(growing) == 1 and len([c for c in columns if c.kind == "number"]) > 1:
        return TimeChoice(growing[0])
    raise LogError(table.name, f"no column holds the time; the columns are: {listed(list(table.names))}",
                   "Expected dates, a clock, or elapsed time.",
                   'Name it with --time-column, or state the distance of the rows, e.g.  --time-unit "5 s"')


def _grows(column: Column, gauge: int | None) -> bool:
    values = column.values[np.isfinite(column.values)]
    return (column.kind == "number" and column.index != gauge and column.role in {"", "time"} and len(values) > 2
            and len(values) == len(column.values) and bool(np.all(np.diff(values) > 0)) and float(values[0]) < 1e12)


def forms(choice: TimeChoice, table: Table, options: ReadOptions) -> dict[int, stamps.DateForm]:
    """Return how the chosen columns of dates and clock times are written.

    Raises
    ------
    LogError
        If day and month cannot be told apart.
    """
    return {c.index: stamps.form_of(table.column(c.index), table.name, c.name, options.day_first)
            for c in (choice.main, choice.beside) if c is not None and c.kind != "number"}


def tell(choice: TimeChoice, found: Columns, dates: dict[int, stamps.DateForm], table: Table, options: ReadOptions
         ) -> Times:
    """Return the time of every row, not yet in order."""
    main = choice.main
    if main is None or choice.interval is not None:
        interval = choice.interval or 1.0
        text = f"No column holds the time; the rows were taken {interval:g} s apart, as stated. " \
               "--time-column overrides."
        place = (np.arange(len(found.line), dtype=np.float64) if main is None
                 else digits.numbers(found.cells[main.index], table.dialect.decimal))
        return Times(place * interval, None, False, (Note("time-from-interval", text),))
    column = found.cells[main.index]
    if main.kind == "number":
        below = table.units[main.index]
        return counter(column, table.name, main.name, options.time_unit, table.dialect.decimal, below)
    if main.kind == "clock":
        return _clock(digits.numbers(column, ""), table, main, options)
    beside = None if choice.beside is None else digits.numbers(found.cells[choice.beside.index], "")
    seconds = digits.numbers(column, "")  # seconds already
    told = dated(seconds, found.left.get(main.index, {}), dates[main.index], beside)
    if options.time_unit is None:
        return told
    unused = Note("time-unit-unused", f'"{main.name}" holds dates, which need no unit: --time-unit was not used.')
    return replace(told, notes=(*told.notes, unused))


def _clock(seconds: FloatArray, table: Table, main: Column, options: ReadOptions) -> Times:
    """Return clock times; two parts (12:34) are hours and minutes unless the name or an option says otherwise."""
    shown = table.column(main.index)
    if not all(re.fullmatch(r"\d+:\d\d", cell) for cell in shown[:20]):
        return Times(seconds, None, False)
    name = f"{main.name} {table.units[main.index]}"
    says_minutes = re.search(r"elapsed|duration|mm:ss|m:s|min|remain|countdown", name, re.IGNORECASE) is not None
    is_open = not says_minutes and options.time_unit is None and re.search(r"hh|h:m", name, re.IGNORECASE) is None
    if is_open and (int(shown[0].partition(":")[0]) > 23 or re.fullmatch("0?0:00", shown[0])):
        raise LogError(table.name, f'"{shown[0]}" may be hours and minutes, or minutes and seconds',
                       "Expected a heading that tells, like \"elapsed [min:s]\".",
                       "State what stands first:  --time-unit min  or  --time-unit h", column=main.name)
    if options.time_unit is not None:
        says_minutes = options.time_unit.strip().lower() in {"s", "min"}
    first = shown[0]
    words = "minutes and seconds" if says_minutes else "hours and minutes"
    note = Note("time-unit-assumed", f'"{first}" in "{main.name}" was read as {words}. --time-unit h or min overrides.')
    return Times(seconds / 60.0 if says_minutes else seconds, None, False,
                       () if options.time_unit is not None else (note,))


def rival_notes(choice: TimeChoice, seconds: np.ndarray, rival: np.ndarray, size: float) -> list[Note]:
    """Return a note where a counter beside the clock runs at another rate."""
    both = np.isfinite(seconds) & np.isfinite(rival)
    if choice.rival is None or choice.main is None or both.sum() < 3:
        return []
    by_clock, by_counter = float(np.ptp(seconds[both])), float(np.ptp(rival[both])) * size
    if by_clock <= 0 or by_counter <= 0 or abs(by_clock / by_counter - 1) <= _DISAGREE:
        return []
    text = f'"{choice.main.name}" runs {by_clock / by_counter:.3g} times as fast as "{choice.rival.name}"; the clock ' \
           f'was used. --time-column "{choice.rival.name}" takes the other.'
    return [Note("time-columns-disagree", text)]


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of each row, before rows are put in order."""

    seconds: FloatArray  # time on the column's own scale; ``nan`` where a cell says none, shape (n,) [s]
    started: str | None  # date and time of the first row, ISO 8601
    zoned: bool  # whether the file gives offsets, so that a clock change cannot hide
    notes: tuple[Note, ...] = ()  # what was decided


def counter(
    cells: digits.Cells, name: str, column: str, unit: str | None, decimal: str, below: str = ""
) -> Times:
    """Return the times of a column of numbers: elapsed, epoch, or a spreadsheet's days.

    Raises
    ------
    LogError
        If the unit is not told, or not understood, and the numbers make seconds unlikely.
    """
    values = digits.numbers(cells, decimal)
    notes: list[Note] = []
    started = None
    seen = _finite(values[:: len(values) // _SEEN + 1])
    middle = float(np.median(seen)) if len(seen) else 0.0
    size: FloatArray | float | None = None if unit is None else unit_size(unit)
    if unit is not None and size is None:
        raise LogError(name, f'"{unit}" is not a unit of time', "Expected s, ms, min or h.", "Change --time-unit.")
    for scale in (1.0, 1e3, 1e6, 1e9):
        # Nanoseconds are no older than such clocks: 6.4e17 counts tenths of microseconds from the year 1.
        if unit is None and (5e8 if scale < 1e9 else 9.4e8) < middle / scale < 3e9:
            size = 1.0 / scale
            # An epoch counts in UTC whatever the place of the log; it is told without an offset.
            started = stamps.stamp_after(dt.datetime(1970, 1, 1, tzinfo=dt.UTC), float(_finite(values)[0]) / scale)
            break
    else:
        if unit is None:
            size = sizes_beside(cells, decimal, name, column)
        if size is None and says_minutes_and_seconds(f"{column} {below}"):
            values, size = _minutes_and_seconds(values), 1.0
        if size is None:
            size = stated_size(column, below, name)
        if size is None and 30000 < middle < 60000 and _are_days(_finite(values)):
            size = DAY
            started = stamps.stamp_after(dt.datetime(1899, 12, 30), round(float(_finite(values)[0]) * DAY))
            notes.append(Note("time-unit-assumed", f'"{column}" was read as days since 1900 (a spreadsheet\'s dates). '
                                                   "--time-unit overrides."))
    if size is None:
        _refuse_no_seconds(values, name, column)
    if size is None and (by_digits := _clock_of_digits(values, name, column)) is not None:
        text = f'"{column}" was read as a clock without marks, like hhmmss. --time-unit s takes it as seconds.'
        return Times(by_digits, None, False, (Note("time-unit-assumed", text),))
    if size is None:
        size = 1.0
        notes.append(Note("time-unit-assumed", f'The unit of "{column}" is not stated; seconds were assumed. '
                                               "--time-unit overrides."))
    return Times(values * size, started, False, tuple(notes))


def _minutes_and_seconds(values: FloatArray) -> FloatArray:
    """Return the seconds of numbers with minutes before the point and two digits of seconds behind it. [s]"""
    minutes = np.floor(values)
    return minutes * MINUTE + np.round((values - minutes) * 100.0)


def _clock_of_digits(values: FloatArray, name: str, column: str) -> FloatArray | None:
    """Return the seconds of numbers that are a clock's digits, such as 142005, or ``None`` where they are not. [s]

    Raises
    ------
    LogError
        If they make even steps as digits of a clock and as seconds.
    """
    seen = _finite(values[:: len(values) // _SEEN + 1])  # a long counter of seconds is told by a few of its times
    if len(seen) and float(np.mean((seen % 100 < 60) & (seen == np.round(seen)))) < 1.0 - 2.0 * _ASTRAY:
        return None
    count = len(_finite(values))
    values = np.where(np.abs(values) < 1e6, values, np.nan)  # beyond any clock; the infinite cannot be divided
    hour, minute, second = values // 10_000, values // 100 % 100, values % 100
    is_clock = (values == np.round(values)) & (values >= 0) & (hour < 24) & (minute < 60) & (second < 60)
    told = values[is_clock]
    if len(told) < _FEWEST or len(told) < (1.0 - _ASTRAY) * count or float(told.max()) < 10_000:
        return None
    seconds = np.where(is_clock, hour * HOUR + minute * MINUTE + second, np.nan)
    days = np.cumsum(np.diff(seconds[is_clock], prepend=seconds[is_clock][0]) < -DAY / 2)
    seconds[is_clock] += DAY * days
    by_clock, by_count = stamps.evenness(_finite(seconds)), stamps.evenness(told)
    if by_clock == by_count:
        raise LogError(name, f'"{told[0]:.0f}" may be a clock (hhmmss) or seconds', "Expected times that tell.",
                       "State it with  --time-unit s  if they are seconds; else write the clock with colons.",
                       column=column)
    return seconds if by_clock > by_count else None


def _refuse_no_seconds(values: FloatArray, name: str, column: str) -> None:
    """Refuse numbers without a unit that would make a log of seconds, or of rows that are many minutes apart."""
    told = _finite(values)
    if len(told) < _FEWEST:
        return
    first, last = np.quantile(told, (_ASTRAY, 1.0 - _ASTRAY))  # numbers in remarks below the table are no times
    whole, apart = float(last - first) / (1.0 - 2.0 * _ASTRAY), float(np.median(np.abs(np.diff(told))))
    if whole < _SHORTEST or apart > _FARTHEST or 0.0 < apart < _NEAREST:
        what = (f"the whole log would last {whole:.3g} s" if whole < _SHORTEST
                else f"the rows would be {apart:.2g} s apart")
        raise LogError(name, f"the times have no unit, and in seconds {what}",
                       "Expected a unit in the heading, like \"time [min]\".",
                       "State it:  --time-unit min  or s, ms, h, days", column=column)


def _finite(values: FloatArray) -> FloatArray:
    return values[np.isfinite(values)]


def _are_days(values: FloatArray) -> bool:
    """Tell whether numbers that could be a spreadsheet's dates have times of day, and span no more than a year."""
    if len(values) < 2 or not np.any(values != np.round(values)):
        return False
    first, last = np.quantile(values, (0.1, 0.9))  # a number in a remark below the table is no date
    return float(last - first) < 400.0


def dated(seconds: FloatArray, left: dict[int, str], form: stamps.DateForm,
          clock_beside: FloatArray | None = None) -> Times:
    """Return the times of a column of dates, with the clock in the same cells or in a column beside."""
    notes = list(form.notes)
    if clock_beside is not None:
        return Times(np.floor(seconds / DAY) * DAY + clock_beside, _joined(form, seconds, clock_beside), form.zoned,
                     form.notes)
    seconds = seconds.copy()
    for row, text in left.items():
        mark = stamps.read_stamp(text, form.order)
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


def _joined(form: stamps.DateForm, day: FloatArray, beside: FloatArray) -> str | None:
    at = np.flatnonzero(np.isfinite(day) & np.isfinite(beside))
    if form.started is None or len(at) == 0:
        return None
    return stamps.stamp_after(dt.datetime(1970, 1, 1), float(day[at[0]] + beside[at[0]]))


def later(started: str | None, seconds: float) -> str | None:
    """Return a moment some seconds after another, ISO 8601."""
    return None if started is None else stamps.stamp_after(dt.datetime.fromisoformat(started), seconds)
