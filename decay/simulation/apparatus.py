"""The rig, the pump, the gauge and the day of an invented evacuation."""

from __future__ import annotations

from dataclasses import dataclass

from decay.quantities import MICRON, PRESSURE_UNITS, STANDARD_ATMOSPHERE
from decay.simulation.kinds import Place, require


@dataclass(frozen=True, slots=True)
class Rig:
    """The pump's side: hoses, manifold and gauge tree, and the hose that leads to the system.

    Parameters
    ----------
    volume : float
        Gas volume on the pump's side of the hose. [m³]
    hose_bore, hose_length : float
        Inner diameter and length of the hose to the system. [m]
    isolate_at : Place
        Where a hold is closed: ``rig`` closes the valve at the pump, so that the rig belongs to the isolated
        volume; ``system`` closes the service valve, so that the system alone is held.
    """

    volume: float = 0.15e-3
    hose_bore: float = 6.0e-3
    hose_length: float = 1.5
    isolate_at: Place = Place.RIG

    def __post_init__(self) -> None:
        require(self.volume > 0, "the rig's volume must be positive", self.volume)
        require(self.hose_bore > 0 and self.hose_length > 0, "hose bore and length must be positive",
                 (self.hose_bore, self.hose_length))


@dataclass(frozen=True, slots=True)
class Pump:
    """The vacuum pump.

    Parameters
    ----------
    speed : float
        Volume flow far above the ultimate pressure. [m³/s]
    ultimate : float
        Total pressure at which the speed has fallen to zero. [Pa]
    """

    speed: float = 1.4e-3
    ultimate: float = 3.0

    def __post_init__(self) -> None:
        require(self.speed > 0, "the pump's speed must be positive", self.speed)
        require(self.ultimate >= 0, "the pump's ultimate pressure must not be negative", self.ultimate)


@dataclass(frozen=True, slots=True)
class Ambient:
    """Temperature of everything but the evaporating water, and the air outside.

    Parameters
    ----------
    temperature : float
        At the start. [K]
    drift : float
        Steady change. [K/s]
    swing : float
        Half height of a sine on top of it. [K]
    swing_period : float
        Its period. [s]
    pressure : float
        Of the air outside. [Pa]
    humidity : float
        Relative humidity of the air outside, and of the air in the volumes at the start. [-]
    """

    temperature: float = 296.15
    drift: float = 0.0
    swing: float = 0.0
    swing_period: float = 1800.0
    pressure: float = STANDARD_ATMOSPHERE
    humidity: float = 0.4

    def __post_init__(self) -> None:
        require(200 < self.temperature < 350, "ambient temperature must lie between 200 K and 350 K",
                 self.temperature)
        require(self.swing_period > 0, "the swing's period must be positive", self.swing_period)
        require(self.pressure > 0, "the pressure of the air outside must be positive", self.pressure)
        require(0 <= self.humidity <= 1, "humidity must lie between 0 and 1", self.humidity)


@dataclass(frozen=True, slots=True)
class Gauge:
    """The gauge and its logger.

    Parameters
    ----------
    place : Place
        The volume it sits on.
    unit : str
        Unit it shows, a key of `decay.quantities.PRESSURE_UNITS`.
    interval : float
        Time between readings. [s]
    jitter : float
        Half width of the random shift of each reading's time, as a share of the interval. [-]
    gain : float
        Reading over truth, in air. [-]
    lag : float
        Time constant of its answer. [s]
    water_response, refrigerant_response : float
        Reading over true partial pressure in these gases, relative to air. [-]
    noise : float
        Standard deviation of the white noise. [Pa]
    relative_noise : float
        Its part in proportion to the pressure. [-]
    wander : float
        Standard deviation of the slow wander. [Pa]
    wander_time : float
        Correlation time of the wander. [s]
    steps : tuple of (float, float)
        Pairs of (pressure below which it holds, smallest change shown), rising; the last one holds above, too. [Pa]
    digits : int or None
        Significant digits instead of fixed steps.
    upper : float
        Reading above which it shows its over-range word. [Pa]
    over_range : str
        That word.
    """

    place: Place = Place.SYSTEM
    unit: str = "micron"
    interval: float = 2.0
    jitter: float = 0.0
    gain: float = 1.0
    lag: float = 1.0
    water_response: float = 1.0
    refrigerant_response: float = 1.0
    noise: float = 0.7 * MICRON
    relative_noise: float = 0.0005
    wander: float = 0.5 * MICRON
    wander_time: float = 60.0
    steps: tuple[tuple[float, float], ...] = (
        (1000 * MICRON, MICRON), (10_000 * MICRON, 10 * MICRON), (1_000_000 * MICRON, 100 * MICRON))
    digits: int | None = None
    upper: float = 25_000 * MICRON
    over_range: str = "OL"

    def __post_init__(self) -> None:
        require(self.unit in PRESSURE_UNITS, f"the gauge's unit must be one of {', '.join(PRESSURE_UNITS)}",
                 self.unit)
        require(self.interval > 0, "the interval between readings must be positive", self.interval)
        require(0 <= self.jitter < 0.5, "jitter must be at least 0 and below 0.5", self.jitter)
        require(self.gain > 0, "the gauge's gain must be positive", self.gain)
        require(min(self.lag, self.noise, self.relative_noise, self.wander) >= 0,
                 "lag, noise and wander must not be negative", (self.lag, self.noise, self.wander))
        require(self.wander_time > 0, "the wander's time must be positive", self.wander_time)
        require(bool(self.steps) and all(step > 0 for _, step in self.steps), "gauge steps must be positive",
                 self.steps)
        require(self.digits is None or 1 <= self.digits <= 12, "digits must lie between 1 and 12", self.digits)
