"""What the misfit says: the rate's interval, its limits of detection, and the model's tests of itself.

The profile of the misfit in `r` is convex. The lower end is where it has grown by chi-squared(0.95, 1) times the
inflation. The upper end uses two degrees of freedom: at the true rate sources may stand at their bound of zero, and the
growth is then a mixture of chi-squared of one, two and more degrees (Self and Liang 1987); one degree missed too often
in simulation.

After that `TAKEN_UP` = 3 % of what levels off, spread over the hold, raises the upper end: gas taken up unseen, or a
gauge's curvature, may hide that much leak; and `UNSTEADY` = 1 % of itself, for a leak's own rise strays from a line by
the hose and the temperature. The upper end is robust, for outgassing only adds to a rise. The lower end depends on the
slowest source that is let in, and every report says so.

On simple holds the intervals cover more than they promise (99 to 100 %), and there is nothing to have back: one degree
of freedom instead of two at the upper end changes the median width by less than 2 % and leaves the coverage where it
is. What is wide is the slow source at the lower end, and at the upper the 3 % that may be taken up and the kelvin an
hour that nobody notices; holds that have neither cannot know.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np

from decay.arrays import FloatArray
from decay.fit.chances import chi_squared_quantile, chi_squared_tail, normal_probability, normal_quantile
from decay.fit.mixture import Mixture, Solution
from decay.interval import Interval

LEVEL = 0.95
Z_SEEN = normal_quantile(0.5 + LEVEL / 2)
Z_MISSED = normal_quantile(0.975)
"""Quantile for 2.5 % misses: the rest of the 5 % is left to the 4 % of holds in which chance finds a wander. [-]"""
UPPER_FACTOR = chi_squared_quantile(2, 0.95) / chi_squared_quantile(1, 0.95)
"""Factor on the growth that bounds the rate from above. [-]

