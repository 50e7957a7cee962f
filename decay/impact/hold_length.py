"""How long a hold must last to show a given leak with this gauge and this outgassing."""

from __future__ import annotations

import math

import numpy as np

from decay.errors import RangeError
from decay.fit.limits import minimum_detectable_value

LONGEST = 7 * 86400.0  # s; nobody waits for longer
_POINTS = 200  # of the time axis on which the two shapes are told apart


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
        return minimum_detectable_value(u0)
    remaining = outgassing / time_constant * math.exp(-duration / time_constant)
    return minimum_detectable_value(u0 * math.sqrt(_widening(duration / time_constant))) + remaining


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

    def is_shown(duration: float) -> bool:
        limit = smallest_shown(
            duration,
            noise,
            sampling,
            step=step,
            correlation=correlation,
            outgassing=outgassing,
            time_constant=time_constant,
        )
        return limit <= leak

    low, high = 10.0 * sampling, LONGEST
    if is_shown(low):
        return low
    if not is_shown(high):
        return math.inf
    while high - low > 1e-3 * high:
        middle = math.sqrt(low * high)
        low, high = (low, middle) if is_shown(middle) else (middle, high)
    return high


def _widening(length: float) -> float:
    """Return the factor on a slope's variance when ``1 - exp(-t/tau)`` is fitted too; length in time constants."""
    t = np.linspace(0.0, 1.0, _POINTS)
    shape = -np.expm1(-length * t)
    correlation = float(np.corrcoef(t, shape)[0, 1])
    return 1.0 / max(1.0 - correlation**2, 1e-12)
