"""One hold: how fast a steady rise goes on, how much levels off, and how small a leak it could have shown.

Three models answer: *plain* (sources up to 10 holds), *short* (up to one hold), *straight* (equalisation only). A *leak
is seen* where the plain interval lies above zero; a *steady rise shows* where the short or the straight one does, and a
slower source may still make it. Limits are limits of showing; the naming limit is the one of being seen. The rise
counts as bent only where two more parameters earn their place.

Decision threshold and detection limit come from the noncentrality of the test "is there a steady part", with the
straight model where the rise is straight, else with the short one, after Currie (1968) and ISO 11929: the rates at
which its root reaches the test's quantile, and that quantile plus the one for 5 % misses.

How the sources share a rise is known from the same hold only, so the largest limits of three fits count: the best, the
one that leaves the sources least, and one source alone where it fits as well. Where nothing was seen, the detection
limit is at least the interval's upper end: what is not excluded cannot have been sure to show. The *naming limit* is
the same limit with the plain model: from there on a leak is told from slow sources.

Filling: from 10 kPa on a leak's inflow fades because the volume fills. The line `t` becomes the integral of the
inflow's share, by the measured pressure: through a fine path `1 - (p/p_a)²`, through an orifice choked up to 0.528 and
subsonic beyond. The law that fits best gives the value, all that pass their tests give the interval, and `r` is the
rate into an empty volume (H17).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from decay.arrays import FloatArray
from decay.constants import MICRON
from decay.fit.alternatives import (
    behind_hose,
    drop_at_start,
    fading_drop,
    fit_description,
    fit_free_water,
    hose_mean_pressure,
    least_left,
)
from decay.fit.bins import Bins
from decay.fit.measured import Measured
from decay.fit.mixture import Parts, Solution, settling_time
from decay.fit.profile import LEVEL, leak_interval, threshold, widened
from decay.fit.results import HoldFit, Inflow, PumpdownFit, WaterFit
from decay.fit.steady_rise import (
    UNSTEADY,
    SteadyRise,
    described,
    naming_limit,
    together,
    with_gauge_error,
    with_hidden_sinks,
)
from decay.interval import Interval
from decay.physics import leak_flow
from decay.physics import water as water_physics
from decay.physics.gas import ROOM, WORKSHOP
from decay.physics.gauge import VAPOUR_READING

KAPPA = 10.0
SLOWEST = 4.0
"""Longest time constant let in, in units of the time under vacuum. A power law t^-n has t/n, which is 2 for n = 0.5;
gas that leaves oil needs more. [-]"""
FADES_FROM = 1e4
"""Pressure from which on an inflow is let fade as the vessel fills: 1 % of it through a fine path. [Pa]"""
SUDDEN = 500.0 * MICRON
"""Rise in the first seconds that a rig's and a dry system's equalising does not make, vapour over ice at
-24 degC. Common practice, no source. [Pa]"""
STOOD = 300.0
"""A leak's own pressure drop along hose and valve core is what it raises in this time at most: rig and system equalise
within it. Common practice, no source. [s]"""
LITTLE = 0.03
"""Share of the upper end by which a drop that may fade unseen raises it without being fitted. [-]"""
_FINE = 4001


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
    """
    longest = longest_time_constant(hold.bins.length, under_vacuum, kappa)
    return _stated(hold, _judged(hold, longest, pull, level), longest)


def excluded_and_shown(
    hold: Measured, *, under_vacuum: float | None = None, pull: PumpdownFit | None = None
) -> tuple[float, float]:
    """Return what `fit_hold` would say of a leak's upper end and of the detection limit, and nothing else. [Pa/s]"""
    judged = _judged(hold, longest_time_constant(hold.bins.length, under_vacuum), pull, LEVEL)
    return judged.stated.high, judged.detection_limit


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """A hold's steady rise by the law of inflow that describes it best, and what else may have made it.

    The leak's rate as stated carries the error of the gauge's gain: the rise itself is what the gauge shows.
    """

    law: Inflow
    first: SteadyRise
    leak: Interval
    stated: Interval
    shown: Solution
    is_leak_seen: bool
    water: WaterFit
    sudden: float

    @property
    def is_steady(self) -> bool:
        return self.is_leak_seen or self.first.is_steady

    @property
    def detection_limit(self) -> float:
        # What the interval does not exclude cannot have been sure to show.
        return self.first.detection if self.is_steady else max(self.first.detection, self.stated.high)


