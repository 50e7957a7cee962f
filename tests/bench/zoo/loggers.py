"""Loggers that misbehave as real ones do: clocks, rows, headings, units, further columns."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np

from tests.bench.zoo.scene import scene
from tests.bench.zoo.sheet import SIZES, STARTED, Sheet, dated, usual

HEADINGS = (
    ("milli Torr", 1.0), ("m Torr", 1.0), ("m bar", 750.0617), ("10^-3 mbar", 0.7500617), ("e-3mbar", 0.7500617),
    ("x1e-3 mbar", 0.7500617), ("1e-5 Torr", 0.01), ("Torr x1000", 1.0), ("k Pa", 7500.617), ("mTorr x10", 10.0),
    ("uHg", 1.0), ("µm", 1.0), ("um", 1.0), ("µmHg", 1.0), ("mPa", 0.007500617), ("10^-2 Torr", 10.0),
)
"""Units as headings write them, and their size in microns. `Torr x1000` is a reading in Torr times 1000."""


def _elapsed(seconds: np.ndarray) -> tuple[str, ...]:
    return tuple(f"{s:.1f}" for s in seconds.tolist())


def restarts(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose elapsed time begins anew: a second recording was appended in the pull or in the hold."""
    here = scene(seed)
    start, end = here.last
    at = rng.uniform(0.3 * start, 0.9 * start) if rng.random() < 0.5 else rng.uniform(start + 0.2 * (end - start), end)
    first = here.time < at
    seconds = np.where(first, here.time, here.time - here.time[~first][0])
    return replace(usual(here), stamps=_elapsed(seconds), time_heading="t(s)")


def stray_row(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with one more row, days later, of a gauge in the open air."""
    sheet = usual(scene(seed))
    rows = np.append(np.arange(len(sheet.time)), len(sheet.time) - 1)
    late = STARTED + timedelta(seconds=float(sheet.time[-1]) + 86400 * float(rng.uniform(1.5, 20.0)))
    grown = replace(sheet, stamps=dated(sheet.time)).with_rows(rows)
    stamps = (*grown.stamps[:-1], late.strftime("%Y-%m-%dT%H:%M:%S")) if grown.stamps else None
    return replace(grown, stamps=stamps).with_cells({len(rows) - 1: str(rng.choice(("760000", "OL", "25000")))})


def minute_stamps(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose clock shows no seconds: several rows have the same minute."""
    here = scene(seed)
    sheet = usual(here).with_rows(np.arange(0, len(here.time), max(1, int(10.0 / here.sampling))))
    form = str(rng.choice(("%Y-%m-%d %H:%M", "%m/%d/%Y %I:%M %p")))
    return replace(sheet, stamps=dated(sheet.time, form))


def on_change(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log that has a row only where the reading has changed, and its last row."""
    sheet = usual(scene(seed))
    cells, last = sheet.cells, len(sheet.cells) - 1
    keep = [i for i in range(last + 1) if i in (0, last) or cells[i] != cells[i - 1]]
    return sheet.with_rows(np.array(keep))


def clock_step(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose clock is put on or back by an hour, in the pull or in the hold."""
    here = scene(seed)
    start, end = here.last
    at = rng.uniform(0.3 * start, end)
    seconds = here.time + np.where(here.time >= at, float(rng.choice((-3600.0, 3600.0))), 0.0)
    return replace(usual(here), stamps=dated(seconds + 7200.0))


def powers_of_ten(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose heading has a power of ten or a spelt prefix in its unit."""
    here = scene(seed)
    heading, size = HEADINGS[seed % len(HEADINGS)]
    form = str(rng.choice(("p [{}]", "P({})", "pressure / {}")))
    shown = np.minimum(here.micron, 760_000.0)
    digits = max(0, int(np.ceil(np.log10(size))) + 1)
    cells = tuple(f"{max(v, 0.0) / size:.{digits}f}" for v in np.round(shown).tolist())
    return replace(usual(here), cells=cells, size=size, heading=form.format(heading), upper=1e9)


def usual_units(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log in one of the usual units, with the names that people give."""
    here = scene(seed)
    unit = ("micron", "mTorr", "Torr", "mbar", "Pa", "kPa")[seed % 6]
    names = ("p_1 [{}]", "Pressure ({})", "# p/{}", "vacuum, {}", "P {}")
    digits = {"micron": 0, "mTorr": 0, "Torr": 3, "mbar": 3, "Pa": 1, "kPa": 4}[unit]
    shown = np.minimum(here.micron, 760_000.0) / SIZES[unit]
    cells = tuple(f"{v:.{digits}f}" for v in shown.tolist())
    heading = names[seed // 6 % len(names)].format(unit).replace(",", ";")
    return replace(
        usual(here), cells=cells, unit=unit, heading=heading, upper=1e9, step=10.0**-digits * SIZES[unit],
        stamps=_elapsed(here.time / 60.0) if unit == "mbar" else None,
        time_heading="time [min]" if unit == "mbar" else "time",
    )  # fmt: skip


def error_column(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with a column of the reading's uncertainty beside it."""
    here = scene(seed)
    sheet = usual(here)
    name = str(rng.choice(("dp [micron]", "p error [micron]", "sigma [micron]", "uncertainty (micron)")))
    errors = tuple(f"{0.1 * v + 0.5:.1f}" for v in here.micron.tolist())
    return replace(sheet, heading="p [micron]", more=((name, errors),))


def valve_marks(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with a column that says when the valve was open and when it was closed."""
    here = scene(seed)
    closed = np.zeros(len(here.time), dtype=bool)
    for start, end in here.holds:
        closed |= here.inside(start + 1e-9, end)
    words = (("OPEN", "CLOSED"), ("0", "1"), ("pump", "hold"))[int(rng.integers(3))]
    name = {"OPEN": "valve", "0": "valve closed", "pump": "state"}[words[0]]
    marks = tuple(words[int(c)] for c in closed.tolist())
    return replace(usual(here), more=((name, marks),), has_mark=True)
