r"""How much of one error rate each look at a growing hold may spend, so that all together keep it; when they decide.

A look decides in one of two ways: it shows that the leak is larger than what matters, or it excludes that. Whatever the
truth is, only one of the two can be wrong, so each has the whole error rate to itself. It is spent over the looks by
a function fixed beforehand (Lan and DeMets 1983), :math:`\alpha(1 - \tfrac{3}{4} e^{-(k-1)/8})`: a quarter at the
first look, where most dry holds decide, and something at every later one, however many come. What a look may spend
becomes a quantile by the joint distribution of the looks, for a look that sees the readings of the one before again
errs with it and not afresh: that is what Bonferroni's inequality gives away.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from decay.arrays import FloatArray
from decay.constants import DAY
from decay.errors import FitError, RangeError
from decay.fit.chances import normal_probability, students_quantile
from decay.planning.pump_and_gauge import GaugeKind
from decay.planning.trial_holds import Levelling, expected_leak

ALPHA = 0.05
GROWTH = 1.25
WANDER_MEMORY = 30.0  # s; usual for thermal gauges: two of them are one independent stretch (assumed, no source)
_FIRST = 0.25  # share of the error rate that the first look spends
_SPREAD = 8.0  # looks after it in which all but 1/e of the rest is spent: from 5 min to half an hour
_GAIN = 5.0
"""Power of the length with which a hold's information on its leak grows. A slope in white noise gains with the third,
a leak under outgassing faster; the faster, the less looks have in common and the larger a quantile must be. If they had
nothing in common at all, the looks together would err in 5.8 % instead of 5. [-]"""
_REACH, _POINTS = 8.0, 641  # standard deviations, and points of the numerical integration: quantiles good to 0.002
FARTHEST = DAY  # s; nobody waits beside a gauge for longer


def spent(number: int, alpha: float = ALPHA) -> float:
    """Return what the first so many looks may spend together, of one decision's error rate.

    Parameters
    ----------
    number : int
        How many looks. [-]
    alpha : float
        The error rate. [-]

    Returns
    -------
    float
        Never more than the error rate. [-]

    Examples
    --------
    >>> round(spent(1), 4), round(spent(8), 4), round(spent(100), 4)
    (0.0125, 0.0344, 0.05)
    """
    return alpha * (1.0 - (1.0 - _FIRST) * math.exp(-(number - 1) / _SPREAD)) if number > 0 else 0.0


def level_of(number: int, alpha: float = ALPHA, growth: float = GROWTH) -> float:
    r"""Return the level of the interval that the k-th look takes.

    Parameters
    ----------
    number : int
        k, counted from 1. [-]
    alpha : float
        Chance that any look at all decides wrongly. [-]
    growth : float
        Factor by which a hold grows from look to look. [-]

    Returns
    -------
    float
        Level of this look alone, both ends together. [-]

    Raises
    ------
    RangeError
        If the number is below 1, alpha not between 0 and 1, or the growth not above 1.

    Examples
    --------
    Where Bonferroni's inequality over 1/(k(k+1)) asks for 0.9983 and 0.9995:

    >>> round(level_of(5), 4), round(level_of(10), 4)
    (0.9926, 0.9961)

    References
    ----------
    .. [1] Lan and DeMets, "Discrete sequential boundaries for clinical trials", Biometrika 70 (1983) 659-663.
    .. [2] Armitage, McPherson and Rowe, "Repeated significance tests on accumulating data", J. R. Stat. Soc. A 132
       (1969) 235-244: the recursion over the looks.
    """
    if number < 1 or not 0 < alpha < 1 or growth <= 1:
        raise RangeError("looks are counted from 1, alpha lies between 0 and 1, and a hold grows from look to look")
    return 2.0 * normal_probability(_boundary(number, alpha, growth)) - 1.0


def students_level(level: float, length: float) -> float:
    r"""Return the level at which a normal quantile is as large as Student's at the level asked for.

    Parameters
    ----------
    level : float
        Level asked for. [-]
    length : float
        Length of the hold: one degree of freedom for every two memories of a gauge's wander. [s]

    Returns
    -------
    float
        A higher level, the closer to the one asked for the longer the hold. [-]

    Examples
    --------
    >>> round(students_level(0.95, 300.0), 3), round(students_level(0.95, 86400.0), 3)
    (0.99, 0.95)
    """
    quantile = students_quantile(max(1.0, length / (2.0 * WANDER_MEMORY)), 0.5 + level / 2.0)
    return min(2.0 * normal_probability(quantile) - 1.0, 1.0 - 1e-13)


def _boundary(number: int, alpha: float, growth: float) -> float:
    """Return the quantile of the k-th look, in standard deviations. [-]"""
    return _state(number, alpha, growth)[0]


@cache
def _state(number: int, alpha: float, growth: float) -> tuple[float, FloatArray]:
    """Return the k-th look's quantile, and the density of its statistic where no look before went beyond its own."""
    grid = np.linspace(-_REACH, _REACH, _POINTS)
    step = grid[1] - grid[0]
    if number == 1:
        density = np.exp(-0.5 * grid**2) / math.sqrt(2.0 * math.pi)
    else:
        before, last = _state(number - 1, alpha, growth)
        inside = np.clip((before - grid) / step + 0.5, 0.0, 1.0)  # a cell that the quantile cuts counts in part
        kept = growth ** (-0.5 * _GAIN)  # correlation with the look before
        spread = math.sqrt(1.0 - kept**2)
        away = (grid[:, None] - kept * grid[None, :]) / spread
        density = np.exp(-0.5 * away**2) @ (last * inside) * step / (spread * math.sqrt(2.0 * math.pi))
    may_spend = spent(number, alpha) - spent(number - 1, alpha)
    beyond = np.cumsum(density[::-1])[::-1] * step - 0.5 * density * step
    return float(np.interp(-may_spend, -beyond, grid)), density


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
