"""Each edge to the reading: where the valve closed, where gas was let in, where a hold was disturbed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from decay.arrays import BoolArray, IntArray, median
from decay.phases.cuts import Corner
from decay.phases.readings import Readings
from decay.phases.search import find_corner

# First time after the valve closed in which rig and system may equalise. [s]
EQUALISING = 30.0
# Readings before the closing that lie higher above the lowest than this share of it are too steep for a bent line.
STEEP = 0.4
# A flat stretch of more readings is searched without the steep part, if that shows a corner so plain.
LONG = 40
PLAIN = 40.0
# So many readings lie before and after a closing that is sought beyond the end of the steep part.
FEWEST_BEYOND = 4
# Creeping under the pump: lower than (share), and so many times slower than the rise after it.
CREEP_SHARE = 0.35
CREEP_RATIO = 5.0
# So many readings are tried as such a bend before one is sought. Cost only.
BENDS = 4096
# An edge of disturbance is where readings leave the curve by this many standard deviations.
LEAVES = 4.0


def closing(readings: Readings, fall: int, low: int, end: int, within: tuple[int, int] | None = None
            ) -> tuple[int, Corner]:
    """Return the reading at which the valve closed between a fall and a rise.

    Parameters
    ----------
    readings : Readings
        The log.
    fall : int
        Where the fall began. [-]
    low : int
        Lowest reading between fall and rise. [-]
    end : int
        Last reading of the undisturbed stretch. [-]
    within : tuple of int, optional
        First and last reading that are tried, where something else tells. [-]
    """
    smooth = readings.smooth
    band = max(3.0 * readings.hysteresis(low), 0.01) * smooth[low]
    above = np.flatnonzero(smooth[fall : low + 1] > smooth[low] + band)
    first = fall + (int(above[-1]) if len(above) else 0)
    tight = max(readings.hysteresis(low), 0.003) * smooth[low]
    near = fall + np.flatnonzero(smooth[fall : low + 1] > smooth[low] + tight)
    tries_first = int(near[-1]) if len(near) else first
    over = np.flatnonzero(smooth[low : end + 1] > smooth[low] + band)
    last = low + (int(over[0]) if len(over) else end - low)
    left = max(fall, first - max(25, (low - first) // 2))
    steep = np.flatnonzero(smooth[left:first] > smooth[low] + max(STEEP * smooth[low], 1.3 * band))
    left = min(left + int(steep[-1]) + 1 if len(steep) else left, first - 4) if first - fall > 4 else left
    left = max(left, fall)
    right = min(end, last + max(25, (last - low) // 2))
    if right - left < 3:
        return low, Corner(low - left, 0.0, 0.0, 0.0, 0.0, 0.0, low - left, low - left)
    noise = max(readings.spread(low), 0.3 * float(readings.step[low]))
    tries_from = max(tries_first - left - 12, 1)
    since = float(readings.time[fall]) - readings.sampling

    def best(left: int, tries_from: int) -> Corner:
        stretch = slice(left, right + 1)
        tries_to = last - left + 1
        if within is not None:
            tries_from = max(tries_from, min(within[0] - left, tries_to - 1))
            tries_to = min(tries_to, max(within[1] - left, tries_from + 1))
        return find_corner(readings.time[stretch], readings.pressure[stretch], noise, tries_from, tries_to, since)

    corner = None
    if last - first > LONG:
        # A long flat stretch before the rise: the steep part before it would outweigh the corner at its end.
        late = first + (last - first) // 8
        corner = best(late, 4)
        if corner.gain > PLAIN and corner.slope_after > max(corner.slope_before, 0.0):
            left = late
        else:
            corner = None
    if corner is None:
        corner = best(left, tries_from)
        again = left + corner.index + 1
        is_steep = smooth[left] > smooth[low] + max(STEEP * smooth[low], 1.3 * band)
        gained = corner.slope_after * float(readings.time[right] - readings.time[left + corner.index]) + corner.jump
        if is_steep and gained <= 0.0 and right - again > 2 * FEWEST_BEYOND:
            # Nothing rises from there on: it is where the steep part ends, and the closing comes later.
            beyond = best(again, FEWEST_BEYOND)
            if beyond.gain > PLAIN and beyond.slope_after > max(beyond.slope_before, 0.0):
                left, corner = again, beyond
    index = left + corner.index
    equalised = max(float(readings.time[index]) + EQUALISING, float(readings.time[min(index + 3, len(smooth) - 1)]))
    if smooth[index] > smooth[low] + band and readings.time[low] > equalised:
        # What still falls long after the cut was being pumped: the lowest reading is the better guess.
        return low, replace(corner, index=low, earliest=left + corner.earliest, latest=low)
    return index, replace(corner, index=index, earliest=left + corner.earliest, latest=left + corner.latest)


def later_closing(readings: Readings, first: int, last: int) -> int | None:
    """Return a much sharper bend inside a rise, or None: what crept up before it was still being pumped.

    A pump that warms, or an ambient that does, lets the pressure creep up while it runs.

    Parameters
    ----------
    readings : Readings
        The log.
    first, last : int
        A rise that looked like a hold. [-]
    """
    time, smooth = readings.time, readings.smooth
    if last - first < LONG or smooth[last] - smooth[first] < 0.2 * smooth[first]:
        return None
    noise = max(readings.spread(first), 0.3 * float(readings.step[first]))
    # Most rises bend nowhere like this: the search is only for those that do somewhere.
    bends = np.arange(first, last + 1, max((last - first) // BENDS, 1))
    if not _is_sharp_bend(readings, first, last, bends, noise).any():
        return None
    stretch = slice(first, last + 1)
    since = float(time[first]) - readings.sampling
    corner = find_corner(time[stretch], readings.pressure[stretch], noise, 8, last - first - 3, since)
    bend = first + corner.index
    return bend if _is_sharp_bend(readings, first, last, np.array([bend]), noise).any() else None


def _is_sharp_bend(readings: Readings, first: int, last: int, bend: IntArray, noise: float) -> BoolArray:
    """Tell of each reading whether the rise creeps up to it for long, and then rises much faster and much further."""
    time, smooth = readings.time, readings.smooth
    crept, took = smooth[bend] - smooth[first], time[bend] - time[first]
    end = np.minimum(2 * bend - first, last)
    rate = (smooth[end] - smooth[bend]) / np.maximum(time[end] - time[bend], 1e-9)
    return np.asarray(
        (crept < CREEP_SHARE * smooth[first])
        & (smooth[last] - smooth[bend] > 2.0 * crept)
        & (rate * took > CREEP_RATIO * np.maximum(crept, noise))
    )


def fall_start(readings: Readings, begin: int, near: int, last: int) -> int:
    """Return the last reading before a fall, past the dwell at its top.

    Parameters
    ----------
    readings : Readings
        The log.
    begin, near : int
        First reading of what stood before, and a reading near its end. [-]
    last : int
        Last reading of the fall. [-]
    """
    smooth = readings.smooth
    window = slice(begin, last + 1)
    if bool(readings.is_above[window].any()):
        return begin + int(np.flatnonzero(readings.is_above[window])[-1])
    highest = begin + int(np.argmax(smooth[begin : last + 1])) if near == begin else near
    top = float(smooth[max(highest - 2, begin) : min(highest + 3, last) + 1].max())
    margin = max(2.0 * readings.hysteresis(highest), 0.03)
    below = np.flatnonzero(smooth[highest : last + 1] < top * np.exp(-margin))
    sure = highest + int(below[0]) if len(below) else last
    low = max(begin, sure - 400)
    level = median(readings.pressure[max(highest - 4, begin) : max(sure - 3, highest) + 1])
    quiet = readings.noise[max(highest - 48, 0) : highest + 1]
    noise = max(float(quiet.min()), 0.6 * float(readings.step[highest]))
    on = np.flatnonzero(readings.pressure[low : sure + 1] >= level - 3.5 * noise)
    return low + int(on[-1]) if len(on) else highest


def range_edge(is_above: BoolArray, first: int, last: int, near: int, to_above: bool) -> int:
    """Return the last reading before an edge of the range, with the fewest readings on its wrong side.

    Parameters
    ----------
    is_above : ndarray of bool, shape (n,)
        Above range. [-]
    first, last : int
        The stretches on both sides. [-]
    near : int
        Where the knots have the edge. [-]
    to_above : bool
        Above range comes after it. [-]
    """
    reach = 200
    begin, end = max(first, near - reach), min(last, near + reach)
    wrong = is_above[begin : end + 1] if to_above else ~is_above[begin : end + 1]
    cost = np.cumsum(wrong) + (np.count_nonzero(~wrong) - np.cumsum(~wrong))
    return begin + int(np.argmin(cost[:-1])) if len(cost) > 1 else near


def leaving(readings: Readings, first: int, disturbed: int, sign: int, start: int | None = None) -> int:
    """Return the last reading on the curve before one that has surely left it.

    Parameters
    ----------
    readings : Readings
        The log.
    first : int
        Start of the curve. [-]
    disturbed : int
        A reading that has left. [-]
    sign : int
        +1 where it left upwards, -1 downwards. [-]
    start : int, optional
        A reading that is surely still on the curve; guessed where not given. [-]
    """
    start = max(first, disturbed - 6) if start is None else max(start, first)
    left = max(first, start - 20)
    time, pressure = readings.time, readings.pressure
    noise = max(readings.spread(start), 0.6 * float(readings.step[start]))
    if start - left >= 4:
        slope, level = np.polyfit(time[left : start + 1] - time[start], pressure[left : start + 1], 1)
        # The readings' own scatter about the line: slow wandering is not a disturbance.
        scatter = float(np.std(pressure[left : start + 1] - level - slope * (time[left : start + 1] - time[start])))
        noise = max(noise, scatter)
    else:
        slope, level = 0.0, float(pressure[start])
    index = np.arange(start, disturbed + 1)
    off = sign * (pressure[index] - level - slope * (time[index] - time[start]))
    on = np.flatnonzero(off <= LEAVES * noise)
    return int(index[on[-1]]) if len(on) else start
