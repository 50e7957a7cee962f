"""How long a hold must last to show a given leak with this gauge and this outgassing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

import numpy as np

from decay.constants import DAY
from decay.errors import RangeError
from decay.fit.measured import UNNOTICED_DRIFT
from decay.fit.results import HoldFit
from decay.log.pressure_log import PressureLog
from decay.physics.gas import ROOM

OUTLASTING = 5.0
"""Time constants after which a source as slow as the hold counts as over: 1 % is left. Of 25 simulated holds 15 showed
the leak after four, and all after five. [-]"""
LONGEST = 7 * DAY  # s; nobody waits for longer
SHOWN = 2.0 * NormalDist().inv_cdf(0.95)
"""Detection limit of an estimate in its standard uncertainties at zero, at 5 % false alarms and 5 % misses: 3.29, after
Currie, Anal. Chem. 40 (1968) 586. [-]"""
_GOOD_TO = 1e-3  # of a length that is solved for
_POINTS = 200  # of the time axis on which the two shapes are told apart


class RestsOn(StrEnum):
    """What the length of a wanted hold was worked out from."""

    THIS_HOLD = "this hold"          # it was long enough
    OWN_LIMIT = "its own limit"      # carried on to a longer hold
    FORMULA = "the formula"          # for planning
    TEMPERATURE = "temperature"      # whose drift feigns as much: no hold would do


@dataclass(frozen=True, slots=True)
class HoldWanted:
    """How long a hold would have shown a leak, and what that length rests on."""

    length: float  # length; ``inf`` where no hold of a week would [s]
    rests_on: RestsOn  # what it was worked out from
    drift: float = UNNOTICED_DRIFT  # that drift: as logged, else what nobody notices [K/s]


def hold_to_show(fit: HoldFit, log: PressureLog, leak: float, ambient: float | None = None) -> HoldWanted:
    r"""Return the hold that would have shown a leak with this gauge and this outgassing.

    Parameters
    ----------
    fit : HoldFit
        The hold that was made.
    log : PressureLog
        The readings that it was made of.
    leak : float
        The leak that matters, as a rate of rise. [Pa/s]
    ambient : float, optional
        Temperature of the system. [K]

    Returns
    -------
    HoldWanted
        The longer of two answers: the hold's own detection limit carried on, and `hold_needed`.

    Raises
    ------
    RangeError
        If the leak is not positive.

    Notes
    -----
    Above the rate that a drift of the temperature feigns (1 K in an hour where none was logged), which no length of
    hold brings down, the limit falls as
    length^-3/2 where noise rules (Currie's limit of a slope at a constant sampling) and is taken to fall as 1/length
    where something levels off or may do so, since then slower sources hide the leak.
    """

    if not leak > 0:
        raise RangeError('the leak that matters must be larger than zero: write it like "2 micron/min"')
    # What a rise that goes on leaves open was not shown either.
    is_open = fit.is_steady_rise_seen and not fit.is_leak_seen
    limit = max(fit.detection_limit, fit.leak.high) if is_open else fit.detection_limit
    if limit <= leak:
        return HoldWanted(fit.duration, RestsOn.THIS_HOLD)
    drift = _drift(log, fit)
    floor = max(fit.start_pressure, fit.end_pressure) * drift / (ambient or ROOM)
    if leak <= floor:
        return HoldWanted(math.inf, RestsOn.TEMPERATURE, drift)
    power = 1.0 if fit.is_outgassing_seen or fit.is_steady_rise_seen else 2.0 / 3.0
    own = fit.duration * ((limit - floor) / (leak - floor)) ** power
    levels_off = fit.is_outgassing_seen and fit.outgassing_time_constant is not None
    if is_open and fit.is_outgassing_seen:
        # A source as slow as the hold hides more the nearer its own time comes: it has to be over.
        own = max(own, OUTLASTING * (fit.outgassing_time_constant or 0.0))
    planned = hold_needed(
        leak - floor,
        fit.noise,
        log.sampling,
        # Noise of half a step and more shakes the last digit, and averaging then sees between the steps.
        step=fit.step if fit.noise < fit.step / 2.0 else 0.0,
        outgassing=fit.outgassing.value if levels_off else 0.0,
        time_constant=fit.outgassing_time_constant if levels_off else None,
    )
    if max(own, planned) > LONGEST:
        return HoldWanted(math.inf, RestsOn.OWN_LIMIT if own >= planned else RestsOn.FORMULA)
    return HoldWanted(own, RestsOn.OWN_LIMIT) if own >= planned else HoldWanted(planned, RestsOn.FORMULA)


def smallest_shown(
    duration: float,
    noise: float,
    sampling: float,
    *,
    step: float = 0.0,
    correlation: float = 0.0,
    outgassing: float = 0.0,
    time_constant: float | None = None,
) -> float:
    r"""Return the smallest steady rise that a hold of given length would show, as a formula has it.

    .. math:: L = 3.29 \, u_0 + \frac{a}{\tau} e^{-T/\tau}, \quad
              u_0 = \frac{\sqrt{12}}{T} \sqrt{\frac{\sigma^2}{n_{eff}} + \frac{q^2}{12}} \; \sqrt{F(T/\tau)}, \quad
              n_{eff} = \frac{T}{\Delta t} \, \frac{1 - \rho}{1 + \rho}

    Parameters
    ----------
    duration : float
        Length of the hold, T. [s]
    noise : float
        Standard deviation of one reading. [Pa]
    sampling : float
        Time between readings. [s]
    step : float
        Step of the readings, q; its share of the noise does not average out. [Pa]
    correlation : float
        Correlation of neighbouring readings' noise. [-]
    outgassing : float
        Rise that levels off, a. [Pa]
    time_constant : float, optional
        Its time constant; without it nothing levels off. [s]

    Returns
    -------
    float
        Detection limit. [Pa/s]

    Raises
    ------
    RangeError
        If a length, noise or sampling is not positive, or the correlation is not in -1 to 1.

    Notes
    -----
    F is the factor by which telling a line from one exponential of that time constant widens the slope's variance; the
    last term is the slope that the source still has at the end, which a slower one beside it could hide. It is an
    estimate for planning: the fit's own detection limit, after the hold, decides.

    Examples
    --------
    0.1 Pa noise at 1 Hz for a quarter of an hour, in micron a minute:

    >>> round(smallest_shown(900.0, 0.1, 1.0) * 60 / 0.133322, 4)
    0.019

    References
    ----------
    .. [1] Currie, *Anal. Chem.* 40 (1968) 586; slope variance of an evenly spaced line, 12 sigma^2/(n T^2).
    """
    if not (duration > 0 and sampling > 0 and noise >= 0 and -1 < correlation < 1 and step >= 0):
        raise RangeError("length and sampling are positive, noise and step not negative, correlation between -1 and 1")
    if outgassing > 0 and not (time_constant is not None and time_constant > 0):
        raise RangeError("outgassing that levels off needs a positive time constant")
    readings = max(duration / sampling * (1 - correlation) / (1 + correlation), 1.0)
    u0 = math.sqrt(12.0) / duration * math.sqrt(noise**2 / readings + step**2 / 12.0)
    if outgassing <= 0 or time_constant is None:
        return SHOWN * u0
    remaining = outgassing / time_constant * math.exp(-duration / time_constant)
    return SHOWN * u0 * math.sqrt(_widening(duration / time_constant)) + remaining


def hold_needed(
    leak: float,
    noise: float,
    sampling: float,
    *,
    step: float = 0.0,
    correlation: float = 0.0,
    outgassing: float = 0.0,
    time_constant: float | None = None,
) -> float:
    """Return how long a hold must last to show a given leak.

    Parameters
    ----------
    leak : float
        The leak that matters, as a rate of rise. [Pa/s]
    noise : float
        Standard deviation of one reading. [Pa]
    sampling : float
        Time between readings. [s]
    step : float
        Step of the readings. [Pa]
    correlation : float
        Correlation of neighbouring readings' noise. [-]
    outgassing : float
        Rise that levels off. [Pa]
    time_constant : float, optional
        Its time constant. [s]

    Returns
    -------
    float
        Length; ``inf`` where a week would not show it. [s]

    Raises
    ------
    RangeError
        If the leak is not positive, or as for `smallest_shown`.

    Examples
    --------
    >>> round(hold_needed(0.0022, 0.1, 1.0))
    65

    References
    ----------
    .. [1] As for `smallest_shown`.
    """
    if not leak > 0:
        raise RangeError('the leak that matters must be larger than zero: write it like "2 micron/min"')

    from scipy.optimize import brentq

    def too_large(log_duration: float) -> float:
        limit = smallest_shown(
            math.exp(log_duration),
            noise,
            sampling,
            step=step,
            correlation=correlation,
            outgassing=outgassing,
            time_constant=time_constant,
        )
        return limit - leak

    low, high = math.log(10.0 * sampling), math.log(LONGEST)
    if too_large(low) <= 0.0:
        return math.exp(low)
    if too_large(high) > 0.0:
        return math.inf
    return math.exp(float(brentq(too_large, low, high, xtol=_GOOD_TO)) + _GOOD_TO)


def _widening(length: float) -> float:
    """Return the factor on a slope's variance when ``1 - exp(-t/tau)`` is fitted too; length in time constants."""
    t = np.linspace(0.0, 1.0, _POINTS)
    shape = -np.expm1(-length * t)
    correlation = float(np.corrcoef(t, shape)[0, 1])
    return 1.0 / max(1.0 - correlation**2, 1e-12)


def _drift(log: PressureLog, fit: HoldFit) -> float:
    """Return how fast the temperature drifted in a hold, as logged, else what nobody notices. [K/s]"""
    known = log.temperatures(fit.start, fit.end)
    return float(np.ptp(known)) / fit.duration if len(known) >= 2 else UNNOTICED_DRIFT
