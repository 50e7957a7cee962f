"""The way in: one call from a file to a pressure log, stage by stage."""

from __future__ import annotations

import io
import os
from dataclasses import dataclass, replace
from typing import Any, BinaryIO, TextIO

import numpy as np
from numpy.typing import NDArray

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.constants import DAY, MINUTE
from decay.errors import LogError
from decay.log import clock, direction, order, pressure, wrong
from decay.log.clock_steps import undo_steps
from decay.log.column import Column, state_codes, valve_marks, valve_notes
from decay.log.gauges import ColumnsUsed, columns_used
from decay.log.pressure_log import Mark, PressureLog
from decay.log.time_units import unit_in_name, unit_size
from decay.log.wrong import set_aside
from decay.table import stamps
from decay.table.cells import CellsWanted, Columns, read_cells
from decay.table.digits import Cells, digits_of, numbers, some_of, step_sizes, texts
from decay.table.headings import pascals
from decay.table.layout import rearranged
from decay.table.read_options import FROM_FIRST_ROW, Note, ReadOptions, counted
from decay.table.shapes import reshaped
from decay.table.source import Content, load_text
from decay.table.table import Table, sort_out, table_of

_DEFAULT = ReadOptions()
_Held = dict[str, NDArray[Any]]
_OTHER = "other gauge: "
FINEST = 1e-9  # Pa; far below the ultimate of any pump whose rise is timed by hand: a smaller number says zero
COARSEST = 1e5  # Pa; a step of an atmosphere shows nothing


def read_log(source: str | os.PathLike[str] | BinaryIO | TextIO, options: ReadOptions = _DEFAULT) -> PressureLog:
    """Return the pressure log in a file.

    Parameters
    ----------
    source : str, path or file
        The file, open or by its name; ``"-"`` is standard input. A ``.gz`` file is unpacked, and a ``.zip`` of one.
    options : ReadOptions
        What the user settles; everything else the content decides.

    Returns
    -------
    PressureLog
        Times, pressures and what was decided on the way.

    Raises
    ------
    LogError
        If there is no log in the file, with what was found, what was expected, and the option that settles it.
    """
    content = load_text(_bytes_of(source), options)
    try:
        return _log_in(content, options)
    except LogError:
        other = reshaped(content.data) if options.delimiter is None else None
        if other is None:
            raise
    return _log_in(_put_as(content, *other), replace(options, delimiter="\t"))


def _log_in(content: Content, options: ReadOptions) -> PressureLog:
    table = table_of(content, options)
    other = None if options.time_column is not None else rearranged(table)
    if other is not None:
        table = table_of(_put_as(content, *other), replace(options, delimiter=";", decimal=table.dialect.decimal))
    return harmonise(table, options)


def _put_as(content: Content, text: bytes, note: Note) -> Content:
    """Return a file as what it was put into, with the note that says so."""
    return replace(content, data=text, notes=(*content.notes, note))


def _bytes_of(source: str | os.PathLike[str] | BinaryIO | TextIO) -> str | os.PathLike[str] | BinaryIO:
    """Return a source whose content is bytes: text that somebody opened as text is written in UTF-8."""
    if isinstance(source, (str, os.PathLike)):
        return source
    if not hasattr(source, "read"):
        raise TypeError(
            f"a log is read from a path or an open file, not from {type(source).__name__}. "
            "Of a DataFrame: PressureLog.from_frame(frame)"
        )
    if not isinstance(source, io.TextIOBase):
        return source  # type: ignore[return-value]
    content = io.BytesIO(source.read().encode("utf-8"))
    content.name = getattr(source, "name", "text")
    return content


@dataclass(slots=True)
class _Rows:
    """What the rows with a time hold; columns and arrays of one length, let go as they are used."""

    columns: dict[int, Cells]
    line: IntArray
    seconds: FloatArray
    values: FloatArray
    told: clock.Times
    count: int


