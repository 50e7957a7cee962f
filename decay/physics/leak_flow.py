"""How gas passes a leak: the laws of flow, another gas and pressure, and how the inflow fades as a vessel fills."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.constants import STANDARD_ATMOSPHERE
from decay.errors import RangeError
from decay.physics import gas


def outward_flows(
    standing_pressure: float,
    laminar_drive: float,
    molar_mass: float,
    temperature: float,
    atmosphere: float = STANDARD_ATMOSPHERE,
) -> tuple[float, float]:
    r"""Return refrigerant out over air in, for the same path: laminar and molecular.

    .. math:: \frac{\dot m}{Q_0} = \frac{2 \eta_0}{p_a^2} \int_{p_a}^{p} \frac{\rho}{\eta} \, dp, \quad
              \frac{\dot m}{Q_0} = \frac{p - p_a}{p_a} \sqrt{\frac{M_0}{M}} \, \frac{M}{R T}

    Parameters
    ----------
    standing_pressure : float
        Absolute pressure of the refrigerant inside. [Pa]
    laminar_drive : float
        The integral of density over viscosity, from outside to inside. [kg/(m³·s)]
    molar_mass : float
        Of the refrigerant. [kg/mol]
    temperature : float
        Of both. [K]
    atmosphere : float
        Pressure outside, in both cases; the vacuum inside counts as none. [Pa]

    Returns
    -------
    tuple of float
        Mass flow out over throughput in, never below zero: where the pressure inside is below atmosphere nothing leaks
        out. [kg/s per Pa·m³/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    The integral is that of a real gas in a long, fine path, whose mass flow is proportional to the density and falls
    with the viscosity at each place; for an ideal gas it is :math:`(p^2 - p_a^2) M / (2 \eta R T)`. Dense vapour passes
    up to a third more than that. Laminar throughout, at one temperature; molecular flow takes the gas as ideal.

    Examples
    --------
    R-134a at 20 degC as an ideal gas, against 1 Pa·m³/s of air: 48 times the throughput.

    >>> per_pressure = 0.102032 / (gas.GAS_CONSTANT * 293.15)
    >>> drive = per_pressure * (571.7e3**2 - 101325.0**2) / (2 * 1.162e-5)
    >>> laminar, molecular = outward_flows(571.7e3, drive, 0.102032, 293.15)
    >>> round(laminar / per_pressure), round(molecular / per_pressure, 2)
    (48, 2.47)
    """
    if atmosphere <= 0:
        raise RangeError(f"the pressure outside must be positive, got {atmosphere:g} Pa")
    laminar = 2.0 * gas.air_viscosity(temperature) / atmosphere**2 * laminar_drive
    ratio = (standing_pressure - atmosphere) / atmosphere * float(np.sqrt(gas.AIR_MOLAR_MASS / molar_mass))
    molecular = float(gas.mass_flow(ratio, molar_mass, temperature))
    return max(laminar, 0.0), max(molecular, 0.0)


def laminar_inflow(
    pressure: float | FloatArray, atmosphere: float = STANDARD_ATMOSPHERE
) -> float | FloatArray:
    r"""Return the inflow through a long fine path as a share of that into an empty volume.

    .. math:: Q/Q_0 = 1 - (p/p_a)^2

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure inside. [Pa]
    atmosphere : float
        Pressure outside. [Pa]

    Returns
    -------
    float or ndarray, shape (n,)
        The share, zero from the pressure outside on. [-]

    Examples
    --------
    >>> laminar_inflow(101325.0 / 2)
    0.75

    References
    ----------
    .. [1] Poiseuille's law of a compressible gas, throughput as the difference of squared pressures; any vacuum
       handbook.
    """
    ratio = np.clip(np.asarray(pressure, dtype=float) / atmosphere, 0.0, 1.0)
    share = 1.0 - ratio**2
    return float(share) if share.ndim == 0 else share


def orifice_inflow(
    pressure: float | FloatArray, atmosphere: float = STANDARD_ATMOSPHERE, heat_ratio: float = 1.4
) -> float | FloatArray:
    r"""Return the inflow through an orifice as a share of that into an empty volume.

    .. math:: Q/Q_0 = \sqrt{\frac{x^{2/k} - x^{(k+1)/k}}{x_c^{2/k} - x_c^{(k+1)/k}}}, \quad x = p/p_a

    One up to the critical ratio :math:`x_c`, where the flow is choked.

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure inside. [Pa]
    atmosphere : float
        Pressure outside. [Pa]
    heat_ratio : float
        Ratio of specific heats. [-]

    Returns
    -------
    float or ndarray, shape (n,)
        The share, zero from the pressure outside on. [-]

    Raises
    ------
    RangeError
        If the ratio of specific heats is not above one.

    Examples
    --------
    >>> orifice_inflow(50e3)
    1.0
    >>> round(orifice_inflow(0.9 * 101325.0), 3)
    0.617

    References
    ----------
    .. [1] de Saint-Venant and Wantzel, *Journal de l'École Polytechnique* 16 (1839) 85; the isentropic nozzle of any
       gas-dynamics text.
    """
    k = heat_ratio
    if k <= 1:
        raise RangeError(f"the ratio of specific heats is above one, got {k:g}")
    critical = (2.0 / (k + 1.0)) ** (k / (k - 1.0))
    ratio = np.clip(np.asarray(pressure, dtype=float) / atmosphere, critical, 1.0)
    most = critical ** (2.0 / k) - critical ** ((k + 1.0) / k)
    share = np.sqrt(np.maximum(ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k), 0.0) / most)
    return float(share) if share.ndim == 0 else share
