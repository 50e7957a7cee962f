"""What the whole log shows around the stretch that is judged, whatever the phases look like.

"Tight" and "outgassing" are said of a system, so they are held against every reading around the judged stretch, without
asking the phases. A rise that leads up to the stretch with no fall between (a piece of a hold, the end of the range
after a gross rise), or that follows it before the next pull, takes the answer back where it exceeds the interval's
upper end by more than three steps, six standard deviations and 5 % of the pressure (P12): cause unresolved, no upper
end. A sudden rise to a twentieth of an atmosphere or off the range is gas let in where the closing before it is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray, median
from decay.constants import STANDARD_ATMOSPHERE
from decay.log.pressure_log import PressureLog, Valve
from decay.quantities import MICRON

NEAR = 0.05
"""Share of the pressure by which a gauge may wander or jump at a change of its range without anything going on (one to
four per cent is common, from logs of many gauges). [-]"""
STEPS = 3.0
"""Steps of the gauge within which a reading stays the same for this purpose. [-]"""
SCATTERS = 6.0
"""Standard deviations of the readings' noise, the same. [-]"""
SUDDEN = 120.0
"""Whoever lets gas in is done within this time. Common practice, no source. [s]"""
SUDDEN_ROWS = 6
"""Or within so many rows of a log that is sparse. [-]"""
EDGE = 60.0
"""A closing may be placed so much too late, or rig and system meet within it. [s]"""
GROSS = 1000.0 * MICRON
"""Rise within that time that is more than rig and system make when they meet, if it is large beside its base. [Pa]"""
GROSS_FACTOR = 3.0
"""Factor of the base from which on a rise is large beside it. [-]"""
QUICKENS = 3.0
"""So many times faster than before it a stretch must begin to rise where the valve was closed at its start: the rate of
what is held only falls. [-]"""
BESIDE = 600.0
"""Time on each side of a closing over which the two rates are compared. [s]"""
OPENED = 0.05 * STANDARD_ATMOSPHERE
"""From this pressure on a sudden rise counts as gas let in, or as a system that was opened. [Pa]"""


