"""From pressure cells to pascals: units stated, beside the values, in a column of their own, or inferred."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np

from decay.arrays import FloatArray, median, quantile
from decay.constants import ZERO_CELSIUS, ZERO_FAHRENHEIT
from decay.errors import LogError
from decay.log.column import Column
from decay.table import digits
from decay.table.digits import alike, number_in
from decay.table.headings import heading, pascals, says_absolute, says_gauge, unit_in
from decay.table.read_options import Note
from decay.table.table import Table

ATMOSPHERE = (85e3, 106e3)  # Pa, from 1500 m to a high at sea level
# Readings of an open gauge near sea level, and the unit that they tell. Bands do not overlap.
_ATMOSPHERE = ((735.0, 775.0, "Torr"), (980.0, 1035.0, "mbar"), (98000.0, 103500.0, "Pa"),
               (735000.0, 775000.0, "micron"), (98.0, 103.5, "kPa"))  # fmt: skip
_COARSE = 60.0  # Pa; gauges that count from the atmosphere have steps of this size and more
_NEAR_ZERO = 500.0  # Pa; they start within this of zero
_FAR_BELOW = 500.0  # a start at atmosphere ends this far below it; one at the top of a micron gauge does not
_SOME_BELOW = 0.02  # share of readings below zero from which on they are more than faults of the logger
_DEEP = 0.2 * ATMOSPHERE[1]  # Pa; no zero is that far off
_CLEAR_OF_ZERO = 20.0  # a gauge whose zero is off by one still reads 20 when the pressure is high
# Minus one atmosphere in kPa, inHg, bar, mbar, psi and mmHg, for numbers whose unit is not stated.
_DEEPEST = ((75.0, 105.0), (22.0, 31.0), (0.75, 1.05), (750.0, 1050.0), (11.0, 15.2), (560.0, 790.0))
_RAILS = {1000.0, 100_000.0}  # as likely the top of a gauge's range as the pressure of the air
_DEPTH = 100.0  # the log must fall this much below its first readings before they may be called atmosphere

# Temperatures at which a system is evacuated; a cold trap or a heater beside it is colder or hotter. [K]
_PLACES = (223.15, 373.15)


def stated(table: Table, column: Column, option: str | None) -> str | None:
    """Return the unit that an option, the column or the preamble states.

    Raises
    ------
    LogError
        If the option is no unit, the column counts from the atmosphere, or its unit is understood only in part.
    """
    if option is not None:
        told = heading(option, is_pressure=True)
        if says_gauge(option):
            raise _below_atmosphere(table, column, f'"{option}" counts from the atmosphere')
        if told.unit is None or told.unclear:
            raise LogError(table.name, f'"{told.unclear or option}" is not a pressure unit',
                           "Expected micron, mTorr, Torr, mmHg, mPa, Pa, kPa, hPa, mbar, bar, psia or inHg, with a "
                           'power of ten where the numbers need one: "1e-3 mbar".', "Change --unit.")
        return told.unit
    text = f"{column.name} {table.units[column.index]}"
    first = table.column(column.index)[:1]
    for part in (text, *first):
        if says_gauge(part) and not says_absolute(part):
            raise _below_atmosphere(table, column, f'"{part.strip()[:60]}" counts from the atmosphere')
    if column.unclear:
        raise _in_part(table, column, text.strip(), column.unclear)
    if column.unit is not None:
        return column.unit
    header = table.dialect.header
    for index, line in enumerate(table.preamble):
        if index == header or not _about_pressure(line):
            continue
        # A number before a unit is a reading or a range here, unless the line speaks of the unit itself.
        told = heading(line) if "unit" in line.lower() else heading(re.sub(r"[\d^]+(?:[eE][-+]?\d+)?", " ", line))
        if told.unclear and told.unit is not None:
            raise _in_part(table, column, line.strip(), told.unclear)
        if told.unit is not None:
            return told.unit
    return None


def _in_part(table: Table, column: Column, text: str, unclear: str) -> LogError:
    """Return the error of a unit that was understood only in part: wrong by a thousand is wrong altogether."""
    return LogError(table.name, f'"{unclear}" in "{text[:60]}" is not understood, and it may change the unit',
                    "Expected a pressure unit, or one with a power of ten: mTorr, 10^-3 mbar, mTorr x10.",
                    "State the unit of the numbers as they stand, e.g.  --unit micron  or  --unit \"1e-3 mbar\"",
                    column=column.name)


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


def factors(cells: digits.Cells, units: digits.Cells | None, table: Table, column: Column, option: str | None
            ) -> tuple[FloatArray | float | None, str, list[Note]]:
    """Return the size of each row's unit, its name, and notes; ``None`` for the size where no unit is known.

    Parameters
    ----------
    cells : Cells, shape (n,)
        Pressure cells.
    units : Cells, shape (n,), or None
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
        words = digits.texts(units)
        meant = {word: _unit_cell(word, table, column) for word in dict.fromkeys(words)}
        if any(says_gauge(word) for word in meant):
            raise _below_atmosphere(table, column, "the unit column says so")
        named = [meant[word] for word in words]
    elif isinstance(cells, list):
        words = cells
        together = alike(words, table.dialect.decimal)
        if together is not None:
            named = [unit_in(together[2], is_pressure=True)] * len(words)
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


