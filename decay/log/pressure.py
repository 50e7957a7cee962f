"""From pressure cells to pascals: units stated, beside the values, in a column of their own, or inferred."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from decay.arrays import FloatArray
from decay.errors import LogError
from decay.log import clock
from decay.log.columns import Column
from decay.log.numbers import alike, parse
from decay.log.pressure_log import Note
from decay.log.table import Table
from decay.log.units import pascals, says_absolute, says_gauge, unit_in

# Readings of an open gauge near sea level, and the unit that they tell. Bands do not overlap.
_ATMOSPHERE = ((735.0, 775.0, "Torr"), (980.0, 1035.0, "mbar"), (98000.0, 103500.0, "Pa"),
               (735000.0, 775000.0, "micron"), (98.0, 103.5, "kPa"))  # fmt: skip
_DEPTH = 100.0  # the log must fall this much below its first readings before they may be called atmosphere

# Temperatures at which a system is evacuated; a cold trap or a heater beside it is colder or hotter. [K]
_PLACES = (223.15, 373.15)


def stated(table: Table, column: Column, option: str | None) -> str | None:
    """Return the unit that an option, the column or the preamble states.

    Raises
    ------
    LogError
        If the option is no unit, or the column counts from the atmosphere.
    """
    if option is not None:
        unit = unit_in(option)
        if says_gauge(option):
            raise _below_atmosphere(table, column, f'"{option}" counts from the atmosphere')
        if unit is None:
            raise LogError(table.name, f'"{option}" is not a pressure unit',
                           "Expected micron, mTorr, Torr, mmHg, Pa, kPa, hPa, mbar, bar, psia or inHg.",
                           "Change --unit.")
        return unit
    text = f"{column.name} {table.units[column.index]}"
    first = table.column(column.index)[:1]
    for part in (text, *first):
        if says_gauge(part) and not says_absolute(part):
            raise _below_atmosphere(table, column, f'"{part.strip()[:60]}" counts from the atmosphere')
    if column.unit is not None:
        return column.unit
    header = table.dialect.header
    for index, line in enumerate(table.preamble):
        unit = unit_in(line) if index != header and _about_pressure(line) else None
        if unit is not None:
            return unit
    return None


def _about_pressure(line: str) -> bool:
    low = line.lower()
    return any(word in low for word in ("unit", "pressure", "vacuum", "druck", "gauge"))


def _below_atmosphere(table: Table, column: Column, why: str, settle: str = "") -> LogError:
    return LogError(
        table.name, f"the readings are below atmosphere, not absolute ({why})",
        "Expected absolute pressures. A reading below atmosphere moves with the weather by 1000 micron and more, and "
        "its last digit is larger than a whole hold, so no judgement in microns can rest on it.",
        f"Log with an absolute (micron) gauge, or name its column with --gauge.{settle}",
        column=column.name)


def factors(cells: pd.Series, units: pd.Series | None, table: Table, column: Column, option: str | None
            ) -> tuple[FloatArray | float | None, str, list[Note]]:
    """Return the size of each row's unit, its name, and notes; ``None`` for the size where no unit is known.

    Parameters
    ----------
    cells : Series, shape (n,)
        Pressure cells.
    units : Series, shape (n,), or None
        Unit column.
    table : Table
        The table.
    column : Column
        The pressure column.
    option : str or None
        Unit that the user gave.

    Returns
    -------
    size : ndarray, shape (n,), float or None
        Size of the unit. [Pa]
    name : str
        Its name, or all names where it changes.
    notes : list of Note
        That it changes.
    """
    base = stated(table, column, option)
    if option is not None and base is not None:
        return pascals(base), base, []
    named: list[str | None] = []
    if units is not None:
        words = clock.texts(units)
        meant = {word: unit_in(word) for word in dict.fromkeys(words)}
        if any(says_gauge(word) for word in meant):
            raise _below_atmosphere(table, column, "the unit column says so")
        named = [meant[word] for word in words]
    elif cells.dtype.kind not in "iufb":
        words = clock.texts(cells)
        together = alike(words, table.dialect.decimal)
        if together is not None:
            named = [unit_in(together[2])] * len(words)
        else:
            named = [_unit_beside(word, table.dialect.decimal) for word in words]
    kinds = Counter(unit for unit in named if unit)
    if not kinds:
        return (None if base is None else pascals(base)), base or "", []
    usual = base or kinds.most_common(1)[0][0]
    names = list(dict.fromkeys(unit for unit in named if unit))
    notes = []
    if len(kinds) > 1:
        notes.append(Note("unit-changes", f"The unit changes from row to row ({', '.join(names)}); each row was read "
                                          "in its own."))
    return np.array([pascals(unit or usual) for unit in named]), ", ".join(names), notes


def _unit_beside(text: str, decimal: str) -> str | None:
    """Return the unit behind the number in a cell."""
    if text[-1:].isdigit():
        return None
    cell = parse(text, decimal)
    return unit_in(cell.unit) if cell is not None and cell.unit else None


def infer(values: FloatArray, table: Table, column: Column, siblings: tuple[Column, ...]) -> tuple[str, Note]:
    """Return the unit of a log that states none, from atmosphere at its start or from a gauge beside it.

    Raises
    ------
    LogError
        If the numbers do not tell.
    """
    for other in siblings:
        if other.unit is None:
            continue
        both = np.isfinite(column.values) & np.isfinite(other.values) & (column.values > 0) & (other.values > 0)
        if both.sum() >= 5 and abs(np.median(np.log(column.values[both] / other.values[both]))) < np.log(3.0):
            return other.unit, Note("unit-inferred", f'"{column.name}" states no unit; {other.unit} was taken, because '
                                    f'it agrees with "{other.name}" beside it. --unit overrides.')
    finite = values[np.isfinite(values)]
    positive = finite[finite > 0]
    if len(positive) >= 5:
        top = float(finite.max())
        start = finite[:3]
        for low, high, unit in _ATMOSPHERE:
            steady = low <= float(start.min()) and float(start.max()) <= high and np.ptp(start) < 0.01 * top
            if steady and top <= high and float(positive.min()) < top / _DEPTH:
                return unit, Note("unit-inferred", f'"{column.name}" states no unit; {unit} was taken, because the log '
                                  f"starts at {float(start[0]):g}, which is atmosphere in {unit}. --unit overrides.")
    raise LogError(table.name, "the unit of the pressures is not stated, and the numbers do not tell it",
                   "Expected a unit in the header, beside the values, or in a column of its own.",
                   'Add it, e.g.  --unit micron', column=column.name)


def refuse_gauge(values: FloatArray, unit: str, table: Table, column: Column, option: str | None) -> None:
    """Refuse readings that count from the atmosphere, by their sign or their course.

    Raises
    ------
    LogError
        If they do.
    """
    finite = values[np.isfinite(values)]
    if len(finite) == 0:
        return
    negative = finite < 0
    if negative.mean() > 0.5 or (negative.any() and -float(finite.min()) > 0.2 * float(np.abs(finite).max())):
        raise _below_atmosphere(table, column, f"they go down to {float(finite.min()):g}")
    if unit == "inHg" and option is None and not says_absolute(f"{column.name} {table.units[column.index]}"):
        head, tail = finite[: max(len(finite) // 10, 1)], finite[-max(len(finite) // 4, 1):]
        # Absolute inHg falls when a pump starts; inHg of vacuum rises from 0 towards 29.9 and stays.
        if float(head.min()) < 10 and 20 < float(np.median(tail)) <= 30.0 and float(finite.max()) <= 30.1:
            raise _below_atmosphere(table, column, "they rise from near 0 towards 29.9 as a vacuum deepens",
                                    ' If the readings are absolute, say so:  --unit "inHg"')


def temperatures(cells: pd.Series, table: Table, index: int, name: str) -> tuple[FloatArray | None, list[Note]]:
    """Return logged temperatures, or ``None`` where they are not usable. [K]"""
    values = clock.numbers(cells, table.dialect.decimal)
    text = f"{table.names[index]} {table.units[index]} {' '.join(table.column(index)[:1])}".lower()
    unit = next((u for u, marks in {"F": ("°f", "degf", "deg f", "(f)", "[f]", "fahrenheit", "_f"),
                                    "K": ("(k)", "[k]", "kelvin", "_k")}.items() if any(m in text for m in marks)), "C")
    said = unit != "C" or any(mark in text for mark in ("°c", "degc", "deg c", "(c)", "[c]", "celsius", "_c"))
    kelvin = {"C": values + 273.15, "F": (values + 459.67) / 1.8, "K": values}[unit]
    plausible = np.isfinite(kelvin) & (kelvin > _PLACES[0]) & (kelvin < _PLACES[1])
    if not said or plausible.mean() < 0.5:
        return None, [Note("temperature-unused", f'"{name}" may be a temperature but is not usable (unit not stated or '
                                                 "values implausible). --temperature-column names one.")]
    kelvin[~plausible] = np.nan
    return kelvin, []
