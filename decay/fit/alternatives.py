"""What else describes a hold, beside a leak and sources that level off: a drop along the hose, free water, one curve.

The hose: beside a leak on its own side a gauge reads the pressure drop along the hose too. Gas that comes in on the
gauge's side flows through the hose into the system, and `p_gauge = p_system + flow / C`. The conductance `C` grows with
the pressure once the flow is no longer molecular, so while a hold rises the drop fades, and a steady leak looks as if
it accelerated. Free water rises towards its saturation pressure with no leak at all. A line plus one exponential is the
picture an instructor draws: it describes and does not decide, for with one time constant the curve names a leak
wherever a slower source is at work.

Free water is its own hypothesis: a rise towards a ceiling between the saturation pressure at the coldest temperature
and twice that at the warmest (a thermal gauge reads vapour high). Far below the ceiling it is a straight line, as long
as two kelvin more in the water would make up for the bend. Where it fits as well, and the pull before it is missing or
stood where water stands, the lower end goes to zero. So it does where the first seconds brought 500 micron or more and
the steady rise would take five minutes to bring as much (H16): the source that held the system there may make the rest.
"""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins, Whitening, rise_shapes
from decay.fit.chances import students_quantile
from decay.fit.mixture import Mixture, Solution
from decay.fit.results import Description, WaterFit
from decay.interval import Interval
from decay.physics.gas import ROOM
from decay.physics.gauge import VAPOUR_READING
from decay.physics.pump import tube_conductance

BORES = (0.004, 0.010)
"""Bores that stand for the hoses of the trade; a mixture of the two imitates those between. Common practice. [m]"""
_LARGEST_DROP = 0.95
"""The drop as a share of the gauge's pressure: what is left stands in the system, and is never nothing. [-]"""
_LEAST_PRESSURE = 0.01
"""Readings lower than this count as this; the conductance no longer depends on them. [Pa]"""
_DIP = 0.05
"""By how much less a hose lets through between molecular and laminar flow than at no pressure at all, at most: by
Knudsen's formula 4.8 %, whatever the bore. [-]"""
EQUALISED_WITHIN = 0.25
"""Share of the hold in which rig and system must come to a steady flow for this model to mean anything. [-]"""
_ROUNDS = 12
_SETTLED = 0.01
_WARMING = 0.12
"""Share of the ceiling by which water that warms by two kelvin makes up for a rise towards it: 6 % a kelvin. [-]"""
_TRIFLE = 0.05
"""Share of the ceiling from which on it matters whether the first pressure was air or vapour. [-]"""
_NOTHING = 1e-12
"""Rise, as a share of the ceiling, that needs no water. [-]"""
_COARSE = 40
_FINE = 60
"""Time constants that the one curve is tried with, over all of them and about the best. [-]"""
_CLOSER_LOOKS = 1


def behind_hose(bins: Bins, noise: Whitening, longest: float | FloatArray) -> Mixture:
    """Return the hold's problem with a hose's pressure drop let in, as its last two columns.

    The conductance goes by the mean pressure in the hose, and that depends on the drop: a few rounds settle it.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [Pa, s]
    noise : Whitening
        Noise of the bin means.
    longest : float or ndarray, shape (m,)
        Longest time constant let in, or all of them. [s]

    Returns
    -------
    Mixture
        A model that holds the one without the hose as a special case. [Pa, s]

    References
    ----------
    .. [1] Knudsen, *Annalen der Physik* 28 (1909) 75, for the conductance of a tube between molecular and laminar flow.
    """
    pressure = np.maximum(bins.pressure, _LEAST_PRESSURE)
    drop = np.zeros_like(pressure)
    plain = problem = Mixture(bins, noise, longest)
    best: Solution | None = None
    for _ in range(_ROUNDS):
        fading = fading_drop(pressure - drop / 2)
        before, problem = problem, plain.beside(fading - 1.0)
        if best is not None:
            problem.begin(before, best)
        best = problem.best()
        found = fading @ best.amplitudes[-len(BORES) :]
        change = np.clip(found, 0.0, _LARGEST_DROP * pressure) - drop
        if np.max(np.abs(change)) <= _SETTLED * np.max(found):
            break
        drop += change / 2  # all of it would overshoot
    return problem


def is_steady_flow(problem: Mixture, solution: Solution) -> bool:
    """Tell whether a solution of `behind_hose` has the leak that makes its drop.

    A leak `r V` on the gauge's side drops `r V / C` along the hose, and `V / C` is the time in which rig and system
    equalise: a drop without a leak, or with too small a one, stands for something else.
    """
    return drop_at_start(solution) <= EQUALISED_WITHIN * solution.rate * problem.bins.length


def drop_at_start(solution: Solution) -> float:
    """Return the drop along the hose at the start of the fit, of a solution of `behind_hose`. [Pa]"""
    return float(np.sum(solution.amplitudes[-len(BORES) :]))


