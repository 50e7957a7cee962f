"""Changes of structure and of meaning: rows, columns, separators, units, sentinels, clock steps, scale."""

from __future__ import annotations

import random
from collections.abc import Callable

from tests.faults.sheets import UNITS, Table

SENTINELS = ("0", "-1", "99999", "9.9E37", "9.91E37", "9.99E+09", "1e308", "-1e308", "5e-324", "1e-300", "NaN", "inf",
             "OL", "ERR", "---", "", "?", "760000", "25000", "1e400", "+", "0x10", "1.2.3", "１２")  # fmt: skip
HEADINGS = ("p", "", "p [mbar]", "p [10^-3 mbar]", "p [Torr x1000]", "milli Torr", "p [kPa]", "p error", "#",
            "valve", "time", "p [°C]", "Pressure (inHg)", "uHg", "p[e-3mbar]", "p1", "[micron]", "\x1b[31mp",
            "p\u202eq")  # fmt: skip
STEPS = (3600.0, -3600.0, 86400.0, -86400.0, 3.2e7, -3.2e7, 3.2e9, 1.5e11, -6e10, 0.5, -3.0)
"""By how much a clock is put on or back: an hour, a day, a year, a century, out of the calendar. [s]"""

Mutation = Callable[[Table, random.Random], None]


def _span(count: int, rng: random.Random) -> tuple[int, int]:
    begin = rng.randrange(count)
    return begin, min(count, begin + rng.choice((1, 2, 5, 30, 200)))


def _keep(table: Table, rows: list[int]) -> None:
    """Leave these rows, in this order."""
    table.words = {new: table.words[old] for new, old in enumerate(rows) if old in table.words}
    table.time = [table.time[i] for i in rows]
    table.micron = [table.micron[i] for i in rows]


def drop_rows(table: Table, rng: random.Random) -> None:
    begin, end = _span(len(table.time), rng)
    _keep(table, [i for i in range(len(table.time)) if not begin <= i < end])


def thin_out(table: Table, rng: random.Random) -> None:
    every = rng.choice((2, 3, 10, 60))
    _keep(table, list(range(rng.randrange(every), len(table.time), every)))


def repeat_rows(table: Table, rng: random.Random) -> None:
    begin, end = _span(len(table.time), rng)
    rows = list(range(len(table.time)))
    _keep(table, [*rows[:end], *rows[begin:end], *rows[end:]])


def shuffle_rows(table: Table, rng: random.Random) -> None:
    begin, end = _span(len(table.time), rng)
    rows = list(range(len(table.time)))
    part = rows[begin:end]
    rng.shuffle(part)
    _keep(table, [*rows[:begin], *part, *rows[end:]])


def turn_round(table: Table, rng: random.Random) -> None:
    _keep(table, list(range(len(table.time)))[::-1])


def cut_off(table: Table, rng: random.Random) -> None:
    at = rng.randrange(len(table.time))
    _keep(table, list(range(len(table.time)))[: at + 1] if rng.random() < 0.7 else list(range(at, len(table.time))))


def append_second(table: Table, rng: random.Random) -> None:
    """Append the log to itself, with its own times or later ones."""
    later = rng.choice((0.0, table.time[-1] + 60.0, 1e6)) if table.time else 0.0
    table.time += [t + later for t in table.time]
    table.micron += table.micron


def add_sentinel(table: Table, rng: random.Random) -> None:
    word = rng.choice(SENTINELS)
    for _ in range(rng.choice((1, 1, 2, 5, 40))):
        table.words[rng.randrange(len(table.time))] = word


def sentinel_run(table: Table, rng: random.Random) -> None:
    word = rng.choice(SENTINELS)
    for i in range(*_span(len(table.time), rng)):
        table.words[i] = word


def sentinel_at_end(table: Table, rng: random.Random) -> None:
    word = rng.choice(SENTINELS)
    for i in range(max(len(table.time) - rng.choice((1, 3, 30)), 0), len(table.time)):
        table.words[i] = word


def step_clock(table: Table, rng: random.Random) -> None:
    at, by = rng.randrange(len(table.time)), rng.choice(STEPS)
    table.time = [t + (by if i >= at else 0.0) for i, t in enumerate(table.time)]


def leap_once(table: Table, rng: random.Random) -> None:
    table.time[rng.randrange(len(table.time))] += rng.choice(STEPS)


def squeeze_clock(table: Table, rng: random.Random) -> None:
    by = rng.choice((1e-6, 1e-3, 60.0, 3600.0, 1e6, 0.0, -1.0))
    table.time = [t * by for t in table.time]


