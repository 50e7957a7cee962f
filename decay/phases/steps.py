"""Sudden steps inside a hold that do not go back: a valve touched, a hose moved, another range of the gauge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.phases.edges import EQUALISING, LEAVES, leaving
from decay.phases.readings import Readings
from decay.phases.search import medians_of_eight

# A step that stays is this many standard deviations high ...
STEP_SIGNIFICANCE = 8.0
# ... and so many times what the readings before or after it change in the same time.
SUDDEN = 2.0


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
    likely = np.flatnonzero(is_step)
    if not len(likely):
        return []
    stays = _stays(medians, begin + likely, excess[likely], larger[likely], span)
    # A gap lets any rise look like a step.
    times = readings.time[first : last + 1]
    whole = times[np.minimum(begin + likely + 3 + span, len(times) - 1)] - times[begin + likely - span]
    is_step[likely] = stays & (whole < 2.5 * (2 * span + 3) * readings.sampling)
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
