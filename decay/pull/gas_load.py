"""The pull as evidence: what speed reached the system, what the hose cost, whether pull and hold agree on the gas."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from decay.fit.results import Band, HoldFit, PumpdownFit
from decay.interval import Interval
from decay.physics import gas, pump, water

FACTOR = 3.0
"""Ratio beyond which the gas loads of pull and hold disagree: common practice, no source. [-]"""
WATER_ASKED = 0.010
"""The amount for which the time to leave is told. [kg]"""
_EARLY = 0.1
_PIECES = 16  # of a band's fall in ln p: its mean speed is then good to 0.1 %


@dataclass(frozen=True, slots=True)
class BandSpeed:
    """Pumping speed between two pressures."""

    # Pressures that bound the band [Pa]
    high: float
    low: float
    seen: Interval | None  # speed at the gauge, volume over time constant; ``None`` without a volume [m³/s]
    line: float | None  # conductance of the hose there; ``None`` where it was not told [m³/s]
    # What pump and hose leave of the rated speed, as a mean over the fall: the speed that takes as long [m³/s]
    expected: float
    time: float  # time from the first passage of ``high`` to that of ``low`` [s]
    lost_to_hose: float | None  # part of that time which the hose cost, by its geometry [s]
    lost: float | None  # part of that time beyond what the bare pump would take, whatever cost it [s]


@dataclass(frozen=True, slots=True)
class WaterLeaving:
    """What the pump could carry away of water that stood in the system: bounds, so that no less time was enough."""

    # Where the pull stood, and the temperature at which water has that vapour pressure [Pa, K]
    pressure: float
    temperature: float
    rate: float  # most vapour that the pump could take at the highest pressure of that stretch [kg/s]
    during: float  # most that left while the pull stood [kg]
    time: float  # shortest time for `WATER_ASKED` to leave [s]
    # Heat that has to flow into the water for that; with less it cools and freezes, and leaves more slowly [W]
    power: float
    freezing: float  # share of the water there which freezes when no heat reaches it and the rest boils off [-]


@dataclass(frozen=True, slots=True)
class GasLoad:
    """A pull against pump and hose, and against the hold after it."""

    start: float  # when the pull began [s]
    rated: float  # rated speed of the pump [m³/s]
    bands: tuple[BandSpeed, ...]  # from high to low pressure
    end_speed: float  # speed that pump and hose leave at the end of the pull [m³/s]
    ultimate: float | None  # lowest pressure of the rig alone; ``None`` where it was not tested [Pa]
    # Gas that the pump took at the end of the pull, as air; its ends from the ultimate pressure, and its upper end for
    # water vapour, which passes a hose more easily [Pa·m³/s]
    pulled: Interval
    given: Interval | None  # gas that the hold's first rise shows; ``None`` without a volume or a hold [Pa·m³/s]
    water: tuple[WaterLeaving, ...]  # one for every stretch at which the pull stood at water's vapour pressure

    @property
    def gives_more_than_pulled(self) -> bool:
        """Whether the hold gave off more gas than the pump can have taken."""
        return self.given is not None and self.given.low > FACTOR * self.pulled.high

    @property
    def gives_less_than_pulled(self) -> bool:
        """Whether the hold gave off less gas than the pump took for sure."""
        return self.given is not None and FACTOR * self.given.high < self.pulled.low

    @property
    def lost_to_hose(self) -> float | None:
        """Time that the hose cost over all bands; ``None`` where no hose or volume was told. [s]"""
        parts = [band.lost_to_hose for band in self.bands if band.lost_to_hose is not None]
        return sum(parts) if parts else None


def gas_load(
    pull: PumpdownFit,
    hold: HoldFit | None,
    *,
    speed: float,
    hose: tuple[float, float] | None = None,
    volume: Interval | None = None,
    ultimate: float | None = None,
    ambient: float | None = None,
) -> GasLoad:
    """Hold a pull against the pump, the hose and the hold that follows.

    Parameters
    ----------
    pull : PumpdownFit
        The pull.
    hold : HoldFit or None
        The hold after it.
    speed : float
        Rated speed of the pump. [m³/s]
    hose : tuple of float, optional
        Bore and length. [m]
    volume : Interval, optional
        Gas volume, rig included. [m³]
    ultimate : float, optional
        Lowest pressure of the rig alone. [Pa]
    ambient : float, optional
        Gas temperature; 20 degC where it was not told. [K]

    Notes
    -----
    Low bands of a pull are slow because gas comes off the walls as well: what a band lost there is not the hose's
    alone, which is why the hose's part comes from its geometry. A hose is taken as a smooth long tube, full of air for
    what is expected and of water vapour, the easiest to pump of the usual gases, for what is at most; a valve core in
    it is a further constriction.
    """
    temperature = gas.ROOM if ambient is None else ambient
    bands = tuple(_band(band, speed, hose, volume, temperature) for band in pull.bands)
    end_speed, _ = speed_behind(speed, hose, pull.end_pressure, temperature)
    most = vapour_pulled(speed, hose, pull.end_pressure, temperature)
    return GasLoad(
        start=pull.start,
        rated=speed,
        bands=bands,
        end_speed=end_speed,
        ultimate=ultimate,
        pulled=_pulled(pull.end_pressure, end_speed, most, ultimate),
        given=None if hold is None or volume is None else _given(hold, volume),
        water=tuple(_leaving(pull, speed, hose, temperature)),
    )


def _pulled(pressure: float, speed: float, most: float, ultimate: float | None) -> Interval:
    """Return the gas that a pump took at a pressure, as air; its upper end as water vapour. [Pa·m³/s]"""
    as_air = speed * pressure
    if ultimate is None:
        return Interval(as_air, 0.0, most)
    value = speed * max(pressure - ultimate, 0.0)
    # Whatever lies between pump and gauge lets the speed be known to a factor of two only.
    return Interval(value, value / 2.0, max(min(2.0 * value * most / as_air, most), value))


def vapour_pulled(speed: float, hose: tuple[float, float] | None, pressure: float, temperature: float) -> float:
    """Return the most that a pump draws out of a system that holds water vapour.

    Parameters
    ----------
    speed : float
        Rated speed of the pump. [m³/s]
    hose : tuple of float, or None
        Bore and length. [m]
    pressure : float
        At the system. [Pa]
    temperature : float
        Of the vapour. [K]

    Returns
    -------
    float
        Throughput at that temperature. [Pa·m³/s]

    Notes
    -----
    Water vapour is half as viscous as air and lighter, so that a hose passes up to 1.9 times as much of it; what is
    mixed with air passes less easily.

    Examples
    --------
    >>> air, _ = speed_behind(2.83e-3, (0.006, 1.5), 100.0, 293.15)
    >>> round(vapour_pulled(2.83e-3, (0.006, 1.5), 100.0, 293.15) / (air * 100.0), 2)
    1.78
    """
    reached, _ = speed_behind(
        speed, hose, pressure, temperature, water.thin_viscosity(temperature), gas.WATER_MOLAR_MASS
    )
    return reached * pressure


def speed_behind(
    speed: float,
    hose: tuple[float, float] | None,
    pressure: float,
    temperature: float,
    viscosity: float | None = None,
    molar_mass: float = gas.AIR_MOLAR_MASS,
) -> tuple[float, float | None]:
    """Return the speed at the system's end of a hose, and the hose's conductance.

    Parameters
    ----------
    speed : float
        Rated speed of the pump. [m³/s]
    hose : tuple of float, or None
        Bore and length. [m]
    pressure : float
        At the system. [Pa]
    temperature : float
        Gas temperature. [K]
    viscosity : float, optional
        Of the gas; that of air where left out. [Pa·s]
    molar_mass : float
        Of the gas. [kg/mol]

    Returns
    -------
    tuple of float
        Speed and conductance, the latter ``None`` without a hose. [m³/s]

    Examples
    --------
    A 6 mm hose leaves less than a hundredth of a 6 cfm pump's speed at 100 micron:

    >>> speed, line = speed_behind(2.83e-3, (0.006, 1.5), 13.3, 293.15)
    >>> round(speed / 2.83e-3, 3)
    0.008
    """
    if hose is None:
        return speed, None
    # The conductance depends on the mean pressure, and that on how far the pressure falls along the hose.
    bore, length = hose

    def line(at_pump: float) -> float:
        mean = 0.5 * (pressure + at_pump)
        return float(pump.tube_conductance(bore, length, mean, temperature, viscosity, molar_mass))

    def more_than_pumped(at_pump: float) -> float:
        return line(at_pump) * (pressure - at_pump) - speed * at_pump

    from scipy.optimize import brentq  # here: hardly any log is told its pump and hose

    passed = line(float(brentq(more_than_pumped, 0.0, pressure, xtol=1e-9 * pressure)))
    return float(pump.effective_speed(speed, passed)), passed


def first_rise(hold: HoldFit) -> Interval:
    """Return the rate at which a hold began to rise, once rig and system had equalised. [Pa/s]"""
    curve = hold.curve
    count = max(2, int(_EARLY * len(curve.time)))
    span = float(curve.time[count - 1] - curve.time[0])
    rate = float(curve.leak[count - 1] + curve.outgassing[count - 1]) / span
    error = 2.0 * hold.noise / span
    return Interval(rate, max(0.0, rate - error), rate + error)


def _given(hold: HoldFit, volume: Interval) -> Interval:
    rise = first_rise(hold)
    return Interval(rise.value * volume.value, rise.low * volume.low, rise.high * volume.high)


def _band(
    band: Band, speed: float, hose: tuple[float, float] | None, volume: Interval | None, temperature: float
) -> BandSpeed:
    expected, line = _mean_speed(band, speed, hose, temperature)
    folds = math.log(band.high / band.low)
    constant = band.time_constant
    seen = lost = to_hose = None
    if volume is not None and constant.low > 0 and band.time > 0:
        mean = volume.value * folds / band.time
        # The fit tells how well the fall is known; its relative ends count about the mean over the band.
        seen = Interval(
            mean,
            mean * (constant.value / constant.high) * (volume.low / volume.value),
            mean * (constant.value / constant.low) * (volume.high / volume.value),
        )
        bare = volume.value / speed * folds
        lost = max(0.0, band.time - bare)
        to_hose = None if line is None else min(volume.value * folds / expected - bare, lost)
    return BandSpeed(band.high, band.low, seen, line, expected, band.time, to_hose, lost)


def _mean_speed(
    band: Band, speed: float, hose: tuple[float, float] | None, temperature: float
) -> tuple[float, float | None]:
    """Return the steady speed that takes as long through a band as pump and hose do, without gas off the walls, and
    the hose's conductance to go with it. [m³/s]"""
    if hose is None:
        return speed, None
    middles = np.exp(np.linspace(math.log(band.low), math.log(band.high), 2 * _PIECES + 1)[1::2])
    speeds = np.array([speed_behind(speed, hose, float(p), temperature)[0] for p in middles])
    mean = 1.0 / float(np.mean(1.0 / speeds))
    return mean, 1.0 / (1.0 / mean - 1.0 / speed)


def _leaving(
    pull: PumpdownFit, speed: float, hose: tuple[float, float] | None, ambient: float
) -> Sequence[WaterLeaving]:
    found = []
    for plateau in pull.plateaus:
        if not plateau.is_water:
            continue
        temperature = water.saturation_temperature(plateau.pressure)
        # Vapour is densest as cold as the water it leaves; it warms on its way, and then less of it passes.
        coldest = min(temperature, ambient)
        flow = vapour_pulled(speed, hose, plateau.highest, coldest)
        rate = float(gas.mass_flow(flow, gas.WATER_MOLAR_MASS, coldest))
        found.append(
            WaterLeaving(
                pressure=plateau.pressure,
                temperature=temperature,
                rate=rate,
                during=rate * (plateau.end - plateau.start),
                time=WATER_ASKED / rate,
                power=rate * water.latent_heat(temperature),
                freezing=water.freezing_share(temperature),
            )
        )
    return found
