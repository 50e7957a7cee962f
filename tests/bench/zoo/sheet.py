"""A log as some logger writes it: cells, names and moments as text, with the truth beside it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from decay.arrays import FloatArray
from decay.log import PressureLog, ReadOptions, read_log
from tests.bench.zoo.scene import Scene

STARTED = datetime(2026, 3, 14, 8, 30)
SIZES = {"micron": 1.0, "mTorr": 1.0, "Torr": 1000.0, "Pa": 7.500617, "mbar": 750.0617, "kPa": 7500.617}
"""Units in microns, from 1 Torr = 101325/760 Pa, to the seven digits that a log can show."""
USUAL_STEPS = ((1_000.0, 1.0), (10_000.0, 10.0), (1e9, 100.0))
"""Pairs of the pressure below which a step holds, and the step. [micron]"""
FEWEST = 10
"""A hold of fewer readings within the range cannot be fitted, and is not counted as lost. [-]"""
RAIL = 25_000.0
"""Top of a usual gauge's range. [micron]"""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One written log and what is true of it.

    Parameters
    ----------
    scene : Scene
        What happened.
    time : ndarray, shape (n,)
        Moments of the rows. [s]
    cells : tuple of str
        The pressure column.
    upper : float
        Top of the gauge's range. [micron]
    unit : str
        Unit of the cells, a key of ``SIZES``.
    heading : str
        Name of the pressure column.
    stamps : tuple of str or None
        The time column; ``None`` for dates with seconds.
    time_heading : str
        Its name.
    more : tuple of (str, tuple of str)
        Further columns.
    before : str
        Lines before the names.
    delimiter : str
        Between the columns.
    has_mark : bool or None
        Whether the closing leaves a mark; ``None`` lets the readings tell.
    has_answer : bool
        Whether a gauge that sits there can see the hold at all.
    step : float
        The gauge's step where the hold begins. [micron]
    size : float or None
        One unit of the cells, where ``unit`` does not say it. [micron]
    """

    scene: Scene
    time: FloatArray
    cells: tuple[str, ...]
    upper: float = RAIL
    unit: str = "micron"
    heading: str = "pressure [micron]"
    stamps: tuple[str, ...] | None = None
    time_heading: str = "time"
    more: tuple[tuple[str, tuple[str, ...]], ...] = ()
    before: str = ""
    delimiter: str = ","
    has_mark: bool | None = None
    has_answer: bool = True
    step: float = 1.0
    size: float | None = None

    def text(self) -> str:
        """Return the log."""
        stamps = self.stamps if self.stamps is not None else dated(self.time)
        columns = [(self.time_heading, stamps), (self.heading, self.cells), *self.more]
        lines = [self.delimiter.join(name for name, _ in columns)]
        lines += [self.delimiter.join(row) for row in zip(*(cells for _, cells in columns), strict=True)]
        return self.before + "\n".join(lines) + "\n"

    def read(self, options: ReadOptions | None = None) -> PressureLog:
        """Return the log as the reader gives it."""
        return read_log(io.BytesIO(self.text().encode()), options or ReadOptions())

    def with_rows(self, order: FloatArray) -> Sheet:
        """Return the sheet with these rows, in this order; one number may stand more than once."""
        index = order.tolist()
        pick = lambda cells: tuple(cells[i] for i in index)  # noqa: E731
        return replace(
            self,
            time=self.time[order],
            cells=pick(self.cells),
            stamps=None if self.stamps is None else pick(self.stamps),
            more=tuple((name, pick(cells)) for name, cells in self.more),
        )

    def with_cells(self, changed: dict[int, str]) -> Sheet:
        """Return the sheet with other words in some rows of the pressure column."""
        cells = list(self.cells)
        for i, word in changed.items():
            cells[i] = word
        return replace(self, cells=tuple(cells))

    @property
    def numbers(self) -> FloatArray:
        """What the cells say, words and numbers that mean none left out. [micron]"""
        size = SIZES[self.unit] if self.size is None else self.size
        found = []
        for cell in self.cells:
            try:
                found.append(float(cell) * size)
            except ValueError:
                continue
        values = np.array(found)
        return values[np.isfinite(values) & (values < 1.2 * 760_000.0)]

    @property
    def holds(self) -> tuple[tuple[float, float], ...]:
        """The holds as far as the gauge's range and the rows reach. [s]"""
        scene, found = self.scene, []
        for start, end in scene.holds:
            over = scene.inside(start, end) & (scene.pure > self.upper)
            last = float(scene.time[int(np.argmax(over))]) if over.any() else end
            found.append((start, min(last, float(np.max(self.time)))))
        return tuple(found)

    @property
    def leaves_mark(self) -> bool:
        """Whether the last hold's rise stands out of step and noise, so that it can be told from the pull."""
        start, end = self.holds[-1]
        if np.count_nonzero((self.time > start) & (self.time < end)) < FEWEST:
            return False
        if self.has_mark is not None:
            return self.has_mark
        before, after = np.interp((start, end), self.scene.time, self.scene.pure)
        return bool(after - before > 3.0 * self.step + 8.0 * self.scene.noise)


def dated(time: FloatArray, form: str = "%Y-%m-%dT%H:%M:%S") -> tuple[str, ...]:
    """Return moments as dates, to whole seconds."""
    return tuple((STARTED + timedelta(seconds=round(s))).strftime(form) for s in time.tolist())


def steps_at(micron: FloatArray, steps: Sequence[tuple[float, float]]) -> FloatArray:
    """Return the step of a display that is coarser further up. [micron]"""
    limits = np.array([limit for limit, _ in steps[:-1]])
    return np.asarray([step for _, step in steps])[np.searchsorted(limits, micron, side="right")]


def written(
    micron: FloatArray,
    steps: Sequence[tuple[float, float]] = USUAL_STEPS,
    upper: float = RAIL,
    over: str = "OL",
) -> tuple[str, ...]:
    """Return readings in whole steps, in microns, and a word above the range."""
    size = steps_at(micron, steps)
    shown = np.round(micron / size) * size
    return tuple(over if value > upper else f"{value:.0f}" for value in shown.tolist())


def usual(scene: Scene, **changes: object) -> Sheet:
    """Return the sheet of a plain gauge and a plain logger."""
    start = np.interp(scene.last[0], scene.time, scene.pure)
    step = float(steps_at(np.array([start]), USUAL_STEPS)[0])
    plain = Sheet(scene=scene, time=scene.time, cells=written(scene.micron), step=step)
    return replace(plain, **changes) if changes else plain  # type: ignore[arg-type]