def fading_drop(mean: FloatArray) -> FloatArray:
    """Return the drop of a steady flow as a share of the first, shape (k, 2), by the mean pressure in the hose. [-]"""
    # Its length does not matter: it divides out.
    conductance = np.stack([np.asarray(tube_conductance(bore, 1.0, mean, ROOM)) for bore in BORES], axis=1)
    return np.asarray(conductance[0] / conductance)


def hose_mean_pressure(pressure: FloatArray, first: float) -> FloatArray:
    """Return the mean pressure in a hose from what a gauge at its end reads, shape (k,), and the first drop. [Pa]"""
    read = np.maximum(pressure, _LEAST_PRESSURE)
    mean = read
    for _ in range(_ROUNDS if first > 0.0 else 0):
        drop = np.minimum(first * fading_drop(mean).mean(axis=1), _LARGEST_DROP * read)
        mean = (mean + read - drop / 2) / 2
    return mean


def least_left(pressure: FloatArray, first: float) -> float:
    """Return a share of the first drop below which none goes down to, by what the gauge reads at both ends. [-]

    The mean pressure in the hose lies nowhere above the reading, and at first below it by half the drop at most; the
    conductance grows with it, but for Knudsen's dip.
    """
    begin, end = (max(float(pressure[at]), _LEAST_PRESSURE) for at in (0, -1))
    ends = np.array([begin - min(first, _LARGEST_DROP * begin) / 2, end])
    return (1.0 - _DIP) * float(fading_drop(ends)[-1].min())


def fit_free_water(problem: Mixture, best: Solution, saturation: Interval, threshold: float) -> WaterFit:
    """Test whether free water alone explains a hold as well as leak and outgassing do.

    Water evaporates into the closed volume at a rate that falls as its own saturation pressure is approached:
    `p = p0 + (ceiling - v0)(1 - exp(-t/tau))`, where of the first pressure `p0` at the most all, `v0`, is vapour. Far
    below the ceiling that is a straight line.

    Parameters
    ----------
    problem : Mixture
        The hold. [Pa, s]
    best : Solution
        Its best fit with leak and outgassing. [Pa/s, Pa]
    saturation : Interval
        Saturation pressure of water at the coldest and warmest temperature that the hold may have had. [Pa]
    threshold : float
        Growth of the misfit that counts as worse. [-]
    """
    bins = problem.bins
    start, end = float(bins.pressure[0]), float(bins.pressure[-1])
    # So much higher the ceiling may stand on the gauge.
    highest = saturation.high * VAPOUR_READING
    rise = end - start
    if rise > highest:
        return WaterFit(saturation, False, True, False, float("inf"))
    if rise <= _NOTHING * highest:
        return WaterFit(saturation, False, False, False, float("inf"))
    span = bins.length
    # Water that alone would make the observed rise, for each ceiling: with a free height it may share the rise with
    # other sources, and its own ceiling may lie lower, as evaporation cools it.
    vapour = (start,) if start < _TRIFLE * saturation.low else (start, 0.0)
    ceilings = (saturation.low, saturation.value, highest)
    rooms = np.array([c - v for v in vapour for c in ceilings if c - v > 1.001 * rise])
    shapes = rise_shapes(problem.bins.time, span / -np.log1p(-rise / rooms))
    if rise < _WARMING * highest:
        # So far below the ceiling a degree or two more in the water's own temperature makes up for the bend.
        shapes = np.column_stack((shapes, problem.bins.time / span))
    extra = np.column_stack((problem.extra, shapes))
    wet = (problem.beside(extra) if problem.taking_up is None
           else Mixture(bins, problem.noise, problem.time_constants, extra))
    growth = wet.begin(problem, best).at(0.0).misfit - best.misfit
    plateau = start + float(np.sum(best.amplitudes[: len(problem.time_constants)]))
    bending = best.rate * span < 0.2 * rise and saturation.low * 0.7 <= plateau <= highest
    return WaterFit(
        saturation=saturation,
        is_possible=growth <= threshold,
        is_crossed=False,
        is_bending=bending and rise > 0.1 * saturation.low,
        misfit_growth=growth,
    )


