"""A hold's readings made ready for fitting: which ones count, averaged into bins, with their noise.

The readings are averaged into about fifty bins, fine at first, so the cost does not grow with the log. At most 12 s and
3 % of the hold are left out after isolation, and named: gauge lag and equalisation belong to no source. Each bin's
covariance has white scatter from neighbouring readings, what the gauge's steps add (it keeps its value while the
pressure stays on a step, and vanishes where the scatter spans one), and a wander with a memory, chosen by restricted
maximum likelihood about *any* smooth rise: a line, a bend, and as many principal directions of the model's own sources
as leave none of them, at this hold's size, further outside than 0.3 of the noise. A wander must earn its place. A
temperature drift (logged, or 1 K an hour that nobody would notice) is not corrected but added to both ends of the
interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from decay.arrays import BoolArray, FloatArray, last_level, median
from decay.constants import HIGHEST_READING, HOUR
from decay.errors import FitError
from decay.fit.bins import FEWEST_READINGS, Bins, Whitening, bin_readings, pool_columns
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.physics.gas import ROOM

UNNOTICED_DRIFT = 1.0 / HOUR
"""Drift of the system's temperature that nobody would notice: 1 K in an hour. [K/s]"""
LAGGING = 12.0
"""Seconds left out after isolation, several times the lag of a thermal gauge. [s]"""
LAGGING_SHARE = 0.03
"""Share of the hold that they may take at most. [-]"""
_NOTHING = 1e-30
"""Smaller numbers count as zero: no gauge of any trade reads them, and their squares are none. [Pa]"""
_SOURCES = 48
"""Time constants whose rises are not noise. [-]"""
_OUTSIDE = 0.3
"""How far a source may lie outside the smooth rises, in standard deviations of the noise. [-]"""
_SIZES = np.geomspace(0.003, 100.0, 25)
"""Variances of a wander that are tried, in units of the typical bin's variance times its misfit. [-]"""
_HARMONICS = 6
"""Terms of the rounding's series. [-]"""
_MOST_STEPS = 1e6
"""More steps passed than any hold has: the same as so many. [-]"""
_EARNED = 2.0
"""Growth of twice the logarithm of the likelihood by which a wander earns its place: a gauge without one has one found
in 4 % of dry holds, and in 41 % without this. [-]"""


