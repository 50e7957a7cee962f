"""Names a gross leak from the few readings between base and the end of the gauge's range, without any phases.

A log that ends on the end of its range, and came there from base at 1,000 to 100,000 micron/min without a hold before,
is a gross leak (H25): its lower bound is the whole rise since the last reading at base, for the closing came at or
after it. Two readings between must show that the rise does not slow down towards twice water's saturation; else it
blocks and names both. What is faster may as well be gas let in, and is named as either, with the bound. The detection
asks for 5,000 micron at least: a thousand or two are rig and system that meet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray
from decay.interval import Interval
from decay.judge.around import NEAR, STEPS, whole
from decay.judge.place import RANGE
from decay.log.pressure_log import PressureLog, Valve
from decay.log.quality import inspect
from decay.quantities import MICRON

SLOWEST = 1000.0 * MICRON / 60.0
"""A rise that is slower takes minutes to the end of any range, and is judged as a hold. [Pa/s]"""
FASTEST = 100_000.0 * MICRON / 60.0
"""A faster one may as well be somebody who lets gas in, within a minute or two. Common practice, no source. [Pa/s]"""
LONGEST = 900.0
"""Time from base to the end of the range at most. [s]"""
LEAST_TOP = 5000.0 * MICRON
"""Up to this pressure a system behind a hose may stand above the gauge at the pump, and meet it in seconds. [Pa]"""
LEAST_GROWTH = 3.0
"""Factor between base and the end of the range at least. [-]"""
GAUGE = 0.9
"""A gauge's gain and its jumps between ranges leave so much of a rate standing. [-]"""
UNDER_WAY = 0.02
"""Share of the rise from which on it has begun. [-]"""
FEWEST_FOR_A_SHAPE = 5
"""Readings between base and rail from which on a rise shows whether it slows down. [-]"""
WATER_READ_TWICE = 2.0 * 4247.0
"""Twice the saturation pressure of water at 30 °C (IAPWS R7-97: 4247 Pa): a thermal gauge reads vapour up to twice too
high, and nobody evacuates wet systems in a warmer place without knowing. [Pa]"""


@dataclass(frozen=True, slots=True)
class GrossRise:
    """A rise from base to the end of the gauge's range."""

    # Last reading at base and first one at the end of the range [s]
    start: float
    end: float
    # Pressures there [Pa]
    base: float
    top: float
    readings: int  # readings between the two [-]
    leak: Interval  # the rate, with its lower bound; no upper end [Pa/s]
    # Whether water cannot make this rise: it is seen not to slow down towards any pressure that water reaches
    is_beyond_water: bool
    # Whether it is so fast that somebody may have let gas in, and the log does not say that the valve was closed
    may_be_let_in: bool


def gross_rise(log: PressureLog) -> GrossRise | None:
    """Return the rise to the end of the gauge's range at which a log ends; ``None`` for a slow one or another end."""
    if not _ends_high(log):
        return None
    is_top = _at_the_end_of_range(log)
    if not is_top[-1]:
        return None
    inside = np.flatnonzero(~is_top)
    if len(inside) < 3:
        return None
    first = int(inside[-1]) + 1
    pressure = whole(log)
    base = _last_at_base(log, pressure, first)
    if base is None:
        return None
    top = float(np.max(pressure[first:]))
    bottom = float(pressure[base])
    if top < max(LEAST_GROWTH * bottom, LEAST_TOP):
        return None
    leak = _rate(log, base, first, bottom, top)
    is_closed = _said(log, float(log.time[first])) is Valve.CLOSED
    if leak is None or leak.low < SLOWEST:
        return None
    return GrossRise(
        float(log.time[base]), float(log.time[first]), bottom, top, first - base - 1, leak,
        _is_beyond_water(log, base, first, top), leak.low > FASTEST and not is_closed,
    )  # fmt: skip


def _ends_high(log: PressureLog) -> bool:
    """Tell whether the last reading is over range or near the highest, before anything is looked at closely."""
    if not len(log.time):
        return False
    known = log.pressure[np.isfinite(log.pressure)]
    return bool(log.is_over_range[-1]) or bool(len(known) and log.pressure[-1] >= (1.0 - NEAR) * np.max(known))