def scale(table: Table, rng: random.Random) -> None:
    by = rng.choice((1e-320, 1e-12, 1e-3, 0.133, 7.5, 1e3, 1e6, 1e12, 1e300, -1.0, 0.0))
    table.micron = [p * by for p in table.micron]


def shift(table: Table, rng: random.Random) -> None:
    by = rng.choice((-30.0, -760_000.0, 1e9, 1e-9, 500.0, 5.0))
    table.micron = [p + by for p in table.micron]


def bend(table: Table, rng: random.Random) -> None:
    """Change the scale from one row on: a gauge that changes its unit or its range."""
    at, by = rng.randrange(len(table.time)), rng.choice((0.97, 1.03, 2.0, 7.5, 1e-3, 1e3))
    table.micron = [p * (by if i >= at else 1.0) for i, p in enumerate(table.micron)]


def rail(table: Table, rng: random.Random) -> None:
    if rng.random() < 0.5:
        top = rng.choice((500.0, 1000.0, 5000.0, 25_000.0))
        table.micron = [min(p, top) for p in table.micron]
    else:
        bottom = rng.choice((1.0, 50.0, 300.0, 2000.0))
        table.micron = [max(p, bottom) for p in table.micron]


def coarsen(table: Table, rng: random.Random) -> None:
    step = rng.choice((1.0, 10.0, 100.0, 1000.0, 1e6))
    table.micron = [round(p / step) * step for p in table.micron]


def freeze(table: Table, rng: random.Random) -> None:
    begin, end = _span(len(table.time), rng)
    table.micron[begin:end] = [table.micron[begin]] * (end - begin)


def more_decimals(table: Table, rng: random.Random) -> None:
    table.places = rng.choice((0, 1, 6, 12))


def wrong_unit(table: Table, rng: random.Random) -> None:
    """Change the heading's unit and leave the numbers, or the other way round."""
    unit, size, places = rng.choice(UNITS)
    if rng.random() < 0.5 and len(table.names) > 1:
        table.names[1] = f"p [{unit}]"
    else:
        table.size, table.places = size, places


def rename(table: Table, rng: random.Random) -> None:
    if table.names:
        table.names[rng.randrange(len(table.names))] = rng.choice(HEADINGS)


def no_names(table: Table, rng: random.Random) -> None:
    table.names = []


def add_column(table: Table, rng: random.Random) -> None:
    kinds = (
        lambda: [table.cell(i) for i in range(len(table.time))],
        lambda: [f"{0.75 * p:.1f}" for p in table.micron],
        lambda: [f"{21 + 0.01 * i:.2f}" for i in range(len(table.time))],
        lambda: [str(i) for i in range(len(table.time))],
        lambda: [rng.choice(("OPEN", "CLOSED")) for _ in table.time],
        lambda: ["OPEN"] * (len(table.time) // 2) + ["CLOSED"] * (len(table.time) - len(table.time) // 2),
        lambda: [rng.choice(SENTINELS)],
        lambda: [""],
    )
    column = rng.choice(kinds)()
    table.more.append([cell.replace(",", ".") if table.mark == "," else cell for cell in column] or [""])
    if table.names and rng.random() < 0.9:
        table.names.append(rng.choice(("p2 [micron]", "T [°C]", "row", "valve", "dp", *HEADINGS)))


def lose_column(table: Table, rng: random.Random) -> None:
    if table.names:
        table.names.pop(rng.randrange(len(table.names)))


def other_mark(table: Table, rng: random.Random) -> None:
    table.mark = rng.choice((",", ";", "\t", "|", " ", ", ", ":"))


def other_decimal(table: Table, rng: random.Random) -> None:
    table.decimal = "," if table.decimal == "." else "."


def other_form(table: Table, rng: random.Random) -> None:
    table.form = rng.choice(("iso", "local", "clock", "seconds", "minutes", "epoch"))


MUTATIONS: tuple[Mutation, ...] = (
    drop_rows, thin_out, repeat_rows, shuffle_rows, turn_round, cut_off, cut_off, append_second, add_sentinel,
    add_sentinel, sentinel_run, sentinel_at_end, step_clock, step_clock, leap_once, squeeze_clock, scale, shift, bend,
    rail, coarsen, freeze, more_decimals, wrong_unit, rename, no_names, add_column, add_column, lose_column,
    other_mark, other_decimal,
    other_form,
)  # fmt: skip


def mutated(table: Table, rng: random.Random) -> list[str]:
    """Change a table some times over; return the names of the changes."""
    done = []
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        if not table.time:
            break
        change = rng.choice(MUTATIONS)
        change(table, rng)
        done.append(change.__name__)
    return done
