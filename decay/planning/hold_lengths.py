"""How long a hold must last to tell a leak that matters, and which test settles one that leaves a leak open."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from decay.arrays import FloatArray, frozen
from decay.constants import DAY
from decay.errors import FitError
from decay.fit.chances import students_quantile
from decay.fit.measured import Measured
from decay.fit.results import HoldFit
from decay.planning.trial_holds import Conditions, Levelling, trial_hold, trial_limits, trial_readings
from decay.several.next_test import LONGEST_TEST, NextTest, Outlook, next_tests

LONGEST = 3 * DAY  # s; a stand over three days is no longer planned but left
FIRST = 300.0  # s; a shorter hold does not know its gauge's slow wander from a rise, and rig and system still equalise
_SURE = 0.985  # of the bound: with room for the luck of the few holds drawn, 95 % of holds keep what is said of them
_LEEWAY = 1.05  # a hold begins some micron higher or lower than planned, and its drift feigns as much more or less
_FEW, _TRIALS, _MANY = 4, 8, 20  # holds drawn of each length: few where they are alike, many where one strays alone
_ALIKE = 0.05  # the bound lies no further above their mean
_ALONE = 2.0  # without it the bound would be so many times lower; one in forty of a wandering gauge's holds seems bent
_APART, _UNLIKE = 4.0, 2.0  # neighbouring lengths further apart, and telling more unlike leaks, have one between them
_CLOSE = 1.25  # neighbours between which the leak that matters is told; between them scales are logarithmic
SLOWNESS = (3.0, 2.0, 1.5, 5.0)
"""Time constants of a source that a hold may take for a leak, in lengths of the hold, tried in this order. [-]"""
_SEED = 0
"""Of the hold that is drawn: the plan that is made twice is the same. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class HoldCourse:
    """What holds of growing length can tell in one kind of system."""

    name: str  # ``"dry"`` or ``"damp"``
    conditions: Conditions  # what levels off there, and what the holds are made with
    duration: FloatArray  # lengths, shape (m,) [s]
    # Smallest leak that nineteen of twenty holds so long, and of every longer length, both show where it is and exclude
    # where it is not, shape (m,) [Pa/s]
    told: FloatArray
    # Length from which on the leak that matters is told; ``inf`` where three days are too short, ``None`` where no leak
    # was stated [s]
    needed: float | None
    customary: float  # length of the criterion's hold, or the first length where that is longer [s]

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

    Raises
    ------
    FitError
        If the criterion's hold has too few readings.

    Notes
    -----
    Each length is drawn several times, with noise, and put to the estimator; what one more hold would exclude, and
    would call its own limit, is bounded at 95 % by Student's quantile (a prediction bound, on a logarithmic scale).
    Lengths lie closer where what they tell changes, and closest where the leak that matters is told.
    """
    first = max(FIRST, conditions.shortest)
    customary = min(max(customary, first), LONGEST)
    duration = np.unique([first, customary, LONGEST])
    told = np.array([_told(conditions, float(t)) for t in duration])
    while (at := _coarsest(duration, told, matters)) is not None:
        between = math.sqrt(duration[at] * duration[at + 1])
        duration, told = np.insert(duration, at + 1, between), np.insert(told, at + 1, _told(conditions, between))
    told = _kept(told)
    return HoldCourse(name, conditions, duration, told, _needed(duration, told, matters), customary)


def _coarsest(duration: FloatArray, told: FloatArray, matters: float | None) -> int | None:
    """Return after which of the lengths one more is to be drawn; ``None`` where they are close enough."""
    kept = _kept(told)
    apart = duration[1:] / duration[:-1]
    wide = np.flatnonzero((apart > _APART) & (kept[:-1] > _UNLIKE * kept[1:]))
    if len(wide):
        return int(wide[np.argmax(apart[wide])])
    if matters is None or not kept[-1] <= matters < kept[0]:
        return None
    at = int(np.argmax(kept <= matters)) - 1
    return at if apart[at] > _CLOSE else None


def _kept(told: FloatArray) -> FloatArray:
    """Return what is told from a length on: what a longer hold loses again (a bend may just begin to count as one) is
    not taken as told."""
    return np.maximum.accumulate(told[::-1])[::-1]


@lru_cache(maxsize=512)  # the same draws serve every leak that is asked about
def _told(conditions: Conditions, duration: float) -> float:
    def drawn(first: int, last: int) -> FloatArray:
        return np.log([trial_limits(conditions, duration, 0.0, seed) for seed in range(first, last)])

    seen = drawn(0, _FEW)
    most = _next_at_most(seen)
    if most - float(seen.mean(axis=0).max()) > _ALIKE:
        seen = np.vstack((seen, drawn(_FEW, _TRIALS)))
        most = _next_at_most(seen)
        if most - _next_at_most(_without_largest(seen)) > math.log(_ALONE):
            # One of twenty may break a promise that nineteen keep.
            most = _next_at_most(_without_largest(np.vstack((seen, drawn(_TRIALS, _MANY)))))
    return _LEEWAY * math.exp(most)


def _without_largest(seen: FloatArray) -> FloatArray:
    return np.delete(seen, int(seen.max(axis=1).argmax()), axis=0)


def _next_at_most(seen: FloatArray) -> float:
    """Return what one more draw hardly ever exceeds, the larger of both columns."""
    if not np.all(np.isfinite(seen)):
        return math.inf
    quantile = students_quantile(len(seen) - 1, _SURE)
    return float(np.max(seen.mean(axis=0) + quantile * seen.std(axis=0, ddof=1) * math.sqrt(1.0 + 1.0 / len(seen))))


def _needed(duration: FloatArray, told: FloatArray, matters: float | None) -> float | None:
    if matters is None:
        return None
    if told[-1] > matters:
        return math.inf
    if told[0] <= matters:
        return float(duration[0])
    return float(np.exp(np.interp(-math.log(matters), -np.log(told), np.log(duration))))


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """A planned hold that cannot tell a leak from a slow source, and what would."""

    leak: float  # the leak that is there [Pa/s]
    length: float  # length of the hold that leaves it open [s]
    slow: Levelling  # the source beside it: at first as fast as the leak
    tests: tuple[NextTest, ...]  # what would name the leak, the best first, and what tells where it is


def if_left_open(damp: HoldCourse, matters: float | None) -> LeftOpen | None:
    """Plan the test after a hold that left the leak open.

    Parameters
    ----------
    damp : HoldCourse
        The planned system, a little damp, and what its holds can tell.
    matters : float or None
        The leak that matters; ``None`` for the smallest that the hold tells. [Pa/s]

    Returns
    -------
    LeftOpen or None
        ``None`` where the hold names the leak beside each of the sources tried, or cannot be fitted.

    Notes
    -----
    What the planned system gives off levels off within the hold; what leaves a leak open is a source so slow that it
    does not. None is known before the job, so one is taken that is as fast as the leak: the hold then shows twice the
    leak's rate, and either half may be all of it. A leak below what an unnoticed drift feigns is named by no test.
    """
    needed = damp.needed
    length = damp.customary if needed is None or needed > LONGEST_TEST else max(damp.customary, needed)
    leak = damp.told_by(length) if matters is None else matters
    if not 0.0 < leak < math.inf:
        return None
    for holds in SLOWNESS:
        slow = Levelling(leak * holds * length, holds * length)
        conditions = replace(damp.conditions, levelling=(*damp.conditions.levelling, slow))
        try:
            fit = trial_hold(conditions, length, leak, _SEED)
        except FitError:
            return None
        if fit.leak.low <= 0.0:
            tests = _tests(conditions, length, leak, fit)
            if leak < damp.floor:  # what no hold tells, a further one does not either
                tests = tuple(test for test in tests if test.chance is None)
            return LeftOpen(leak, length, slow, tests)
    return None


class _Known(Outlook):
    """A planned hold, whose sources are known and not fitted."""

    def __init__(self, hold: Measured, conditions: Conditions, leak: float) -> None:
        self.hold = hold
        self.under_vacuum = conditions.under_vacuum
        self.leak = leak
        self.start = conditions.start
        self.time_constants = np.array([source.time_constant for source in conditions.levelling])
        self.heights = np.array([source.rise for source in conditions.levelling])


def _tests(conditions: Conditions, length: float, leak: float, fit: HoldFit) -> tuple[NextTest, ...]:
    made = trial_readings(conditions, length, leak, _SEED)
    return next_tests(made, fit, conditions.under_vacuum, [_Known(made, conditions, leak)])
