"""How gas passes a leak: the laws of flow, and what one measurement says of another gas and pressure."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.physics import gas


def rise_throughput(rise_rate: float | FloatArray, volume: float) -> float | FloatArray:
    r"""Return the throughput that raises a closed volume at a given rate, :math:`Q = V\,dp/dt`.

    Parameters
    ----------
    rise_rate : float or ndarray, shape (n,)
        Rate of pressure rise. [Pa/s]
    volume : float
        Gas volume behind the closed valve, rig included. [m³]

    Returns
    -------
    float or ndarray, shape (n,)
        Throughput at the temperature of the gas in the volume. [Pa·m³/s]

    Raises
    ------
    RangeError
        If the volume is not positive.

    Notes
    -----
    Valid for: constant temperature, no condensation. Says nothing about where the gas comes from.

    Examples
    --------
    100 micron in ten minutes into ten litres:

    >>> round(rise_throughput(13.3322 / 600, 0.010), 9)
    0.000222203
    """
    if volume <= 0:
        raise RangeError(f"the volume must be positive, got {volume:g} m³")
    return rise_rate * volume


def laminar_ratio(
    inlet: float, outlet: float, viscosity: float, inlet_0: float, outlet_0: float, viscosity_0: float
) -> float:
    r"""Return a laminar leak's throughput over that of the same path in other conditions.

    .. math:: \frac{Q}{Q_0} = \frac{p_1^2 - p_2^2}{p_{10}^2 - p_{20}^2} \, \frac{\eta_0}{\eta}

    Parameters
    ----------
    inlet, outlet : float
        Pressures at both ends. [Pa]
    viscosity : float
        Of the gas that flows. [Pa·s]
    inlet_0, outlet_0 : float
        Pressures in the conditions to compare with. [Pa]
    viscosity_0 : float
        Of the gas in those. [Pa·s]

    Returns
    -------
    float
        Ratio of throughputs at equal temperature; negative where the flow turns round. [-]

    Raises
    ------
    RangeError
        If a viscosity is not positive or nothing flows in the conditions to compare with.

    Notes
    -----
    Valid for: a long, fine path; ideal gas; laminar flow in both conditions; neither choked nor molecular.

    Examples
    --------
    >>> round(laminar_ratio(20.0, 1.0, 1.0, 10.0, 1.0, 1.0), 2)
    4.03
    """
    if viscosity <= 0 or viscosity_0 <= 0:
        raise RangeError("viscosities must be positive")
    if inlet_0 == outlet_0:
        raise RangeError("without a pressure difference nothing flows to compare with")
    return (inlet**2 - outlet**2) / (inlet_0**2 - outlet_0**2) * viscosity_0 / viscosity


def molecular_ratio(
    inlet: float, outlet: float, molar_mass: float, inlet_0: float, outlet_0: float, molar_mass_0: float
) -> float:
    r"""Return a molecular leak's throughput over that of the same path in other conditions.

    .. math:: \frac{Q}{Q_0} = \frac{p_1 - p_2}{p_{10} - p_{20}} \sqrt{\frac{M_0}{M}}

    Parameters
    ----------
    inlet, outlet : float
        Pressures at both ends. [Pa]
    molar_mass : float
        Of the gas that flows. [kg/mol]
    inlet_0, outlet_0 : float
        Pressures in the conditions to compare with. [Pa]
    molar_mass_0 : float
        Of the gas in those. [kg/mol]

    Returns
    -------
    float
        Ratio of throughputs at equal temperature. [-]

    Raises
    ------
    RangeError
        If a molar mass is not positive or nothing flows in the conditions to compare with.

    Examples
    --------
    >>> round(molecular_ratio(1.0, 0.0, 0.0289647, 1.0, 0.0, 0.0040026), 4)
    0.3717
    """
    if molar_mass <= 0 or molar_mass_0 <= 0:
        raise RangeError("molar masses must be positive")
    if inlet_0 == outlet_0:
        raise RangeError("without a pressure difference nothing flows to compare with")
    return (inlet - outlet) / (inlet_0 - outlet_0) * float(np.sqrt(molar_mass_0 / molar_mass))


def outward_flows(
    standing_pressure: float,
    laminar_drive: float,
    molar_mass: float,
    temperature: float,
    atmosphere: float = gas.STANDARD_ATMOSPHERE,
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
    ratio = molecular_ratio(standing_pressure, atmosphere, molar_mass, atmosphere, 0.0, gas.AIR_MOLAR_MASS)
    molecular = float(gas.mass_flow(ratio, molar_mass, temperature))
    return max(laminar, 0.0), max(molecular, 0.0)


def critical_pressure_ratio(heat_ratio: float = 1.4) -> float:
    r"""Return the downstream to upstream pressure below which an orifice chokes, :math:`(2/(k+1))^{k/(k-1)}`.

    Parameters
    ----------
    heat_ratio : float
        Ratio of specific heats. [-]

    Returns
    -------
    float
        Critical ratio, downstream over upstream. [-]

    Raises
    ------
    RangeError
        If the ratio is not above one.

    Examples
    --------
    >>> round(critical_pressure_ratio(), 3)
    0.528
    """
    if heat_ratio <= 1:
        raise RangeError(f"the ratio of specific heats is above one, got {heat_ratio:g}")
    return float((2.0 / (heat_ratio + 1.0)) ** (heat_ratio / (heat_ratio - 1.0)))


def choked_throughput(
    area: float,
    upstream: float,
    temperature: float,
    molar_mass: float = gas.AIR_MOLAR_MASS,
    heat_ratio: float = 1.4,
    discharge: float = 1.0,
) -> float:
    r"""Return the throughput of a choked orifice.

    .. math:: Q = C_d A p_1 \sqrt{\frac{k R T}{M}} \left(\frac{2}{k+1}\right)^{(k+1)/(2(k-1))}

    Parameters
    ----------
    area : float
        Area of the hole. [m²]
    upstream : float
        Pressure before it. [Pa]
    temperature : float
        Temperature before it. [K]
    molar_mass : float
        Molar mass. [kg/mol]
    heat_ratio : float
        Ratio of specific heats. [-]
    discharge : float
        Discharge coefficient. [-]

    Returns
    -------
    float
        Throughput at the upstream temperature. [Pa·m³/s]

    Raises
    ------
    RangeError
        If area, pressure or temperature is not positive.

    Notes
    -----
    Valid for: a hole in a thin wall, downstream below `critical_pressure_ratio`; continuum flow.

    Examples
    --------
    A 1 mm hole from atmosphere passes 158 mbar L/s:

    >>> round(choked_throughput(3.14159 / 4 * 1e-6, 101325.0, 293.15) * 10, 1)
    158.1

    References
    ----------
    .. [1] Isentropic flow of an ideal gas; any gas-dynamics text.
    """
    if area <= 0 or upstream <= 0 or temperature <= 0:
        raise RangeError("area, pressure and temperature must be positive")
    critical_pressure_ratio(heat_ratio)
    k = heat_ratio
    factor = float(np.sqrt(k * gas.GAS_CONSTANT * temperature / molar_mass))
    return discharge * area * upstream * factor * float((2.0 / (k + 1.0)) ** ((k + 1.0) / (2.0 * (k - 1.0))))


def laminar_rise(
    time: float | FloatArray, start: float, initial_rate: float, atmosphere: float = gas.STANDARD_ATMOSPHERE
) -> float | FloatArray:
    r"""Return the pressure of a closed volume that leaks through a laminar path, up to atmosphere.

    .. math:: \frac{dp}{dt} = r \left(1 - (p/p_a)^2\right) \;\Rightarrow\;
              p = p_a \tanh\left(\frac{r t}{p_a} + \operatorname{artanh}\frac{p_0}{p_a}\right)

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time since the valve closed. [s]
    start : float
        Pressure then. [Pa]
    initial_rate : float
        Rate of rise of the empty volume. [Pa/s]
    atmosphere : float
        Pressure outside. [Pa]

    Returns
    -------
    float or ndarray, shape (n,)
        Pressure. [Pa]

    Raises
    ------
    RangeError
        If the start is negative or not below atmosphere, or the rate is negative.

    Examples
    --------
    In the micron range it is a straight line:

    >>> round(float(laminar_rise(600.0, 0.0, 0.1)), 4)
    60.0
    """
    if not 0 <= start < atmosphere or initial_rate < 0:
        raise RangeError("the start lies between vacuum and atmosphere and the rate is not negative")
    rising = initial_rate * np.asarray(time, dtype=np.float64) / atmosphere + np.arctanh(start / atmosphere)
    pressure = atmosphere * np.tanh(rising)
    return float(pressure) if np.ndim(time) == 0 else pressure
