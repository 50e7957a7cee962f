"""How long a hold must last to tell a leak that matters, in a dry and in a damp system, by the estimator's own word."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, frozen
from decay.plan.expected import ExpectedHold, Levelling, expected_hold, shortest_hold, unnoticed_drift
from decay.plan.pump_and_gauge import GaugeKind

LONGEST = 3 * 86400.0  # s; a stand over three days is no longer planned but left
_GROWTH = 1.08  # from one length to the next: the answer is good to so much
_SHORTEST = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class HoldCourse:
    """What holds of growing length can tell in one kind of system.

    Parameters
    ----------
    name : str
        ``"dry"`` or ``"damp"``.
    levelling : tuple of Levelling
        What levels off there.
    duration : ndarray, shape (m,)
        Lengths. [s]
    told : ndarray, shape (m,)
        Smallest leak that a hold so long, and every longer one, both shows where it is and excludes where it is not.
        [Pa/s]
    needed : float or None
        Length from which on the leak that matters is told; ``inf`` where three days are too short, ``None`` where no
        leak was stated. [s]
    floor : float
        Rate that a temperature drift nobody notices feigns; no hold tells less. [Pa/s]
    customary : ExpectedHold
        What the criterion's hold would say.
    """

    name: str
    levelling: tuple[Levelling, ...]
    duration: FloatArray
    told: FloatArray
    needed: float | None
    floor: float
    customary: ExpectedHold

    def __post_init__(self) -> None:
        for name in ("duration", "told"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def told_by(hold: ExpectedHold) -> float:
    """Return the smallest leak that a hold both shows where it is and excludes where it is not. [Pa/s]"""
    return max(hold.detection_limit, hold.leak.high)


def course(
    name: str,
    gauge: GaugeKind,
    levelling: Sequence[Levelling],
    *,
    start: float,
    customary: float,
    matters: float | None = None,
    ambient: float | None = None,
    under_vacuum: float | None = None,
) -> HoldCourse:
    """Return what holds of growing length can tell.

    Parameters
    ----------
    name : str
        Kind of system.
    gauge : GaugeKind
        Noise, steps and time between readings.
    levelling : sequence of Levelling
        What levels off.
    start : float
        Pressure at isolation. [Pa]
    customary : float
        Length of the criterion's hold. [s]
    matters : float, optional
        The leak that matters, as a rate of rise. [Pa/s]
    ambient : float, optional
        Temperature. [K]
    under_vacuum : float, optional
        Time under vacuum at isolation. [s]

    Returns
    -------
    HoldCourse
        The curve, the length needed, and what the criterion's hold would say.

    Raises
    ------
    FitError
        If the criterion's hold has too few readings.
    """

    def at(duration: float) -> ExpectedHold:
        return expected_hold(duration, gauge, levelling=levelling, start=start, ambient=ambient,
                             under_vacuum=under_vacuum)

    first = max(_SHORTEST, shortest_hold(gauge.interval))
    count = math.ceil(math.log(LONGEST / first) / math.log(_GROWTH)) + 1
    duration = np.geomspace(first, LONGEST, count)
    # The limit need not fall at every step (a bend may just begin to count as one): what a longer hold loses again
    # is not taken as told.
    told = np.maximum.accumulate(np.array([told_by(at(float(t))) for t in duration])[::-1])[::-1]
    needed: float | None = None
    if matters is not None:
        enough = np.flatnonzero(told <= matters)
        needed = float(duration[enough[0]]) if len(enough) else math.inf
    last = start + sum(pool.rise for pool in levelling)
    floor = unnoticed_drift(last, ambient)
    return HoldCourse(name, tuple(levelling), duration, told, needed, floor, at(max(customary, first)))
