"""When a hold will be decisive: the looks that are still to come, put to the estimator on the rise as fitted so far."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from decay.errors import FitError
from decay.planning.expected import expected_leak
from decay.planning.pump_and_gauge import GaugeKind
from decay.planning.trial_holds import Levelling

FARTHEST = 86400.0  # s; nobody waits beside a gauge for longer


@dataclass(frozen=True, slots=True)
class StoppingRule:
    """What decides, and how the looks go on."""

    shown_above: float  # an interval whose lower end is above it decides [Pa/s]
    # One whose upper end is at most this decides too; ``None`` where nothing was allowed [Pa/s]
    excluded_below: float | None
    levels: Callable[[int], float]  # level of the look so many looks ahead, counted from 1 [-]
    growth: float  # factor on the hold's length from look to look [-]


def decisive_length(
    rule: StoppingRule,
    length: float,
    gauge: GaugeKind,
    *,
    leak: float,
    levelling: Sequence[Levelling] = (),
    start: float = 0.0,
    ambient: float | None = None,
    under_vacuum: float | None = None,
) -> float:
    """Return the length of the hold at the look that is expected to decide.

    Parameters
    ----------
    rule : StoppingRule
        What decides.
    length : float
        Length at the last look. [s]
    gauge : GaugeKind
        Noise as this hold shows it.
    leak : float
        Steady rise as fitted. [Pa/s]
    levelling : sequence of Levelling
        What levels off, as fitted.
    start : float
        Pressure at isolation. [Pa]
    ambient : float, optional
        Temperature. [K]
    under_vacuum : float, optional
        Time under vacuum at isolation. [s]

    Returns
    -------
    float
        Length; ``inf`` where no look within a day is expected to decide. [s]

    Notes
    -----
    An expectation without luck, as good as the present fit: it moves from look to look.
    """
    ahead = 0
    while length * rule.growth <= FARTHEST:
        ahead += 1
        length *= rule.growth
        try:
            expected = expected_leak(length, gauge, leak=leak, levelling=levelling, start=start, ambient=ambient,
                                     level=rule.levels(ahead), under_vacuum=under_vacuum)
        except FitError:
            continue
        if expected.low > rule.shown_above:
            return length
        if rule.excluded_below is not None and expected.high <= rule.excluded_below:
            return length
    return math.inf
