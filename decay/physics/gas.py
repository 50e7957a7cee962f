"""What a dilute gas does: ideal-gas amounts, molecular speed, viscosity of air, mean free path."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact
AIR_MOLAR_MASS = 0.0289647  # kg/mol, dry air (ISO 2533 gives 0.02896442)
WATER_MOLAR_MASS = 0.018015268  # kg/mol, IAPWS
ROOM = 293.15  # K, 20 degC; assumed where no temperature is known, and said so
WORKSHOP = (278.15, 313.15)  # K, 5 to 40 degC; thought possible where none is known. Common practice, no source

_AIR_COLLISION = (0.431, -0.4623, 0.08406, 0.005341, -0.00331)


def mean_speed(temperature: float, molar_mass: float = AIR_MOLAR_MASS) -> float:
    r"""Return the mean molecular speed, :math:`\bar c = \sqrt{8 R T / (\pi M)}`.

    Parameters
    ----------
    temperature : float
        Gas temperature. [K]
    molar_mass : float
        Molar mass. [kg/mol]

    Returns
    -------
    float
        Mean speed. [m/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Examples
    --------
    >>> round(mean_speed(293.0, 0.028013), 1)
    470.6

    References
    ----------
    .. [1] Kinetic theory of gases (Maxwell's distribution); any textbook.
    """
    _positive(temperature=temperature, molar_mass=molar_mass)
    return float(np.sqrt(8.0 * GAS_CONSTANT * temperature / (np.pi * molar_mass)))


def air_viscosity(temperature: float) -> float:
    r"""Return the viscosity of dilute air.

    .. math:: \eta_0 = \frac{0.0266958 \sqrt{M T}}{\sigma^2 \Omega(T^*)}, \quad
              \ln \Omega = \sum_i b_i (\ln T^*)^i, \quad T^* = T / 103.3\,\mathrm{K}

    Parameters
    ----------
    temperature : float
        Gas temperature, 100 to 1000. [K]

    Returns
    -------
    float
        Dynamic viscosity. [Pa·s]

    Raises
    ------
    RangeError
        Outside the range.

    Notes
    -----
    Valid for: thin air; at one atmosphere viscosity is 0.1 % larger.

    Examples
    --------
    >>> round(air_viscosity(293.15) * 1e5, 3)
    1.819

    References
    ----------
    .. [1] Lemmon and Jacobsen, *Int. J. Thermophys.* 25 (2004) 21, eqs. (1) and (2); coefficients from memory, held
       against CoolProp by a test.
    """
    if not 100.0 <= temperature <= 1000.0:
        raise RangeError(f"the viscosity formula holds from 100 to 1000 K, got {temperature:g} K")
    logarithm = float(np.log(temperature / 103.3))
    omega = float(np.exp(sum(b * logarithm**i for i, b in enumerate(_AIR_COLLISION))))
    return 0.0266958e-6 * float(np.sqrt(28.9586 * temperature)) / (0.360**2 * omega)


def mass_flow(throughput: float | FloatArray, molar_mass: float, temperature: float) -> float | FloatArray:
    r"""Return the mass flow of a throughput, :math:`\dot m = Q M / (R T)`.

    Parameters
    ----------
    throughput : float or ndarray, shape (n,)
        Throughput. [Pa·m³/s]
    molar_mass : float
        Molar mass of the gas that flows. [kg/mol]
    temperature : float
        Temperature at which the throughput was stated; between 0 and 20 degC the result differs by 7 %. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Mass flow. [kg/s]

    Raises
    ------
    RangeError
        If molar mass or temperature is not positive.

    Examples
    --------
    1 micron/min in ten litres, as air, in grams a year:

    >>> round(mass_flow(0.000133322387415 * 1000 / 60 * 0.010, 0.0289647, 293.15) * 1000 * 365.25 * 86400, 2)
    8.33
    """
    _positive(molar_mass=molar_mass, temperature=temperature)
    return throughput * molar_mass / (GAS_CONSTANT * temperature)


def _positive(**arguments: float) -> None:
    for name, value in arguments.items():
        if value <= 0:
            raise RangeError(f"{name.replace('_', ' ')} must be positive, got {value:g}")
