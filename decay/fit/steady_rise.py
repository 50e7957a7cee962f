"""The steady rise of a hold by each model that describes it: with sources slower than the hold, without, as a line.

After each fit the model tests itself: misfit, runs of equal sign, an upward bend (`fit/profile.py`). Where the plain
model fails, wider ones are tried, each with the plain one as a special case. What rises and falls at will (gas taken
up) follows anything, so that sources alone, with what they miss as their noise, have their say beside it.

First a drop along the hose (`fit/alternatives.py`): a gauge beside a leak on its own side reads `p + Q/C`, and `C`
grows with the mean pressure in the hose (Knudsen), so that a steady leak looks as if it accelerated. Two bores stand
for all; the drop counts only where the leak that makes it is there (H15). Where the plain model describes the hold all
the same, the upper end is still raised to what the hose's model allows, by no more than a drop as high as the rise of
the first seconds can take off while it fades.

Then gas taken up again (sinks with time constants of 0.1 or 0.3 holds). Where nothing describes the hold, the interval
is the hull with one that lets sinks in all through the hold, and the misfit and its memory inflate the threshold:
wider, never narrower.

The ends let slow sources in; the value does not. It is the slope of a straight line where the rise is straight for all
practical purposes (scatter about the line below 2 % of the rise), else what does not level off in a *short* look, which
lets in no source slower than the hold. So the value may sit at the interval's upper end: a straight rise is probably a
leak, and may be a slow source.

A rise that bends upwards is nothing the model holds. A quadratic part is let in, and the interval then runs from the
steady part at the start to the slope at the end; the cause is unresolved, and the finding names it. Where no model
describes the hold, the interval reaches no further than twice the steepest tenth of it: beyond that it would tell of
the misfit and not of a leak.

The gauge: a gain that wanders by `GAIN` at either end of a decade that the hold passed widens both ends of the rate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from decay.fit.alternatives import behind_hose, is_steady_flow
from decay.fit.bins import Bins, Whitening
from decay.fit.measured import Measured
from decay.fit.mixture import Mixture, Parts, Solution, finer, settling_time
from decay.fit.profile import (
    accelerating_interval,
    centred,
    characteristic_limits,
    hull,
    lag_one_correlation,
    leak_interval,
    limits_beneath,
    misfit_probability,
    no_steeper_than_seen,
    one_sided_growth_probability,
    raised,
    runs_probability,
    threshold,
    widened,
    with_bend,
)
from decay.fit.results import ResidualTests
from decay.interval import Interval

SUSPICIOUS = 1e-3
"""Probability below which one of the model's own tests counts as failed. [-]"""
TAKEN_UP = 0.03
"""Share of what levels off that may be taken up again unseen, or that a gauge's curvature may hide. [-]"""
UNSTEADY = 0.01
"""Share by which a steady leak's own rise strays from a line: the hose's share of the pressure, the temperature. [-]"""
NEARLY_STRAIGHT = 0.02
"""Scatter about a line, as a share of the rise, below which a gauge could not vouch for a bend. [-]"""
_TOO_COARSE = 0.1
"""Probability of the misfit below which the grid is made finer about what it found. [-]"""
TAKING_UP_TIMES = (0.1, 0.3)
"""Time constants, in holds, with which gas may be taken up again where the plain model fails. [-]"""
GAIN = 0.015
"""How far the gain at one end of a decade may lie from its mean over it: half of some per cent a decade. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class SteadyRise:
    """What one model of a hold says of its steady rise."""

    # The plain model: sources up to the slowest let in
    problem: Mixture
    best: Solution
    tests: ResidualTests  # of that model on its own residuals
    plain_inflation: float  # factor on the threshold for sources alone, without hose or sinks [-]
    # The steady rise by the plain model, and where no source is slower than the hold; the gauge's gain counts as
    # constant [Pa/s]
    leak: Interval
    short: Interval
    # Its best estimate: the slope of what is straight, else what does not level off in the short model [Pa/s]
    value: float
    # A line alone describes the rise; more goes on than a line or the short model allow by chance
    is_straight: bool
    is_steady: bool
    # Decision threshold and detection limit of a steady rise [Pa/s]
    decision: float
    detection: float


def described(hold: Measured, bins: Bins, noise: Whitening, longest: float, level: float) -> SteadyRise:
    """Put the models to a hold's bins.

    Parameters
    ----------
    hold : Measured
        The hold. [Pa, s]
    bins : Bins
        Its bins, with the law by which a leak's inflow fades. [Pa, s]
    noise : Whitening
        Their noise.
    longest : float
        Longest time constant let in. [s]
    level : float
        Of the intervals. [-]
    """
    model = _describing(bins, noise, longest)
    problem, best, tests = model.problem, model.best, model.tests
    growth, drift, span = threshold(level=level) * tests.inflation, hold.air_drift, bins.length
    leak = widened(_plain_interval(model, growth, level), drift)
    # The short model's sources are among the plain one's.
    quick = problem.time_constants[problem.time_constants < span]
    short = Mixture(bins, noise, np.append(quick, span), problem.extra).begin(problem, best)
    short_best = short.best()
    short_leak = widened(leak_interval(short, short_best, growth, level), drift)
    straight = Mixture(bins, noise, settling_time(span), problem.extra)
    straight_best = straight.best()
    is_straight = is_as_good(straight_best, best, tests.inflation)
    # Where nothing levels off, any rise beyond the noise is a steady rise; where something does, a leak beneath it must
    # be told from sources up to one hold long.
    if is_straight:
        decision, detection = characteristic_limits(straight, straight_best, tests.inflation, drift)
        is_steady = leak_interval(straight, straight_best, growth).low > drift
    else:
        decision, detection = limits_beneath(short, short_best, short_leak.high, tests.inflation, drift)
        is_steady = short_leak.low > 0.0
    # The interval's ends let slow sources in; the estimate is what the hold itself shows: the slope of a rise that is
    # straight for all practical purposes, else what does not level off within the hold.
    is_nearly_straight = _lack_of_fit(straight, straight_best) <= NEARLY_STRAIGHT * abs(hold.rise)
    return SteadyRise(
        problem=problem,
        best=best,
        tests=tests,
        plain_inflation=model.plain_inflation,
        leak=with_hidden_sinks(leak, problem, best),
        short=short_leak,
        value=straight_best.rate if is_nearly_straight else short_best.rate,
        is_straight=is_straight,
        is_steady=is_steady,
        decision=decision,
        # A leak of that size would raise the pressure, and with it what the same drift feigns.
        detection=detection * (1.0 + drift * span / hold.highest),
    )


def naming_limit(first: SteadyRise, drift: float) -> float:
    """Return the detection limit of a steady rise beside the slowest sources let in, and a drift [Pa/s]. [Pa/s]"""
    return characteristic_limits(first.problem, first.best, first.tests.inflation, drift)[1]


def together(first: SteadyRise, rises: list[SteadyRise]) -> Interval:
    """Return a steady rise that holds what every one allows that describes the hold; all, where none does. [Pa/s]"""
    leak = first.leak
    for other in rises:
        if other.tests.adequate or not first.tests.adequate:
            leak = hull(leak, other.leak)
    return centred(leak, first.value)


def _plain_interval(model: _Model, growth: float, level: float) -> Interval:
    """Return the steady rise's interval, wider where the model fails its tests. [Pa/s]"""
    problem, tests = model.problem, model.tests
    leak = leak_interval(problem, model.best, growth, level)
    if not tests.adequate:
        # What no model here describes may still be gas taken up all through the hold, or a leak that opens.
        sink = Mixture(
            problem.bins, problem.noise, problem.time_constants, problem.extra, taking_up=problem.bins.length
        )
        leak = hull(leak, leak_interval(sink, sink.best(), growth, level))
    if tests.bend_p < SUSPICIOUS:
        leak = accelerating_interval(problem, leak, growth)
    if model.plain is not None and problem.taking_up is not None:
        # What rises and falls at will follows a swing of the temperature, or two volumes that equalise, just as well:
        # sources alone, with what they miss as their noise, have their say.
        plain = model.plain
        inflated = growth / tests.inflation * plain.tests.inflation
        allowed = leak_interval(plain.problem, plain.best, inflated, level)
        leak = hull(leak, no_steeper_than_seen(allowed, plain.problem))
    return leak if tests.adequate else no_steeper_than_seen(leak, problem)


