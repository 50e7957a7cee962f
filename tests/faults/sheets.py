"""Whole logs as tables of words: a pull and what followed, with its names, its moments and its pressures."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from datetime import datetime, timedelta

STARTED = datetime(2026, 3, 14, 9, 0, 0)
ATMOSPHERE = 760_000.0
"""Of the air outside. [micron]"""


@dataclass
class Table:
    """A log before it is written.

    Parameters
    ----------
    time : list of float
        Moments of the rows. [s]
    micron : list of float
        Readings. [micron]
    names : list of str
        Column headings; empty for none.
    form : str
        How moments are written: ``iso``, ``clock``, ``local``, ``seconds``, ``minutes``, ``epoch``.
    mark, decimal : str
        Between the cells, and inside numbers.
    size : float
        One unit of the written pressures. [micron]
    places : int
        Decimals of the written pressures.
    words : dict of int to str
        Rows that have a word instead of the pressure.
    more : list of list of str
        Further columns.
    """

    time: list[float]
    micron: list[float]
    names: list[str] = field(default_factory=lambda: ["time", "pressure [micron]"])
    form: str = "iso"
    mark: str = ","
    decimal: str = "."
    size: float = 1.0
    places: int = 0
    words: dict[int, str] = field(default_factory=dict)
    more: list[list[str]] = field(default_factory=list)

    def stamp(self, seconds: float) -> str:
        """Return one moment as text."""
        if self.form == "seconds":
            return f"{seconds:.1f}".replace(".", self.decimal)
        if self.form == "minutes":
            return f"{seconds / 60:.4f}".replace(".", self.decimal)
        if self.form == "epoch":
            return f"{1_773_478_800 + seconds:.0f}"
        try:
            moment = STARTED + timedelta(seconds=round(seconds))
        except OverflowError:
            moment = datetime.max if seconds > 0 else datetime.min
        if self.form == "clock":
            return moment.strftime("%H:%M:%S")
        if self.form == "local":
            return f"{moment:%d.%m.}{moment.year:04d} {moment:%H:%M:%S}"
        return moment.isoformat(timespec="seconds")

    def cell(self, row: int) -> str:
        """Return one pressure as text."""
        if row in self.words:
            return self.words[row]
        value = self.micron[row] / self.size
        if not math.isfinite(value) or (value and not 1e-6 < abs(value) < 1e15):
            return f"{value:.4e}".replace(".", self.decimal)
        return f"{value:.{self.places}f}".replace(".", self.decimal)

    def lines(self) -> list[str]:
        """Return the rows as text, the names first."""
        rows = [[self.stamp(t), self.cell(i), *(column[i % len(column)] for column in self.more if column)]
                for i, t in enumerate(self.time)]
        head = [self.mark.join(self.names)] if self.names else []
        return [*head, *(self.mark.join(row) for row in rows)]


def whole_table(rng: random.Random) -> Table:
    """Return a log that is sound: a pull, a hold of some kind, and perhaps what came after."""
    step = rng.choice((5.0, 5.0, 10.0, 20.0))
    base = math.exp(rng.uniform(math.log(20.0), math.log(900.0)))
    pull, hold = rng.uniform(300.0, 900.0), rng.choice((300.0, 620.0, 620.0, 1210.0))
    fast = rng.uniform(8.0, 40.0)
    rate = rng.choice((0.0, 0.0, 0.0, 0.3, 5.0, 80.0, 20_000.0))
    damp, slow = rng.choice((0.0, 5.0, 200.0)), rng.uniform(60.0, 900.0)
    jump = rng.choice((0.0, 15.0, 60.0))
    noise = rng.choice((0.3, 1.0))
    time, micron = [], []
    count = int((pull + hold) / step)
    for i in range(count):
        t = i * step
        since = max(t - pull, 0.0)
        value = base + ATMOSPHERE * math.exp(-min(t, pull) / fast)
        value += jump * (1 - math.exp(-since / 6.0)) + damp * (1 - math.exp(-since / slow)) + rate * since / 60.0
        time.append(t)
        micron.append(min(max(value + rng.gauss(0.0, noise), 0.0), ATMOSPHERE))
    if rng.random() < 0.2:
        for i in range(rng.randrange(3, 20)):
            time.append((count + i) * step)
            micron.append(ATMOSPHERE * (1 - math.exp(-(i + 1) * step / 20.0)))
    table = Table(time, micron)
    table.mark = rng.choice((",", ",", ";", "\t", "|"))
    table.form = rng.choice(("iso", "iso", "local", "clock", "seconds", "minutes", "epoch"))
    table.decimal = "," if table.mark == ";" and rng.random() < 0.5 else "."
    unit, table.size, table.places = rng.choice(UNITS)
    table.names = [rng.choice(("time", "Time", "t")), rng.choice(("p [{}]", "Pressure ({})", "vacuum/{}")).format(unit)]
    if table.form == "seconds":
        table.names[0] = "t [s]"
    if table.form == "minutes":
        table.names[0] = "t [min]"
    return table


UNITS = (("micron", 1.0, 0), ("mTorr", 1.0, 0), ("Torr", 1000.0, 3), ("mbar", 750.0617, 3), ("Pa", 7.500617, 1))
"""Name, size in microns, and decimals."""
