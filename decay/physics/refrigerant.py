"""What a refrigerant stands at: its standing pressure, vapour density and viscosity, by the packaged table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.physics import gas
from decay.physics.refrigerant_table import Refrigerant, lookup, names

__all__ = [
    "Refrigerant",
    "Standing",
    "lookup",
    "names",
    "peng_robinson_pressure",
    "saturation_pressure",
    "standing_state",
    "vapour_density",
    "vapour_viscosity",
]

_CELSIUS = 273.15
# A vapour that much denser than an ideal gas, over viscosity, makes the laminar law's answer worth a remark.
_NOTABLE_DENSITY = 1.25


@dataclass(frozen=True, slots=True)
class Standing:
    """The state in which a charge stands in a system at rest.

    Parameters
    ----------
    pressure : float
        Absolute pressure. [Pa]
    viscosity : float
        Of the vapour on its way out, near atmospheric pressure. [Pa·s]
    molar_mass : float
        Of the refrigerant. [kg/mol]
    is_saturated : bool
        Liquid and vapour stand side by side, so the temperature alone fixes the pressure.
    remarks : tuple of str
        What the pressure rests on where it is not saturation.
    """

    pressure: float
    viscosity: float
    molar_mass: float
    is_saturated: bool
    remarks: tuple[str, ...] = ()


def saturation_pressure(refrigerant: Refrigerant, temperature: float) -> float:
    """Return the standing pressure over liquid; for a blend the bubble point.

    Parameters
    ----------
    refrigerant : Refrigerant
        From `lookup`.
    temperature : float
        Temperature. [K]

    Returns
    -------
    float
        Absolute pressure. [Pa]

    Raises
    ------
    RangeError
        Outside the table, or where there is no liquid: at and above the critical temperature.

    Examples
    --------
    >>> round(saturation_pressure(lookup("R134a"), 293.15) / 1e3, 1)
    571.7
    """
    return float(np.exp(_saturated(refrigerant, refrigerant.standing_pressure, temperature)))


def vapour_density(refrigerant: Refrigerant, temperature: float) -> float:
    """Return the density of the saturated vapour; for a blend at the dew point.

    Parameters
    ----------
    refrigerant : Refrigerant
        From `lookup`.
    temperature : float
        Temperature. [K]

    Returns
    -------
    float
        Density. [kg/m³]

    Raises
    ------
    RangeError
        As for `saturation_pressure`.
    """
    return float(np.exp(_saturated(refrigerant, refrigerant.vapour_density, temperature)))


def vapour_viscosity(refrigerant: Refrigerant, temperature: float, *, is_saturated: bool = False) -> float:
    """Return the viscosity of the vapour, near atmospheric pressure or saturated.

    Parameters
    ----------
    refrigerant : Refrigerant
        From `lookup`.
    temperature : float
        Temperature. [K]
    is_saturated : bool
        At the dew point instead of near atmospheric pressure. [-]

    Returns
    -------
    float
        Dynamic viscosity. [Pa·s]

    Raises
    ------
    RangeError
        Outside the table.

    Examples
    --------
    >>> round(vapour_viscosity(lookup("R134a"), 293.15) * 1e6, 2)
    11.62
    """
    if is_saturated:
        return float(np.exp(_saturated(refrigerant, refrigerant.vapour_viscosity, temperature)))
    _in_table(refrigerant, temperature)
    return float(np.interp(temperature, refrigerant.temperature, refrigerant.thin_viscosity))


def standing_state(
    refrigerant: Refrigerant, temperature: float, charge: float | None = None, volume: float | None = None
) -> Standing:
    """Return the state in which a charge stands at a temperature.

    Parameters
    ----------
    refrigerant : Refrigerant
        From `lookup`.
    temperature : float
        Temperature of the system at rest. [K]
    charge : float, optional
        Mass filled in. [kg]
    volume : float, optional
        Inner volume. [m³]

    Returns
    -------
    Standing
        Pressure and what it rests on.

    Raises
    ------
    RangeError
        If the temperature lies outside the table.

    Notes
    -----
    Liquid present: saturation. Too little charge for liquid: the ideal gas law, which is an upper bound. At or above
    the critical temperature no saturation exists and the fill decides: the Peng-Robinson equation at the density of
    the charge (good to some 5 %), or else the critical pressure as a stand-in, which a usual fill exceeds.

    Examples
    --------
    >>> standing_state(lookup("R744"), 308.15).is_saturated
    False

    References
    ----------
    .. [1] Peng and Robinson, *Ind. Eng. Chem. Fundam.* 15 (1976) 59.
    """
    viscosity = vapour_viscosity(refrigerant, temperature)
    density = charge / volume if charge is not None and volume is not None else None
    name, celsius = refrigerant.name, temperature - _CELSIUS
    if temperature >= refrigerant.critical_temperature:
        critical = (
            f"{name} has no saturation pressure at {celsius:.0f} degC (critical temperature "
            f"{refrigerant.critical_temperature - _CELSIUS:.1f} degC): the pressure at rest depends on the fill"
        )
        if density is None or refrigerant.acentric_factor is None:
            remark = (
                f"{critical}; the critical pressure, {refrigerant.critical_pressure / 1e6:.1f} MPa, stands in for it, "
                "and a full charge may stand higher and lose more"
            )
            return Standing(refrigerant.critical_pressure, viscosity, refrigerant.molar_mass, False, (f"{remark}.",))
        pressure = peng_robinson_pressure(refrigerant, temperature, density)
        remark = f"{critical}; the density of the stated charge in the stated volume gives {pressure / 1e6:.1f} MPa"
        return Standing(pressure, viscosity, refrigerant.molar_mass, False, (f"{remark}.",))
    saturated = saturation_pressure(refrigerant, temperature)
    dense = vapour_density(refrigerant, temperature)
    ideal_density = saturated * refrigerant.molar_mass / (gas.GAS_CONSTANT * temperature)
    if density is not None and density < dense:
        pressure = min(saturated, density * gas.GAS_CONSTANT * temperature / refrigerant.molar_mass)
        remark = (
            f"The stated charge is too little for liquid in the stated volume at {celsius:.0f} degC: all of it is "
            f"vapour, at no more than {pressure / 1e6:.2f} MPa."
        )
        return Standing(pressure, viscosity, refrigerant.molar_mass, False, (remark,))
    ratio = dense / ideal_density * viscosity / vapour_viscosity(refrigerant, temperature, is_saturated=True)
    remarks = (
        (
            f"{name} vapour at {celsius:.0f} degC is denser than an ideal gas: the laminar loss may be up to "
            f"{(ratio - 1) * 100:.0f} % larger than stated.",
        )
        if ratio > _NOTABLE_DENSITY
        else ()
    )
    return Standing(saturated, viscosity, refrigerant.molar_mass, True, remarks)


def peng_robinson_pressure(refrigerant: Refrigerant, temperature: float, density: float) -> float:
    """Return the pressure of a pure refrigerant above its critical temperature, by Peng and Robinson.

    Parameters
    ----------
    refrigerant : Refrigerant
        A pure one: the equation needs its acentric factor.
    temperature : float
        Temperature, at or above the critical one. [K]
    density : float
        Mass over volume. [kg/m³]

    Returns
    -------
    float
        Absolute pressure. [Pa]

    Raises
    ------
    RangeError
        For a blend, below the critical temperature, or where so much would not fit into the volume.
    """
    omega = refrigerant.acentric_factor
    if omega is None or temperature < refrigerant.critical_temperature:
        raise RangeError("the equation serves pure refrigerants at or above the critical temperature")
    rt_c = gas.GAS_CONSTANT * refrigerant.critical_temperature
    a = 0.45724 * rt_c**2 / refrigerant.critical_pressure
    b = 0.07780 * rt_c / refrigerant.critical_pressure
    kappa = 0.37464 + 1.54226 * omega - 0.26992 * omega**2
    alpha: float = (1.0 + kappa * (1.0 - (temperature / refrigerant.critical_temperature) ** 0.5)) ** 2
    molar_volume = refrigerant.molar_mass / density
    if molar_volume <= 1.05 * b:
        raise RangeError(
            f"{density:.0f} kg/m³ of {refrigerant.name} do not fit: check charge and volume, "
            'for example --charge "650 g" --volume "3.2 L"'
        )
    attraction = a * alpha / (molar_volume**2 + 2.0 * b * molar_volume - b**2)
    return float(gas.GAS_CONSTANT * temperature / (molar_volume - b) - attraction)


def _in_table(refrigerant: Refrigerant, temperature: float) -> None:
    low, high = float(refrigerant.temperature[0]), float(refrigerant.temperature[-1])
    if not low <= temperature <= high:
        raise RangeError(
            f"the refrigerant table reaches from {low - _CELSIUS:.0f} to {high - _CELSIUS:.0f} degC, "
            f'got {temperature - _CELSIUS:.0f} degC: state --ambient like "24 degC"'
        )


def _saturated(refrigerant: Refrigerant, column: FloatArray, temperature: float) -> float:
    """Interpolate the logarithm of a saturated property over 1/T, in which it is nearly straight."""
    _in_table(refrigerant, temperature)
    has = np.isfinite(column)
    last = float(refrigerant.temperature[has][-1])
    if temperature > last:
        why = (
            "no saturation at or above the critical temperature"
            if temperature >= refrigerant.critical_temperature
            else f"no saturation in the table above {last - _CELSIUS:.0f} degC"
        )
        raise RangeError(f"{refrigerant.name} at {temperature - _CELSIUS:.0f} degC: {why}")
    inverse = 1.0 / refrigerant.temperature[has][::-1]
    return float(np.interp(1.0 / temperature, inverse, np.log(column[has][::-1])))