@dataclass(frozen=True, eq=False)
class Noise:
    """Covariance of the bin means."""

    covariance: FloatArray  # covariance of the bins' mean pressures, shape (k, k) [Pa²]
    wander: float  # standard deviation of the slow part [Pa]
    memory: float  # its correlation time [s]

    @cached_property
    def whitening(self) -> Whitening:
        """The covariance, factored once."""
        return Whitening(self.covariance)


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One hold, ready for fitting."""

    # Isolation and the last undisturbed reading, on the log's clock [s]
    start: float
    end: float
    bins: Bins  # averaged readings, on a clock that starts at isolation [Pa, s]
    noise: Noise  # covariance of the bin means [Pa²]
    readings: int  # readings in the bins [-]
    scatter_within: float  # sum of squares of the readings about their bins' means [Pa²]
    # At isolation, the median of the last few readings, and the largest reading [Pa]
    start_pressure: float
    end_pressure: float
    highest: float
    ambient: float | None  # temperature: the logged one before the stated one [K]
    ambient_spread: float  # half width of the interval in which it lay [K]
    air_drift: float  # rate that a temperature drift within that knowledge would feign [Pa/s]
    is_temperature_logged: bool  # whether the log itself tells the temperature
    share_at_zero: float  # share of the readings that are zero [-]
    is_constant: bool  # whether all of them are the same

    @property
    def rise(self) -> float:
        """Rise of the fitted readings from the first bin to the last. [Pa]"""
        return float(self.bins.pressure[-1] - self.bins.pressure[0])


def measure(log: PressureLog, phase: Phase, ambient: float | None, ambient_spread: float) -> Measured:
    """Take a hold's usable readings out of a log.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    phase : Phase
        The hold; its first reading is the last one before the rise.
    ambient : float or None
        Stated temperature. [K]
    ambient_spread : float
        Half width of the interval in which it lay. [K]

    Raises
    ------
    FitError
        If fewer than four readings lie inside the gauge's range.
    """
    inside = slice(phase.first, phase.last + 1)
    usable = ~log.is_over_range[inside] & (np.abs(log.pressure[inside]) <= HIGHEST_READING)
    # What left the curve for a moment; a hold that is looked at in part may end before some of it.
    usable[[at - phase.first for at in phase.aside if phase.first <= at <= phase.last]] = False
    # The first reading of a hold was taken before the valve closed: it anchors the start and is not fitted. Nor are
    # the seconds in which the gauge still lags behind the jump: their bend belongs to no source.
    usable &= log.time[inside] - phase.start > min(LAGGING, LAGGING_SHARE * phase.duration)
    used = _run_of(usable)
    time = log.time[inside][used] - phase.start
    pressure = log.pressure[inside][used]
    pressure = np.where(np.abs(pressure) < _NOTHING, 0.0, pressure)
    if len(time) < FEWEST_READINGS:
        raise FitError(
            f"the hold from {phase.start:.0f} s to {phase.end:.0f} s has {len(time)} usable readings; "
            f"a fit needs at least {FEWEST_READINGS}"
        )
    drift, known = UNNOTICED_DRIFT, _known_temperatures(log, phase, usable)
    if len(known) >= 2:
        ambient, ambient_spread = median(known), max(1.0, float(np.ptp(known)) / 2)
        drift = float(np.ptp(known)) / phase.duration
    bins = bin_readings(time, pressure, log.step[inside][used])
    before = float(log.pressure[phase.first])
    return Measured(
        start=phase.start,
        end=phase.end,
        bins=bins,
        noise=estimated_noise(bins),
        readings=len(time),
        scatter_within=_scatter_within(pressure, bins),
        start_pressure=before if np.isfinite(before) else float(pressure[0]),
        end_pressure=last_level(time, pressure),
        highest=max(float(np.max(pressure)), np.finfo(float).tiny),
        ambient=ambient,
        ambient_spread=ambient_spread,
        # Gas in a closed volume follows its temperature, p ~ T: seen from end to end, the last pressure counts.
        # A gauge whose zero is off may read below nothing, and nothing does not follow a temperature.
        air_drift=feigned_rise(max(0.0, float(np.max(pressure))), drift, ambient if ambient is not None else ROOM),
        is_temperature_logged=len(known) >= 2,
        share_at_zero=float(np.mean(pressure == 0.0)),
        is_constant=bool(np.ptp(pressure) == 0.0),
    )


def _run_of(usable: BoolArray) -> BoolArray | slice:
    """Return the same as a slice where nothing is left out between the first and the last: it copies no long hold."""
    first, end = int(usable.argmax()), len(usable) - int(usable[::-1].argmax())
    return slice(first, end) if usable[first:end].all() and usable.any() else usable


def _known_temperatures(log: PressureLog, phase: Phase, usable: BoolArray) -> FloatArray:
    """Return the temperatures that the log itself tells in a hold. [K]"""
    if log.temperature is None:
        return np.empty(0)
    known = log.temperature[phase.first : phase.last + 1][usable]
    return np.asarray(known[np.isfinite(known)])


def feigned_rise(pressure: float, drift: float, temperature: float) -> float:
    """Return the rate of rise that a temperature drift makes in a closed volume, p ~ T.

    Parameters
    ----------
    pressure : float
        Pressure. [Pa]
    drift : float
        Drift of the gas temperature. [K/s]
    temperature : float
        Gas temperature. [K]

    Returns
    -------
    float
        Rate of rise. [Pa/s]

    Notes
    -----
    The readings themselves are not corrected by a logged temperature: the sensor hangs at one place, the gas takes its
    temperature from metal that follows more slowly, and what sits on the walls follows it more steeply than gas does.
    The drift is carried into the interval instead, with either sign.

    Examples
    --------
    One kelvin an hour at 66.7 Pa (500 micron) and 293.15 K is 0.028 micron a minute:

    >>> round(feigned_rise(66.66, 1 / 3600, 293.15) * 60 / 0.13332, 3)
    0.028
    """
    return pressure * drift / temperature


def _scatter_within(pressure: FloatArray, bins: Bins) -> float:
    return max(0.0, float(np.sum(pressure**2) - np.sum(bins.count * bins.pressure**2)))


def estimated_noise(bins: Bins) -> Noise:
    """Estimate the noise from the bins by restricted maximum likelihood.

    White scatter is taken from neighbouring readings, the steps from the log; the wander's size and memory are those
    under which the bins are most likely about *any* smooth rise. "Restricted" (Patterson and Thompson 1971) means that
    the smooth rise is projected out first, so that fitting it does not make the noise look smaller.

    Parameters
    ----------
    bins : Bins
        The hold. [Pa, s]

    Returns
    -------
    Noise
        Covariance of the bin means. [Pa²]
    """
    fixed = _fixed_part(bins)
    still = Noise(fixed, 0.0, 0.0)
    white = still.whitening
    # Rotate once into the whitened space that no smooth rise reaches: there the bins are noise alone, and where
    # nothing wanders of unit variance.
    smooth = _smooth_rises(bins, white)
    basis, _ = np.linalg.qr(smooth, mode="complete")
    rest = basis[:, smooth.shape[1] :].T
    span, sampling = bins.length, bins.length / float(np.sum(bins.count))
    memories = np.geomspace(max(2 * sampling, span / 300), span / 4, 5)
    shapes = [_wander(bins, memory) for memory in memories]
    rotated = np.stack([rest @ white.white(white.white(shape).T) @ rest.T for shape in shapes])
    # Along its own axes each wander is independent, so that any size of it costs a sum and no factorisation.
    strength, axes = np.linalg.eigh(rotated)
    residual = rest @ white.white(bins.pressure)
    square = (residual @ axes) ** 2
    largest = float(np.mean(np.diag(fixed))) * max(float(np.mean(residual**2)) if len(residual) else 0.0, 1.0)
    sizes = largest * _SIZES
    variance = 1.0 + sizes[None, :, None] * np.maximum(strength, 0.0)[:, None, :]
    surprise = np.sum(square[:, None, :] / variance + np.log(variance), axis=2)
    memory, size = (int(i) for i in np.unravel_index(int(np.argmin(surprise)), surprise.shape))
    if surprise[memory, size] > float(residual @ residual) - _EARNED:
        return still
    covariance = fixed + sizes[size] * shapes[memory]
    return Noise(covariance, float(np.sqrt(sizes[size])), float(memories[memory]))


def assumed_noise(bins: Bins, wander: float = 0.0, memory: float = 0.0) -> Noise:
    """Return the noise of bins whose slow part is known or assumed_noise, and not estimated from them.

    Parameters
    ----------
    bins : Bins
        The hold. [Pa, s]
    wander : float
        Standard deviation of the slow part. [Pa]
    memory : float
        Its correlation time. [s]

    Returns
    -------
    Noise
        Covariance of the bin means. [Pa²]
    """
    fixed = _fixed_part(bins)
    if wander <= 0 or memory <= 0:
        return Noise(fixed, 0.0, 0.0)
    return Noise(fixed + wander**2 * _wander(bins, memory), wander, memory)


def _fixed_part(bins: Bins) -> FloatArray:
    """Return the part that the readings themselves tell: white scatter and steps."""
    step_variance = bins.step**2 / 12.0
    # Scatter seen between neighbours contains the rounding that changes from reading to reading already.
    white = np.maximum(bins.reading_noise**2, 1e-4 * step_variance) / bins.count
    floor = 1e-12 * max(float(np.max(np.abs(bins.pressure))), 1e-30) ** 2
    return np.asarray(_rounding(bins) + np.diag(white + floor))


def _rounding(bins: Bins) -> FloatArray:
    r"""Return the covariance of what a gauge's steps add and averaging does not take away, shape (k, k). [Pa²]

    The mean of rounded readings strays from the mean of the true ones by
    :math:`b = \sum_k (-1)^k \frac{q}{\pi k} e^{-2 \pi^2 k^2 \sigma^2/q^2} \sin(2 \pi k p/q)`: by a twelfth of a step
    squared without scatter, by nothing once the scatter :math:`\sigma` is half a step. It keeps its value for as long
    as the pressure stays on the step, and is another one a step further on.

    References
    ----------
    .. [1] Widrow and Kollar, *Quantization Noise* (Cambridge 2008), chapter 4, from memory: the characteristic function
       of the scatter at multiples of 2 pi/q.
    """
    step = np.maximum(bins.step, max(1e-6 * bins.reading_noise, 1e-100))
    # On the edge of a step readings flip between two values, by half a step about their mean, with next to no scatter.
    scatter = np.maximum((bins.reading_noise / step) ** 2 - 0.25, 0.0)
    order = np.arange(1, _HARMONICS + 1)
    weight = order**-2.0 / np.sum(order**-2.0)
    left = np.exp(-4.0 * np.pi**2 * np.outer(scatter, order**2)) @ weight
    size = bins.step * np.sqrt(left / 12.0)
    # Distance in half steps passed, and in half holds: a reading that never changes tells of no step passed.
    passed = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(bins.pressure)) / np.minimum(step[1:], step[:-1]))))
    ends = np.interp(np.concatenate((bins.left, bins.right)), bins.centre, np.minimum(passed, _MOST_STEPS))
    time = np.concatenate((bins.left, bins.right)) / bins.length
    left_end, right_end = np.split(2.0 * (ends + time), 2)
    alike = _forgetting(left_end, right_end)
    # Steps that a bin passes between two readings average nothing: it has as many errors as readings at most.
    np.fill_diagonal(alike, np.maximum(np.diag(alike), 1.0 / bins.count))
    return np.asarray(alike * np.outer(size, size))


def _wander(bins: Bins, memory: float) -> FloatArray:
    """Return the correlation of bin means of a process that forgets exponentially in time, shape (k, k). [-]"""
    return _forgetting(bins.left / memory, bins.right / memory)


def _forgetting(left: FloatArray, right: FloatArray) -> FloatArray:
    """Return the correlation of means over stretches of a process that forgets exponentially, exact, shape (k, k). [-]

    Both ends are given in units of its memory. [-]
    """
    width = np.maximum(right - left, 1e-9)
    edge = -np.expm1(-width) / width
    gap = np.maximum(left[None, :] - right[:, None], 0.0)
    gap = np.maximum(gap, gap.T)
    corr = np.exp(-gap) * np.outer(edge, edge)
    small = width < 1e-4
    own = np.where(small, 1.0 - width / 3.0, 2.0 * (width + np.expm1(-width)) / width**2)
    np.fill_diagonal(corr, own)
    return np.asarray(corr)


def _smooth_rises(bins: Bins, white: Whitening) -> FloatArray:
    """Return the fewest curves, whitened and orthonormal, that imitate any rise the model can make, shape (k, m). [-]

    A line, a bend, and of the model's own sources the principal directions. Each source is scaled to rise by as much as
    the hold did: a mixture of them then lies no further outside the curves than the worst of them.
    """
    t = (bins.centre - bins.left[0]) / bins.length
    always, _ = np.linalg.qr(white.white(np.stack([np.ones_like(t), t, t**2], axis=1)))
    time_constants = bins.length * np.geomspace(max(1.0 / float(np.sum(bins.count)), 1.0 / 3000.0), 10.0, _SOURCES)
    rises = pool_columns(bins, time_constants) / -np.expm1(-bins.length / time_constants)
    left = white.white(float(np.ptp(bins.pressure)) * rises)
    left -= always @ (always.T @ left)
    curves, sizes, shares = np.linalg.svd(left, full_matrices=False)
    # Row m: how far each source still lies outside where the first m curves are taken.
    outside = np.cumsum(((sizes[:, None] * shares) ** 2)[::-1], axis=0)[::-1]
    enough = int(np.count_nonzero(np.max(outside, axis=1) > _OUTSIDE**2))
    return np.asarray(np.column_stack((always, curves[:, :enough]))[:, : max(2, len(t) // 3)])