def _judged(hold: Measured, longest: float, pull: PumpdownFit | None, level: float) -> _Judged:
    rises = {law: described(hold, bins, hold.noise.whitening, longest, level) for law, bins in _inflows(hold.bins)}
    law = min(rises, key=lambda each: rises[each].best.misfit)
    first, leak = rises[law], together(rises[law], list(rises.values()))
    water = _test_water(first, hold)
    if water.is_crossed:
        leak = _above_what_vapour_makes(leak, first, hold)
    is_leak_seen = leak.low > 0.0
    shown = first.problem.at(leak.value)
    sudden = _sudden_rise(first, hold)
    leak = _with_fading_drop(leak, first, hold, sudden)
    is_water_open = water.is_possible and (pull is None or pull.water_suspected)
    if is_water_open or is_sudden(sudden, leak.value):
        # Nothing in the log tells this rise from water far below its saturation pressure, or from the vapour that
        # stood in the system a minute before.
        leak = Interval(leak.value, 0.0, leak.high, leak.level)
    return _Judged(law, first, leak, with_gauge_error(leak, hold.bins), shown, is_leak_seen, water, sudden)


def _stated(hold: Measured, judged: _Judged, longest: float) -> HoldFit:
    bins, first, leak = hold.bins, judged.first, judged.leak
    parts = Parts(first.problem, judged.shown)
    outgassing = parts.outgassing(leak)
    step = float(np.max(bins.step))
    return HoldFit(
        start=hold.start,
        end=hold.end,
        fit_from=hold.start + float(bins.left[0]),
        start_pressure=hold.start_pressure,
        end_pressure=hold.end_pressure,
        readings=hold.readings,
        leak=judged.stated,
        short=first.short,
        outgassing=outgassing,
        outgassing_time_constant=parts.time_constant,
        plateau=parts.plateau,
        decision_threshold=first.decision,
        detection_limit=judged.detection_limit,
        is_leak_seen=judged.is_leak_seen,
        is_steady_rise_seen=judged.is_steady,
        is_outgassing_seen=not first.is_straight and outgassing.low > max(2 * bins.reading_noise, step),
        noise=float(np.hypot(bins.reading_noise, hold.noise.wander)),
        step=step,
        kappa=longest / bins.length,
        tests=first.tests,
        water=judged.water,
        curve=parts.curve(hold.start, leak),
        assumptions=_assumptions(longest, bins.length, hold),
        plain_inflation=first.plain_inflation,
        hose_drop=drop_at_start(first.best) if first.problem.extra.size else None,
        share_at_zero=hold.share_at_zero,
        is_constant=hold.is_constant,
        sudden_rise=judged.sudden,
        inflow=judged.law,
        # An answer goes from process to process, as no lambda does.
        describing=partial(fit_description, bins.centre, bins.pressure, bins.count, hold.scatter_within, hold.readings),
        naming=partial(naming_limit, first, hold.air_drift),
    )


def longest_time_constant(span: float, under_vacuum: float | None, kappa: float = KAPPA) -> float:
    """Return the slowest source let in after so long under vacuum, `None` where that is not known. [s]"""
    return max(kappa * span, SLOWEST * under_vacuum if under_vacuum is not None else 0.0)


def is_sudden(sudden: float, rate: float) -> bool:
    """Tell whether a rise in the first seconds [Pa] shows more gas than a steady rise [Pa/s] can have brought.

    While it was pumped the system stood so far above the gauge: what gave off gas enough for that may give off the
    rest of the rise too, slowly, through the same hose. A leak of the size that is left cannot have held it there.
    """
    return sudden > max(SUDDEN, STOOD * rate)


def _inflows(bins: Bins) -> list[tuple[Inflow, Bins]]:
    """Return the bins by each law that a leak's inflow may follow: one where it does not fade."""
    if float(np.max(bins.pressure)) < FADES_FROM:
        return [(Inflow.STEADY, bins)]
    from scipy.interpolate import PchipInterpolator  # here: hardly any hold rises so far

    # Between the bins the pressure is a smooth curve through their means: a chord would feign a bend of its own.
    time = np.linspace(0.0, bins.length, _FINE)
    pressure = PchipInterpolator(bins.time, bins.pressure, extrapolate=True)(time)
    laws = {Inflow.LAMINAR: leak_flow.laminar_inflow, Inflow.ORIFICE: leak_flow.orifice_inflow}
    return [(law, replace(bins, inflow=_taken_in(bins, time, np.asarray(laws[law](pressure))))) for law in laws]