def harmonise(table: Table, options: ReadOptions) -> PressureLog:
    """Return the log that a table holds.

    1. Decide from the sample which columns tell time, pressure, unit and temperature.
    2. Read those columns in one pass.
    3. Turn time cells into seconds and pressure cells into numbers.
    4. Set apart lines that are no data: blank, comments, footers, repeated names.
    5. Leave out rows without a time.
    6. Find the unit, where the file states it.
    7. Judge cells without a number, and numbers that mean none: over range or missing. Turn readings into pascals;
       refuse readings below atmosphere, and a unit that cannot be.
    8. Work out the step at each reading.
    9. Carry the clock over midnights and clock changes; undo its steps where the readings go on.
    10. Attach temperature, the other gauges and what the log says of the valve.
    11. Leave out rows with a stray time and rows without a reading, sort, drop doubles; set single wrong readings
        aside.

    A log of a million rows passes through here, so what is done with is let go at once.

    Parameters
    ----------
    table : Table
        What `table_of` returned.
    options : ReadOptions
        What the user settled.

    Returns
    -------
    PressureLog
        The log; every decision is in its notes.

    Raises
    ------
    LogError
        If there is no log in the table.
    """
    used = columns_used(table, options)                                                                 # 1
    notes = [*table.notes, *used.notes]
    rows = _timed_rows(table, used, options, notes)                                                     # 2 to 5
    table = table.without_text()
    held, unit = _measured(rows, table, used, options, notes)                                           # 6 to 8
    is_stray = _by_one_clock(held, rows, table, used, notes)                                            # 9
    others, stated = _attach(held, rows, table, used, unit, notes)                                      # 10
    rows.columns.clear()
    begin, started = _started(held, is_stray, rows.told.started, table)
    if used.time.main is not None and used.time.main.kind == "number" and started is None and abs(begin) >= MINUTE:
        notes.append(Note(FROM_FIRST_ROW, f"The first row stands at {begin:.6g} s of the log's own time; times here "
                                          "count from that row."))
    _in_order(held, is_stray, used, table, notes)                                                       # 11
    found_marks: tuple[Mark, ...] = ()
    if used.states is not None:
        found_marks = valve_marks(used.states, held["code"], stated, held["time"], held["line"])
        notes += valve_notes(used.states, found_marks)
    has_clock = used.time.main is not None and used.time.main.kind == "clock"
    return set_aside(PressureLog(
        source=table.name, time=held["time"], pressure=held["pressure"], line=held["line"],
        is_over_range=held["is_over_range"], step=held["step"], gauge=used.gauge.name, unit=unit, rows=rows.count,
        notes=tuple(notes), temperature=held.get("temperature"), started=started,
        other_gauges={name.removeprefix(_OTHER): held[name] for name in others}, marks=found_marks,
        clock_start=begin % DAY if has_clock else None, is_cleared=True,
    ))  # fmt: skip


def _timed_rows(table: Table, used: ColumnsUsed, options: ReadOptions, notes: list[Note]) -> _Rows:
    """Read the columns and return the rows that are data and have a time."""
    dates = clock.forms(used.time, table, options)
    found = _cells(table, used, dates)
    columns, line = found.cells, found.line
    told = clock.tell(used.time, found, dates, table, options)
    seconds, told = told.seconds, replace(told, seconds=np.zeros(0))
    if used.time.main is not None:
        columns.pop(used.time.main.index)
    values = numbers(columns[used.gauge.index], table.dialect.decimal)
    is_data, passed = sort_out(table, line, ~(np.isfinite(seconds) & np.isfinite(values)))
    notes += [*told.notes, *passed]
    if used.time.main is None:  # rows at a stated distance: only data rows count
        place = (np.cumsum(is_data) - 1) * (used.time.interval or 1.0)
        seconds = np.where(is_data, place, np.nan)
    torn = _torn(found.torn)
    del found
    count = int(is_data.sum()) + sum(note.rows for note in torn)
    is_timed = np.isfinite(seconds)
    notes += [*torn, *_untimed(is_data & ~is_timed, line)]
    is_data &= is_timed
    if is_data.sum() < 2:
        raise LogError(table.name, "the log has fewer than two rows with a time", "Expected a series of readings.",
                       "Export the whole log, or name the time with --time-column.")
    if not is_data.all():
        columns = {index: some_of(column, is_data) for index, column in columns.items()}
        values, line, seconds = values[is_data], line[is_data], seconds[is_data]
    return _Rows(columns, line, seconds, values, told, count)


