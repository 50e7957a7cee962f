"""What a dilute gas does: ideal-gas amounts, molecular speed, viscosity of air, mean free path."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact
STANDARD_ATMOSPHERE = 101325.0  # Pa, exact
AIR_MOLAR_MASS = 0.0289647  # kg/mol, dry air (ISO 2533 gives 0.02896442)
WATER_MOLAR_MASS = 0.018015268  # kg/mol, IAPWS

_AIR_COLLISION = (0.431, -0.4623, 0.08406, 0.005341, -0.00331)


def moles(pressure: float | FloatArray, volume: float, temperature: float) -> float | FloatArray:
    r"""Return the amount of gas in a volume, :math:`n = p V / (R T)`.

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Absolute pressure. [Pa]
    volume : float
        Volume. [m³]
    temperature : float
        Gas temperature. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Amount. [mol]

    Raises
    ------
    RangeError
        If volume or temperature is not positive.

    Examples
    --------
    >>> round(moles(101325.0, 0.02241396954, 273.15), 6)
    1.0
    """
    _positive(volume=volume, temperature=temperature)
    return pressure * volume / (GAS_CONSTANT * temperature)


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


def mean_free_path(
    pressure: float | FloatArray,
    temperature: float,
    viscosity: float | None = None,
    molar_mass: float = AIR_MOLAR_MASS,
) -> float | FloatArray:
    r"""Return the mean free path that the viscosity implies, :math:`\lambda = (\eta / p) \sqrt{\pi R T / (2 M)}`.

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Absolute pressure. [Pa]
    temperature : float
        Gas temperature. [K]
    viscosity : float, optional
        Dynamic viscosity; that of air where left out. [Pa·s]
    molar_mass : float
        Molar mass. [kg/mol]

    Returns
    -------
    float or ndarray, shape (n,)
        Mean free path. [m]

    Raises
    ------
    RangeError
        If a pressure is not positive.

    Examples
    --------
    At 500 micron a molecule of air flies a tenth of a millimetre:

    >>> round(float(mean_free_path(66.66, 293.15)) * 1e6)
    99

    References
    ----------
    .. [1] Bird, Stewart and Lightfoot, *Transport Phenomena*, in the form of vacuum practice; from memory.
    """
    if np.any(np.asarray(pressure) <= 0):
        raise RangeError("a mean free path needs a positive pressure")
    eta = air_viscosity(temperature) if viscosity is None else viscosity
    _positive(molar_mass=molar_mass, viscosity=eta)
    return eta / pressure * float(np.sqrt(np.pi * GAS_CONSTANT * temperature / (2.0 * molar_mass)))


def molar_flow(throughput: float | FloatArray, temperature: float) -> float | FloatArray:
    r"""Return the flow of amount behind a throughput, :math:`\dot n = Q / (R T)`.

    Parameters
    ----------
    throughput : float or ndarray, shape (n,)
        Throughput. [Pa·m³/s]
    temperature : float
        Temperature at which it was stated. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Molar flow. [mol/s]

    Raises
    ------
    RangeError
        If the temperature is not positive.

    Examples
    --------
    One standard cubic centimetre a minute:

    >>> f"{molar_flow(0.00168875, 273.15):.4e}"
    '7.4358e-07'
    """
    _positive(temperature=temperature)
    return throughput / (GAS_CONSTANT * temperature)


def throughput(molar_flow: float | FloatArray, temperature: float) -> float | FloatArray:
    r"""Return the throughput of a molar flow, :math:`Q = \dot n R T`.

    Parameters
    ----------
    molar_flow : float or ndarray, shape (n,)
        Molar flow. [mol/s]
    temperature : float
        Temperature at which to state it. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Throughput. [Pa·m³/s]

    Raises
    ------
    RangeError
        If the temperature is not positive.

    Examples
    --------
    >>> round(throughput(1.0, 273.15), 2)
    2271.1
    """
    _positive(temperature=temperature)
    return molar_flow * GAS_CONSTANT * temperature


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
