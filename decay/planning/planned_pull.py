"""The planned pull: how fast the pressure falls, water that has to leave as vapour, and whether it is warm enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, frozen
from decay.constants import STANDARD_ATMOSPHERE
from decay.errors import RangeError
from decay.judge.criteria import Criterion
from decay.physics import gas, pump, water
from decay.planning.pump_and_gauge import Equipment, Hose

_POINTS = 400  # of the pressure axis; the integral is then good to 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """The pull of a dry system, as the mass balance has it."""

    time: FloatArray  # pumping time, shape (m,) [s]
    pressure: FloatArray  # pressure in the system, falling, shape (m,) [Pa]
    target: float  # pressure to reach [Pa]
    to_target: float  # time until then; ``inf`` where the pump cannot reach it [s]
    without_hoses: float  # the same with the pump right at the system [s]
    speed_at_target: float  # effective speed at the system there, as a share of the pump's rated one [-]
    hose_conductance: float  # of all hoses together at the target; ``inf`` without any [m³/s]

    def __post_init__(self) -> None:
        for name in ("time", "pressure"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True)
class WaterTime:
    """Bounds on the time that a stated amount of water takes to leave."""

    mass: float  # water [kg]
    plateau: float  # its saturation pressure at the ambient temperature, where a pull stands at first [Pa]
    by_pump: float  # time that the pump takes for the vapour if the water stays as warm as its surroundings [s]
    heat: float  # heat that evaporation takes [J]
    power: float  # heating that keeps the water at ambient temperature at that rate [W]
    by_heat: float | None  # time that the stated heating takes; ``None`` where none was stated [s]
    # Share that freezes if it has to fetch all heat from itself and evaporates from the ambient temperature [-]
    frozen_share: float

    @property
    def least(self) -> float:
        """The larger of the bounds: it cannot be faster. [s]"""
        return max(self.by_pump, self.by_heat or 0.0)


def throughput(pressure: float | FloatArray, equipment: Equipment, temperature: float,
               viscosity: float | None = None, molar_mass: float = gas.AIR_MOLAR_MASS) -> FloatArray:
    r"""Return what the pump draws out of a system through its hoses.

    .. math:: Q = C(\bar p)\,(p - p_1) = S\,(p_1 - p_u), \quad \bar p = (p + p_1)/2

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure in the system. [Pa]
    equipment : Equipment
        Pump and hoses.
    temperature : float
        Gas temperature. [K]
    viscosity : float, optional
        Of the gas; that of air where left out. [Pa·s]
    molar_mass : float
        Of the gas. [kg/mol]

    Returns
    -------
    ndarray, shape (n,)
        Throughput; zero at or below the pump's ultimate pressure. [Pa·m³/s]

    Notes
    -----
    The conductance is Knudsen's for long tubes (`decay.physics.pump.tube_conductance`). Near atmosphere flow is
    turbulent or choked and slower than that; the pump, not the hose, decides there, so it hardly matters.
    """
    from scipy.optimize import elementwise

    p = np.atleast_1d(np.asarray(pressure, dtype=np.float64))
    if not equipment.hoses:
        return np.maximum(equipment.speed * (p - equipment.ultimate), 0.0)

    def more_than_pumped(at_pump: FloatArray, p: FloatArray) -> FloatArray:
        brought = conductance(equipment.hoses, 0.5 * (p + at_pump), temperature, viscosity, molar_mass) * (p - at_pump)
        return brought - equipment.speed * (at_pump - equipment.ultimate)

    lowest = np.minimum(equipment.ultimate, p)
    found = elementwise.find_root(more_than_pumped, (lowest, np.maximum(p, equipment.ultimate)), args=(p,))
    at_pump = np.where(p > equipment.ultimate, found.x, equipment.ultimate)
    return np.asarray(np.maximum(equipment.speed * (at_pump - equipment.ultimate), 0.0))


def conductance(hoses: Sequence[Hose], mean_pressure: FloatArray, temperature: float,
                viscosity: float | None = None, molar_mass: float = gas.AIR_MOLAR_MASS) -> FloatArray:
    """Return the conductance of hoses side by side.

    Parameters
    ----------
    hoses : sequence of Hose
        The hoses.
    mean_pressure : ndarray, shape (n,)
        Half the sum of the pressures at both ends. [Pa]
    temperature : float
        Gas temperature. [K]
    viscosity : float, optional
        Of the gas; that of air where left out. [Pa·s]
    molar_mass : float
        Of the gas. [kg/mol]

    Returns
    -------
    ndarray, shape (n,)
        Conductance. [m³/s]
    """
    each = [pump.tube_conductance(hose.bore, hose.length, mean_pressure, temperature, viscosity, molar_mass)
            for hose in hoses]
    return np.asarray(sum(each), dtype=np.float64)


def pull(volume: float, equipment: Equipment, target: float, temperature: float,
         start: float = STANDARD_ATMOSPHERE) -> Pull:
    r"""Return the pull of a dry, tight system, :math:`V\,dp/dt = -S_{eff}(p)\,(p - p_u)` integrated.

    Parameters
    ----------
    volume : float
        Volume to empty. [m³]
    equipment : Equipment
        Pump and hoses.
    target : float
        Pressure to reach. [Pa]
    temperature : float
        Gas temperature. [K]
    start : float
        Pressure at the start. [Pa]

    Raises
    ------
    RangeError
        If the volume is not positive, or the target does not lie between zero and the start.

    Notes
    -----
    A lower bound: outgassing, oil and a leak slow the end of a real pull, and valve cores narrow the hoses.

    Examples
    --------
    A cubic metre from 1000 mbar to 10 mbar at 100 L/s, with nothing in the way:

    >>> round(pull(1.0, Equipment(0.1), 1000.0, 293.15, start=1e5).to_target, 1)
    46.1
    """
    if volume <= 0:
        raise RangeError('the volume must be larger than zero: write it like "3.2 L"')
    if not 0 < target < start:
        raise RangeError('the target lies between zero and the pressure at the start: write it like "500 micron"')
    end = target if target > equipment.ultimate else equipment.ultimate + 0.01 * (start - equipment.ultimate)
    lowest = max(equipment.ultimate * 1.02, 0.1 * end)
    # Even on the logarithm of what is left above the ultimate pressure: there the integrand hardly changes.
    above = np.geomspace(start - equipment.ultimate, max(lowest - equipment.ultimate, 1e-6), _POINTS)
    pressure = equipment.ultimate + above
    flow = throughput(pressure, equipment, temperature)
    slowness = volume * above / flow
    time = np.concatenate(([0.0], np.cumsum(0.5 * (slowness[1:] + slowness[:-1]) * np.diff(-np.log(above)))))
    reached = target > equipment.ultimate and target >= pressure[-1]
    left = -math.log(target - equipment.ultimate) if reached else math.inf
    at_target = throughput(target, equipment, temperature)[0]
    pump_pressure = equipment.ultimate + at_target / equipment.speed
    return Pull(
        time=time,
        pressure=pressure,
        target=target,
        to_target=float(np.interp(left, -np.log(above), time)) if reached else math.inf,
        without_hoses=pump.pumpdown_time(volume, equipment.speed, start, target, equipment.ultimate),
        speed_at_target=float(at_target / (equipment.speed * target)),
        hose_conductance=math.inf if not equipment.hoses else float(
            conductance(equipment.hoses, np.array([0.5 * (target + pump_pressure)]), temperature)[0]),
    )


def water_time(mass: float, equipment: Equipment, ambient: float, heating: float | None = None) -> WaterTime:
    r"""Return bounds on the time that free water takes to leave as vapour.

    .. math:: t \ge \frac{m R T}{M Q(p_s)}, \quad t \ge \frac{m L}{P}

    Parameters
    ----------
    mass : float
        Water in the system. [kg]
    equipment : Equipment
        Pump and hoses.
    ambient : float
        Temperature of the surroundings. [K]
    heating : float, optional
        Heat that reaches the water. [W]

    Raises
    ------
    RangeError
        If mass or heating is not positive.

    Notes
    -----
    The pump's bound lets the water stay as warm as its surroundings, with vapour alone in the hoses; the heat's bound
    lets the pump take any amount. Oil, distance and ice make it slower, and a pump without its gas ballast open takes
    vapour up into its oil and stops short of its ultimate pressure.

    Examples
    --------
    >>> bounds = water_time(0.005, Equipment(2.8e-3), 296.15, heating=20.0)
    >>> round(bounds.by_pump), round(bounds.heat), round(bounds.by_heat)
    (87, 12233, 612)
    """
    if mass <= 0 or (heating is not None and heating <= 0):
        raise RangeError('water and heating must be larger than zero: write them like "5 g" and "20 W"')
    plateau = float(water.saturation_pressure(ambient))
    flow = float(throughput(plateau, equipment, ambient, water.thin_viscosity(ambient), gas.WATER_MOLAR_MASS)[0])
    rate = float(gas.mass_flow(flow, gas.WATER_MOLAR_MASS, ambient))
    latent = water.latent_heat(ambient)
    return WaterTime(
        mass=mass,
        plateau=plateau,
        by_pump=mass / rate if rate > 0 else math.inf,
        heat=mass * latent,
        power=rate * latent,
        by_heat=None if heating is None else mass * latent / heating,
        frozen_share=water.freezing_share(ambient),
    )


@dataclass(frozen=True, slots=True)
class Warmth:
    """The surroundings against the target."""

    ambient: float  # temperature of the surroundings [K]
    saturation: float  # pressure of water there: free water holds a pull at it at first [Pa]
    # Temperature at which water or ice stands at the target: a wet spot colder than that never dries [K]
    coldest_spot: float
    is_warm_enough: bool  # the surroundings are above freezing, above that spot, and above what the criterion asks for
    is_ice_likely: bool  # below the published line under which free water tends to freeze in the pull
    asked: float | None  # temperature that the criterion asks for; ``None`` where it says nothing [K]


def warmth(ambient: float, target: float, criterion: Criterion) -> Warmth:
    """Return whether it is warm enough.

    Parameters
    ----------
    ambient : float
        Temperature of the surroundings. [K]
    target : float
        Pressure to reach. [Pa]
    criterion : Criterion
        It may ask for a temperature.

    Examples
    --------
    >>> from decay.judge import criteria
    >>> found = warmth(296.15, 66.661, criteria.load_criterion())
    >>> round(found.coldest_spot - 273.15, 1), found.is_warm_enough, found.is_ice_likely
    (-24.5, True, False)
    """
    spot = water.saturation_temperature(target)
    asked = criterion.ambient_above
    is_warm = ambient > max(spot, water.TRIPLE_POINT_TEMPERATURE, asked if asked is not None else 0.0)
    return Warmth(
        ambient=ambient,
        saturation=float(water.saturation_pressure(ambient)),
        coldest_spot=spot,
        is_warm_enough=is_warm,
        is_ice_likely=ambient < water.ICE_BELOW,
        asked=asked,
    )
