"""Whether readings show that a valve was closed: what soon comes to rest may as well stand under a running pump."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from decay.phases.edges import EQUALISING
from decay.phases.evidence import SURE, change
from decay.phases.flat import fall_to_come
from decay.phases.readings import Readings

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
FEWEST = 2


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
    if third < FEWEST or change(readings, settled, last) <= SURE:
        return False
    ends = (settled, settled + third, last + 1 - third, last + 1)
    early, middle, late = (float(pressure[i:j].mean()) for i, j in pairwise(ends))
    sooner, then, after = (float(time[i:j].mean()) for i, j in pairwise(ends))
    keeps_pace = (late - middle) * (then - sooner) >= KEEPS * (middle - early) * (after - then)
    if keeps_pace and late - early > GOES_ON * early:
        return True
    if fall_to_come(readings, start, first, last, STEPS_LAST) > STOPS * early:
        return True
    opening = max(int(np.searchsorted(time, time[settled] + BEGINS)), settled + FEWEST)
    base = float(pressure[settled:opening].mean())
    reached = settled + int(np.argmax(readings.smooth[settled : last + 1] >= 0.5 * (base + late)))
    return late - base > LARGE * base and float(time[reached] - time[first]) >= HALF