def fit_description(
    time: FloatArray, pressure: FloatArray, weight: FloatArray, within: float, readings: int, level: float = 0.95
) -> Description | None:
    """Fit `p0 + r t + a (1 - exp(-t/tau))` by least squares with profile intervals.

    With `tau` held the rest is linear, so the misfit over (r, tau) is a family of parabolas in `r`, one for each
    `tau`; an interval is the union of what each parabola lets in below the level (F test on one parameter).

    Parameters
    ----------
    time : ndarray, shape (k,)
        Times, from the start of the curve. [s]
    pressure : ndarray, shape (k,)
        Readings or means of readings. [Pa]
    weight : ndarray, shape (k,)
        Readings behind each value. [-]
    within : float
        Sum of squares of the readings about these means; 0 for single readings. [Pa²]
    readings : int
        Readings in all. [-]
    level : float
        Level of the intervals. [-]

    Returns
    -------
    Description or None
        None where four parameters leave no degree of freedom or the readings are all alike.
    """
    freedom = readings - 4
    span = float(time[-1] - time[0])
    if freedom < 2 or np.ptp(pressure) == 0:
        return None
    shortest = max(span / 500, 0.5 * float(np.min(np.diff(time))))
    grid = np.geomspace(shortest, 20 * span, _COARSE)
    misfit = _misfits(time, pressure, weight, grid)[0] + within
    growth = 1 + students_quantile(freedom, 0.5 + level / 2) ** 2 / freedom
    # Once more, finely, over the stretch of time constants that the interval can reach.
    reached = np.flatnonzero(misfit <= float(np.min(misfit)) * growth)
    ends = grid[max(reached[0] - 1, 0)], grid[min(reached[-1] + 1, _COARSE - 1)]
    grid = np.geomspace(*ends, _FINE)
    grid = np.sort(np.append(grid, _best_time_constant(time, pressure, weight, grid)))
    misfit, parameters, variance = _misfits(time, pressure, weight, grid)
    misfit = misfit + within
    best = int(np.argmin(misfit))
    least = misfit[best]
    ceiling = least * growth
    start, _, amplitude = (float(x) for x in parameters[best])
    # How far each time constant that the level lets in carries rate and amplitude.
    let_in = np.where(misfit <= ceiling, ceiling - misfit, np.nan)
    return Description(
        rate=_union(parameters[:, 1], variance[:, 1], let_in, best, level),
        amplitude=_union(parameters[:, 2], variance[:, 2], let_in, best, level),
        time_constant=Interval(float(grid[best]), *_ends(grid, misfit, ceiling), level),
        start=start,
        plateau=start + amplitude,
    )


def _union(centre: FloatArray, variance: FloatArray, let_in: FloatArray, best: int, level: float) -> Interval:
    """Return the union of a parameter's intervals over the time constants let in, by the growth left to each."""
    reach = np.sqrt(let_in * variance)
    value = float(centre[best])
    return Interval(
        value, min(float(np.nanmin(centre - reach)), value), max(float(np.nanmax(centre + reach)), value), level
    )


def _best_time_constant(time: FloatArray, pressure: FloatArray, weight: FloatArray, grid: FloatArray) -> float:
    """Return the best time constant: a closer look at the grid's lowest stretch, then a parabola's vertex."""
    for _ in range(_CLOSER_LOOKS):
        misfit = _misfits(time, pressure, weight, grid)[0]
        best = int(np.clip(np.argmin(misfit), 1, len(grid) - 2))
        grid = np.geomspace(grid[best - 1], grid[best + 1], _FINE)
    misfit = _misfits(time, pressure, weight, grid)[0]
    best = int(np.argmin(misfit))
    if not 0 < best < len(grid) - 1:
        return float(grid[best])
    before, here, after = misfit[best - 1 : best + 2]
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend > 0 else 0.0
    return float(grid[best] * (grid[best + 1] / grid[best]) ** shift)


def _ends(grid: FloatArray, misfit: FloatArray, ceiling: float) -> tuple[float, float]:
    """Return where the misfit crosses the ceiling, between the grid's points; its end where it never does."""
    inside = np.flatnonzero(misfit <= ceiling)
    first, last = int(inside[0]), int(inside[-1])
    low, high = float(grid[first]), float(grid[last])
    if first > 0:
        low = float(np.interp(ceiling, misfit[[first, first - 1]], grid[[first, first - 1]]))
    if last < len(grid) - 1:
        high = float(np.interp(ceiling, misfit[[last, last + 1]], grid[[last, last + 1]]))
    return low, high


def _misfits(
    time: FloatArray, pressure: FloatArray, weight: FloatArray, tau: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return, for each time constant, the misfit (g,), the parameters (g, 3) and their unscaled variances (g, 3).

    Constant and line are the same for all time constants: with them projected out, each exponential is one column.
    """
    t = (time - time[0]) / (time[-1] - time[0])
    span = float(time[-1] - time[0])
    root = np.sqrt(weight)
    basis, triangle = np.linalg.qr(np.column_stack((root, root * t)))
    inverse = np.linalg.inv(triangle)
    target = root * pressure
    shapes = root[:, None] * -np.expm1(-t[:, None] * span / tau[None, :])
    line_target, line_shapes = basis.T @ target, basis.T @ shapes
    rest = target - basis @ line_target
    free = shapes - basis @ line_shapes
    size = np.maximum(np.sum(free**2, axis=0), 1e-300)
    overlap = rest @ free
    amplitude = overlap / size
    misfit = np.maximum(rest @ rest - overlap * amplitude, 0.0)
    line = inverse @ (line_target[:, None] - amplitude * line_shapes)
    # An uncertain amplitude drags the line along by its own regression on constant and line.
    line_variance = np.sum(inverse**2, axis=1)[:, None] + (inverse @ line_shapes) ** 2 / size
    parameters = np.stack((line[0], line[1] / span, amplitude), axis=1)
    variance = np.stack((line_variance[0], line_variance[1] / span**2, 1.0 / size), axis=1)
    return misfit, parameters, variance