def _measured(
    rows: _Rows, table: Table, used: ColumnsUsed, options: ReadOptions, notes: list[Note]
) -> tuple[_Held, str]:
    """Return what each row holds, its pressure and step in pascals, and the unit of the file."""
    gauge = used.gauge
    beside = rows.columns[used.unit_column.index] if used.unit_column is not None else None
    size, unit, said = pressure.factors(rows.columns[gauge.index], beside, table, gauge, options.unit)
    notes += said
    values, is_over, said = _readings(rows, size, used, table, options)
    rows.values = np.zeros(0)
    notes += said
    pressure.refuse_gauge(values, size, unit, table, gauge, options.unit)
    if size is None:
        unit, note = pressure.infer(values, table, gauge, used.others)
        size = pascals(unit)
        notes.append(note)
    in_pascal = values * size
    pressure.refuse_thousandth(in_pascal, table, gauge, options.unit)
    notes += _below_zero(in_pascal, rows.line)
    step = step_sizes(values, _printed(table, gauge), table.dialect.decimal)
    step *= size
    np.clip(step, FINEST, COARSEST, out=step)
    in_pascal[np.abs(in_pascal) < FINEST] = 0.0
    return {"time": rows.seconds, "pressure": in_pascal, "line": rows.line, "is_over_range": is_over,
            "step": step}, unit


def _by_one_clock(held: _Held, rows: _Rows, table: Table, used: ColumnsUsed, notes: list[Note]) -> BoolArray:
    """Put the times by one clock, in the order of the file, and return which of them are strays."""
    rows.seconds = np.zeros(0)
    seconds, line = held["time"], held["line"]
    main, rival = used.time.main, used.time.rival
    is_dated = rows.told.started is not None or (main is not None and main.kind in {"stamp", "date"})
    if main is not None and not is_dated:
        seconds, said = direction.run_up(seconds, held["pressure"], held["is_over_range"], line, table.name,
                                         f"{main.name} {table.units[main.index]}".strip(), main.kind == "clock")
        notes += said
    direction.refuse_alternating(seconds, held["pressure"], table.name)
    if main is not None and main.kind == "number" and direction.is_coarse(seconds, held["pressure"]):
        seconds, said = order.spread_coarse(seconds)
        notes += said
    if main is not None and main.kind != "number":
        seconds, said = order.run_on(seconds, line, has_date=main.kind != "clock", is_zoned=rows.told.zoned)
        notes += said
    is_stray, said = order.strays(seconds, line, np.isfinite(held["pressure"]) | held["is_over_range"])
    notes += said
    if main is not None:
        is_counter = main.kind == "number" and rows.told.started is None
        kept: slice | BoolArray = ~is_stray if is_stray.any() else slice(None)
        seconds[kept], said = undo_steps(seconds[kept], held["pressure"][kept], held["step"][kept], line[kept],
                                         table.name, is_counter)
        notes += said
    if rival is not None:
        size_of = unit_size(unit_in_name(rival.name) or "s") or 1.0
        counted = numbers(rows.columns[rival.index], table.dialect.decimal)
        notes += clock.rival_notes(used.time, seconds, counted, size_of)
    held["time"] = seconds
    return is_stray


def _attach(held: _Held, rows: _Rows, table: Table, used: ColumnsUsed, unit: str, notes: list[Note]
            ) -> tuple[list[str], tuple[str, ...]]:
    """Add temperature, other gauges and the valve's words to the rows; return the gauges' keys and the wrong."""
    columns, decimal = rows.columns, table.dialect.decimal
    others = []
    for other in used.others:
        with np.errstate(over="ignore"):  # what is beyond any float is no reading
            values = numbers(columns[other.index], decimal) * pascals(other.unit or unit.split(", ")[0])
        others.append(_OTHER + other.name)
        held[others[-1]] = np.where(np.isfinite(values), values, np.nan)
    if used.temperature is not None:
        index = used.temperature.index
        temperature, said = pressure.temperatures(columns[index], table, index, used.temperature.name)
        notes += said
        if temperature is not None:
            held["temperature"] = temperature
    stated: tuple[str, ...] = ()
    if used.states is not None:
        held["code"], stated = state_codes(texts(columns[used.states.column.index]))
    return others, stated


def _started(held: _Held, is_stray: BoolArray, started: str | None, table: Table) -> tuple[float, str | None]:
    """Count the times from the first row that is no stray; return where that is, and its date and time."""
    order.refuse_ages(held["time"][~is_stray], table.name)
    begin = float(np.min(held["time"], where=~is_stray, initial=np.inf))
    started = clock.later(started, begin - float(held["time"][0])) if is_stray[0] else started
    held["time"] = held["time"] - begin
    return begin, started