def _taken_in(bins: Bins, time: FloatArray, share: FloatArray) -> FloatArray:
    """Return the integral of the inflow's share over time, averaged over each bin, shape (k,). [s]"""
    area = _integral(_integral(share, time[1]), time[1])
    left, right = bins.left - bins.left[0], bins.right - bins.left[0]
    return np.asarray((np.interp(right, time, area) - np.interp(left, time, area)) / (right - left))


def _integral(values: FloatArray, step: float) -> FloatArray:
    """Return the running integral by the trapezoidal rule. [unit of the values times that of the step]"""
    return np.asarray(np.concatenate(([0.0], np.cumsum(0.5 * step * (values[1:] + values[:-1])))))


def _sudden_rise(first: SteadyRise, hold: Measured) -> float:
    """Return what rose before rig and system had equalised, with the seconds that are not fitted. [Pa]"""
    problem = first.problem
    settling = problem.time_constants <= settling_time(problem.bins.length)
    settled = float(first.best.amplitudes[: len(settling)] @ settling)
    return max(0.0, float(hold.bins.pressure[0]) - hold.start_pressure + settled)


def _with_fading_drop(leak: Interval, first: SteadyRise, hold: Measured, sudden: float) -> Interval:
    """Return the interval with its upper end raised by what a drop along the hose may take off as it fades. [Pa/s]

    A leak on the gauge's side lifts the gauge above the system, by no more than rose in the first seconds. The hose
    lets more through as the pressure in it rises: the gauge then rises by so much less than the system does. Where the
    plain model describes the hold all the same, the data alone cannot tell, and both are let in.
    """
    problem = first.problem
    drop = max(sudden - leak.value * float(hold.bins.left[0]), 0.0)
    most = drop * (1.0 - least_left(hold.bins.pressure, drop)) / problem.bins.length
    if problem.extra.size or most <= UNSTEADY * leak.high:
        return leak
    left = fading_drop(hose_mean_pressure(hold.bins.pressure, drop))[-1]
    # A little of it every interval has room for.
    hidden = drop * float(1.0 - left.min()) / problem.bins.length - UNSTEADY * leak.high
    if hidden <= 0.0:
        return leak
    if hidden <= LITTLE * leak.high:  # all of it is let in: a fit would take a fifth of the whole judgement
        return Interval(leak.value, leak.low, leak.high + hidden, leak.level)
    hosed = behind_hose(problem.bins, problem.noise, problem.time_constants)
    best = hosed.best()
    growth = threshold(level=leak.level) * first.tests.inflation
    allowed = with_hidden_sinks(widened(leak_interval(hosed, best, growth), hold.air_drift), hosed, best)
    return Interval(leak.value, leak.low, max(leak.high, min(allowed.high, leak.high + hidden)), leak.level)


def _above_what_vapour_makes(leak: Interval, first: SteadyRise, hold: Measured) -> Interval:
    """Return the interval with its lower end raised to what a rise beyond water's ceiling leaves to a leak. [Pa/s]

    However slow a source, it raises the pressure no further than its own vapour pressure; what stood at the start may
    have been air, let in before.
    """
    rise = float(hold.bins.pressure[-1] - hold.bins.pressure[0])
    beyond = rise - VAPOUR_READING * _saturation(hold).high
    least = beyond / float(first.problem.line[-1])
    return Interval(max(leak.value, least), max(leak.low, least), max(leak.high, least), leak.level)


def _saturation(hold: Measured) -> Interval:
    if hold.ambient is None:
        low, middle, high = WORKSHOP[0], ROOM, WORKSHOP[1]
    else:
        low, middle, high = (hold.ambient + d for d in (-hold.ambient_spread, 0.0, hold.ambient_spread))
    return Interval(*(float(water_physics.saturation_pressure(t)) for t in (middle, low, high)))


def _test_water(first: SteadyRise, hold: Measured) -> WaterFit:
    return fit_free_water(first.problem, first.best, _saturation(hold), threshold() * first.tests.inflation)


def _assumptions(longest: float, span: float, hold: Measured) -> tuple[str, ...]:
    temperature = (
        "The air inside followed the logged temperature."
        if hold.is_temperature_logged
        else "The air inside drifted by less than 1 K in an hour."
    )
    return (
        f"No outgassing is slower than {longest / span:.0f} times this hold; slower outgassing would look like a leak.",
        "Outgassing only ever slows down; nothing is re-adsorbed after the first twentieth of the hold.",
        temperature,
    )
