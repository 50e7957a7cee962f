"""If the planned hold leaves its leak open: which second test would settle it, what it costs, how often it does."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from decay.errors import FitError
from decay.fit.measured import Measured
from decay.fit.results import HoldFit
from decay.planning.hold_lengths import HoldCourse
from decay.planning.trial_holds import Conditions, Levelling, trial_hold, trial_readings
from decay.several.next_test import LONGEST_TEST, NextTest, next_tests
from decay.several.outlook import Outlook

SLOWNESS = (3.0, 2.0, 1.5, 5.0)
"""Time constants of a source that a hold may take for a leak, in lengths of the hold, tried in this order. [-]"""
_SEED = 0
"""Of the hold that is drawn: the plan that is made twice is the same. [-]"""


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
    leak's rate, and either half may be all of it.
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
            return LeftOpen(leak, length, slow, _tests(conditions, length, leak, fit))
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