def _in_order(held: _Held, is_stray: BoolArray, used: ColumnsUsed, table: Table, notes: list[Note]) -> None:
    """Keep the rows with a reading, in order of time, each time once."""
    _pick(held, (np.isfinite(held["pressure"]) | held["is_over_range"]) & ~is_stray)
    direction.refuse_shared(held["time"], held["pressure"], table.name)
    picked, said = order.in_order(held["time"], held["line"])
    _pick(held, picked)
    notes += said
    if len(held["time"]) < 2:
        raise LogError(table.name, "the log has fewer than two readings", "Expected a series of readings.",
                       "Export the whole log.", column=used.gauge.name)


def _pick(held: _Held, rows: BoolArray | IntArray | None) -> None:
    """Keep some rows of all arrays, and make the arrays read-only."""
    if rows is not None and not (rows.dtype == bool and rows.all()):
        for name, array in held.items():
            held[name] = array[rows]
    for array in held.values():
        array.flags.writeable = False


def _readings(rows: _Rows, size: FloatArray | float | None, used: ColumnsUsed, table: Table, options: ReadOptions
              ) -> tuple[FloatArray, BoolArray, list[Note]]:
    """Return the readings, ``nan`` where there is none, which of them are over range, and what each word was."""
    cells, line, values = rows.columns[used.gauge.index], rows.line, rows.values
    gone = ~np.isfinite(values)
    values = np.where(gone, np.nan, values)
    is_declared = wrong.declared(values, options.over_range, table.dialect.decimal)
    is_none = wrong.no_numbers(np.where(is_declared, np.nan, values), size, table.name, used.gauge.name)
    texts = {row: _text(cells[row]) for row in np.flatnonzero(gone).tolist()}
    texts |= {row: f"{values[row]:g}" for row in np.flatnonzero(is_none).tolist()}
    values[is_none] = np.nan
    is_over, said = wrong.over_range(values, is_declared, texts, line, options.over_range, table.dialect.decimal)
    values[is_over] = np.nan
    is_none, absent = wrong.sentinels(values, line)
    values[is_none] = np.nan
    if not np.isfinite(values).any():
        what = "all readings are over range" if is_over.any() else "no reading is a number"
        raise LogError(table.name, what, "Expected pressures.", "Name another column with --gauge, or log again with a "
                       "gauge that reaches this pressure.", column=used.gauge.name)
    return values, is_over, [*said, *wrong.missing(texts, is_over, line), *absent]


def _below_zero(in_pascal: FloatArray, line: IntArray) -> list[Note]:
    """Take readings below zero as zero, the foot of the range, and say so."""
    below = in_pascal < 0
    if not below.any():
        return []
    in_pascal[below] = 0.0
    text = f"Counted as 0, below the gauge's range: {counted(int(below.sum()), 'reading')} below zero (zero is off)."
    return [Note("pressure-negative", text, int(line[int(below.argmax())]))]


def _cells(table: Table, used: ColumnsUsed, dates: dict[int, stamps.DateForm]) -> Columns:
    states = used.states.column if used.states is not None else None
    text = {column.index for column in (used.unit_column, states) if column is not None}
    chosen = (used.time.main, used.time.beside, used.time.rival, used.gauge, used.unit_column, used.temperature, states)
    columns = dict.fromkeys(c.index for c in (*chosen, *used.others) if c is not None)
    return read_cells(table, CellsWanted(tuple(columns), frozenset(text), dates))


def _torn(lines: IntArray) -> list[Note]:
    if len(lines) == 0:
        return []
    return [Note("row-torn", f"Left out: {counted(len(lines), 'row')} with more fields than the table.", int(lines[0]),
                 len(lines))]


def _text(cell: str | float) -> str:
    return "" if cell != cell else str(cell).strip()


def _untimed(is_untimed: BoolArray, line: IntArray) -> list[Note]:
    at = np.flatnonzero(is_untimed)
    if len(at) == 0:
        return []
    return [Note("time-unreadable", f"Left out: {counted(len(at), 'row')} with no readable time.", int(line[at[0]]),
                 len(at))]


def _printed(table: Table, gauge: Column) -> list[str]:
    cells = table.column(gauge.index)
    if all(cell[-1:].isdigit() for cell in cells[:5]):
        return cells
    return [text for text in map(digits_of, cells) if text is not None]