class Where(StrEnum):
    """On which side of the judged stretch the log contradicts it."""

    BEFORE = "before"
    AFTER = "after"


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A rise beside the judged stretch that is faster than the stretch allows."""

    where: Where  # before or after the stretch
    # When it rises [s]
    start: float
    end: float
    # From which pressure to which; the top of the range where the gauge left it [Pa]
    bottom: float
    top: float
    is_over_range: bool  # whether it leaves the gauge's range

    @property
    def rate(self) -> float:
        """How fast it rises on the average. [Pa/s]"""
        return (self.top - self.bottom) / max(self.end - self.start, 1e-9)


@dataclass(frozen=True, slots=True)
class JudgedStretch:
    """What is judged, and what is claimed of it."""

    # Its ends [s]
    start: float
    end: float
    upper: float  # the steady rise that is claimed not to be exceeded [Pa/s]
    noise: float  # standard deviation of a reading there [Pa]
    is_closing_known: bool  # whether readings, a mark or the user tell that the valve was closed


def whole(log: PressureLog) -> FloatArray:
    """Return the readings without lone odd ones, over range as the highest that the log shows. [Pa]"""
    known = np.isfinite(log.pressure)
    if not known.any():
        return np.zeros(len(log.pressure))
    top = float(np.max(log.pressure[known]))
    filled = np.where(log.is_over_range, top, log.pressure)
    if not np.isfinite(filled).all():
        filled = np.interp(log.time, log.time[np.isfinite(filled)], filled[np.isfinite(filled)])
    return median_of_three(filled)


def median_of_three(pressure: FloatArray) -> FloatArray:
    """Return the running median of three: it drops one odd reading and keeps what two in a row say."""
    if len(pressure) < 3:
        return pressure
    median = pressure.copy()  # in place, so that a long log is not held several times
    inner, before, behind = median[1:-1], pressure[:-2], pressure[2:]
    higher = np.maximum(before, pressure[1:-1])
    np.minimum(higher, behind, out=higher)
    np.minimum(before, pressure[1:-1], out=inner)
    np.maximum(inner, higher, out=inner)
    return median


def contradiction(log: PressureLog, stretch: JudgedStretch) -> Contradiction | None:
    """Return what beside a judged stretch rises faster than the stretch allows, the larger of two such rises.

    Before it, a rise that leads up to it counts: then the stretch is a piece of what was held, or the rail that a gross
    leak ran into. After it, a rise counts that no pull ends first. A sudden rise to a pressure at which somebody let
    gas in, or off the gauge, is explained where it is known that the valve had been closed before.
    """
    pressure = whole(log)
    found = [side for side in (_before(log, pressure, stretch), _after(log, pressure, stretch)) if side is not None]
    return max(found, key=lambda side: side.top - side.bottom, default=None)


def rise_after(log: PressureLog, stretch: JudgedStretch) -> Contradiction | None:
    """Return what after a judged stretch rises faster than the stretch allows; see `contradiction`."""
    return _after(log, whole(log), stretch)


def end_above(log: PressureLog, stretch: JudgedStretch, line: float) -> float | None:
    """Return the pressure at which a log ends above a line after a stretch that is judged.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    stretch : JudgedStretch
        What is judged.
    line : float
        The line. [Pa]

    Returns
    -------
    float or None
        The end, as the last three readings say; ``None`` below the line, or where gas was let in. [Pa]
    """
    pressure = whole(log)
    end = median(pressure[-3:])
    if end <= line * (1.0 + 1e-6):
        return None
    at = min(max(int(np.searchsorted(log.time, stretch.end, side="right")) - 1, 0), len(log.time) - 1)
    crosses = at + int(np.argmax(pressure[at:] > line))
    begins = max(crosses - 1, 0)
    is_known = stretch.is_closing_known or _is_marked_open(log, begins)
    return None if is_known and crosses > at and _was_opened(log, pressure, begins, float(pressure[begins])) else end


def margin(log: PressureLog, pressure: FloatArray | float, at: IntArray | int, noise: float) -> FloatArray:
    """Return by how much readings may differ while nothing goes on. [Pa]"""
    return np.maximum(np.maximum(STEPS * log.step[at], SCATTERS * noise), NEAR * np.abs(pressure))


def _before(log: PressureLog, pressure: FloatArray, stretch: JudgedStretch) -> Contradiction | None:
    """Return the rise that leads up to the stretch without a fall between."""
    at = int(np.searchsorted(log.time, stretch.start))
    at = min(at, len(log.time) - 1)
    if at < 2:
        return None
    level = float(pressure[at])
    room = float(margin(log, level, at, stretch.noise))
    above = np.flatnonzero(pressure[:at] > level + room)
    first = int(above[-1]) + 1 if len(above) else 0
    if at - first < 1:
        return None
    bottom = first + int(np.argmin(pressure[first : at + 1]))
    low = float(pressure[bottom])
    if level - low <= room + stretch.upper * float(log.time[at] - log.time[bottom]):
        return None
    # In the last seconds rig and system may meet, or the closing may stand a little late: only what is gross counts.
    earlier = int(np.searchsorted(log.time, log.time[at] - EDGE))
    before_edge = float(pressure[earlier]) - low - stretch.upper * float(log.time[earlier] - log.time[bottom])
    is_slow = bottom < earlier and before_edge > room and not _quickens(log, pressure, at, bottom, stretch, room)
    is_gross = level - low > GROSS and level > GROSS_FACTOR * low
    return _between(log, pressure, Where.BEFORE, bottom, at) if is_slow or is_gross else None


def _quickens(
    log: PressureLog, pressure: FloatArray, at: int, bottom: int, stretch: JudgedStretch, room: float
) -> bool:
    """Tell whether a stretch begins so much faster than what leads up to it that the valve was closed there.

    Then what leads up to it crept up under the pump: had it been held, it would have gone on in the stretch.
    """
    now = float(log.time[at])
    back = min(BESIDE, now - float(log.time[bottom]))
    ahead = min(BESIDE, 0.25 * (stretch.end - stretch.start))
    earlier, later = np.interp((now - back, now + ahead), log.time, pressure).tolist()
    before, after = max(float(pressure[at]) - earlier, 0.0) / max(back, 1e-9), (later - float(pressure[at])) / ahead
    return after * ahead > room and after > QUICKENS * before


def _after(log: PressureLog, pressure: FloatArray, stretch: JudgedStretch) -> Contradiction | None:
    """Return the rise that follows the stretch before the pressure falls below it again."""
    at = int(np.searchsorted(log.time, stretch.end, side="right")) - 1
    if at < 0 or at >= len(log.time) - 1:
        return None
    level = median(pressure[max(at - 2, 0) : at + 1])
    room = float(margin(log, level, at, stretch.noise))
    fallen = pressure[at + 1 :] < level - room
    last = at + 1 + int(np.argmax(fallen)) if fallen.any() else len(pressure)
    excess = pressure[at + 1 : last] - level - stretch.upper * (log.time[at + 1 : last] - log.time[at])
    too_high: BoolArray = excess > room
    if not too_high.any():
        return None
    begins = at + int(np.argmax(too_high))
    top = at + 1 + int(np.argmax(pressure[at + 1 : last]))
    if _was_opened(log, pressure, begins, level) and (stretch.is_closing_known or _is_marked_open(log, begins)):
        return None
    return _between(log, pressure, Where.AFTER, begins, top)


def _was_opened(log: PressureLog, pressure: FloatArray, begins: int, level: float) -> bool:
    """Tell whether a rise is sudden and ends where somebody let gas in, or off the gauge's range."""
    soon = (log.time > log.time[begins]) & (log.time <= log.time[begins] + SUDDEN)
    soon[begins + 1 : begins + 1 + SUDDEN_ROWS] = True
    high = pressure >= max(OPENED, 2.0 * level)
    return bool((soon & (high | log.is_over_range)).any())


def _is_marked_open(log: PressureLog, begins: int) -> bool:
    """Tell whether the log itself says that the valve was open when the rise began."""
    said = [mark.valve for mark in log.marks if mark.time <= log.time[begins + 1]]
    return bool(said) and said[-1] is Valve.OPEN


def _between(log: PressureLog, pressure: FloatArray, where: Where, first: int, last: int) -> Contradiction:
    """Return the contradiction between two readings, cut to the part in which most of the rise happens."""
    bottom, top = float(pressure[first]), float(pressure[last])
    rising = pressure[first : last + 1]
    # A tenth of the rise at both ends may take all the time: the middle says how fast it went.
    low = first + int(np.flatnonzero(rising <= bottom + 0.1 * (top - bottom))[-1])
    high = low + int(np.argmax(pressure[low : last + 1] >= top - 0.1 * (top - bottom)))
    if high <= low:
        low, high = first, last
    return Contradiction(
        where, float(log.time[low]), float(log.time[high]), float(pressure[low]), float(pressure[high]),
        bool(log.is_over_range[low : high + 2].any()),
    )  # fmt: skip
