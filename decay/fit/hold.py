"""One hold: how fast a steady rise goes on, how much levels off, and how small a leak it could have shown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from decay.fit.bins import Bins
from decay.fit.description import describe
from decay.fit.free_water import free_water
from decay.fit.hose import behind_hose, drop_at_start, is_steady_flow
from decay.fit.measured import Measured
from decay.fit.mixture import Mixture, Solution
from decay.fit.parts import Parts, settling_time
from decay.fit.profile import (
    LEVEL,
    accelerating_interval,
    centred,
    characteristic_limits,
    hull,
    leak_interval,
    limits_beneath,
    no_steeper_than_seen,
    raised,
    threshold,
    widened,
    with_bend,
)
from decay.fit.residuals import (
    lag_one_correlation,
    misfit_probability,
    one_sided_growth_probability,
    runs_probability,
)
from decay.fit.results import HoldFit, PumpdownFit, ResidualTests, WaterFit
from decay.fit.whitening import Whitening
from decay.interval import Interval
from decay.physics import water as water_physics

KAPPA = 10.0
SLOWEST = 4.0
"""Longest time constant let in, in units of the time under vacuum. A power law t^-n has t/n, which is 2 for n = 0.5;
gas that leaves oil needs more. [-]"""
SUSPICIOUS = 1e-3
"""Probability below which one of the model's own tests counts as failed. [-]"""
TAKEN_UP = 0.03
"""Share of what levels off that may be taken up again unseen, or that a gauge's curvature may hide. [-]"""
UNSTEADY = 0.01
"""Share by which a steady leak's own rise strays from a line: the hose's share of the pressure, the temperature. [-]"""
NEARLY_STRAIGHT = 0.02
"""Scatter about a line, as a share of the rise, below which a gauge could not vouch for a bend. [-]"""
_TAKING_UP = (0.1, 0.3)
"""Time constants, in holds, with which gas may be taken up again where the plain model fails. [-]"""
_ANY_WORKSHOP = (278.15, 293.15, 313.15)


def fit_hold(
    hold: Measured,
    *,
    under_vacuum: float | None = None,
    pull: PumpdownFit | None = None,
    kappa: float = KAPPA,
    level: float = LEVEL,
) -> HoldFit:
    """Fit one hold.

    Parameters
    ----------
    hold : Measured
        Its bins, noise and temperature. [Pa, s]
    under_vacuum : float, optional
        Time since pumping began, at isolation; ``None`` where the log does not show it. [s]
    pull : PumpdownFit, optional
        The pull before the hold.
    kappa : float
        Longest time constant let in, in holds. [-]
    level : float
        Of the leak's interval and of what counts as seen; the limits keep their 5 % errors. [-]

    Returns
    -------
    HoldFit
        Estimates, intervals and the model's own tests.
    """
    bins, noise, drift = hold.bins, Whitening(hold.noise.covariance), hold.air_drift
    span = bins.length
    longest = longest_time_constant(span, under_vacuum, kappa)

    model = _describing(bins, noise, longest)
    problem, best, tests = model.problem, model.best, model.tests
    growth = threshold(level=level) * tests.inflation
    leak = leak_interval(problem, best, growth, level)
    if not tests.adequate:
        # What no model here describes may still be gas taken up all through the hold, or a leak that opens.
        sink = Mixture(bins, noise, longest, problem.extra, taking_up=span)
        leak = hull(leak, leak_interval(sink, sink.best(), growth, level))
    if tests.bend_p < SUSPICIOUS:
        leak = accelerating_interval(problem, longest, leak, growth)
    if not tests.adequate:
        leak = no_steeper_than_seen(leak, problem)
    leak = widened(leak, drift)
    is_leak_seen = leak.low > 0.0
    leak = with_hidden_sinks(leak, problem, best)

    short = Mixture(bins, noise, span, problem.extra)
    short_best = short.best()
    short_look = widened(leak_interval(short, short_best, growth, level), drift)
    straight = Mixture(bins, noise, settling_time(span), problem.extra)
    straight_best = straight.best()
    is_straight = is_as_good(straight_best, best, tests.inflation)
    # Where nothing levels off, any rise beyond the noise is a steady rise; where something does, a leak beneath it must
    # be told from sources up to one hold long.
    if is_straight:
        decision, detection = characteristic_limits(straight, straight_best, tests.inflation, drift)
        is_steady = leak_interval(straight, straight_best, growth).low > drift
    else:
        decision, detection = limits_beneath(short, short_best, short_look.high, tests.inflation, drift)
        is_steady = short_look.low > 0.0
    # The interval's ends let slow sources in; the estimate is what the hold itself shows: the slope of a rise that is
    # straight for all practical purposes, else what does not level off within the hold.
    is_nearly_straight = _lack_of_fit(straight, straight_best) <= NEARLY_STRAIGHT * abs(hold.rise)
    leak = centred(leak, straight_best.rate if is_nearly_straight else short_best.rate)
    shown = problem.at(leak.value)
    # A leak of that size would raise the pressure, and with it what the same drift feigns.
    detection *= 1.0 + drift * span / hold.highest
    if not (is_leak_seen or is_steady):
        # What the interval does not exclude cannot have been sure to show.
        detection = max(detection, leak.high)

    water = _test_water(problem, best, hold, tests.inflation)
    if water.is_possible and (pull is None or pull.water_suspected):
        # Nothing in the log tells this rise from water far below its saturation pressure.
        leak = Interval(leak.value, 0.0, leak.high, leak.level)

    parts = Parts(problem, shown)
    outgassing = parts.outgassing(leak)
    step = float(np.max(bins.step))
    return HoldFit(
        start=hold.start,
        end=hold.end,
        fit_from=hold.start + float(bins.left[0]),
        start_pressure=hold.start_pressure,
        end_pressure=hold.end_pressure,
        readings=hold.readings,
        leak=leak,
        short_look=short_look,
        outgassing=outgassing,
        outgassing_time_constant=parts.time_constant,
        plateau=parts.plateau,
        decision_threshold=decision,
        detection_limit=detection,
        is_leak_seen=is_leak_seen,
        is_steady_rise_seen=is_leak_seen or is_steady,
        is_outgassing_seen=not is_straight and outgassing.low > max(2 * bins.reading_noise, step),
        noise=float(np.hypot(bins.reading_noise, hold.noise.wander)),
        step=step,
        kappa=longest / span,
        tests=tests,
        water=water,
        description=describe(bins.centre, bins.pressure, bins.count, hold.scatter_within, hold.readings),
        curve=parts.curve(hold.start, leak),
        assumptions=_assumptions(longest, span, hold),
        plain_inflation=model.plain_inflation,
        hose_drop=drop_at_start(best) if problem.extra.size else None,
        share_at_zero=hold.share_at_zero,
        is_constant=hold.is_constant,
        naming_limit=limits_beneath(problem, best, leak.high, tests.inflation, drift)[1],
    )