def with_gauge_error(leak: Interval, bins: Bins) -> Interval:
    """Return the interval widened by what a gain that wanders with the pressure may add to its ends. [Pa/s]"""
    lowest, highest = float(np.min(bins.pressure)), float(np.max(bins.pressure))
    decades = np.log10(highest / max(lowest, 0.01 * highest)) if highest > 0.0 else 0.0
    error = GAIN * float(decades)
    low, high = leak.low * (1.0 - error), leak.high * (1.0 + error)
    return Interval(leak.value, low, high, leak.level)


def is_as_good(straight: Solution, best: Solution, inflation: float = 1.0) -> bool:
    """Tell whether a line alone describes the rise: a source's height and time constant must earn their place."""
    return straight.misfit - best.misfit <= threshold(2) * inflation


def with_hidden_sinks(leak: Interval, problem: Mixture, best: Solution) -> Interval:
    """Return the interval with its upper end raised by what the hold cannot show of a leak. [Pa/s]"""
    taken_up = TAKEN_UP * Parts(problem, best).levelled / problem.bins.length
    return raised(leak, taken_up + UNSTEADY * leak.high)


@dataclass(frozen=True, slots=True, eq=False)
class _Model:
    """What a hold is put to: a problem, its best fit and tests, and the plain one where that is another."""

    problem: Mixture
    best: Solution
    tests: ResidualTests
    plain: _Model | None = None

    @property
    def plain_inflation(self) -> float:
        """How far sources alone are inflated. [-]"""
        return self.tests.inflation if self.plain is None else self.plain.tests.inflation


