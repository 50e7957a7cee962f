"""Sound logs written in ways that people and loggers find: what is read of them must be what they say, or nothing."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np

from decay.log import PressureLog
from decay.quantities import MICRON
from tests.faults.sheets import STARTED, UNITS, Table

Way = Callable[[Table, list[str], random.Random], list[str]]
"""From a table and its lines to other lines of the same readings."""

NEAR = 1.01
"""Moments are written in whole seconds. [s]"""
FOOTERS = (
    "Minimum{m}21{m}", "Average{m}3042.7", "max{m}760000", "Samples: 1234", "--- end of log ---", "Total{m}{m}512",
    "Std dev{m}17.3", "Checksum{m}0x1F3A", "Printed 2026-03-15 08:00:00", "Rows lost{m}2",
)  # fmt: skip
HEADS = (
    "Logger 7, firmware 2.1", "Interval: 5 s", "Site{m}north cooler", "Operator{m}", "Started{m}2026-03-14 09:00:00",
    "# made by hand", "Range{m}0 to 760000 micron", "Serial{m}000123", "Calibrated{m}2025-11-02", "",
)  # fmt: skip


def _head(table: Table) -> list[str]:
    return [table.mark.join(table.names)]


def _half(table: Table, rng: random.Random) -> int:
    return rng.randrange(len(table.time) // 4, 3 * len(table.time) // 4)


def _parts(table: Table, at: int) -> tuple[Table, Table]:
    """Return a table in two, cut at a row."""
    return (replace(table, time=table.time[:at], micron=table.micron[:at]),
            replace(table, time=table.time[at:], micron=table.micron[at:]))


def names_again(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    every = rng.choice((20, 50, 97))
    return [each for i, line in enumerate(lines) for each in ((line, *_head(table)) if i and i % every == 0 else
                                                              (line,))]


def names_again_after_a_gap(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    at = 1 + _half(table, rng)
    return [*lines[:at], "", *_head(table), *lines[at:]]


def footers(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    said = [line.format(m=table.mark) for line in rng.sample(FOOTERS, rng.choice((1, 2, 4)))]
    return [*lines, *[""] * rng.randrange(2), *said]


def preamble(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    return [*(line.format(m=table.mark) for line in rng.sample(HEADS, rng.choice((1, 3, 6)))), *lines]


def statistics_first(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    said = ["Statistic{m}Value", "Minimum{m}21", "Maximum{m}760000", "Mean{m}5021.3", "Readings{m}312"]
    return [*(line.format(m=table.mark) for line in said), *[""] * rng.randrange(2), *lines]


def mark_within(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    """Put a byte order mark where one file was put behind another."""
    at = rng.randrange(1, len(lines))
    return [*lines[:at], "\ufeff" + lines[at], *lines[at + 1 :]]


def nothing_after(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    """End as a file whose room was taken before it was filled."""
    return [*lines, "\0" * rng.choice((1, 16, 4096))]


def nothing_within(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    at = rng.randrange(1, len(lines))
    return [*lines[:at], "\0" * rng.choice((1, 16, 512)), *lines[at:]]


def quoted(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    return [table.mark.join(f'"{cell}"' for cell in line.split(table.mark)) for line in lines]


def marks_behind(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    return [line + table.mark for line in lines]


def units_in_cells(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    unit = next(name for name, size, _ in UNITS if size == table.size)
    return [lines[0], *(f"{line} {unit}" for line in lines[1:])]


def zones(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    if table.form != "iso":
        return lines
    zone = rng.choice(("Z", "+01:00", "+0100", ".000", ".500Z"))
    return [lines[0], *(line.replace(table.mark, zone + table.mark, 1) for line in lines[1:])]


def other_form_within(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    """Write the date in another way from one row on: a sheet that was saved in between."""
    if table.form not in ("iso", "local"):
        return lines
    first, second = _parts(table, _half(table, rng))
    return first.lines() + replace(second, names=[], form="local" if table.form == "iso" else "iso").lines()


def days_of_year(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    how = rng.choice(("%Y-%j %H:%M:%S", "%Y-%jT%H:%M:%S", "%j %H:%M:%S"))
    rows = [(STARTED + timedelta(seconds=round(t))).strftime(how) for t in table.time]
    return [lines[0], *(f"{stamp}{table.mark}{table.cell(i)}" for i, stamp in enumerate(rows))]


def thousands(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    group = "." if table.decimal == "," else rng.choice((",", " ", "'"))
    rows = [f"{p / table.size:,.{table.places}f}".translate({44: group, 46: table.decimal}) for p in table.micron]
    if group == table.mark:
        rows = [f'"{cell}"' for cell in rows]
    return [lines[0], *(f"{table.stamp(t)}{table.mark}{cell}" for t, cell in zip(table.time, rows, strict=True))]


def other_unit_below_new_names(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    first, second = _parts(table, _half(table, rng))
    unit, size, places = rng.choice(UNITS)
    second = replace(second, size=size, places=places, names=[table.names[0], f"p [{unit}]"])
    return first.lines() + [""] * rng.randrange(2) + second.lines()


def columns_swapped_below_new_names(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    at = 1 + _half(table, rng)
    swapped = [table.mark.join(line.split(table.mark)[::-1]) for line in (_head(table)[0], *lines[at:])]
    return [*lines[:at], *[""] * rng.randrange(2), *swapped]


def columns_swapped(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    return [table.mark.join(line.split(table.mark)[::-1]) for line in lines]


def a_gauge_that_fails(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    """Add a second gauge that reads what the first does, until it fails."""
    at, word = _half(table, rng), rng.choice(("OL", "ERR", "", "0", "---", "FAULT"))
    unit = next(name for name, size, _ in UNITS if size == table.size)
    cells = [word if i >= at else table.cell(i) for i in range(len(table.time))]
    return [f"{lines[0]}{table.mark}second [{unit}]",
            *(f"{line}{table.mark}{cell}" for line, cell in zip(lines[1:], cells, strict=True))]


def rows_numbered(table: Table, lines: list[str], rng: random.Random) -> list[str]:
    return [f"no.{table.mark}{lines[0]}", *(f"{i}{table.mark}{line}" for i, line in enumerate(lines[1:], 1))]


WAYS: tuple[Way, ...] = (
    names_again, names_again_after_a_gap, footers, preamble, statistics_first, mark_within, nothing_after,
    nothing_within, quoted, marks_behind, units_in_cells, zones, other_form_within, days_of_year, thousands,
    other_unit_below_new_names, columns_swapped_below_new_names, columns_swapped, a_gauge_that_fails, rows_numbered,
)  # fmt: skip
# What leaves the lines as it finds them may go with another.
ADDED = (footers, preamble, mark_within, nothing_after, statistics_first)
CODES = ("utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-32", "utf-16-le")


def written(table: Table, rng: random.Random) -> tuple[bytes, list[str]]:
    """Return a sound table as the bytes of a file, and how it was written."""
    way = rng.choice(WAYS)
    lines, done = way(table, table.lines(), rng), [way.__name__]
    if rng.random() < 0.3:
        way = rng.choice(ADDED)
        lines = way(table, lines, rng)
        done.append(way.__name__)
    code, end = rng.choice(CODES), rng.choice(("\n", "\n", "\r\n", "\r"))
    return (end.join(lines) + end).encode(code), [*done, code, repr(end)]


def misread(log: PressureLog, table: Table) -> str | None:
    """Return how readings differ from what was written, or ``None``: a moment and its pressure, each in its place."""
    if len(log.time) > len(table.time):
        return f"{len(log.time)} readings of {len(table.time)}"
    truth = np.array(table.time) - table.time[0]
    written_as = np.maximum(np.array(table.micron), 0.0) * MICRON
    at = np.clip(np.searchsorted(truth, log.time - NEAR), 0, len(truth) - 1)
    late = np.abs(log.time - truth[at])
    if float(late.max()) > NEAR:
        return f"a moment {float(log.time[np.argmax(late)]):.0f} s is none of those written"
    is_read = ~log.is_over_range
    # Rounded to its last place in the coarsest unit that a part of it may be in.
    coarsest = max([table.size * 10.0**-table.places, *(size * 10.0**-places for _, size, places in UNITS)])
    missed = np.abs(log.pressure - written_as[at])[is_read]
    allowed = (0.51 * coarsest * MICRON + 1e-3 * written_as[at])[is_read]
    if not np.all(missed <= allowed):
        worst = int(np.argmax(missed / allowed))
        return (f"a pressure of {log.pressure[is_read][worst] / MICRON:.5g} micron where "
                f"{written_as[at][is_read][worst] / MICRON:.5g} stands")
    return None