def longest_time_constant(span: float, under_vacuum: float | None, kappa: float = KAPPA) -> float:
    """Return the slowest source let in after so long under vacuum, `None` where that is not known. [s]"""
    return max(kappa * span, SLOWEST * under_vacuum if under_vacuum is not None else 0.0)


def is_as_good(straight: Solution, best: Solution, inflation: float = 1.0) -> bool:
    """Tell whether a line alone describes the rise: a source's height and time constant must earn their place."""
    return straight.misfit - best.misfit <= threshold(2) * inflation


def with_hidden_sinks(leak: Interval, problem: Mixture, best: Solution) -> Interval:
    """Return the interval with its upper end raised by what the hold cannot show of a leak. [Pa/s]"""
    taken_up = TAKEN_UP * Parts(problem, best).outgassing(leak).value / problem.bins.length
    return raised(leak, taken_up + UNSTEADY * leak.high)


@dataclass(frozen=True, slots=True, eq=False)
class _Model:
    """What a hold is put to: a problem, its best fit and tests, and how far the plain one would have been inflated."""

    problem: Mixture
    best: Solution
    tests: ResidualTests
    plain_inflation: float


def _describing(bins: Bins, noise: Whitening, longest: float) -> _Model:
    """Return the smallest model that describes the hold; the plain one, with its tests failed, where none does.

    Each wider model holds the plain one as a special case, so that its interval claims no more.
    """
    plain = Mixture(bins, noise, longest)
    best = plain.best()
    tests = _examine(plain, best, longest)
    if not tests.adequate:
        for wider in _wider_models(bins, noise, longest):
            wider_best = wider.best()
            wider_tests = _examine(wider, wider_best, longest)
            if wider_tests.adequate and (not wider.extra.size or is_steady_flow(wider, wider_best)):
                return _Model(wider, wider_best, wider_tests, tests.inflation)
    return _Model(plain, best, tests, tests.inflation)


def _wider_models(bins: Bins, noise: Whitening, longest: float) -> Iterator[Mixture]:
    """Make the models for holds that the plain one does not describe, each when it is asked for.

    A drop along the hose fades; gas taken up again early, and rig and system that equalise slowly downwards, leave a
    falling part.
    """
    yield behind_hose(bins, noise, longest)
    for share in _TAKING_UP:
        yield Mixture(bins, noise, longest, taking_up=share * bins.length)


def _examine(problem: Mixture, best: Solution, longest: float) -> ResidualTests:
    """Test the model on its own residuals; where it fails, the interval widens and never narrows."""
    residuals = problem.residuals(best)
    freedom = max(1, len(residuals) - 2 - int(np.count_nonzero(best.amplitudes > 0)))
    misfit = best.misfit / freedom
    bent = with_bend(problem, longest).best()
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


def _test_water(problem: Mixture, best: Solution, hold: Measured, inflation: float) -> WaterFit:
    if hold.ambient is None:
        low, middle, high = _ANY_WORKSHOP
    else:
        low, middle, high = (hold.ambient + d for d in (-hold.ambient_spread, 0.0, hold.ambient_spread))
    saturation = Interval(*(float(water_physics.saturation_pressure(t)) for t in (middle, low, high)))
    return free_water(problem, best, saturation, threshold() * inflation)


def _lack_of_fit(problem: Mixture, solution: Solution) -> float:
    """Return the root mean square by which the bins miss a fit beyond their noise. [Pa]"""
    square = (problem.bins.pressure - problem.curve(solution)) ** 2 - np.diag(problem.covariance)
    return float(max(0.0, np.average(square, weights=problem.bins.count)) ** 0.5)


def _assumptions(longest: float, span: float, hold: Measured) -> tuple[str, ...]:
    temperature = (
        "The air inside followed the logged temperature."
        if hold.is_temperature_logged
        else "The air inside drifted by less than 1 K in an hour."
    )
    return (
        f"No source is slower than {longest / span:.0f} times this hold ({longest / 60:.0f} min); "
        "a slower one would look like a leak.",
        "Sources only ever give off gas more slowly; nothing is taken up again after the first twentieth of the hold.",
        temperature,
    )
