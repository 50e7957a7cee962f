"""Whether a valve was closed or a pump still drew: a pull that ends flat, and what soon comes to rest."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from decay.phases.edges import EQUALISING, closing
from decay.phases.phase import Begun, Kind, Untold
from decay.phases.readings import Readings
from decay.phases.rises import SURE, change, slow_rise, stands_until

# A flat stretch shorter than this says nothing: so a pull ends. [s, readings]
SHORTEST = 60.0
FEWEST = 8
# What the fall should have gone on by counts from so many steps on, beside the standard errors.
EXPECTED_STEPS = 2.5
# So much of a fall that is carried on is sure: tails slow down more than an exponential. [-]
LEAST_OF_FALL = 2.0 / 3.0
# A height above the level of the end counts as told from so many times what noise and step leave open.
TOLD = 3.0
# What stays flat longer than this may as well be held there by a controller, or by a pump at its limit. [s]
CONTROLLED = 3 * 3600.0
# A rise that keeps its pace counts where the last third of a hold stands by so much of its pressure above the first:
# the limit of a pump drifts by less as its oil warms. A step under the pump lifts what it drifts from. [-]
GOES_ON = 0.3
# It keeps its pace where from the second third to the last it is no slower than this share of the pace before. [-]
KEEPS = 0.5
# A rise that comes to rest counts where it is this large beside the pressure from which it began, and half of it took
# so long: a running pump brings a system to another balance sooner. [-, s]
LARGE = 1.0
HALF = 300.0
# Any rise counts where a definite fall was to come down by this share of the pressure yet, from this time after the
# closing on: under a pump a sudden step leaves what falls slowly to fall on. [-, s]
STOPS = 0.1
STEPS_LAST = 120.0
# A rise begins from the mean of the readings of this time. [s]
BEGINS = 30.0
# Fewer readings in a third show no course. [readings]
FEWEST_IN_A_THIRD = 2


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


def flat_stretch(readings: Readings, start: int, end: int) -> FlatEnd | None:
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
    time = readings.time
    if end - start < 3 * FEWEST or readings.is_above[start + 1 : end + 1].any():
        return None
    low = start + int(np.argmin(readings.smooth[start : end + 1]))
    rise = slow_rise(readings, start, end)
    if rise is not None:
        later = float(time[stands_until(readings, rise.index, end)] - time[rise.index])
        return FlatEnd(rise.index, Kind.HOLD, Begun.READINGS, earlier=rise.earlier, later=later)
    index, _ = closing(readings, start, low, end)
    length = time[end] - time[index]
    if length < SHORTEST or end - index < FEWEST or abs(change(readings, index, end)) >= SURE:
        return None
    third = max((end - index + 1) // 3, 3)
    early = float(np.mean(readings.pressure[index + 1 : index + 1 + third]))
    late = float(np.mean(readings.pressure[end - third + 1 : end + 1]))
    expected = _expected_fall(readings, start, index, end)
    # A mean over a third of the stretch still wanders.
    resolved = EXPECTED_STEPS * float(readings.step[end]) + SURE * readings.error_of_mean(end - third + 1, end)
    # What the pressure still fell after the cut is a pull that comes to its end by itself.
    resolved += max(float(readings.smooth[index]) - late, 0.0)
    is_sudden = expected is not None and LEAST_OF_FALL * expected > resolved
    is_sudden = is_sudden and not _comes_to_rest(readings, start, index, late, resolved)
    # A stall under the pump may last as well, but not longer than the pull itself.
    is_long = time[index] - time[start] < length < CONTROLLED
    if is_sudden and is_long and not _stands_at_bottom(readings, index, end):
        reached, within = _reached(readings, start, index, end, early)
        return FlatEnd(reached, Kind.HOLD, Begun.END_OF_FALL, earlier=within, later=within)
    return FlatEnd(index, Kind.UNCLEAR, Begun.READINGS, Untold.FLAT, closings=(index, end))


def _stands_at_bottom(readings: Readings, first: int, end: int) -> bool:
    """Tell whether a stretch stands at the log's lowest number for the most part.

    What a gauge shows of a system that is shut strays to both sides; at the bottom of its range it strays to one, and
    shows neither when the valve closed nor what rose below it.
    """
    return bool(np.median(readings.pressure[first : end + 1]) <= np.nanmin(readings.pressure))


def _reached(readings: Readings, start: int, index: int, end: int, level: float) -> tuple[int, float]:
    """Return where a fall comes down to the level at which it stays, and how well that is told. [-, s]

    It came down between the last reading that surely lies above the level and the first that does not.
    """
    first = max(start, 2 * index - end)
    smooth = readings.smooth[first : index + 1]
    blur = max(readings.wander, readings.spread(index), 0.5 * float(readings.step[index]))
    below = np.flatnonzero(smooth <= level + 0.5 * float(readings.step[index]))
    latest = int(below[0]) if len(below) else index - first
    above = np.flatnonzero(smooth[: latest + 1] > level + 2.0 * blur)
    earliest = int(above[-1]) if len(above) else 0
    middle = first + (earliest + latest + 1) // 2
    return middle, float(readings.time[first + latest] - readings.time[first + earliest]) / 2.0


def _comes_to_rest(readings: Readings, start: int, index: int, late: float, resolved: float) -> bool:
    """Tell whether a fall approaches the level at which it stays as a pull does, ever more slowly.

    The heights above that level at three moments equally far apart shrink by the same factor or less and less, where a
    pump comes to its limit; where a valve was closed, the last is far lower than the two before it let expect. The
    moments stand as close to the end of the fall as the noise lets their heights be told.
    """
    time, smooth = readings.time, readings.smooth
    height = smooth[start : index + 1] - late
    told = np.flatnonzero(height > TOLD * resolved)
    if not len(told):
        return True
    middle = start + int(told[-1])
    apart = max(float(time[index] - time[middle]), 2.0 * readings.sampling)
    first = int(np.searchsorted(time, time[middle] - apart, side="right")) - 1
    if first < start:
        return True
    highest, high, low = (float(smooth[at]) - late for at in (first, middle, index))
    return bool(high * high / max(highest, high) - max(low, 0.0) <= resolved)


def fall_to_come(readings: Readings, start: int, index: int, end: int, after: float) -> float:
    """Return how far a fall that was definite would still have come down from some time [s] after a cut on. [Pa]

    It is definite where it fades and each window shows it beyond the gauge's steps and noise.
    """
    windows = _windows(readings, start, index, end)
    if windows is None:
        return 0.0
    window, earlier, later = windows
    resolved = EXPECTED_STEPS * float(readings.step[index]) + SURE * readings.spread(index)
    if not resolved < later < earlier:
        return 0.0
    return float(LEAST_OF_FALL * _carried_on(readings, index, end, windows) * (later / earlier) ** (after / window))


def _expected_fall(readings: Readings, start: int, index: int, end: int) -> float | None:
    """Return how far the fall would have gone on by itself until the end. [Pa]

    A fading fall is carried on as an exponential, which of all smooth tails stops soonest.
    """
    windows = _windows(readings, start, index, end)
    return None if windows is None else _carried_on(readings, index, end, windows)


def _carried_on(readings: Readings, index: int, end: int, windows: tuple[float, float, float]) -> float:
    window, earlier, later = windows
    if later <= 0 or earlier <= 0:
        return 0.0
    fading = min(later / earlier, 0.999)
    count = float(readings.time[end] - readings.time[index]) / window
    return float(later * fading * (1.0 - fading**count) / (1.0 - fading))


def _windows(readings: Readings, start: int, index: int, end: int) -> tuple[float, float, float] | None:
    """Return the length of two equal windows before a cut, and how far it fell in each; None if too short. [s, Pa]"""
    time, pressure = readings.time, readings.pressure
    window = float(min((time[end] - time[index]) / 2.0, (time[index] - time[start]) / 4.0))
    first = int(np.searchsorted(time, time[index] - 2.0 * window))
    middle = int(np.searchsorted(time, time[index] - window))
    if middle - first < 3 or index - middle < 3:
        return None
    nearby = max(min((index - middle) // 4, 10), 1)

    def level(at: int) -> float:
        return float(np.mean(pressure[max(at - nearby, 0) : at + 1]))

    return window, level(first) - level(middle), level(middle) - level(index)


def goes_on(readings: Readings, start: int, first: int, last: int) -> bool:
    """Tell whether a stretch rises as nothing does from which a pump draws: far, and evenly or slowly.

    Parameters
    ----------
    readings : Readings
        The log.
    start : int
        Where the pull before it began, or the stretch itself. [-]
    first, last : int
        A hold, from its closing on. [-]

    Notes
    -----
    Whatever happens under a running pump, ballast opened, a valve half closed, a gauge exchanged or changing its range,
    a source that opens, the pressure goes to another balance within minutes and stays there; behind a closed valve it
    goes on. What a step brings at once proves nothing, and neither does a drift that a pump's limit may have.
    """
    time, pressure = readings.time, readings.pressure
    settled = int(np.searchsorted(time, time[first] + EQUALISING))
    settled = min(max(settled, first + 2), first + (last - first) // 4 + 1)
    third = (last - settled + 1) // 3
    if third < FEWEST_IN_A_THIRD or change(readings, settled, last) <= SURE:
        return False
    ends = (settled, settled + third, last + 1 - third, last + 1)
    early, middle, late = (float(pressure[i:j].mean()) for i, j in pairwise(ends))
    sooner, then, after = (float(time[i:j].mean()) for i, j in pairwise(ends))
    keeps_pace = (late - middle) * (then - sooner) >= KEEPS * (middle - early) * (after - then)
    if keeps_pace and late - early > GOES_ON * early:
        return True
    if fall_to_come(readings, start, first, last, STEPS_LAST) > STOPS * early:
        return True
    opening = max(int(np.searchsorted(time, time[settled] + BEGINS)), settled + FEWEST_IN_A_THIRD)
    base = float(pressure[settled:opening].mean())
    reached = settled + int(np.argmax(readings.smooth[settled : last + 1] >= 0.5 * (base + late)))
    return late - base > LARGE * base and float(time[reached] - time[first]) >= HALF
