"""How a pump empties a volume: times, what a line leaves of a pump's speed, and how easily gas passes a tube."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.physics import gas

KNUDSEN_RATIO = 1.235  # of the constants in numerator and denominator of the transition flow; Knudsen 1909


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


def laminar_conductance(
    diameter: float, length: float, mean_pressure: float | FloatArray, viscosity: float
) -> float | FloatArray:
    r"""Return the laminar conductance of a long round tube, :math:`C = \pi d^4 \bar p / (128 \eta l)`.

    Parameters
    ----------
    diameter : float
        Bore. [m]
    length : float
        Length, many times the bore. [m]
    mean_pressure : float or ndarray, shape (n,)
        Half the sum of the pressures at both ends; not their difference. [Pa]
    viscosity : float
        Dynamic viscosity of the gas. [Pa·s]

    Returns
    -------
    float or ndarray, shape (n,)
        Conductance. [m³/s]

    Raises
    ------
    RangeError
        If a dimension or the viscosity is not positive.

    Examples
    --------
    1 cm bore, 1 cm length, 1 mbar, air at 20 degC, in L/s:

    >>> round(laminar_conductance(0.01, 0.01, 100.0, 1.82e-5) * 1000, 1)
    134.9

    References
    ----------
    .. [1] Hagen and Poiseuille's law for a compressible gas; any vacuum text.
    """
    _positive(diameter=diameter, length=length, viscosity=viscosity)
    return np.pi * diameter**4 * mean_pressure / (128.0 * viscosity * length)


def molecular_conductance(
    diameter: float, length: float, temperature: float, molar_mass: float = gas.AIR_MOLAR_MASS
) -> float:
    r"""Return the molecular conductance of a long round tube, :math:`C = \pi \bar c d^3 / (12 l)`.

    Parameters
    ----------
    diameter : float
        Bore. [m]
    length : float
        Length, many times the bore. [m]
    temperature : float
        Gas temperature. [K]
    molar_mass : float
        Molar mass. [kg/mol]

    Returns
    -------
    float
        Conductance. [m³/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Examples
    --------
    >>> round(molecular_conductance(0.01, 0.01, 293.15) * 1000, 1)
    12.1

    References
    ----------
    .. [1] Knudsen, M., *Ann. Phys.* 28 (1909) 75. Tables that print 12.1 d^4/l or divide by sqrt(M) again are wrong.
    """
    _positive(diameter=diameter, length=length)
    return float(np.pi) * gas.mean_speed(temperature, molar_mass) * diameter**3 / (12.0 * length)


def tube_conductance(
    diameter: float,
    length: float,
    mean_pressure: float | FloatArray,
    temperature: float,
    viscosity: float | None = None,
    molar_mass: float = gas.AIR_MOLAR_MASS,
) -> float | FloatArray:
    r"""Return the conductance of a long round tube in any regime.

    .. math:: C = C_{lam} + C_{mol} \frac{1 + x}{1 + 1.235 x}, \quad x = \frac{d \bar p}{\eta \sqrt{R T / M}}

    Parameters
    ----------
    diameter : float
        Bore. [m]
    length : float
        Length, many times the bore. [m]
    mean_pressure : float or ndarray, shape (n,)
        Half the sum of the pressures at both ends. [Pa]
    temperature : float
        Gas temperature. [K]
    viscosity : float, optional
        Dynamic viscosity; that of air where left out. [Pa·s]
    molar_mass : float
        Molar mass. [kg/mol]

    Returns
    -------
    float or ndarray, shape (n,)
        Conductance. [m³/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Valid for: long tubes; turbulent and choked flow near atmosphere are not in it. The handbook's form for air at
    20 degC, ``135 d^4 p/l + 12.1 (d^3/l)(1 + 192 d p)/(1 + 237 d p)`` in L/s, cm and mbar, is the same with rounded
    numbers (192/237 = 1/1.234).

    Examples
    --------
    A service hose (6.35 mm bore, 1.5 m) passes a twentieth of a litre a second at 200 micron:

    >>> round(float(tube_conductance(0.00635, 1.524, 26.66, 293.15)) * 1000, 3)
    0.055

    References
    ----------
    .. [1] Knudsen, M., *Ann. Phys.* 28 (1909) 75.
    """
    eta = gas.air_viscosity(temperature) if viscosity is None else viscosity
    laminar = laminar_conductance(diameter, length, mean_pressure, eta)
    x = diameter * mean_pressure / (eta * float(np.sqrt(gas.GAS_CONSTANT * temperature / molar_mass)))
    return laminar + molecular_conductance(diameter, length, temperature, molar_mass) * (1.0 + x) / (
        1.0 + KNUDSEN_RATIO * x
    )


def _positive(**arguments: float) -> None:
    for name, value in arguments.items():
        if value <= 0:
            raise RangeError(f"{name} must be positive, got {value:g}")
