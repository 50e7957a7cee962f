"""From a table of cells to a pressure log, in one ordered function."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.errors import LogError
from decay.log import clock, clock_steps, marks, pressure, rows, sequence, times, words
from decay.log.columns import Column, by_name, describe
from decay.log.gauges import choose_pressures
from decay.log.numbers import digits_of
from decay.log.options import ReadOptions
from decay.log.pressure_log import Mark, Note, PressureLog
from decay.log.steps import step_sizes
from decay.log.table import Columns, Table, read
from decay.log.units import pascals
from decay.log.wrong import set_aside

_OTHER = "other gauge: "
FINEST = 1e-9  # Pa; far below the ultimate of any pump whose rise is timed by hand: a smaller number says zero
COARSEST = 1e5  # Pa; a step of an atmosphere shows nothing


@dataclass(frozen=True, slots=True)
class _Plan:
    time: times.TimeChoice
    gauge: Column
    others: tuple[Column, ...]
    unit_column: Column | None
    temperature: Column | None
    states: marks.States | None
    notes: tuple[Note, ...]


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
    10. Attach temperature and the other gauges.
    11. Leave out rows with a stray time and rows without a reading, sort, drop doubles; set single wrong readings
        aside.

    A log of a million rows passes through here, so what is done with is let go at once.

    Parameters
    ----------
    table : Table
        What `table.look` returned.
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
    plan = _plan(table, options)                                                                        # 1
    notes = [*table.notes, *plan.notes]
    dates = times.forms(plan.time, table, options)
    found = _cells(table, plan, dates)                                                                  # 2
    columns, line = found.cells, found.line
    told = times.tell(plan.time, found, dates, table, options)                                          # 3
    seconds, told = told.seconds, replace(told, seconds=np.zeros(0))
    if plan.time.main is not None:
        columns.pop(plan.time.main.index)
    values = clock.numbers(columns[plan.gauge.index], table.dialect.decimal)
    is_data, passed = rows.sort_out(table, line, ~(np.isfinite(seconds) & np.isfinite(values)))         # 4
    table = table.without_text()
    notes += [*told.notes, *passed]
    if plan.time.main is None:  # rows at a stated distance: only data rows count
        place = (np.cumsum(is_data) - 1) * (plan.time.interval or 1.0)
        seconds = np.where(is_data, place, np.nan)
    torn = _torn(found.torn)
    del found
    count = int(is_data.sum()) + sum(note.rows for note in torn)
    is_timed = np.isfinite(seconds)                                                                     # 5
    notes += [*torn, *_untimed(is_data & ~is_timed, line)]
    is_data &= is_timed
    if is_data.sum() < 2:
        raise LogError(table.name, "the log has fewer than two rows with a time", "Expected a series of readings.",
                       "Export the whole log, or name the time with --time-column.")
    if not is_data.all():
        columns = {index: column[is_data].reset_index(drop=True) for index, column in columns.items()}
        values, line, seconds = values[is_data], line[is_data], seconds[is_data]
    size, unit, said = _unit(columns, plan, table, options)                                     # 6
    notes += said
    values, is_over, said = _readings(values, size, columns[plan.gauge.index], line, plan, table, options)  # 7
    notes += said
    pressure.refuse_gauge(values, size, unit, table, plan.gauge, options.unit)
    if size is None:
        unit, note = pressure.infer(values, table, plan.gauge, plan.others)
        size = pascals(unit)
        notes.append(note)
    in_pascal = values * size
    pressure.refuse_thousandth(in_pascal, table, plan.gauge, options.unit)
    notes += _below_zero(in_pascal, line)
    step = step_sizes(values, _printed(table, plan.gauge), table.dialect.decimal)                       # 8
    step *= size
    np.clip(step, FINEST, COARSEST, out=step)
    in_pascal[np.abs(in_pascal) < FINEST] = 0.0
    del values, size
    seconds, said = _ordered_clock(plan, told, seconds, line)                                           # 9
    notes += said
    is_usable = np.isfinite(in_pascal) | is_over
    is_stray, said = sequence.strays(seconds, line, is_usable)
    notes += said
    if plan.time.main is not None:
        is_counter = plan.time.main.kind == "number" and told.started is None
        kept = ~is_stray
        seconds[kept], said = clock_steps.undo(seconds[kept], in_pascal[kept], step[kept], line[kept], table.name,
                                               is_counter)
        notes += said
    if plan.time.rival is not None:
        size_of = clock.unit_size(clock.unit_in_name(plan.time.rival.name) or "s") or 1.0
        notes += times.compare(plan.time, seconds, clock.numbers(columns[plan.time.rival.index], table.dialect.decimal),
                               size_of)
    temperature, said = _temperature(columns, plan, table)                                              # 10
    notes += said
    others = _others(columns, plan, table, unit)
    stated: tuple[str, ...] = ()
    code = None
    if plan.states is not None:
        code, stated = marks.codes(plan.states, clock.texts(columns[plan.states.column.index]))
    del columns
    held: dict[str, NDArray[Any]] = {
        "time": seconds, "pressure": in_pascal, "line": line, "is_over_range": is_over, "step": step, **others,
    }  # fmt: skip
    if temperature is not None:
        held["temperature"] = temperature
    if code is not None:
        held["code"] = code
    del seconds, in_pascal, line, step, temperature
    clock_steps.refuse_ages(held["time"][~is_stray], table.name)
    begin = float(np.min(held["time"], where=~is_stray, initial=np.inf))
    started = clock.later(told.started, begin - float(held["time"][0])) if is_stray[0] else told.started
    held["time"] = held["time"] - begin
    _pick(held, is_usable & ~is_stray)                                                                  # 11
    picked, said = sequence.in_order(held["time"], held["line"])
    _pick(held, picked)
    notes += said
    if len(held["time"]) < 2:
        raise LogError(table.name, "the log has fewer than two readings", "Expected a series of readings.",
                       "Export the whole log.", column=plan.gauge.name)
    found_marks: tuple[Mark, ...] = ()
    if plan.states is not None:
        found_marks = marks.marks(plan.states, held["code"], stated, held["time"], held["line"])
        notes += marks.said(plan.states, found_marks)
    has_clock = plan.time.main is not None and plan.time.main.kind == "clock"
    return set_aside(PressureLog(
        source=table.name, time=held["time"], pressure=held["pressure"], line=held["line"],
        is_over_range=held["is_over_range"], step=held["step"], gauge=plan.gauge.name, unit=unit, rows=count,
        notes=tuple(notes), temperature=held.get("temperature"), started=started,
        other_gauges={name.removeprefix(_OTHER): held[name] for name in others}, marks=found_marks,
        clock_start=begin % sequence.DAY if has_clock else None,
    ))  # fmt: skip


def _pick(held: dict[str, NDArray[Any]], rows: BoolArray | IntArray | None) -> None:
    """Keep some rows of all arrays, and make the arrays read-only."""
    if rows is not None and not (rows.dtype == bool and rows.all()):
        for name, array in held.items():
            held[name] = array[rows]
    for array in held.values():
        array.flags.writeable = False


def _readings(values: FloatArray, size: FloatArray | float | None, cells: pd.Series, line: IntArray, plan: _Plan,
              table: Table, options: ReadOptions) -> tuple[FloatArray, BoolArray, list[Note]]:
    """Return the readings, ``nan`` where there is none, which of them are over range, and what each word was."""
    gone = ~np.isfinite(values)
    values = np.where(gone, np.nan, values)
    is_declared = words.declared(values, options.over_range, table.dialect.decimal)
    is_none = words.no_numbers(np.where(is_declared, np.nan, values), size, table.name, plan.gauge.name)
    texts = {row: _text(cells.iat[row]) for row in np.flatnonzero(gone).tolist()}
    texts |= {row: f"{values[row]:g}" for row in np.flatnonzero(is_none).tolist()}
    values[is_none] = np.nan
    is_over, said = words.over_range(values, is_declared, texts, line, options.over_range, table.dialect.decimal)
    values[is_over] = np.nan
    is_none, absent = words.sentinels(values, line)
    values[is_none] = np.nan
    if not np.isfinite(values).any():
        what = "all readings are over range" if is_over.any() else "no reading is a number"
        raise LogError(table.name, what, "Expected pressures.", "Name another column with --gauge, or log again with a "
                       "gauge that reaches this pressure.", column=plan.gauge.name)
    return values, is_over, [*said, *words.missing(texts, is_over, line), *absent]


def _below_zero(in_pascal: FloatArray, line: IntArray) -> list[Note]:
    """Take readings below zero as zero, the foot of the range, and say so."""
    below = in_pascal < 0
    if not below.any():
        return []
    in_pascal[below] = 0.0
    text = f"{int(below.sum())} reading(s) are below zero and count as 0, below the gauge's range (its zero is off)."
    return [Note("pressure-negative", text, int(line[int(below.argmax())]))]


def _plan(table: Table, options: ReadOptions) -> _Plan:
    columns = describe(table)
    time = times.choose(table, columns, options)
    taken = {c.index for c in (time.main, time.beside, time.rival) if c is not None}
    named = by_name(table, options.temperature, "--temperature-column") if options.temperature is not None else None
    if named is not None and named in taken:
        raise LogError(table.name, "the column tells the time", "Expected a column of temperatures.",
                       "Change --temperature-column or --time-column.", column=table.names[named])
    taken |= {named} if named is not None else set()
    states = marks.find(table, columns, taken)
    told = set() if states is None else {states.column.index}
    gauge, others, notes = choose_pressures(table, columns, taken | told, options)
    units = [c for c in columns if c.kind == "unit"]
    after = [c for c in units if c.index > gauge.index] or units
    hot = [c for c in columns if c.role == "temperature" and c.index not in taken | {gauge.index}]
    temperature = columns[named] if named is not None else hot[0] if len(hot) == 1 else None
    if len(hot) > 1 and named is None:
        text = f"{len(hot)} columns look like temperatures; none was used. --temperature-column names one."
        notes = [*notes, Note("temperature-unused", text)]
    return _Plan(time, gauge, others, after[0] if after else None, temperature, states, tuple(notes))


def _cells(table: Table, plan: _Plan, dates: dict[int, clock.DateForm]) -> Columns:
    states = plan.states.column if plan.states is not None else None
    text = {column.index for column in (plan.unit_column, states) if column is not None}
    chosen = (plan.time.main, plan.time.beside, plan.time.rival, plan.gauge, plan.unit_column, plan.temperature, states)
    wanted = list(dict.fromkeys(c.index for c in (*chosen, *plan.others) if c is not None))
    return read(table, wanted, text, dates)


def _torn(lines: IntArray) -> list[Note]:
    if len(lines) == 0:
        return []
    return [Note("row-torn", f"{len(lines)} row(s) have more fields than the table and were left out.", int(lines[0]),
                 len(lines))]


def _text(cell: object) -> str:
    return "" if cell is None or cell is pd.NA or cell != cell else str(cell).strip()


def _untimed(is_untimed: BoolArray, line: IntArray) -> list[Note]:
    at = np.flatnonzero(is_untimed)
    if len(at) == 0:
        return []
    return [Note("time-unreadable", f"{len(at)} row(s) have no readable time and were left out.", int(line[at[0]]),
                 len(at))]


def _unit(columns: dict[int, pd.Series], plan: _Plan, table: Table, options: ReadOptions
          ) -> tuple[FloatArray | float | None, str, list[Note]]:
    beside = columns[plan.unit_column.index] if plan.unit_column is not None else None
    return pressure.factors(columns[plan.gauge.index], beside, table, plan.gauge, options.unit)


def _ordered_clock(plan: _Plan, told: clock.Times, seconds: FloatArray, line: IntArray
                   ) -> tuple[FloatArray, list[Note]]:
    notes: list[Note] = []
    if plan.time.main is None or plan.time.main.kind == "number":
        return seconds, notes
    if plan.time.main.kind == "clock":
        seconds, notes = sequence.carry_midnights(seconds, line)
    if not told.zoned:
        seconds, more = sequence.mend_clock_changes(seconds, line)
        notes = [*notes, *more]
    seconds, more = sequence.spread_coarse(seconds)
    return seconds, [*notes, *more]


def _printed(table: Table, gauge: Column) -> list[str]:
    cells = table.column(gauge.index)
    if all(cell[-1:].isdigit() for cell in cells[:5]):
        return cells
    return [text for text in map(digits_of, cells) if text is not None]


def _temperature(columns: dict[int, pd.Series], plan: _Plan, table: Table) -> tuple[FloatArray | None, list[Note]]:
    if plan.temperature is None:
        return None, []
    index = plan.temperature.index
    return pressure.temperatures(columns[index], table, index, plan.temperature.name)


def _others(columns: dict[int, pd.Series], plan: _Plan, table: Table, unit: str) -> dict[str, FloatArray]:
    found = {}
    for other in plan.others:
        own = other.unit or unit.split(", ")[0]
        values = clock.numbers(columns[other.index], table.dialect.decimal) * pascals(own)
        found[_OTHER + other.name] = np.where(np.isfinite(values), values, np.nan)
    return found