def _unit_cell(text: str, table: Table, column: Column) -> str | None:
    """Return the unit that a cell of a unit column names."""
    told = heading(text, is_pressure=True)
    if told.unclear:
        raise _in_part(table, column, text, told.unclear)
    return told.unit


def _unit_beside(text: str, decimal: str) -> str | None:
    """Return the unit behind the number in a cell."""
    if text[-1:].isdigit():
        return None
    cell = number_in(text, decimal)
    return unit_in(cell.unit, is_pressure=True) if cell is not None and cell.unit else None


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
            steady = bool(low <= start.min() and start.max() <= high and np.ptp(start) < 0.01 * top)
            steady = steady and top not in _RAILS
            if steady and top <= high and float(positive.min()) < top / _DEPTH:
                return unit, Note("unit-inferred", f'"{column.name}" states no unit; {unit} was taken, because the log '
                                  f"starts at {float(start[0]):g}, which is atmosphere in {unit}. --unit overrides.")
    if re.search(r"(?<![a-z])psi(?![a-z])", column.name, re.IGNORECASE):
        raise LogError(table.name, '"psi" does not say whether it counts from a vacuum or from the atmosphere',
                       "Expected absolute pressures.", "If they are, add  --unit psia", column=column.name)
    raise LogError(table.name, "the unit of the pressures is not stated, and the numbers do not show it",
                   "Expected a unit in the header, beside the values, or in a column of its own.",
                   'Add it, e.g.  --unit micron', column=column.name)


