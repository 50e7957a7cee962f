"""Whether a pull that ends flat was isolated there or still pumped: told only by the end of a definite fall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.phases.edges import closing
from decay.phases.evidence import change, slow_rise
from decay.phases.phase import Begun, Kind, Untold
from decay.phases.readings import Readings

# A flat stretch shorter than this says nothing. [s, readings]
SHORTEST = 60.0
FEWEST = 8
# The fall that should have gone on, in steps and in standard deviations of a mean.
EXPECTED_STEPS = 2.5
EXPECTED_NOISE = 5.0
# Share of the pressure, and of the expected fall, that a flat stretch may fall.
SEEN = 0.015
SEEN_OF_EXPECTED = 0.1
# A pull that falls faster than this, as a share of the pressure, when it goes flat was in its steep part.
STEEP = 0.45

# A flat end is told as a hold where it lasts this long, this share of the pull, above the pressure at which water
# boils or ice fades rather all of it, and falls by less than so many standard errors. [s, -, -, Pa, -]
LASTS = 300.0
AFTER_PULL = 0.3
AT_WATER = 1.0
WATER = 40.0
FALLS = 4.0
# What stays flat longer than this may as well be held there by a controller, or by a pump at its limit. [s]
CONTROLLED = 3 * 3600.0

@dataclass(frozen=True, slots=True)
class FlatEnd:
    """A flat stretch after a fall: where it begins, what it is called, why, and how well its closing is known. [s]"""

    index: int
    kind: Kind
    begun: Begun
    untold: Untold | None = None
    earlier: float = 0.0
    later: float = 0.0
    closings: tuple[int, int] | None = None


def flat_end(readings: Readings, start: int, end: int) -> FlatEnd | None:
    """Return the flat stretch at the end of a fall, or None where it falls to its end.

    Parameters
    ----------
    readings : Readings
        The log.
    start : int
        Where the fall began. [-]
    end : int
        Last reading before something else begins. [-]
    """
    time, smooth = readings.time, readings.smooth
    if end - start < 3 * FEWEST or readings.is_above[start + 1 : end + 1].any():
        return None
    low = start + int(np.argmin(smooth[start : end + 1]))
    rise = slow_rise(readings, start, end)
    if rise is not None:
        return FlatEnd(rise.index, Kind.HOLD, Begun.READINGS, earlier=rise.earlier)
    index, corner = closing(readings, start, low, end)
    length = time[end] - time[index]
    if length < SHORTEST or end - index < FEWEST:
        return None
    count = end - index + 1
    noise = max(readings.spread(end), float(readings.step[end]) / 12.0**0.5)
    resolved = EXPECTED_STEPS * float(readings.step[end]) + EXPECTED_NOISE * noise * (3.0 / min(count, 30)) ** 0.5
    # A mean over a third of the stretch still wanders.
    resolved += EXPECTED_NOISE * readings.error_of_mean(end - max(count // 3, 3) + 1, end)
    third = max(count // 3, 3)
    late = float(np.mean(readings.pressure[end - third + 1 : end + 1]))
    settled = index + max(min(readings.readings_in(30.0, 2), count // 4), 1)
    early = float(np.mean(readings.pressure[settled : settled + third]))
    seen = early - late
    expected = _expected_fall(readings, start, index, end)
    little = max(1.5 * float(readings.step[end]), 3.0 * noise)
    is_flat = abs(change(readings, index, end)) < FALLS and abs(seen) <= little
    untold = FlatEnd(index, Kind.UNCLEAR, Begun.READINGS, Untold.FLAT, closings=(index, end)) if is_flat else None
    if expected is None:
        return untold
    whole_third = 2.0 / 3.0
    allowed = min(max(SEEN * late, 0.5 * float(readings.step[end])), max(SEEN_OF_EXPECTED * expected, 0.0))
    if seen > max(allowed, 0.5 * float(readings.step[end])) + noise * (2.0 / third) ** 0.5 * 2.0:
        return untold
    if smooth[index] - late > 0.5 * smooth[index] + float(readings.step[end]):
        return untold
    is_steep = expected >= STEEP * late
    if _never_changes(readings, settled, end):
        return untold
    if expected * whole_third > resolved and not is_steep and _is_long_enough(readings, start, index, end):
        reached, within = _reached(readings, start, index, early)
        return FlatEnd(reached, Kind.HOLD, Begun.END_OF_FALL, earlier=within, later=within)
    # Only a jump up tells: one down looks like the rest of the fall.
    jumped = min(corner.jump, float(np.median(smooth[settled : settled + third])) - float(smooth[index]))
    if not is_steep and jumped > max(3.0 * float(readings.step[end]), 6.0 * noise) and corner.gain > 50.0:
        return FlatEnd(index, Kind.HOLD, Begun.JUMP)
    return untold


def _never_changes(readings: Readings, first: int, end: int) -> bool:
    """Tell whether a stretch shows one and the same number, the log's lowest.

    A system that is shut stirs by a step now and then; a gauge at the bottom of its range does not, and shows neither
    when the valve closed nor what rose below it.
    """
    held = readings.pressure[first : end + 1]
    return bool(np.ptp(held) == 0.0 and held[0] <= np.nanmin(readings.pressure))


def _is_long_enough(readings: Readings, start: int, index: int, end: int) -> bool:
    """Tell whether a flat stretch lasts too long for a stall under the pump, falls too little, and ends in time."""
    time = readings.time
    length, pull = float(time[end] - time[index]), float(time[index] - time[start])
    share = AT_WATER if float(readings.smooth[end]) > WATER else AFTER_PULL
    return max(LASTS, share * pull) < length < CONTROLLED and change(readings, index, end) > -FALLS


def _reached(readings: Readings, start: int, index: int, level: float) -> tuple[int, float]:
    """Return where a fall comes down to the level at which it stays, and how well that is told. [-, s]

    It came down between the last reading that surely lies above the level and the first that does not.
    """
    first = max(start, index - readings.readings_in(SHORTEST, 3))
    smooth = readings.smooth[first : index + 1]
    blur = max(readings.wander, readings.spread(index), 0.5 * float(readings.step[index]))
    below = np.flatnonzero(smooth <= level + 0.5 * float(readings.step[index]))
    latest = int(below[0]) if len(below) else index - first
    above = np.flatnonzero(smooth[: latest + 1] > level + 2.0 * blur)
    earliest = int(above[-1]) if len(above) else 0
    middle = first + (earliest + latest + 1) // 2
    return middle, float(readings.time[first + latest] - readings.time[first + earliest]) / 2.0


def _expected_fall(readings: Readings, start: int, index: int, end: int) -> float | None:
    """Return how far the fall would have gone on by itself until the end. [Pa]

    Two equal windows before the cut give the fall and how fast it fades; a fading fall is carried on as an
    exponential, which of all smooth tails stops soonest.
    """
    time, pressure = readings.time, readings.pressure
    length = time[end] - time[index]
    window = min(length / 2.0, (time[index] - time[start]) / 4.0)
    first = int(np.searchsorted(time, time[index] - 2.0 * window))
    middle = int(np.searchsorted(time, time[index] - window))
    if middle - first < 3 or index - middle < 3:
        return None
    nearby = max(min((index - middle) // 4, 10), 1)

    def level(at: int) -> float:
        return float(np.mean(pressure[max(at - nearby, 0) : at + 1]))

    earlier, later = level(first) - level(middle), level(middle) - level(index)
    if later <= 0 or earlier <= 0:
        return 0.0
    fading = min(later / earlier, 0.999)
    count = length / window
    return float(later * fading * (1.0 - fading**count) / (1.0 - fading))
