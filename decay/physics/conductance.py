"""How easily gas flows through a tube: laminar, molecular, and everything between."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.physics import gas

# Knudsen's transition constant and the limits of the regimes.
KNUDSEN_RATIO = 1.235  # ratio of the constants in numerator and denominator; Knudsen 1909
VISCOUS_BELOW = 0.01  # Knudsen number; vacuum handbook, general usage
MOLECULAR_ABOVE = 0.5


class Regime(StrEnum):
    """How gas flows in a tube, told by the Knudsen number."""

    VISCOUS = "viscous"
    TRANSITION = "transition"
    MOLECULAR = "molecular"


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


def knudsen_number(
    diameter: float,
    mean_pressure: float,
    temperature: float,
    viscosity: float | None = None,
    molar_mass: float = gas.AIR_MOLAR_MASS,
) -> float:
    r"""Return mean free path over bore, :math:`Kn = \lambda / d`.

    Parameters
    ----------
    diameter : float
        Bore. [m]
    mean_pressure : float
        Half the sum of the pressures at both ends. [Pa]
    temperature : float
        Gas temperature. [K]
    viscosity : float, optional
        Dynamic viscosity; that of air where left out. [Pa·s]
    molar_mass : float
        Molar mass. [kg/mol]

    Returns
    -------
    float
        Knudsen number. [-]

    Raises
    ------
    RangeError
        If bore or pressure is not positive.

    Examples
    --------
    >>> round(knudsen_number(0.00635, 66.66, 293.15), 3)
    0.016
    """
    _positive(diameter=diameter)
    return float(gas.mean_free_path(mean_pressure, temperature, viscosity, molar_mass)) / diameter


def regime(knudsen: float) -> Regime:
    """Return the regime that a Knudsen number stands for.

    Parameters
    ----------
    knudsen : float
        Knudsen number. [-]

    Returns
    -------
    Regime
        Viscous below 0.01, molecular above 0.5, transition between.

    Examples
    --------
    >>> regime(0.016).value
    'transition'
    """
    if knudsen < VISCOUS_BELOW:
        return Regime.VISCOUS
    return Regime.MOLECULAR if knudsen > MOLECULAR_ABOVE else Regime.TRANSITION


def _positive(**arguments: float) -> None:
    for name, value in arguments.items():
        if value <= 0:
            raise RangeError(f"{name} must be positive, got {value:g}")
