"""What a refrigerant stands at: its standing pressure, vapour density and viscosity, by the packaged table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from decay.errors import RangeError
from decay.physics import gas
from decay.physics.refrigerant_table import Isotherm, Refrigerant

_ROUNDING = 1e-6  # K; -40 degC is not quite 233.15 K in a double
_POINTS = 200  # of the integral along an isotherm, which is then good to 1e-4


@dataclass(frozen=True, slots=True)
class Standing:
    """The state in which a charge stands in a system at rest."""

    pressure: float  # absolute pressure [Pa]
    # What drives a laminar leak to the atmosphere: density over viscosity, integrated over the pressure along the path
    # at constant temperature; negative where the system stands below atmosphere [kg/(m³·s)]
    laminar_drive: float
    molar_mass: float  # of the refrigerant [kg/mol]
    is_saturated: bool  # liquid and vapour stand side by side, so the temperature alone fixes the pressure
    remarks: tuple[str, ...] = ()  # what the pressure rests on where it is not saturation


def standing_pressure(refrigerant: Refrigerant, temperature: float) -> float:
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
    >>> from decay.physics.refrigerant_table import lookup
    >>> round(standing_pressure(lookup("R134a"), 293.15) / 1e3, 1)
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
        As for `standing_pressure`.
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
    >>> from decay.physics.refrigerant_table import lookup
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
        If the temperature lies outside the table, or so much does not fit into the volume.

    Notes
    -----
    Liquid present: saturation. Too little charge for liquid: the vapour at the density of charge over volume. At or
    above the critical temperature no saturation exists and the fill decides: the fluid at that density, or else the
    critical pressure as a stand-in, which a usual fill exceeds.

    Examples
    --------
    650 g of carbon dioxide in 6.65 L at 23 degC are all vapour, far from an ideal gas (54.7 bar):

    >>> from decay.physics.refrigerant_table import lookup
    >>> round(standing_state(lookup("R744"), 296.15, 0.650, 0.00665).pressure / 1e5, 1)
    40.8
    """
    density = charge / volume if charge is not None and volume is not None else None
    name, celsius = refrigerant.name, temperature - ZERO_CELSIUS
    if temperature >= refrigerant.critical_temperature:
        critical = (
            f"{name} has no saturation pressure at {celsius:.0f} degC (critical temperature "
            f"{refrigerant.critical_temperature - ZERO_CELSIUS:.1f} degC): the pressure at rest depends on the fill"
        )
        if density is None:
            remark = (
                f"{critical}; the critical pressure, {refrigerant.critical_pressure / 1e6:.1f} MPa, stands in for it, "
                "and a full charge may stand higher and lose more"
            )
            density = _density_at(refrigerant, temperature, refrigerant.critical_pressure)
            pressure, drive = _vapour(refrigerant, temperature, density)
        else:
            pressure, drive = _vapour(refrigerant, temperature, density)
            remark = f"{critical}; the density of the stated charge in the stated volume gives {pressure / 1e6:.1f} MPa"
        return Standing(pressure, drive, refrigerant.molar_mass, False, (f"{remark}.",))
    saturated, dense = standing_pressure(refrigerant, temperature), vapour_density(refrigerant, temperature)
    if density is not None and density < dense:
        pressure, drive = _vapour(refrigerant, temperature, density)
        remark = (
            f"The stated charge is too little for liquid in the stated volume at {celsius:.0f} degC: all of it is "
            f"vapour, at {pressure / 1e6:.2f} MPa."
        )
        return Standing(pressure, drive, refrigerant.molar_mass, False, (remark,))
    dew, drive = _vapour(refrigerant, temperature, dense)
    # A blend's vapour over liquid stands at the bubble point, above the dew point of the mixture as it was filled in.
    viscosity = vapour_viscosity(refrigerant, temperature, is_saturated=True)
    return Standing(saturated, drive + (saturated - dew) * dense / viscosity, refrigerant.molar_mass, True)


def _vapour(refrigerant: Refrigerant, temperature: float, density: float) -> tuple[float, float]:
    """Return pressure [Pa] and laminar drive [kg/(m³·s)] of a vapour by its density [kg/m³].

    Between the isotherms of the table the compressibility factor, and the drive over an ideal gas's, are interpolated:
    both are near one and change slowly. Below the critical temperature they are taken at equal shares of the
    saturated vapour's density.
    """
    _in_table(refrigerant, temperature)
    rows, weights = _beside(refrigerant, temperature)
    is_vapour = temperature < refrigerant.critical_temperature and all(row.is_saturated for row in rows)
    share = density / vapour_density(refrigerant, temperature) if is_vapour else 1.0
    factors = []
    for row in rows:
        saturated = float(row.density[-1])
        own = share * saturated if is_vapour else min(density, saturated) if row.is_saturated else density
        factors.append(_real_over_ideal(refrigerant, row, own))
    compressibility, excess = (float(np.dot(weights, column)) for column in zip(*factors, strict=True))
    pressure = compressibility * density * gas.GAS_CONSTANT * temperature / refrigerant.molar_mass
    ideal = _ideal_drive(refrigerant, temperature, vapour_viscosity(refrigerant, temperature), pressure)
    return pressure, excess * ideal


