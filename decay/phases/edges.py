"""Each edge to the reading: where the valve closed, where gas was let in, where a hold was disturbed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.phases.costs import Corner
from decay.phases.readings import Readings
from decay.phases.search import find_corner, medians_of_eight

# Gas let in: so many times faster than the rise so far ...
INFLOW_RATIO = 8.0
# ... looked at over this time ... [s]
INFLOW_WINDOW = 8.0
# ... and ending at least this far above, as a share and absolutely. [-, Pa]
INFLOW_SHARE = 1.0
INFLOW_LEAST = 130.0
# ... within this time. [s]
INFLOW_SOON = 60.0
# First time after the valve closed in which rig and system may equalise. [s]
EQUALISING = 30.0
# A step that stays is this many standard deviations high.
STEP_SIGNIFICANCE = 8.0
# Readings before the closing that lie higher than so many bands above the lowest are too steep for a bent line.
STEEP = 4.0
STEEP_SHARE = 0.4
# ... and so many times what the readings before or after it change in the same time.
SUDDEN = 2.0
# A flat stretch of more readings is searched without the steep part, if that shows a corner so plain.
LONG = 40
PLAIN = 40.0
# Creeping under the pump: longer than [s], lower than (share), and so many times slower than the rise after it.
CREEP_LASTS = 120.0
CREEP_SHARE = 0.25
CREEP_RATIO = 5.0
# An edge of disturbance is where readings leave the curve by this many standard deviations.
LEAVES = 4.0


def closing(readings: Readings, fall: int, low: int, end: int) -> tuple[int, Corner]:
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

    Returns
    -------
    tuple of int and Corner
        Index of the closing in the log, and what speaks for it.
    """
    smooth = readings.smooth
    band = max(3.0 * readings.hysteresis[low], 0.01) * smooth[low]
    above = np.flatnonzero(smooth[fall : low + 1] > smooth[low] + band)
    first = fall + (int(above[-1]) if len(above) else 0)
    tight = max(readings.hysteresis[low], 0.003) * smooth[low]
    near = fall + np.flatnonzero(smooth[fall : low + 1] > smooth[low] + tight)
    tries_first = int(near[-1]) if len(near) else first
    over = np.flatnonzero(smooth[low : end + 1] > smooth[low] + band)
    last = low + (int(over[0]) if len(over) else end - low)
    left = max(fall, first - max(25, (low - first) // 2))
    steep_from = min(STEEP * band, max(STEEP_SHARE * smooth[low], 1.3 * band))
    steep = np.flatnonzero(smooth[left:first] > smooth[low] + steep_from)
    left = min(left + int(steep[-1]) + 1 if len(steep) else left, first - 4) if first - fall > 4 else left
    left = max(left, fall)
    right = min(end, last + max(25, (last - low) // 2))
    if right - left < 3:
        return low, Corner(low - left, 0.0, 0.0, 0.0, 0.0, 0.0)
    noise = max(readings.spread(low), 0.3 * float(readings.step[low]))
    tries_from = max(tries_first - left - 12, 1)
    since = float(readings.time[fall]) - readings.sampling

    def best(left: int, tries_from: int) -> Corner:
        stretch = slice(left, right + 1)
        return find_corner(
            readings.time[stretch], readings.pressure[stretch], noise, tries_from, last - left + 1, since
        )

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
    index = left + corner.index
    equalised = max(float(readings.time[index]) + EQUALISING, float(readings.time[min(index + 3, len(smooth) - 1)]))
    if smooth[index] > smooth[low] + band and readings.time[low] > equalised:
        # What still falls long after the cut was being pumped: the lowest reading is the better guess.
        return low, corner
    return index, corner


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
    stretch = slice(first, last + 1)
    since = float(time[first]) - readings.sampling
    corner = find_corner(time[stretch], readings.pressure[stretch], noise, 8, last - first - 3, since)
    bend = first + corner.index
    crept, took = float(smooth[bend] - smooth[first]), float(time[bend] - time[first])
    end = min(bend + (bend - first), last)
    rate = float(smooth[end] - smooth[bend]) / max(float(time[end] - time[bend]), 1e-9)
    is_bend = (
        took > CREEP_LASTS
        and crept < CREEP_SHARE * smooth[first]
        and smooth[last] - smooth[bend] > 2.0 * crept
        and rate > CREEP_RATIO * max(crept, noise) / took
    )
    return bend if is_bend else None


def inflow(readings: Readings, first: int, last: int) -> int | None:
    """Return the last reading before gas was let into a hold, or None.

    Parameters
    ----------
    readings : Readings
        The log.
    first, last : int
        A stretch that rises. [-]
    """
    settle = readings.readings_in(EQUALISING, 3)
    width = readings.readings_in(INFLOW_WINDOW, 1)
    start = first + settle
    if last - start < width:
        return None
    pressure, time = readings.pressure, readings.time
    now, then = slice(start, last - width + 1), slice(start + width, last + 1)
    gain = pressure[then] - pressure[now]
    noise = 8.0 * readings.noise[now] + 3.0 * readings.step[now]
    # Few readings are followed by so large a gain: the rest is asked of them alone.
    index = start + np.flatnonzero((gain > noise) & (gain > 0.15 * pressure[now]))
    gain = gain[index - start]
    rate = gain / (time[index + width] - time[index])
    # The mean rise since a little after the closing: never less than the present rate of a rise that levels off.
    base = first + max(settle // 2, 1)
    so_far = np.maximum((pressure[index] - pressure[base]) / np.maximum(time[index] - time[base], 1e-9), 0.0)
    soon = np.minimum(index + readings.readings_in(INFLOW_SOON, 3), last)
    high = np.maximum(pressure[soon], pressure[index + width])
    rises = np.maximum(INFLOW_SHARE * pressure[index], INFLOW_LEAST)
    is_fast = (rate > INFLOW_RATIO * so_far) & (high - pressure[index] > rises)
    if not is_fast.any():
        return None
    at = int(index[int(np.argmax(is_fast))])
    return leaving(readings, first, at + width, +1, start=at)


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


@dataclass(frozen=True, slots=True)
class Step:
    """A sudden step in a hold that stays: last reading before, first reading after, its height. [-, -, Pa]"""

    before: int
    after: int
    height: float


def steps(readings: Readings, first: int, last: int) -> list[Step]:
    """Return the sudden steps in a hold that do not go back.

    Parameters
    ----------
    readings : Readings
        The log.
    first, last : int
        The hold. [-]
    """
    settle = readings.readings_in(EQUALISING, 3)
    span = 8  # readings, as `medians_of_eight` has them
    start = first + settle
    if last - start < 3 * span:
        return []
    pressure = readings.pressure[first : last + 1]
    begin, count = settle + span, len(pressure) - settle - 2 * span - 2
    if count <= 0:
        return []
    medians = medians_of_eight(pressure)
    padded = np.pad(medians, 2 * span, mode="edge")

    def level(offset: int) -> FloatArray:
        """Return the median of the eight readings from so many readings after each one that is looked at."""
        return padded[begin + 2 * span + offset :][:count]

    # Level just before against level just after three readings, less what the trend on both sides brings.
    before, after = level(1 - span), level(2)
    trend_before = before - level(1 - 2 * span)
    trend_after = level(span + 2) - after
    larger = np.where(np.abs(trend_before) > np.abs(trend_after), trend_before, trend_after)
    excess = after - before - larger * (span + 2) / span
    height, here = np.abs(excess), slice(first + begin, first + begin + count)
    noise = readings.noise[here]
    limit = STEP_SIGNIFICANCE * noise * 0.6 + 2.5 * readings.step[here] + 0.01 * readings.pressure[here]
    is_step = (height > limit) & (height > SUDDEN * np.abs(larger))
    high = np.flatnonzero(is_step)
    if not len(high):
        return []
    stays = _stays(medians, begin + high, excess[high], larger[high], span)
    # A gap lets any rise look like a step.
    times = readings.time[first : last + 1]
    whole = times[np.minimum(begin + high + 3 + span, len(times) - 1)] - times[begin + high - span]
    is_step[high] = stays & (whole < 2.5 * (2 * span + 3) * readings.sampling)
    found: list[Step] = []
    i = 0
    for at in np.flatnonzero(is_step):
        if at < i:
            continue
        i = j = int(at)
        while j + 1 < count and j + 1 - i <= 3 * span and is_step[j + 1 : j + 4].any():
            j += 1
        best = i + int(np.argmax(height[i : j + 1]))
        centre = begin + best
        sign = 1 if excess[best] > 0 else -1
        low, high = max(centre - span, 0), min(centre + span + 3, len(pressure) - 1)
        jump = int(np.argmax(sign * np.diff(pressure[low : high + 1]))) + low
        cut = leaving(readings, first, first + jump + 1, sign, start=max(first + jump - 3, first))
        end = first + jump + 1
        while end + 1 < last and sign * (readings.pressure[end + 1] - readings.pressure[end]) > LEAVES * noise[best]:
            end += 1
        found.append(Step(cut, end, float(excess[best])))
        i = j + span
    return found


def _stays(medians: FloatArray, index: IntArray, excess: FloatArray, trend: FloatArray, span: int) -> BoolArray:
    """Tell whether most of a step is still there four windows before and after it; a spike's is not."""
    before, after = medians[index - span + 1], medians[index + 3 - 1]
    on = np.minimum(index + 3 + 3 * span, len(medians) - 1)
    stays = medians[on] - before - trend * (on - index + span - 1) / span
    back = np.maximum(index - 4 * span + 1, 0)
    stood = after - medians[back] - trend * (index + 3 - back) / span
    earlier, beyond = np.maximum(back - 2 * span, 0), np.minimum(on + 2 * span, len(medians) - 1)
    slope_earlier = (medians[back] - medians[earlier]) / np.maximum(back - earlier, 1)
    slope_beyond = (medians[beyond] - medians[on]) / np.maximum(beyond - on, 1)
    far_slope = np.where(np.abs(slope_earlier) > np.abs(slope_beyond), slope_earlier, slope_beyond)
    apart = medians[on] - medians[back] - far_slope * (on - back)
    least = 0.4 * np.abs(excess)
    sign = np.sign(excess)
    return np.asarray((sign * stays > least) & (sign * stood > least) & (sign * apart > least))
