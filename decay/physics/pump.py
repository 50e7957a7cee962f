"""How a pump empties a volume: times, speeds, and what a line leaves of a pump's speed."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.physics.conductance import (
    KNUDSEN_RATIO,
    MOLECULAR_ABOVE,
    VISCOUS_BELOW,
    Regime,
    knudsen_number,
    laminar_conductance,
    molecular_conductance,
    regime,
    tube_conductance,
)

__all__ = [
    "KNUDSEN_RATIO",
    "MOLECULAR_ABOVE",
    "VISCOUS_BELOW",
    "Regime",
    "effective_speed",
    "knudsen_number",
    "laminar_conductance",
    "molecular_conductance",
    "pressure_after",
    "pumpdown_time",
    "regime",
    "required_speed",
    "tube_conductance",
]


def pumpdown_time(volume: float, speed: float, start: float, target: float, ultimate: float = 0.0) -> float:
    r"""Return the time to pump a volume down, :math:`t = (V/S) \ln((p_0 - p_u)/(p - p_u))`.

    Parameters
    ----------
    volume : float
        Volume. [m³]
    speed : float
        Effective pumping speed at the volume. [m³/s]
    start, target : float
        Pressures, ``start >= target``. [Pa]
    ultimate : float
        Pressure at which the gas load balances the pump. [Pa]

    Returns
    -------
    float
        Time; ``inf`` where the target is not above the ultimate pressure. [s]

    Raises
    ------
    RangeError
        If volume or speed is not positive, or the target lies above the start.

    Notes
    -----
    Valid for: one speed over the whole fall, no outgassing that changes. Real pulls are slower at the end.

    Examples
    --------
    >>> round(pumpdown_time(1.0, 0.1, 1000e2, 10e2), 2)
    46.05

    References
    ----------
    .. [1] Mass balance V dp/dt = -S (p - p_u); any vacuum text.
    """
    _positive(volume=volume, speed=speed)
    if target > start:
        raise RangeError(f"the target ({target:g} Pa) lies above the start ({start:g} Pa)")
    if target <= ultimate:
        return float("inf")
    return volume / speed * float(np.log((start - ultimate) / (target - ultimate)))


def pressure_after(
    time: float | FloatArray, volume: float, speed: float, start: float, ultimate: float = 0.0
) -> float | FloatArray:
    r"""Return the pressure after pumping for a time, :math:`p = p_u + (p_0 - p_u) e^{-S t / V}`.

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Pumping time. [s]
    volume : float
        Volume. [m³]
    speed : float
        Effective pumping speed. [m³/s]
    start : float
        Pressure at time zero. [Pa]
    ultimate : float
        Pressure at which the gas load balances the pump. [Pa]

    Returns
    -------
    float or ndarray, shape (n,)
        Pressure. [Pa]

    Raises
    ------
    RangeError
        If volume or speed is not positive.

    Examples
    --------
    >>> round(float(pressure_after(46.0517019, 1.0, 0.1, 1000e2)), 3)
    1000.0
    """
    _positive(volume=volume, speed=speed)
    return ultimate + (start - ultimate) * np.exp(-speed * np.asarray(time) / volume)


def required_speed(volume: float, time: float, start: float, target: float, ultimate: float = 0.0) -> float:
    r"""Return the effective speed that reaches a target in time, :math:`S = (V/t) \ln((p_0 - p_u)/(p - p_u))`.

    Parameters
    ----------
    volume : float
        Volume. [m³]
    time : float
        Time available. [s]
    start, target : float
        Pressures. [Pa]
    ultimate : float
        Pressure at which the gas load balances the pump. [Pa]

    Returns
    -------
    float
        Pumping speed at the volume; ``inf`` where no speed is enough. [m³/s]

    Raises
    ------
    RangeError
        If volume or time is not positive, or the target lies above the start.

    Examples
    --------
    >>> round(required_speed(1000.0, 600.0, 1000e2, 200e2) * 60, 2)
    160.94
    """
    _positive(time=time)
    return pumpdown_time(volume, 1.0, start, target, ultimate) / time


def effective_speed(speed: float, conductance: float | FloatArray) -> float | FloatArray:
    r"""Return what a line leaves of a pump's speed, :math:`1/S_{eff} = 1/S + 1/C`.

    Parameters
    ----------
    speed : float
        Speed at the pump's inlet. [m³/s]
    conductance : float or ndarray, shape (n,)
        Of the line. [m³/s]

    Returns
    -------
    float or ndarray, shape (n,)
        Speed at the far end of the line. [m³/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Examples
    --------
    >>> round(effective_speed(2.9722e-2, 0.017123), 6)
    0.010864
    """
    if speed <= 0 or np.any(np.asarray(conductance) <= 0):
        raise RangeError("speed and conductance must be positive")
    return speed * conductance / (speed + conductance)


def _positive(**arguments: float) -> None:
    for name, value in arguments.items():
        if value <= 0:
            raise RangeError(f"{name} must be positive, got {value:g}")
