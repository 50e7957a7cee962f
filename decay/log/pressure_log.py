"""What a log is once it has been read: one gauge's readings in order of time, with marks and notes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from typing import ClassVar

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray, frozen
from decay.table.read_options import Note


class Valve(Enum):
    """What a mark says of the valve between system and pump."""

    CLOSED = "closed"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment at which the log itself says that the valve to the pump was closed or opened."""

    time: float  # time since the first row of the log, of the first reading in the new state [s]
    valve: Valve  # the state from then on
    word: str = ""  # what the file says, e.g. ``"CLOSED"``
    column: str = ""  # the column that says it
    line: int | None = None  # line in the file, counted from 1 [-]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class PressureLog:
    """One gauge's readings in order of time.

    Parameters
    ----------
    source : str
        The file as the user named it; ``"-"`` for standard input.
    time : ndarray, shape (n,)
        Time since the first data row of the file, strictly increasing. [s]
    pressure : ndarray, shape (n,)
        Absolute pressure; ``nan`` where the gauge was over range. [Pa]
    line : ndarray of int, shape (n,)
        Line in the file that each reading came from, counted from 1. [-]
    is_over_range : ndarray of bool, shape (n,)
        True where the gauge said that the pressure was above its range. [-]
    step : ndarray, shape (n,)
        Smallest change the log can show at each reading (the gauge's or the file's last digit). [Pa]
    gauge : str
        The column's name in the file, or ``"column N"``
    unit : str
        Unit that the pressures had in the file.
    rows : int
        Data rows in the file; ``rows - len(time)`` is accounted for by ``notes``. [-]
    notes : tuple of Note
        Everything that was guessed, mended or left out.
    temperature : ndarray, shape (n,), or None
        Logged temperature, where the file has one that is usable. [K]
    other_gauges : dict of str to ndarray, shape (n,)
        Further pressure columns at the same times, by name; ``nan`` where one has no reading. [Pa]
    started : str or None
        Date and time of the first row, ISO 8601 as the file gives it (no time zone is invented).
    clock_start : float or None
        Time of day of the first row, where the log has a clock but no date; since midnight. [s]
    marks : tuple of Mark
        Where the log itself says that the valve was closed or opened, in order of time.
    is_cleared : bool
        Single wrong readings have been looked for and set aside.
    """

    source: str
    time: FloatArray
    pressure: FloatArray
    line: IntArray
    is_over_range: BoolArray
    step: FloatArray
    gauge: str
    unit: str
    rows: int
    notes: tuple[Note, ...] = ()
    temperature: FloatArray | None = None
    other_gauges: dict[str, FloatArray] = field(default_factory=dict)
    started: str | None = None
    clock_start: float | None = None
    marks: tuple[Mark, ...] = ()
    is_cleared: bool = False
    from_frame: ClassVar[Callable[..., PressureLog]]  # `decay.log.frame.from_frame`: the reader's room gives it
    _sampling: float | None = field(default=None, init=False)  # once: it is asked for often, and sorts all distances

    def __post_init__(self) -> None:
        for name in ("time", "pressure", "line", "is_over_range", "step", "temperature"):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, frozen(value))
        lengths = {len(self.time), len(self.pressure), len(self.line), len(self.is_over_range), len(self.step)}
        if len(lengths) != 1:
            raise ValueError("the arrays of a log must have one length")
        if len(self.time) > 1 and not bool(np.all(np.diff(self.time) > 0)):
            raise ValueError("times of a log must increase strictly")

    def __repr__(self) -> str:
        return (f"<PressureLog {self.source!r}: {len(self.time):,} readings of {self.gauge!r} in "
                f"{self.duration:,.0f} s, logged in {self.unit}>")

    def within(self, start: float, end: float) -> BoolArray:
        """Return which readings lie between two times [s], both ends included."""
        return (self.time >= start) & (self.time <= end)

    def readings(self, start: float, end: float) -> tuple[FloatArray, FloatArray]:
        """Return times since the first of two times [s] and the pressures between them that are numbers. [Pa]"""
        inside = self.within(start, end) & np.isfinite(self.pressure)
        return self.time[inside] - start, self.pressure[inside]

    def temperatures(self, start: float, end: float) -> FloatArray:
        """Return the temperatures that were logged between two times [s]; none where the log has no such column. [K]"""
        known = np.zeros(0) if self.temperature is None else self.temperature[self.within(start, end)]
        return known[np.isfinite(known)]

    @property
    def sampling(self) -> float:
        """Median distance between readings. [s]"""
        if self._sampling is None:
            found = float(np.median(np.diff(self.time), overwrite_input=True)) if len(self.time) > 1 else float("nan")
            object.__setattr__(self, "_sampling", found)
            return found
        return self._sampling

    @property
    def duration(self) -> float:
        """Time from the first to the last reading. [s]"""
        return float(self.time[-1] - self.time[0]) if len(self.time) else 0.0