def _describing(bins: Bins, noise: Whitening, longest: float) -> _Model:
    """Return the smallest model that describes the hold; the plain one, with its tests failed, where none does.

    Each wider model holds the plain one as a special case.
    """
    plain = Mixture(bins, noise, longest)
    best = plain.best()
    if misfit_probability(best.misfit, _freedom(plain, best)) < _TOO_COARSE:
        plain = Mixture(bins, noise, finer(plain.time_constants, best.amplitudes[: len(plain.time_constants)]))
        best = plain.best()
    tests = _examine(plain, best)
    if not tests.adequate:
        for wider in _wider_models(plain):
            wider_best = wider.best()
            wider_tests = _examine(wider, wider_best)
            if wider_tests.adequate and (not wider.extra.size or is_steady_flow(wider, wider_best)):
                return _Model(wider, wider_best, wider_tests, _Model(plain, best, tests))
    return _Model(plain, best, tests)


def _wider_models(plain: Mixture) -> Iterator[Mixture]:
    """Make the models for holds that the plain one does not describe, each when it is asked for.

    A drop along the hose fades; gas taken up again early, and rig and system that equalise slowly downwards, leave a
    falling part.
    """
    bins, noise, grid = plain.bins, plain.noise, plain.time_constants
    yield behind_hose(bins, noise, grid)
    for share in TAKING_UP_TIMES:
        yield Mixture(bins, noise, grid, taking_up=share * bins.length)


def _freedom(problem: Mixture, best: Solution) -> int:
    return max(1, len(problem.bins.pressure) - 2 - int(np.count_nonzero(best.amplitudes > 0)))


def _examine(problem: Mixture, best: Solution) -> ResidualTests:
    """Test the model on its own residuals; where it fails, the interval widens and never narrows."""
    residuals = problem.residuals(best)
    freedom = _freedom(problem, best)
    misfit = best.misfit / freedom
    bent = with_bend(problem).begin(problem, best).best()
    bend_p = one_sided_growth_probability((best.misfit - bent.misfit) / max(1.0, bent.misfit / freedom))
    correlation = lag_one_correlation(residuals)
    runs_p = runs_probability(residuals)
    adequate = min(misfit_probability(best.misfit, freedom), runs_p, bend_p) > SUSPICIOUS
    inflation = max(1.0, misfit)
    if not adequate and correlation > 0:
        # Residuals with a memory carry less information than their number says: n_eff = n (1 - rho) / (1 + rho).
        inflation *= (1 + min(correlation, 0.9)) / (1 - min(correlation, 0.9))
    return ResidualTests(
        misfit=misfit,
        correlation=correlation,
        runs_p=runs_p,
        bend_p=bend_p,
        bend=float(bent.amplitudes[-1]),
        inflation=inflation,
        adequate=adequate,
    )


def _lack_of_fit(problem: Mixture, solution: Solution) -> float:
    """Return the root mean square by which the bins miss a fit beyond their noise. [Pa]"""
    square = (problem.bins.pressure - problem.curve(solution)) ** 2 - np.diag(problem.covariance)
    return float(max(0.0, np.average(square, weights=problem.bins.count)) ** 0.5)
