"""A hold as it grows: what the log would have proved, had it ended earlier."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from decay.analysis import Analysis
from decay.errors import RangeError
from decay.judge.criteria import Criterion
from decay.log.pressure_log import PressureLog
from decay.phases import hold_between
from decay.pipeline import Ahead, analyze_log
from decay.system import System

MOMENTS = 24
"""How often a growing hold is judged, evenly over its length: the pictures of an animation. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """A hold as far as it had come."""

    elapsed: float  # time since the valve closed [s]
    analysis: Analysis | None  # what the log so far proves; ``None`` where it has too few readings yet


@dataclass(frozen=True, slots=True, eq=False)
class GrowingHold:
    """One hold, judged again and again while it grows."""

    name: str  # what the class calls it
    log: PressureLog  # all readings
    # When the valve closed, and the last reading of the hold [s]
    start: float
    end: float
    moments: tuple[Moment, ...]  # in order of time; the last one is the whole hold
    truth: float | None = None  # the leak that an invented job was made with; ``None`` where nobody knows it [Pa/s]


def grow(
    log: PressureLog,
    system: System,
    criterion: Criterion | str | Path | None,
    hold: tuple[float, float],
    *,
    name: str = "",
    truth: float | None = None,
    count: int = MOMENTS,
    told: Callable[[int], None] = lambda more: None,
) -> GrowingHold:
    """Judge a hold as it grows.

    Parameters
    ----------
    log : PressureLog
        The readings.
    system : System
        What the user told about the job.
    criterion : Criterion, str or Path, optional
        As for `decay.analyze`.
    hold : tuple of float
        When the valve closed and when the hold ended. [s]
    name : str
        What the class calls it.
    truth : float, optional
        The leak that an invented job was made with. [Pa/s]
    count : int
        How many moments. [-]
    told : callable
        Told after each moment how many more are done.

    Returns
    -------
    GrowingHold
        Its moments are judged by the moment at which the valve closed as the whole log shows it: a look at a hold that
        is under way would know that less well.

    Raises
    ------
    RangeError
        If the hold has too few readings, or lies outside the log.
    """
    whole = hold_between(log, *hold)
    moments = []
    for elapsed in np.linspace(whole.duration / count, whole.duration, count):
        moments.append(Moment(float(elapsed), _so_far(log, system, criterion, whole.start, whole.start + elapsed)))
        told(1)
    return GrowingHold(name, log, whole.start, whole.end, tuple(moments), truth)


def _so_far(
    log: PressureLog, system: System, criterion: Criterion | str | Path | None, start: float, end: float
) -> Analysis | None:
    try:
        # A picture of a moment shows no next test.
        return analyze_log(until(log, end), system, criterion, hold=(start, end), ahead=Ahead.NOTHING)
    except RangeError:  # too few readings for a hold
        return None


def until(log: PressureLog, end: float) -> PressureLog:
    """Return a log as it stood at a moment.

    Parameters
    ----------
    log : PressureLog
        The whole log.
    end : float
        The moment, since its first row. [s]
    """
    n = int(np.searchsorted(log.time, end, side="right"))

    def cut(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            return value[:n]
        return {name: column[:n] for name, column in value.items()} if isinstance(value, dict) else value

    kept = {field.name: cut(getattr(log, field.name)) for field in fields(log) if field.init}
    return replace(log, **{**kept, "rows": n, "marks": tuple(m for m in log.marks if m.time <= end)})
