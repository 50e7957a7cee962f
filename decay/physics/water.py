"""Water at low pressure: saturation over liquid and ice, their inverses, evaporation, and moisture as vapour."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.constants import ZERO_CELSIUS
from decay.errors import RangeError

ICE_BELOW = 288.706  # K, 60 degF; US Army TM 10-8145-222-23, read: below it warn of ice
TRIPLE_POINT_TEMPERATURE = 273.16  # K, IAPWS
TRIPLE_POINT_PRESSURE = 611.657  # Pa, IAPWS (Guildner, Johnson and Jones 1976)
CRITICAL_TEMPERATURE = 647.096  # K, IAPWS
CRITICAL_PRESSURE = 22.064e6  # Pa, IAPWS
_NEAR = 1e-9  # K; two temperatures that count as one
LATENT_HEAT_VAPORISATION = 2.5009e6  # J/kg at 0 degC
LATENT_HEAT_FUSION = 3.334e5  # J/kg at 0 degC
HEAT_CAPACITY = 4186.0  # J/(kg K), liquid at 15 degC, handbook value

_ICE_A = (-0.212144006e2, 0.273203819e2, -0.610598130e1)
_ICE_B = (0.333333333e-2, 0.120666667e1, 0.170333333e1)
_THIN_VAPOUR = (1.67752, 2.20462, 0.6366564, -0.241605)  # IAPWS R12-08, eq. (11): the dilute gas
_LIQUID = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def saturation_pressure_over_liquid(temperature: float | FloatArray) -> float | FloatArray:
    r"""Return the vapour pressure of liquid water.

    .. math:: \ln(p/p_c) = (T_c/T) \sum_i a_i \vartheta^{n_i}, \quad \vartheta = 1 - T/T_c

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Temperature, from the triple point to the critical point; supercooled to 250. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Saturation pressure; NaN where the temperature is NaN. [Pa]

    Raises
    ------
    RangeError
        Outside 250 K to the critical temperature.

    Notes
    -----
    Below the triple point (273.16 K) it is extrapolated and speaks of supercooled water only, never of ice.

    Examples
    --------
    >>> round(float(saturation_pressure_over_liquid(400.0)), 3)
    245765.264

    References
    ----------
    .. [1] Wagner and Pruss, *J. Phys. Chem. Ref. Data* 22 (1993) 783, eq. (1); IAPWS SR1-86(1992).
    """
    t = _within(temperature, 250.0, CRITICAL_TEMPERATURE, "liquid water")
    theta = 1.0 - t / CRITICAL_TEMPERATURE
    total = sum(a * theta**n for a, n in _LIQUID)
    return _plain(CRITICAL_PRESSURE * np.exp(CRITICAL_TEMPERATURE / t * total), temperature)


def saturation_pressure_over_ice(temperature: float | FloatArray) -> float | FloatArray:
    r"""Return the vapour pressure of ice.

    .. math:: \ln(p/p_t) = \theta^{-1} \sum_i a_i \theta^{b_i}, \quad \theta = T/T_t

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Temperature, 50 to 273.16. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Sublimation pressure; NaN where the temperature is NaN. [Pa]

    Raises
    ------
    RangeError
        Outside the range of the equation.

    Examples
    --------
    >>> round(float(saturation_pressure_over_ice(230.0)), 5)
    8.94735

    References
    ----------
    .. [1] IAPWS R14-08(2011), eq. (6): pressure along the sublimation curve of ice Ih.
    """
    t = _within(temperature, 50.0, TRIPLE_POINT_TEMPERATURE, "ice")
    theta = t / TRIPLE_POINT_TEMPERATURE
    total = sum(a * theta**b for a, b in zip(_ICE_A, _ICE_B, strict=True))
    return _plain(TRIPLE_POINT_PRESSURE * np.exp(total / theta), temperature)


def saturation_pressure(temperature: float | FloatArray) -> float | FloatArray:
    """Return the vapour pressure of water as it lies there: ice below the triple point, liquid above.

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Temperature, 50 to 647. [K]

    Returns
    -------
    float or ndarray, shape (n,)
        Saturation pressure. [Pa]

    Raises
    ------
    RangeError
        Outside the range of the two equations.

    Examples
    --------
    >>> round(float(saturation_pressure(293.15)), 1), round(float(saturation_pressure(253.15)), 1)
    (2339.2, 103.2)
    """
    t = np.asarray(temperature, dtype=np.float64)
    _within(t, 50.0, CRITICAL_TEMPERATURE, "water")
    ice = saturation_pressure_over_ice(np.minimum(t, TRIPLE_POINT_TEMPERATURE))
    liquid = saturation_pressure_over_liquid(np.maximum(t, TRIPLE_POINT_TEMPERATURE))
    return _plain(np.where(t < TRIPLE_POINT_TEMPERATURE, ice, liquid), temperature)


def saturation_temperature(pressure: float) -> float:
    """Return the temperature at which water's vapour pressure is the given one: the inverse of `saturation_pressure`.

    Parameters
    ----------
    pressure : float
        Pressure, 1e-9 Pa to the critical pressure. [Pa]

    Returns
    -------
    float
        Temperature of ice below 611.657 Pa, of liquid above. [K]

    Raises
    ------
    RangeError
        Outside the range.

    Examples
    --------
    Ice that stands at 500 micron is at -24.5 degC:

    >>> round(saturation_temperature(66.661) - 273.15, 2)
    -24.48
    """
    if not 1e-9 <= pressure <= CRITICAL_PRESSURE:
        raise RangeError(f"water has no saturation temperature at {pressure:g} Pa")
    is_ice = pressure < TRIPLE_POINT_PRESSURE
    low, high = (50.0, TRIPLE_POINT_TEMPERATURE) if is_ice else (TRIPLE_POINT_TEMPERATURE - 0.01, CRITICAL_TEMPERATURE)
    of = saturation_pressure_over_ice if is_ice else saturation_pressure_over_liquid
    while high - low > _NEAR:  # halved by hand: scipy.optimize takes longer to load than a log to judge
        middle = (low + high) / 2.0
        low, high = (middle, high) if float(of(middle)) < pressure else (low, middle)
    return (low + high) / 2.0


def latent_heat(temperature: float) -> float:
    r"""Return the heat that a kilogram takes along as it evaporates or sublimes.

    Parameters
    ----------
    temperature : float
        Temperature, 230 to 330. [K]

    Returns
    -------
    float
        Latent heat: of sublimation below the triple point, of vaporisation above. [J/kg]

    Raises
    ------
    RangeError
        Outside the range.

    Notes
    -----
    Liquid: 2.5009 MJ/kg at 0 degC falling by 2.36 kJ/(kg K). Ice: 2.8343 MJ/kg, taken as constant (it changes by
    0.2 % over the range).

    Examples
    --------
    >>> round(latent_heat(293.15) / 1e6, 3), round(latent_heat(253.15) / 1e6, 3)
    (2.454, 2.834)

    References
    ----------
    .. [1] IAPWS-IF97 steam tables for the values at 0 and 20 degC (2500.9 and 2453.6 kJ/kg); slope from these two.
    """
    if not 230.0 <= temperature <= 330.0:
        raise RangeError(f"the latent heat is given from 230 to 330 K, got {temperature:g} K")
    if temperature < TRIPLE_POINT_TEMPERATURE:
        return LATENT_HEAT_VAPORISATION + LATENT_HEAT_FUSION
    return LATENT_HEAT_VAPORISATION - 2365.0 * (temperature - ZERO_CELSIUS)


def thin_viscosity(temperature: float) -> float:
    """Return the viscosity of thin water vapour.

    Parameters
    ----------
    temperature : float
        Temperature. [K]

    Returns
    -------
    float
        Dynamic viscosity. [Pa·s]

    Examples
    --------
    >>> round(thin_viscosity(298.15) * 1e6, 2)
    9.71

    References
    ----------
    .. [1] IAPWS R12-08, *Viscosity of ordinary water substance*, eq. (11): the limit of zero density.
    """
    reduced = temperature / CRITICAL_TEMPERATURE
    return 1e-4 * float(np.sqrt(reduced)) / sum(h / reduced**i for i, h in enumerate(_THIN_VAPOUR))


def freezing_share(temperature: float) -> float:
    r"""Return the share of water that ends as ice when it evaporates with no heat but its own.

    .. math:: s = e^{-c (T - T_t)/L_v} \, \frac{L_v}{L_v + L_f}

    Parameters
    ----------
    temperature : float
        Of the water at first. [K]

    Returns
    -------
    float
        Share of the mass; that of water at its freezing point where it is ice already. [-]

    Notes
    -----
    It cools to the triple point first, by evaporation, and freezes then.

    Examples
    --------
    Water that begins at its freezing point, and at 23 degC:

    >>> round(freezing_share(273.16), 3), round(freezing_share(296.15), 3)
    (0.882, 0.849)
    """
    cooling = max(temperature - TRIPLE_POINT_TEMPERATURE, 0.0) * HEAT_CAPACITY
    left = float(np.exp(-cooling / LATENT_HEAT_VAPORISATION))
    return left * LATENT_HEAT_VAPORISATION / (LATENT_HEAT_VAPORISATION + LATENT_HEAT_FUSION)


def _within(temperature: float | FloatArray, low: float, high: float, what: str) -> FloatArray:
    t = np.asarray(temperature, dtype=np.float64)
    if np.any((t < low) | (t > high)):
        raise RangeError(f"the equation for {what} holds from {low:g} to {high:g} K")
    return t


def _plain(result: FloatArray, asked: float | FloatArray) -> float | FloatArray:
    """Give a number for a number, an array for an array."""
    return float(result) if np.ndim(asked) == 0 else result
