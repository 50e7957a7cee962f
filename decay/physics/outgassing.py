"""How sources inside give off gas as time passes: rates and what they add over a hold."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError


def pool_rise(time: float | FloatArray, amplitude: float, time_constant: float) -> float | FloatArray:
    r"""Return the rise that a first-order source makes, :math:`a (1 - e^{-t/\tau})`.

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time since the valve closed. [s]
    amplitude : float
        Rise when it is exhausted or in balance. [Pa]
    time_constant : float
        Time in which 63 % of it has come. [s]

    Returns
    -------
    float or ndarray, shape (n,)
        Rise. [Pa]

    Raises
    ------
    RangeError
        If the time constant is not positive.

    Examples
    --------
    >>> round(float(pool_rise(600.0, 100.0, 600.0)), 2)
    63.21
    """
    _positive(time_constant=time_constant)
    return -amplitude * np.expm1(-np.asarray(time, dtype=np.float64) / time_constant)


def pool_rate(time: float | FloatArray, amplitude: float, time_constant: float) -> float | FloatArray:
    r"""Return the rate of a first-order source, :math:`(a/\tau) e^{-t/\tau}`.

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time since the valve closed. [s]
    amplitude : float
        Rise when it is exhausted. [Pa]
    time_constant : float
        Its time constant. [s]

    Returns
    -------
    float or ndarray, shape (n,)
        Rate of rise. [Pa/s]

    Raises
    ------
    RangeError
        If the time constant is not positive.

    Examples
    --------
    >>> round(float(pool_rate(0.0, 60.0, 600.0)), 3)
    0.1
    """
    _positive(time_constant=time_constant)
    return amplitude / time_constant * np.exp(-np.asarray(time, dtype=np.float64) / time_constant)


def power_law_rate(age: float | FloatArray, rate: float, reference: float, exponent: float) -> float | FloatArray:
    r"""Return the rate of a surface or elastomer under vacuum, :math:`r (t_0/t)^n`.

    Parameters
    ----------
    age : float or ndarray, shape (n,)
        Time under vacuum. [s]
    rate : float
        Rate at the reference age. [Pa/s]
    reference : float
        That age, customarily one hour. [s]
    exponent : float
        About 1 for metals and glass, 0.5 for plastics and seals. [-]

    Returns
    -------
    float or ndarray, shape (n,)
        Rate of rise. [Pa/s]

    Raises
    ------
    RangeError
        If an age is not positive.

    Examples
    --------
    >>> power_law_rate(4 * 3600.0, 1.0, 3600.0, 0.5)
    0.5

    References
    ----------
    .. [1] A vacuum-technology handbook, 1.3.3: q = q_1 t_0/t for metals, q_1 (t_0/t)^0.5 for plastics and seals.
    """
    _positive(reference=reference)
    if np.any(np.asarray(age) <= 0):
        raise RangeError("a power law needs an age under vacuum larger than zero")
    return rate * (reference / age) ** exponent


def power_law_rise(
    start: float, end: float | FloatArray, rate: float, reference: float, exponent: float
) -> float | FloatArray:
    r"""Return what a power-law source adds between two ages, the integral of `power_law_rate`.

    Parameters
    ----------
    start : float
        Age under vacuum when the valve closed. [s]
    end : float or ndarray, shape (n,)
        Age at the moments asked for. [s]
    rate : float
        Rate at the reference age. [Pa/s]
    reference : float
        That age. [s]
    exponent : float
        Exponent; 1 gives a logarithm. [-]

    Returns
    -------
    float or ndarray, shape (n,)
        Rise. [Pa]

    Raises
    ------
    RangeError
        If an age is not positive.

    Examples
    --------
    >>> round(float(power_law_rise(3600.0, 7200.0, 1.0, 3600.0, 1.0)), 2)
    2495.33
    """
    _positive(start=start, reference=reference)
    ratio = np.asarray(end, dtype=np.float64) / start
    if np.any(ratio <= 0):
        raise RangeError("a power law needs an age under vacuum larger than zero")
    z = 1.0 - exponent
    # expm1 keeps its digits where the exponent is nearly one and the power becomes a logarithm.
    growth: FloatArray = np.log(ratio) if z == 0.0 else np.expm1(z * np.log(ratio)) / z
    rise: FloatArray = rate * reference**exponent * start**z * growth
    return float(rise) if np.ndim(end) == 0 else rise


def logarithmic_rise(time: float | FloatArray, scale: float, onset: float) -> float | FloatArray:
    r"""Return the rise of a surface whose binding grows as it empties, :math:`s \ln(1 + t/t_0)`.

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time since the valve closed. [s]
    scale : float
        Rise for each factor of e in time. [Pa]
    onset : float
        Time under vacuum before. [s]

    Returns
    -------
    float or ndarray, shape (n,)
        Rise. [Pa]

    Raises
    ------
    RangeError
        If the onset is not positive.

    Examples
    --------
    >>> round(float(logarithmic_rise(600.0, 10.0, 600.0)), 3)
    6.931

    References
    ----------
    .. [1] The Elovich or Temkin rate, q = a exp(-b theta), integrated (from memory).
    """
    _positive(onset=onset)
    return scale * np.log1p(np.asarray(time, dtype=np.float64) / onset)


def slab_share(time: float | FloatArray, diffusivity: float, thickness: float) -> float | FloatArray:
    r"""Return the share that has left a slab which was full and is free on both faces.

    .. math:: 1 - \frac{8}{\pi^2} \sum_{k \ge 0} \frac{1}{(2k+1)^2} e^{-(2k+1)^2 \pi^2 D t / l^2}

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time under vacuum. [s]
    diffusivity : float
        Diffusion coefficient. [m²/s]
    thickness : float
        Of the slab. [m]

    Returns
    -------
    float or ndarray, shape (n,)
        Share of the first content, 0 to 1. [-]

    Raises
    ------
    RangeError
        If diffusivity or thickness is not positive, or a time is negative.

    Notes
    -----
    Early it goes as :math:`4 \sqrt{D t / (\pi l^2)}`, late as one exponential of time constant
    :math:`l^2/(\pi^2 D)`.

    Examples
    --------
    >>> round(float(slab_share(100.0, 1e-12, 1e-3)), 5), round(4 * (1e-4 / 3.14159265)**0.5, 5)
    (0.02257, 0.02257)

    References
    ----------
    .. [1] Crank, *The Mathematics of Diffusion*, 2nd ed., eqs. (4.18) and (4.20).
    """
    _positive(diffusivity=diffusivity, thickness=thickness)
    x = np.asarray(time, dtype=np.float64) * diffusivity / thickness**2
    if np.any(x < 0):
        raise RangeError("time under vacuum is not negative")
    odd = 2.0 * np.arange(20) + 1.0
    series = 1.0 - 8.0 / np.pi**2 * np.sum(np.exp(-(odd**2) * np.pi**2 * x[..., None]) / odd**2, axis=-1)
    share = np.where(x < 0.01, 4.0 * np.sqrt(x / np.pi), series)
    return float(share) if np.ndim(time) == 0 else share


def _positive(**arguments: float) -> None:
    for name, value in arguments.items():
        if value <= 0:
            raise RangeError(f"{name.replace('_', ' ')} must be positive, got {value:g}")
