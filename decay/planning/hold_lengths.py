"""How long a hold must last to tell a leak that matters, in a dry and in a damp system, by the estimator's own word."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import stdtrit

from decay.arrays import FloatArray, frozen
from decay.planning.trial_holds import Conditions, trial_hold

LONGEST = 3 * 86400.0  # s; a stand over three days is no longer planned but left
FIRST = 300.0  # s; a shorter hold does not know its gauge's slow wander from a rise, and rig and system still equalise
_SURE = 0.985  # of the bound: with room for the luck of the few holds drawn, 95 % of holds keep what is said of them
_LEEWAY = 1.05  # a hold begins some micron higher or lower than planned, and its drift feigns as much more or less
_TRIALS = 8  # holds drawn of each length
_LENGTHS = 9  # lengths drawn, evenly on a logarithmic scale ...
_APART = 1.25  # from the criterion's length, which is drawn for itself
_CLOSER = 2  # ... and halvings of the step in which the leak that matters is told; between them scales are logarithmic


@dataclass(frozen=True, slots=True, eq=False)
class HoldCourse:
    """What holds of growing length can tell in one kind of system.

    Parameters
    ----------
    name : str
        ``"dry"`` or ``"damp"``.
    conditions : Conditions
        What levels off there, and what the holds are made with.
    duration : ndarray, shape (m,)
        Lengths. [s]
    told : ndarray, shape (m,)
        Smallest leak that nineteen of twenty holds so long, and of every longer length, both show where it is and
        exclude where it is not. [Pa/s]
    needed : float or None
        Length from which on the leak that matters is told; ``inf`` where three days are too short, ``None`` where no
        leak was stated. [s]
    customary : float
        Length of the criterion's hold, or the first length where that is longer. [s]
    """

    name: str
    conditions: Conditions
    duration: FloatArray
    told: FloatArray
    needed: float | None
    customary: float

    def __post_init__(self) -> None:
        for name in ("duration", "told"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def floor(self) -> float:
        """Rate that a temperature drift nobody notices feigns; no hold tells less. [Pa/s]"""
        return self.conditions.floor

    def told_by(self, duration: float) -> float:
        """Return the smallest leak that a hold of a length [s] tells. [Pa/s]"""
        return float(np.exp(np.interp(math.log(duration), np.log(self.duration), np.log(self.told))))


def course(name: str, conditions: Conditions, *, customary: float, matters: float | None = None) -> HoldCourse:
    """Return what holds of growing length can tell.

    Parameters
    ----------
    name : str
        Kind of system.
    conditions : Conditions
        What the holds are made with.
    customary : float
        Length of the criterion's hold. [s]
    matters : float, optional
        The leak that matters, as a rate of rise. [Pa/s]

    Returns
    -------
    HoldCourse
        The curve, the length needed, and the length of the criterion's hold.

    Raises
    ------
    FitError
        If the criterion's hold has too few readings.

    Notes
    -----
    Each length is drawn several times, with noise, and put to the estimator; what one more hold would exclude, and
    would call its own limit, is bounded at 95 % by Student's quantile (a prediction bound, on a logarithmic scale).
    """
    first = max(FIRST, conditions.shortest)
    customary = min(max(customary, first), LONGEST)
    even = np.geomspace(first, LONGEST, _LENGTHS)
    apart = np.abs(np.log(even / customary)) > math.log(_APART)
    duration = np.sort(np.append(even[apart], customary))
    told = np.array([_told(conditions, float(t)) for t in duration])
    for _ in range(_CLOSER):
        enough = np.flatnonzero(_kept(told) <= (math.inf if matters is None else matters))
        if not len(enough) or enough[0] == 0:
            break
        at = int(enough[0])
        between = math.sqrt(duration[at - 1] * duration[at])
        duration, told = np.insert(duration, at, between), np.insert(told, at, _told(conditions, between))
    told = _kept(told)
    return HoldCourse(name, conditions, duration, told, _needed(duration, told, matters), customary)


def _kept(told: FloatArray) -> FloatArray:
    """Return what is told from a length on: what a longer hold loses again (a bend may just begin to count as one) is
    not taken as told."""
    return np.maximum.accumulate(told[::-1])[::-1]


@lru_cache(maxsize=512)  # the same draws serve every leak that is asked about
def _told(conditions: Conditions, duration: float) -> float:
    fits = [trial_hold(conditions, duration, 0.0, seed) for seed in range(_TRIALS)]
    excluded = np.log([fit.leak.high for fit in fits])
    limit = np.log([fit.detection_limit for fit in fits])
    return _LEEWAY * math.exp(max(_next_at_most(excluded), _next_at_most(limit)))


def _next_at_most(seen: FloatArray) -> float:
    """Return what one more draw hardly ever exceeds."""
    if not np.all(np.isfinite(seen)):
        return math.inf
    quantile = float(stdtrit(len(seen) - 1, _SURE))
    return float(np.mean(seen) + quantile * np.std(seen, ddof=1) * math.sqrt(1.0 + 1.0 / len(seen)))


def _needed(duration: FloatArray, told: FloatArray, matters: float | None) -> float | None:
    if matters is None:
        return None
    if told[-1] > matters:
        return math.inf
    if told[0] <= matters:
        return float(duration[0])
    return float(np.exp(np.interp(-math.log(matters), -np.log(told), np.log(duration))))