def _at_the_end_of_range(log: PressureLog) -> BoolArray:
    """Return where the gauge stood at the end of its range: by word, or by its highest number."""
    at_top: BoolArray = log.is_over_range | inspect(log).is_railed
    return at_top


def _said(log: PressureLog, time: float) -> Valve | None:
    """Return what the log itself says of the valve at a moment."""
    said = [mark.valve for mark in log.marks if mark.time <= time]
    return said[-1] if said else None


def _last_at_base(log: PressureLog, pressure: FloatArray, first: int) -> int | None:
    """Return the last reading before the rise that ends at ``first``."""
    earliest = int(np.searchsorted(log.time, log.time[first] - LONGEST))
    earliest = max(min(earliest, first - 3), 0)
    before = pressure[earliest:first]
    lowest = earliest + int(np.argmin(before))
    level = float(pressure[lowest])
    room = max(STEPS * float(log.step[lowest]), 2.0 * NEAR * level)
    at_base = np.flatnonzero(log.pressure[earliest:first] <= level + room)
    if not len(at_base):
        return None
    last = earliest + int(at_base[-1])
    # A rise that went up all the time from the first reading looked at is slower than any of these.
    return None if last == earliest and earliest > 0 else last


def _rate(log: PressureLog, base: int, first: int, bottom: float, top: float) -> Interval | None:
    """Return the rate of the rise between two readings, with a lower bound.

    The rise began at or after the last reading at base, so that the whole rise over the whole time is a lower bound,
    to the last reading within the range and to the end of the range alike. Where there are readings enough the
    slower half of the rise is one as well, without the jump as rig and system equalise.
    """
    between = np.arange(base + 1, first)
    between = between[np.isfinite(log.pressure[between])]
    time, pressure = log.time[between], log.pressure[between]
    bounds = [(top - bottom) / float(log.time[first] - log.time[base])]
    if len(between):
        bounds.append((float(pressure[-1]) - bottom) / float(time[-1] - log.time[base]))
    value = max(bounds)
    low = GAUGE * value
    if len(between) >= FEWEST_FOR_A_SHAPE:
        middle = len(between) // 2
        early = float(np.polyfit(time[: middle + 1] - time[0], pressure[: middle + 1], 1)[0])
        late = float(np.polyfit(time[middle:] - time[0], pressure[middle:], 1)[0])
        low = min(low, GAUGE * max(min(early, late), 0.0))
        value = max(value, early, late)
    return Interval(value, low, float("inf")) if value > 0 else None


def _is_beyond_water(log: PressureLog, base: int, first: int, top: float) -> bool:
    """Tell whether a rise goes on where water, or gas left behind a hose, would slow down towards its own pressure.

    Such a source nears its ceiling c with dp/dt = k (c - p). Two parts of the rise give two rates and so the ceiling; a
    rise that does not slow down has none. The way from the last reading in range to the range's end takes at most the
    time to the first one beyond it, which bounds the later rate from below. One reading between tells nothing.
    """
    if top > WATER_READ_TWICE:
        return True
    between = np.arange(base + 1, first)
    between = between[np.isfinite(log.pressure[between])]
    # What still stirs about the base would make the early part look slow.
    low = float(log.pressure[base])
    between = between[int(np.sum(np.cumsum(log.pressure[between] > low + UNDER_WAY * (top - low)) == 0)) :]
    if len(between) < 2:
        return False
    time, pressure = log.time[between], log.pressure[between]
    if top > pressure[-1] or len(between) < 3:
        time, pressure = np.append(time, log.time[first]), np.append(pressure, top)
    half = int(np.searchsorted(pressure[:-1], 0.5 * (pressure[0] + pressure[-1])))
    half = min(max(half, 1), len(pressure) - 2)
    # The end of the range was passed at some time before the first reading beyond it.
    last = -2 if len(pressure) - half > 3 else -1
    early = float(pressure[half] - pressure[0]) / float(time[half] - time[0])
    # The gauge may read the later part by so much too high.
    late = (1.0 - RANGE) * float(pressure[last] - pressure[half]) / float(time[last] - time[half])
    if late >= early:
        return True
    lower, upper = 0.5 * float(pressure[half] + pressure[0]), 0.5 * float(pressure[last] + pressure[half])
    return upper + late * (upper - lower) / (early - late) > WATER_READ_TWICE
