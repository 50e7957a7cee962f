"""Which columns tell the time, and the times that they tell."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.errors import LogError
from decay.log import clock
from decay.log.columns import Column, by_name, listed
from decay.log.options import ReadOptions
from decay.log.pressure_log import Note
from decay.log.table import Columns, Table

_RANK = {"stamp": 0, "date": 1, "clock": 2, "number": 3}
_DISAGREE = 0.02


@dataclass(frozen=True, slots=True)
class TimeChoice:
    """The column or columns that tell the time.

    Parameters
    ----------
    main : Column or None
        The column; ``None`` where rows come at a stated interval.
    beside : Column or None
        Clock column that belongs to a date column.
    interval : float or None
        Distance of rows where no column tells the time. [s]
    rival : Column or None
        A counter beside a clock, to compare.
    """

    main: Column | None
    beside: Column | None = None
    interval: float | None = None
    rival: Column | None = None


def choose(table: Table, columns: tuple[Column, ...], options: ReadOptions) -> TimeChoice:
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
        size = clock.unit_size(unit)
        if size is not None and number.replace(".", "", 1).isdigit() and float(number) > 0:
            return TimeChoice(None, interval=float(number) * size)
        index = next((c for c in columns if c.role == "index" or _grows(c, gauge)), None)
        if index is not None:
            return TimeChoice(index)
    interval = clock.interval_in(table.preamble)
    if interval is not None and interval > 0:
        return TimeChoice(None, interval=interval)
    growing = [c for c in columns if _grows(c, gauge)]
    if len(growing) == 1 and len([c for c in columns if c.kind == "number"]) > 1:
        return TimeChoice(growing[0])
    raise LogError(table.name, f"no column tells the time; the columns are: {listed(list(table.names))}",
                   "Expected dates, a clock, or elapsed time.",
                   'Name it with --time-column, or state the distance of the rows, e.g.  --time-unit "5 s"')


def _grows(column: Column, gauge: int | None) -> bool:
    values = column.values[np.isfinite(column.values)]
    return (column.kind == "number" and column.index != gauge and column.role in {"", "time"} and len(values) > 2
            and len(values) == len(column.values) and bool(np.all(np.diff(values) > 0)) and float(values[0]) < 1e12)


def forms(choice: TimeChoice, table: Table, options: ReadOptions) -> dict[int, clock.DateForm]:
    """Return how the chosen columns of dates and clock times are written.

    Raises
    ------
    LogError
        If day and month cannot be told apart.
    """
    return {c.index: clock.form_of(table.column(c.index), table.name, c.name, options.day_first)
            for c in (choice.main, choice.beside) if c is not None and c.kind != "number"}


def tell(choice: TimeChoice, found: Columns, dates: dict[int, clock.DateForm], table: Table, options: ReadOptions
         ) -> clock.Times:
    """Return the time of every row, not yet in order."""
    main = choice.main
    if main is None:
        interval = choice.interval or 1.0
        text = f"No column tells the time; the rows were taken {interval:g} s apart, as stated. " \
               "--time-column overrides."
        seconds = np.arange(len(found.line), dtype=np.float64) * interval
        return clock.Times(seconds, None, False, (Note("time-from-interval", text),))
    column = found.cells[main.index]
    if main.kind == "number":
        return clock.counter(column, table.name, main.name, options.time_unit, table.dialect.decimal)
    if main.kind == "clock":
        return _clock(column.to_numpy(dtype=np.float64), table, main, options)
    beside = found.cells[choice.beside.index].to_numpy(dtype=np.float64) if choice.beside is not None else None
    seconds = column.to_numpy(dtype=np.float64)
    return clock.dated(seconds, found.left.get(main.index, {}), dates[main.index], beside)


def _clock(seconds: FloatArray, table: Table, main: Column, options: ReadOptions) -> clock.Times:
    """Return clock times; two parts (12:34) are hours and minutes unless the name or an option says otherwise."""
    if not all(re.fullmatch(r"\d+:\d\d", cell) for cell in table.column(main.index)[:20]):
        return clock.Times(seconds, None, False)
    says_minutes = re.search(r"elapsed|duration|mm:ss|min", main.name, re.IGNORECASE) is not None
    if options.time_unit is not None:
        says_minutes = options.time_unit.strip().lower() in {"s", "min"}
    first = table.column(main.index)[0]
    words = "minutes and seconds" if says_minutes else "hours and minutes"
    note = Note("time-unit-assumed", f'"{first}" in "{main.name}" was read as {words}. --time-unit h or min overrides.')
    return clock.Times(seconds / 60.0 if says_minutes else seconds, None, False,
                       () if options.time_unit is not None else (note,))


def compare(choice: TimeChoice, seconds: np.ndarray, rival: np.ndarray, size: float) -> list[Note]:
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
