"""How gas passes a leak: the laws of flow, and what one measurement says of another gas and pressure."""

from __future__ import annotations

import numpy as np

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