At the true rate every source may stand at its bound of zero, and a fit with a lower rate may use any of them to follow
the noise: the growth is then distributed as a mixture of chi-squared of one, two and more degrees of freedom
(Self and Liang 1987), not of one. On 120 simulated holds of a leak and
one source, one degree missed the truth in 13 and two in 3.
"""
_LONGEST_WALK = 60
_CLOSER, _CLOSE = 3, 0.05
"""Steps towards each limit after that walk, and the share of the root that is near enough. [-]"""
_STRETCH = 0.1
"""Shortest stretch of a hold whose slope counts, as a share of it. [-]"""


def threshold(parameters: int = 1, level: float = LEVEL) -> float:
    """Return the growth of the misfit that chance exceeds with probability 1 - level. [-]"""
    return chi_squared_quantile(parameters, level)


def leak_interval(problem: Mixture, best: Solution, growth: float, level: float = LEVEL) -> Interval:
    """Return the rates at which the best misfit over everything else has grown by less than a threshold.

    Parameters
    ----------
    problem : Mixture
        The hold. [Pa, s]
    best : Solution
        Its best fit. [Pa/s, Pa]
    growth : float
        The threshold. [-]
    level : float
        Level that the threshold stands for. [-]

    Returns
    -------
    Interval
        Profile-likelihood interval of the steady rise. [Pa/s]
    """
    return profile_interval(problem.misfit, best, growth, problem.line_error, level)


def profile_interval(
    profile: Callable[[float], float], best: Solution, growth: float, error: float, level: float = LEVEL
) -> Interval:
    """Return the interval of a non-negative rate from any convex profile.

    Parameters
    ----------
    profile : callable
        Misfit at a rate [Pa/s]. [-]
    best : Solution
        The minimum. [Pa/s]
    growth : float
        Growth of the misfit that bounds the interval. [-]
    error : float
        A stride to begin the search with. [Pa/s]
    level : float
        Level that the growth stands for. [-]

    Returns
    -------
    Interval
        The interval. [Pa/s]
    """
    profile = cache(profile)  # the search comes back to the ends that it begins at
    ceiling = best.misfit + growth
    low = 0.0
    if best.rate > 0 and profile(0.0) > ceiling:
        low = crossing(profile, best.rate, ceiling, 0.0)
    ceiling = best.misfit + growth * UPPER_FACTOR
    stride = max(growth**0.5 * error, 1e-12 * best.rate)
    outside = best.rate + 2 * stride
    while profile(outside) <= ceiling:
        stride *= 2
        outside += stride
    high = crossing(profile, best.rate, ceiling, outside)
    return Interval(best.rate, min(low, best.rate), max(high, best.rate), level)


def widened(leak: Interval, drift: float) -> Interval:
    """Return the interval with an unknown rate of either sign added to both ends. [Pa/s]"""
    return Interval(leak.value, max(0.0, leak.low - drift), leak.high + drift, leak.level)


def raised(leak: Interval, hidden: float) -> Interval:
    """Return the interval with its upper end raised by a rate that sinks may hide. [Pa/s]"""
    return Interval(leak.value, leak.low, leak.high + hidden, leak.level)


def centred(leak: Interval, rate: float) -> Interval:
    """Return the interval with another estimate inside it. [Pa/s]"""
    return Interval(min(max(rate, leak.low), leak.high), leak.low, leak.high, leak.level)


def hull(first: Interval, second: Interval) -> Interval:
    """Return the first interval widened until it holds the second."""
    return Interval(first.value, min(first.low, second.low), max(first.high, second.high), first.level)


def accelerating_interval(problem: Mixture, plain: Interval, growth: float) -> Interval:
    """Widen the interval of an accelerating rise: from the steady part at its start to the slope at its end.

    Parameters
    ----------
    problem : Mixture
        The hold. [Pa, s]
    plain : Interval
        The interval without an accelerating part. [Pa/s]
    growth : float
        Growth of the misfit that bounds the interval. [-]

    Returns
    -------
    Interval
        An interval that holds the plain one. [Pa/s]
    """
    bent = with_bend(problem)
    best = bent.best()
    first = leak_interval(bent, best, growth, plain.level)
    final_slope = first.high + 2 * float(best.amplitudes[-1]) / problem.bins.length
    return Interval(plain.value, min(first.low, plain.low), max(final_slope, plain.high), plain.level)


def no_steeper_than_seen(leak: Interval, problem: Mixture) -> Interval:
    """Return the interval with its upper end at twice the steepest stretch of the hold, if it lies above that.

    A steady leak adds to every stretch. To hide one of twice the steepest, something would have to take up as much as
    the whole hold ever shows, all the time: an interval that reaches further tells of its misfit and not of a leak.

    Parameters
    ----------
    leak : Interval
        The interval of a hold that no model describes. [Pa/s]
    problem : Mixture
        The hold. [Pa, s]

    Returns
    -------
    Interval
        The interval. [Pa/s]
    """
    pressure, time, variance = problem.bins.pressure, problem.bins.centre, np.diag(problem.covariance)
    apart = time[None, :] - time[:, None]
    far = apart >= _STRETCH * problem.bins.length
    errors = Z_SEEN * np.sqrt(variance[None, :] + variance[:, None])
    rises = (pressure[None, :] - pressure[:, None] + errors)[far] / apart[far]
    highest = 2.0 * max(0.0, float(rises.max(initial=0.0)))
    return Interval(leak.value, leak.low, max(min(leak.high, highest), leak.value), leak.level)


def with_bend(problem: Mixture) -> Mixture:
    """Return the same hold with an accelerating part let in; its coefficient is the last amplitude. [Pa]"""
    square = (problem.bins.time / problem.bins.length) ** 2
    return problem.beside(np.column_stack((problem.extra, square)))


def characteristic_limits(problem: Mixture, best: Solution, inflation: float, drift: float) -> tuple[float, float]:
    """Return decision threshold and detection limit from this hold's own noise, length and outgassing.

    The noncentrality of the test "is there a steady part" is the misfit that a rate would cause if it were explained
    without one; it grows as the square of the rate. The limits are the rates at which its root reaches the test's
    quantile, and that quantile plus the one for 5 % misses.

    Parameters
    ----------
    problem : Mixture
        The hold with the sources that the test lets in. [Pa, s]
    best : Solution
        Its best fit: the outgassing that the leak would hide beneath. [Pa/s, Pa]
    inflation : float
        Factor on the squared misfit. [-]
    drift : float
        Rate that a temperature drift may feign. [Pa/s]

    Returns
    -------
    tuple of float
        Decision threshold and detection limit. [Pa/s]

    References
    ----------
    .. [1] Currie, "Limits for qualitative detection and quantitative determination", Analytical Chemistry 40 (1968)
       586-593. The quantile here is the two-sided one, as the interval's lower end decides.
    """
    return _limits(problem, problem.sources(best), inflation, drift)


def limits_beneath(
    problem: Mixture, best: Solution, high: float, inflation: float, drift: float
) -> tuple[float, float]:
    """Return the characteristic limits beneath sources that are themselves known from this hold only.

    How much of a rise sources can imitate depends on how they share the rest between them, and a hold leaves that open:
    of one source the best fit often makes two, the slower of which then has no room to give. The largest limits of
    three fits count: the best one, the one that leaves the sources least, and one source alone where it fits as well.

    Parameters
    ----------
    problem : Mixture
        The hold with the sources that the test lets in. [Pa, s]
    best : Solution
        Its best fit. [Pa/s, Pa]
    high : float
        Upper end of the rate's interval with these sources. [Pa/s]
    inflation : float
        Factor on the squared misfit. [-]
    drift : float
        Rate that a temperature drift may feign. [Pa/s]

    Returns
    -------
    tuple of float
        Decision threshold and detection limit. [Pa/s]
    """
    sources = [problem.sources(best), problem.sources(problem.at(high))]
    single, misfit = problem.single()
    if misfit - best.misfit <= threshold(2) * inflation:
        sources.append(single)
    return max((_limits(problem, each, inflation, drift) for each in sources), key=lambda pair: pair[1])


def _limits(problem: Mixture, sources: FloatArray, inflation: float, drift: float) -> tuple[float, float]:
    roots = np.array([Z_SEEN, Z_SEEN + Z_MISSED]) * inflation**0.5
    excess = problem.excess(sources)
    rates = [roots[0] * problem.line_error]
    found = [excess(rates[0]) ** 0.5]
    # Small rates hide entirely beneath sources that give way to them, so the root may stay near zero for long.
    while found[-1] < roots[1] and len(rates) < _LONGEST_WALK:
        factor = min(max(1.3, 0.7 * roots[1] / max(found[-1], 1e-3 * roots[1])), 4.0)
        rates.append(rates[-1] * factor)
        found.append(excess(rates[-1]) ** 0.5)
    # Where sources give way, the root bends upwards: a chord would place the limits too low.
    for root in roots:
        for _ in range(_CLOSER):
            after = int(np.searchsorted(np.maximum.accumulate(found), root))
            if not 0 < after < len(rates) or found[after] - root < _CLOSE * root:
                break
            share = (root - found[after - 1]) / max(found[after] - found[after - 1], 1e-12)
            rate = rates[after - 1] + max(share, 0.5) * (rates[after] - rates[after - 1])
            rates.insert(after, rate)
            found.insert(after, excess(rate) ** 0.5)
    decision, detection = np.interp(roots, np.maximum.accumulate(found), rates)
    return float(decision) + drift, float(detection) + drift


def crossing(
    profile: Callable[[float], float], inside: float, level: float, outside: float, *, relative: float = 2e-3
) -> float:
    """Return where a convex profile reaches a level between a point below it and a point above it.

    Parameters
    ----------
    profile : callable
        Misfit as a function of the rate. [-]
    inside, outside : float
        Rates with the profile below and above the level. [Pa/s]
    level : float
        The level. [-]
    relative : float
        Tolerance as a share of the bracket. [-]

    Returns
    -------
    float
        The rate. [Pa/s]
    """
    a, b = inside, outside
    fa, fb = profile(a) - level, profile(b) - level
    tolerance = relative * abs(outside - inside)
    side = 0
    # Illinois' variant of false position: a profile of squares is nearly a parabola, a handful of steps suffices.
    for _ in range(60):
        if abs(b - a) <= tolerance or fa == 0.0:
            break
        x = (a * fb - b * fa) / (fb - fa)
        fx = profile(x) - level
        if abs(fx) < 5e-3:
            return float(x)
        if fx < 0:
            a, fa = x, fx
            fb = fb / 2 if side < 0 else fb
            side = -1
        else:
            b, fb = x, fx
            fa = fa / 2 if side > 0 else fa
            side = 1
    return float(np.mean((a, b)))


def misfit_probability(misfit: float, freedom: int) -> float:
    """Return the probability of so large a weighted sum of squares if the noise model holds.

    Parameters
    ----------
    misfit : float
        Weighted sum of squares. [-]
    freedom : int
        Degrees of freedom. [-]

    Returns
    -------
    float
        Upper tail of chi-squared. [-]
    """
    return chi_squared_tail(freedom, misfit)


def runs_probability(residuals: FloatArray) -> float:
    """Return the probability of so few runs of equal sign among independent residuals.

    Parameters
    ----------
    residuals : ndarray, shape (k,)
        Whitened residuals in order of time. [-]

    Returns
    -------
    float
        One-sided probability, normal approximation with continuity correction. [-]

    References
    ----------
    .. [1] Wald and Wolfowitz, "On a test whether two samples are from the same population", Annals of Mathematical
       Statistics 11 (1940) 147-162.
    """
    positive = residuals > 0
    n1, n2 = int(np.count_nonzero(positive)), int(np.count_nonzero(~positive))
    n = n1 + n2
    if n1 == 0 or n2 == 0 or n < 3:
        return 1.0
    runs = 1 + int(np.count_nonzero(positive[1:] != positive[:-1]))
    mean = 1 + 2 * n1 * n2 / n
    variance = 2 * n1 * n2 * (2 * n1 * n2 - n) / (n**2 * (n - 1))
    if variance <= 0:
        return 1.0
    return normal_probability((runs + 0.5 - mean) / math.sqrt(variance))


def lag_one_correlation(residuals: FloatArray) -> float:
    """Return the lag-one autocorrelation of residuals in order of time. [-]"""
    centred = residuals - residuals.mean()
    total = float(centred @ centred)
    return float(centred[1:] @ centred[:-1] / total) if total > 0 else 0.0


def one_sided_growth_probability(growth: float) -> float:
    """Return the probability that freeing one non-negative coefficient lowers the misfit so much by chance.

    Half of the time the coefficient stays at its bound, hence half of chi-squared's tail (Self and Liang 1987).
    """
    # Less than this is the rounding of two misfits that are equal, and which of them is smaller is chance.
    return 0.5 * chi_squared_tail(1, growth) if growth > 1e-9 else 1.0