def refuse_gauge(values: FloatArray, size: FloatArray | float | None, unit: str, table: Table, column: Column,
                 option: str | None) -> None:
    """Refuse readings that count from the atmosphere, by how far they go below zero or by their course.

    A gauge whose zero is off reads a few units below zero; one that counts from the atmosphere ends near minus one
    atmosphere: -101 kPa, -29.9 inHg, -1 bar.

    Raises
    ------
    LogError
        If they do, or if the zero is so far off that most readings are negative.
    """
    finite = values[np.isfinite(values)]
    if len(finite) == 0:
        return
    is_below = finite < 0
    if is_below.mean() > _SOME_BELOW:
        lowest = -quantile(finite, 0.02)
        scale = size if isinstance(size, float) else median(size) if size is not None else None
        as_stated = scale is not None and lowest * scale > _DEEP
        usual = float(np.max(finite)) < lowest and any(low <= lowest <= high for low, high in _DEEPEST)
        if as_stated or usual:
            raise _below_atmosphere(table, column, f"they go down to {-lowest:g}")
        if is_below.mean() > 0.5 and float(np.max(finite)) < _CLEAR_OF_ZERO * lowest:
            raise LogError(table.name, f"most readings are below zero, down to {-lowest:g}",
                           "Expected absolute pressures: the zero of the gauge is off.",
                           "Set the gauge's zero at a pressure far below its last digit, and log again.",
                           column=column.name)
    if unit == "inHg" and option is None and not says_absolute(f"{column.name} {table.units[column.index]}"):
        head, tail = finite[: max(len(finite) // 10, 1)], finite[-max(len(finite) // 4, 1):]
        # Absolute inHg falls when a pump starts; inHg of vacuum rises from 0 towards 29.9 and stays.
        if float(head.min()) < 10 and 20 < median(tail) <= 30.0 and float(finite.max()) <= 30.1:
            raise _below_atmosphere(table, column, "they rise from near 0 towards 29.9 as a vacuum deepens",
                                    ' If the readings are absolute, say so:  --unit "inHg"')
    if size is not None and not says_absolute(f"{column.name} {table.units[column.index]} {option or ''}") and (
            _settles_short(finite, size if isinstance(size, float) else median(size))):
        raise _below_atmosphere(table, column, "they rise from zero and settle short of atmosphere, as a pull does on "
                                "such a gauge", f' If the readings are absolute, say so:  --unit "{unit} absolute"')


def _settles_short(finite: FloatArray, size: float) -> bool:
    """Tell whether coarse readings rise from zero and stay between a fifth of atmosphere and nine tenths.

    Air that comes in goes on to atmosphere, and vapour settles far below; a pull on a gauge that counts from the
    atmosphere does just this.
    """
    lowest_atmosphere = ATMOSPHERE[0]
    head, tail = finite[: max(len(finite) // 10, 1)] * size, finite[-max(len(finite) // 4, 1):] * size
    apart = np.diff(np.unique(finite)) * size
    if len(apart) == 0 or float(apart.min()) < _COARSE:
        return False
    settled = median(tail)
    return bool(
        float(head.min()) < _NEAR_ZERO and 0.2 * lowest_atmosphere < settled < 0.9 * lowest_atmosphere
        and float(np.ptp(tail)) < 0.2 * settled)


def refuse_thousandth(in_pascal: FloatArray, table: Table, column: Column, option: str | None) -> None:
    """Refuse a log that starts with a steady thousandth of atmosphere and falls far below: its unit is another.

    Raises
    ------
    LogError
        If it does, and the user has not stated the unit.
    """
    finite = in_pascal[np.isfinite(in_pascal) & (in_pascal > 0)]
    if option is not None or len(finite) < 10:
        return
    start, top = finite[:3], float(finite.max())
    low, high = (1e-3 * end for end in ATMOSPHERE)
    if low <= float(start.min()) and top <= high and np.ptp(start) < 0.01 * top and finite.min() < top / _FAR_BELOW:
        raise LogError(table.name, f"the log starts at a steady {float(start[0]):.3g} Pa, a thousandth of atmosphere: "
                       "the unit looks wrong by a thousand",
                       "Expected a start at atmosphere, or in the middle of a pull.",
                       "State the unit of the numbers, e.g.  --unit Torr, or the heading's own to keep it.",
                       column=column.name)


def temperatures(cells: digits.Cells, table: Table, index: int, name: str) -> tuple[FloatArray | None, list[Note]]:
    """Return logged temperatures, or ``None`` where they are not usable. [K]"""
    values = digits.numbers(cells, table.dialect.decimal)
    text = f"{table.names[index]} {table.units[index]} {' '.join(table.column(index)[:1])}".lower()
    unit = next((u for u, marks in {"F": ("°f", "degf", "deg f", "(f)", "[f]", "fahrenheit", "_f"),
                                    "K": ("(k)", "[k]", "kelvin", "_k")}.items() if any(m in text for m in marks)), "C")
    said = unit != "C" or any(mark in text for mark in ("°c", "degc", "deg c", "(c)", "[c]", "celsius", "_c"))
    kelvin = {"C": values + ZERO_CELSIUS, "F": (values + ZERO_FAHRENHEIT) / 1.8, "K": values}[unit]
    plausible = np.isfinite(kelvin) & (kelvin > _PLACES[0]) & (kelvin < _PLACES[1])
    if not said or plausible.mean() < 0.5:
        return None, [Note("temperature-unused", f'"{name}" may be a temperature but is not usable (unit not stated or '
                                                 "values implausible). --temperature-column names one.")]
    kelvin[~plausible] = np.nan
    return kelvin, []
