"""Which columns are used, which of several gauges is judged, and how far the others differ from it."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, median, quantile
from decay.errors import LogError
from decay.log.clock import TimeChoice, choose_time
from decay.log.column import Column, States, by_name, columns_of, find_states, listed
from decay.table.headings import PRESSURE_WORDS, pascals, unit_in
from decay.table.read_options import Note, ReadOptions
from decay.table.table import Table

ALIKE = 3.0  # two gauges on one system agree within this factor; gas type alone makes 1.6
DIFFER = 1.1  # factor from which on it is said that two gauges differ
_MANY_RAILED = 0.05  # share of readings at the end of a range from which on another gauge is better
_FEWEST = 5  # readings that show how two gauges stand to each other
_FAR = re.compile(r"\bfar\b|system|evap|condens|vessel|chamber|coil|cabinet|remote|vehicle|\bcar\b|circuit|\bend\b",
                  re.IGNORECASE)
_NEAR = re.compile(r"pump|\brig\b|manifold|foreline|hose|rough|backing", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ColumnsUsed:
    """Which columns are used, and for what."""

    time: TimeChoice  # what tells the time
    gauge: Column  # the pressure to judge
    others: tuple[Column, ...]  # further pressures
    # Units row by row, and temperatures
    unit_column: Column | None
    temperature: Column | None
    states: States | None  # what tells the state of the valve
    notes: tuple[Note, ...]  # what was decided


def columns_used(table: Table, options: ReadOptions) -> ColumnsUsed:
    """Return which columns are used.

    Raises
    ------
    LogError
        If nothing tells the time or the pressure, or several things do.
    """
    columns = columns_of(table)
    time = choose_time(table, columns, options)
    taken = {c.index for c in (time.main, time.beside, time.rival) if c is not None}
    named = by_name(table, options.temperature, "--temperature-column") if options.temperature is not None else None
    if named is not None and named in taken:
        raise LogError(table.name, "the column holds the time", "Expected a column of temperatures.",
                       "Change --temperature-column or --time-column.", column=table.names[named])
    taken |= {named} if named is not None else set()
    states = find_states(table, columns, taken)
    told = set() if states is None else {states.column.index}
    gauge, others, notes = choose_pressures(table, columns, taken | told, options)
    units = [c for c in columns if c.kind == "unit"]
    after = [c for c in units if c.index > gauge.index] or units
    hot = [c for c in columns if c.role == "temperature" and c.index not in taken | {gauge.index}]
    temperature = columns[named] if named is not None else hot[0] if len(hot) == 1 else None
    if len(hot) > 1 and named is None:
        text = f"{len(hot)} columns look like temperatures; none was used. --temperature-column names one."
        notes = [*notes, Note("temperature-unused", text)]
    return ColumnsUsed(time, gauge, others, after[0] if after else None, temperature, states, tuple(notes))


def choose_pressures(table: Table, columns: tuple[Column, ...], taken: set[int], options: ReadOptions
                     ) -> tuple[Column, tuple[Column, ...], list[Note]]:
    """Return the gauge to judge, the further gauges, and what was decided.

    The gauge is, in this order: the one that ``--gauge`` names; the only pressure column; the only numeric
    column; among gauges that agree within a factor of three, the one on the system's far side by its name or by what
    the readings show, and of several the first of those with the fewest readings on a rail (the end of their range).

    Raises
    ------
    LogError
        If there is no pressure column, or several that differ.
    """
    free = [c for c in columns if c.index not in taken and c.kind == "number" and np.isfinite(c.values).any()]
    pressures = [c for c in free if c.role == "pressure"]
    if options.gauge is not None:
        return _as_named(table, columns, free, pressures, taken, options.gauge)
    if not pressures:
        pressures = [c for c in free if c.role == "" and not (_counts_time(c) and len(free) > 1)]
        alive = [c for c in pressures if np.nanmin(c.values) >= 0 and np.nanmax(c.values) > np.nanmin(c.values)]
        pressures = alive or pressures
    if not pressures:
        raise _none(table, columns, taken)
    pressures, notes = _without_twins(pressures)
    if len(pressures) == 1:
        return pressures[0], (), notes
    stated = [c for c in pressures if c.unit is not None]
    if len(stated) == 1 and not any(_alike(c, stated[0]) for c in pressures if c is not stated[0]):
        return _chosen(stated[0], pressures, "it alone states a pressure unit", notes)
    if all(_alike(pressures[0], c) for c in pressures[1:]):
        chosen, why = _best(pressures)
        return _chosen(chosen, pressures, why, notes)
    is_unit_told = any(column.kind == "unit" for column in columns)
    names = ", ".join(f'{c.index + 1} "{c.name}"' for c in pressures[:20]) + (", ..." if len(pressures) > 20 else "")
    raise LogError(table.name, f"several columns could be the pressure: {names}",
                   "They differ by more than a factor of three, so they do not measure the same thing.",
                   f'Name the gauge on the system\'s far side, e.g.  --gauge "{pressures[0].name}"'
                   + ("" if pressures[0].unit or is_unit_told else " and its unit, e.g.  --unit micron"))


def _as_named(table: Table, columns: tuple[Column, ...], free: list[Column], pressures: list[Column], taken: set[int],
              name: str) -> tuple[Column, tuple[Column, ...], list[Note]]:
    index = by_name(table, name, "--gauge")
    chosen = columns[index]
    if not np.isfinite(chosen.values).any() or index in taken:
        raise LogError(table.name, "the column holds no pressures", "Expected numbers.",
                       f"Name another column with --gauge: {listed(list(table.names))}.", column=chosen.name)
    if chosen.unit is None and (chosen.role == "time" or (_counts_time(chosen) and len(free) > 1)):
        raise LogError(table.name, "the column counts the time and holds no pressures", "Expected readings of a gauge.",
                       f"Name another column with --gauge: {listed(list(table.names))}.", column=chosen.name)
    rest = tuple(c for c in pressures if c.index != index)
    return chosen, rest, _differences(chosen, rest)


def _counts_time(column: Column) -> bool:
    """Return whether a column grows by the same amount from row to row, as no pressure does."""
    change = np.diff(column.values[np.isfinite(column.values)])
    if column.unit is not None or len(change) < _FEWEST or not bool((change > 0).all()):
        return False
    return float(np.quantile(change, 0.9) / np.quantile(change, 0.1)) < 1.02


def _none(table: Table, columns: tuple[Column, ...], taken: set[int]) -> LogError:
    named = [c for c in columns if c.index not in taken and (unit_in(c.name) or PRESSURE_WORDS.search(c.name))]
    wordy = [c for c in named if c.kind == "words"]
    if wordy:
        said = next(row[wordy[0].index] for row in table.sample if row[wordy[0].index])
        what = f'all readings are words like "{said[:30]}": over range, or an error, throughout'
        return LogError(table.name, what,
                        "Expected numbers once the pull brings the pressure into the gauge's range.",
                        "Log until the gauge shows numbers, or name another column with --gauge.",
                        column=wordy[0].name)
    empty = [c for c in named if not table.column(c.index)]
    if empty:
        return LogError(table.name, "the column is empty", "Expected the readings of the gauge.",
                        "See that the logger was connected to it, or name another column with --gauge.",
                        column=empty[0].name)
    return LogError(table.name, "no column looks like a pressure",
                    f"The columns are: {listed(list(table.names))}.", "Name it with --gauge.")


def _without_twins(pressures: list[Column]) -> tuple[list[Column], list[Note]]:
    """Return the columns without those that repeat another, reading for reading."""
    kept: dict[bytes, Column] = {}
    twins: list[tuple[Column, Column]] = []
    for column in pressures:
        key = np.nan_to_num(_pascal(column)).tobytes() + (column.unit or "").encode()
        if key in kept and np.ptp(column.values[np.isfinite(column.values)]) > 0:
            twins.append((column, kept[key]))
        else:
            kept[key] = column
    text = "; ".join(f'"{twin.name}" repeats "{first.name}" reading for reading' for twin, first in twins[:4])
    return list(kept.values()), [Note("columns-same", f"{text}: taken as one gauge.")] if twins else []


def _best(pressures: list[Column]) -> tuple[Column, str]:
    """Return the gauge that tells most of the system, and why."""
    railed = {c.index: _railed(c, pressures) for c in pressures}
    few = min(railed.values())
    able = [c for c in pressures if railed[c.index] <= few + _MANY_RAILED * len(c.values)]
    far = [c for c in able if _FAR.search(c.name) and not _NEAR.search(c.name)]
    not_near = [c for c in able if not _NEAR.search(c.name)]
    if far and len(far) < len(able):
        return far[0], "its name places it on the system's far side"
    if not_near and len(not_near) < len(able):
        return not_near[0], "the names of the others place them at the pump"
    if len(able) == 2 and (higher := _higher_in_the_pull(*able)) is not None:
        return higher, "it reads higher in the pull and the other meets it afterwards: it sits farther from the pump"
    if len(able) < len(pressures) or len(set(railed.values())) > 1:
        return min(able, key=lambda c: (railed[c.index], c.index)), "it has the fewest readings at the end of a range"
    return able[0], "it is the first of gauges that agree"


def _higher_in_the_pull(one: Column, other: Column) -> Column | None:
    """Return the gauge that lags behind under the pump and agrees afterwards."""
    ratio, is_falling = _ratio(one, other)
    if is_falling.sum() < _FEWEST or (~is_falling).sum() < _FEWEST:
        return None
    pulled, rest = median(ratio[is_falling]), median(ratio[~is_falling])
    if abs(pulled - rest) < np.log(DIFFER) or abs(rest) > 0.5 * abs(pulled):
        return None
    return one if pulled > rest else other


def _ratio(one: Column, other: Column) -> tuple[FloatArray, np.ndarray]:
    """Return the logarithm of the ratio of two gauges below their tops, and where the pressure falls.

    Where one states no unit it is the other's that will be taken for it, so that the numbers are compared as they are.
    """
    a, b = (_pascal(one), _pascal(other)) if one.unit and other.unit else (one.values, other.values)
    both = np.isfinite(a) & np.isfinite(b) & (a > 0) & (b > 0) & ~_at_top(one) & ~_at_top(other)
    if not both.any():
        return np.zeros(0), np.zeros(0, dtype=bool)
    a, b = np.log(a[both]), np.log(b[both])  # products of what a log may hold do not fit a float
    return a - b, np.arange(len(a)) < int(np.argmin(a + b))


def _chosen(chosen: Column, pressures: list[Column], why: str, notes: list[Note]
            ) -> tuple[Column, tuple[Column, ...], list[Note]]:
    rest = tuple(c for c in pressures if c is not chosen)
    others = ", ".join(f'"{c.name}"' for c in rest[:8]) + (", ..." if len(rest) > 8 else "")
    note = Note("gauge-chosen", f'The gauge "{chosen.name}" was taken because {why}; also there: {others}. '
                                "--gauge overrides.")
    return chosen, rest, [note, *_differences(chosen, rest), *notes]


def _differences(chosen: Column, rest: tuple[Column, ...]) -> list[Note]:
    """Return a note on the gauge that differs most, where it differs by more than a tenth after the pull."""
    worst, by = None, np.log(DIFFER)
    for other in rest:
        if not _alike(chosen, other):
            continue
        ratio, is_falling = _ratio(other, chosen)
        ratio = ratio[~is_falling] if (~is_falling).sum() >= _FEWEST else ratio
        if len(ratio) >= _FEWEST and abs(median(ratio)) > abs(by):
            worst, by = other, median(ratio)
    if worst is None:
        return []
    share = 100.0 * (np.exp(by) - 1.0)
    way = "above" if share > 0 else "below"
    return [Note("gauges-differ", f'"{worst.name}" reads {abs(share):.0f} % {way} "{chosen.name}", which is judged.')]


def _pascal(column: Column) -> FloatArray:
    with np.errstate(over="ignore"):  # a number that means none may leave what a float holds
        values: FloatArray = column.values * (pascals(column.unit) if column.unit else 1.0)
    return values


def _alike(one: Column, other: Column) -> bool:
    a, b = one.values, other.values
    if one.unit and other.unit:
        a, b = _pascal(one), _pascal(other)
    both = np.isfinite(a) & np.isfinite(b)
    if not both.any():
        return False
    positive = both & (a > 0) & (b > 0)
    if positive.sum() < 0.8 * both.sum():
        return False
    ratio = np.abs(np.log(a[positive]) - np.log(b[positive]))  # a quotient of far numbers is beyond what a float holds
    return bool(median(ratio) < np.log(ALIKE) and quantile(ratio, 0.9) < 2 * np.log(ALIKE))


def _at_top(column: Column) -> np.ndarray:
    """Return which readings repeat the column's highest number so often that it may be the end of its range."""
    at_top = column.values == np.nanmax(column.values)
    return at_top if at_top.sum() >= _FEWEST else np.zeros(len(at_top), dtype=bool)


def _railed(column: Column, beside: list[Column]) -> int:
    """Return how many readings sit at the column's highest number while a gauge beside it moves."""
    at_top = column.values == np.nanmax(column.values)
    if at_top.sum() < _FEWEST:
        return 0
    for other in beside:
        seen = other.values[at_top & np.isfinite(other.values)]
        if other is not column and len(seen) and seen.max() > 1.1 * max(float(seen.min()), 0.0):
            return int(at_top.sum())
    return 0