def _beside(refrigerant: Refrigerant, temperature: float) -> tuple[list[Isotherm], FloatArray]:
    """Return the isotherms on both sides of a temperature [K], with their weights [-]."""
    at = np.array([row.temperature for row in refrigerant.vapours])
    after = int(np.clip(np.searchsorted(at, temperature), 1, len(at) - 1))
    weight = float(np.clip((temperature - at[after - 1]) / (at[after] - at[after - 1]), 0.0, 1.0))
    return list(refrigerant.vapours[after - 1 : after + 1]), np.array([1.0 - weight, weight])


def _real_over_ideal(refrigerant: Refrigerant, row: Isotherm, density: float) -> tuple[float, float]:
    """Return compressibility factor and laminar drive over an ideal gas's, on one isotherm at a density [kg/m³]."""
    if density > float(row.density[-1]) * (1 + 1e-9):
        raise RangeError(
            f"{density:.0f} kg/m³ of {refrigerant.name} do not fit at {row.temperature - ZERO_CELSIUS:.0f} degC: check "
            'charge and volume, for example --charge "650 g" --volume "3.2 L"'
        )
    per_density = gas.GAS_CONSTANT * row.temperature / refrigerant.molar_mass
    thin = vapour_viscosity(refrigerant, row.temperature)
    nodes = np.concatenate(([0.0], row.density))
    compressibility = np.concatenate(([1.0], row.pressure / (row.density * per_density)))
    viscosity = np.concatenate(([thin], row.viscosity))
    along = np.linspace(0.0, density, _POINTS)
    pressure = np.interp(along, nodes, compressibility) * along * per_density
    eased = along / np.interp(along, nodes, viscosity)
    outside = STANDARD_ATMOSPHERE
    real = float(np.interp(pressure[-1], pressure, _summed(eased, pressure)))
    real -= float(np.interp(outside, pressure, _summed(eased, pressure)))
    ideal = _ideal_drive(refrigerant, row.temperature, thin, float(pressure[-1]))
    # At atmospheric pressure nothing drives, and nothing is real either: below it the ratio does not matter.
    excess = real / ideal if pressure[-1] > 1.05 * outside else 1.0
    return float(pressure[-1] / (density * per_density)) if density > 0 else 1.0, excess


def _summed(values: FloatArray, over: FloatArray) -> FloatArray:
    return np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(over))))


def _ideal_drive(refrigerant: Refrigerant, temperature: float, viscosity: float, pressure: float) -> float:
    """Return an ideal gas's integral of density over viscosity, from atmosphere up to a pressure. [kg/(m³·s)]"""
    per_pressure = refrigerant.molar_mass / (gas.GAS_CONSTANT * temperature)
    return per_pressure / viscosity * (pressure**2 - STANDARD_ATMOSPHERE**2) / 2.0


def _density_at(refrigerant: Refrigerant, temperature: float, pressure: float) -> float:
    """Return the density of a fluid above its critical temperature [K] at a pressure [Pa]. [kg/m³]"""
    rows, weights = _beside(refrigerant, temperature)
    return float(np.dot(weights, [np.interp(pressure, row.pressure, row.density) for row in rows]))


def _in_table(refrigerant: Refrigerant, temperature: float) -> None:
    low, high = float(refrigerant.temperature[0]), float(refrigerant.temperature[-1])
    if not low - _ROUNDING <= temperature <= high + _ROUNDING:
        raise RangeError(
            f"the refrigerant table reaches from {low - ZERO_CELSIUS:.0f} to {high - ZERO_CELSIUS:.0f} degC, "
            f'got {temperature - ZERO_CELSIUS:.0f} degC: state --ambient like "24 degC"'
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
            else f"no saturation in the table above {last - ZERO_CELSIUS:.0f} degC"
        )
        raise RangeError(f"{refrigerant.name} at {temperature - ZERO_CELSIUS:.0f} degC: {why}")
    inverse = 1.0 / refrigerant.temperature[has][::-1]
    return float(np.interp(1.0 / temperature, inverse, np.log(column[has][::-1])))
