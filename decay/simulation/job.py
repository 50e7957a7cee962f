"""An invented evacuation as a whole: the steps that are done, and the job that holds everything."""

from __future__ import annotations

from dataclasses import dataclass, field

from decay.simulation.apparatus import Ambient, Gauge, Pump, Rig
from decay.simulation.kinds import Gas, Place, StepKind, require
from decay.simulation.sources import FreeWater, Leak, Pool, Surface


@dataclass(frozen=True, slots=True)
class Step:
    """One thing the technician does.

    Parameters
    ----------
    kind : StepKind
        What.
    duration : float
        How long; for a pump step with ``until``, at most how long. [s]
    until : float or None
        Reading that ends a pump step, or pressure that a sweep fills to; a vent fills to the air outside. [Pa]
    fill_time : float
        Time in which a sweep or vent would fill the system from nothing. [s]
    temperature : float or None
        Temperature to which everything is brought for this step; ``None`` for that of the day. [K]
    is_rig_warmed : bool
        Whether what lies on the rig's side gives off gas at that temperature as well.
    """

    kind: StepKind
    duration: float
    until: float | None = None
    fill_time: float = 40.0
    temperature: float | None = None
    is_rig_warmed: bool = True

    def __post_init__(self) -> None:
        require(self.duration > 0, "a step's duration must be positive", self.duration)
        require(self.fill_time > 0, "a step's fill time must be positive", self.fill_time)
        require(self.until is None or self.until > 0, "a step's pressure must be positive", self.until)
        require(self.temperature is None or 200 < self.temperature < 350,
                 "a step's temperature must lie between 200 K and 350 K", self.temperature)
        require(self.kind is not StepKind.SWEEP or self.until is not None,
                 "a sweep needs the pressure to fill to", self.until)


DEFAULT_STEPS = (
    Step(StepKind.REST, 30.0),
    Step(StepKind.PUMP, 2400.0),
    Step(StepKind.HOLD, 1800.0),
)


@dataclass(frozen=True, slots=True)
class Job:
    """One invented evacuation, complete: the same job gives the same log.

    Parameters
    ----------
    volume : float
        Gas volume of the system, without the rig. [m³]
    rig, pump, ambient, gauge : Rig, Pump, Ambient, Gauge
        The equipment and the day.
    leaks, surfaces, pools, waters : tuple
        The sources of gas.
    steps : tuple of Step
        What is done, in order.
    seed : int
        Seed of everything random, which is the gauge alone.
    initial_gas : Gas
        What fills the volumes at the start.
    initial_pressure : float or None
        Its pressure; ``None`` for that of the air outside. [Pa]
    name : str
        Name of the invented job.
    """

    volume: float = 3.0e-3
    rig: Rig = field(default_factory=Rig)
    pump: Pump = field(default_factory=Pump)
    ambient: Ambient = field(default_factory=Ambient)
    gauge: Gauge = field(default_factory=Gauge)
    leaks: tuple[Leak, ...] = ()
    surfaces: tuple[Surface, ...] = ()
    pools: tuple[Pool, ...] = ()
    waters: tuple[FreeWater, ...] = ()
    steps: tuple[Step, ...] = DEFAULT_STEPS
    seed: int = 1
    initial_gas: Gas = Gas.AIR
    initial_pressure: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        require(self.volume > 0, "the system's volume must be positive", self.volume)
        require(bool(self.steps), "a job needs at least one step", self.steps)
        require(self.initial_pressure is None or self.initial_pressure > 0, "the initial pressure must be positive",
                 self.initial_pressure)
        require(self.gauge.place is Place.SYSTEM or self.rig.isolate_at is Place.RIG,
                 "a gauge on the rig sees nothing of a system that is closed off at its service valve",
                 self.gauge.place)

    @property
    def isolated_volume(self) -> float:
        """Gas volume behind the valve that a hold closes. [m³]"""
        return self.volume + (self.rig.volume if self.rig.isolate_at is Place.RIG else 0.0)
