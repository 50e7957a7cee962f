"""What a lesson is about: the system, the gauge, the rule; and the invented jobs that stand for a season of work."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from decay.arrays import FloatArray, frozen
from decay.constants import DAY
from decay.errors import RangeError
from decay.interval import Interval
from decay.judge.criteria import Criterion, load_criterion
from decay.physics.refrigerant_table import lookup
from decay.physics.water import saturation_pressure
from decay.quantities import MICRON
from decay.simulation import Ambient, Gauge, Job, Leak, Pool, Pump, Rig, Step, StepKind, Surface
from decay.system import System

RULE_OF_THUMB = "field-line"
"""The criterion that a lesson judges unless told otherwise: the custom that a class has heard of."""

# The invented season. None of these numbers was measured: they say what kind of work the shares are shares of.
DRIEST = 0.02            # of the dampest, in rise
DAMP_TIME = (180.0, 7200.0)   # s; time constants with which moisture comes out
SURFACE = (0.02, 0.5)    # micron/min that clean walls still make one hour after pumping began
EXPONENT = (0.8, 1.2)
WATER_RESPONSE = (1.0, 1.6)   # of a thermal gauge's reading to water vapour
DRIFT = 0.5 / 3600.0     # K/s either way
SWING = 0.1              # K, with a period of half an hour
DEPTH = (0.5, 0.95)      # of the target, at which the pump is valved off
PULL = 600.0             # s, where the criterion names no target
AT_MOST = 7200.0         # s; a pull that has not reached its target by then is held as it is
POOL_SIZE = 60.0         # gas in a pool, in fillings of the volume at its equilibrium: it repeats itself in every hold
RIG = 0.15e-3            # m³
HOSE_BORE, USUAL_VOLUME = 6.0e-3, 3.0e-3   # m, m³; its conductance goes with the fourth power of the bore
PUMP_SPEED, PUMP_ULTIMATE = 1.4e-3, 3.0   # m³/s, Pa

# Leak sizes: 0, then evenly spaced in ratio, up to well beyond the straight line from start to limit and to what the
# dampest system rises by.
SIZES = 33
BEYOND, SPAN = 2.5, 500.0
EXTRA = 0.05             # of the hold's length that the valve stays shut beyond it
LEAST_EXTRA = 20.0       # s


@dataclass(frozen=True, slots=True)
class Day:
    """What differs from one invented job to the next."""

    damp: float  # pressure at which moisture levels off [Pa]
    damp_time: float  # time constant of its rise [s]
    surface: float  # rise that the walls make one hour after pumping began [Pa/s]
    exponent: float = 1.0  # power of time with which that falls [-]
    # Of the gauge [-]
    gain: float = 1.0
    water_response: float = 1.0
    drift: float = 0.0  # of the temperature [K/s]
    swing: float = 0.0  # half height of its wave [K]
    depth: float = (DEPTH[0] + DEPTH[1]) / 2.0  # pressure at which the valve is closed, over the target [-]
    seed: int = 1  # of the gauge's noise [-]


@dataclass(frozen=True, slots=True)
class Terms:
    """What an instructor states.

    Raises
    ------
    RangeError
        If a quantity makes no sense or the refrigerant is not in the table.
    """

    # Gas volume behind the closed valve, rig included [m³]
    volume: Interval = field(default_factory=lambda: Interval(3.0e-3, 3.0e-3, 3.0e-3))
    criterion: Criterion = field(default_factory=lambda: load_criterion(RULE_OF_THUMB))  # the rule of thumb
    hold: float = 600.0  # length of the hold that it is applied to [s]
    refrigerant: str = "R134a"  # name, however it is written
    charge: float = 0.65  # nominal charge [kg]
    ambient: float = 297.15  # temperature [K]
    # Step, noise and sampling; gain and gas dependence are drawn from job to job
    gauge: Gauge = field(default_factory=Gauge)
    gauge_accuracy: float = 0.1  # half width of its gain error [-]
    damp: float = 1500 * MICRON  # pressure at which the moisture of the dampest system would level off [Pa]
    runs: int = 40  # jobs for the rule [-]
    proof_runs: int = 16  # jobs of which the log is analysed in full [-]
    seed: int = 1  # seed of everything random [-]

    def __post_init__(self) -> None:
        if not self.volume.low > 0:
            raise RangeError('the volume must be larger than zero: "3 L"')
        if not 30.0 <= self.hold <= 7 * DAY:
            raise RangeError('a hold lasts from half a minute to a week: "10 min"')
        if not self.charge > 0:
            raise RangeError('the charge must be larger than zero: "650 g"')
        if self.damp < 0:
            raise RangeError('the dampness must not be negative: "1500 micron"')
        if not 0 <= self.gauge_accuracy < 1:
            raise RangeError('a gauge\'s accuracy lies between 0 and 100 %: "10 %"')
        if not 1 <= self.proof_runs <= self.runs:
            raise RangeError("a lesson needs at least one run, and no more analysed runs than runs")
        lookup(self.refrigerant)

    @property
    def system(self) -> System:
        """What `decay.analyze` is told about each invented job."""
        return System(
            volume=self.volume,
            volume_origin="stated",
            refrigerant=lookup(self.refrigerant).name,
            charge=self.charge,
            ambient=self.ambient,
            gauge_accuracy=self.gauge_accuracy or None,
        )

    def rule(self, hold: float | None = None) -> Criterion:
        """Return the rule with its lines kept and its length replaced. [s]"""
        return replace(self.criterion, hold=self.hold if hold is None else hold)

    @property
    def room(self) -> float:
        """Rise that the rule has room for, from the usual depth to its limit. [Pa]"""
        rule = self.criterion
        step = next(size for limit, size in self.gauge.steps if (rule.target or 0.0) < limit)
        allowed = [step] if rule.no_change else []
        if rule.passes is not None:
            allowed.append(rule.passes - (rule.target or 0.0) * float(np.mean(DEPTH)))
        if rule.rise is not None:
            allowed.append(rule.rise)
        return max(min(allowed), step)

    @property
    def leaks(self) -> FloatArray:
        """Leak sizes, the first one none, as the rise that each makes in the stated volume. [Pa/s]"""
        largest = max(BEYOND * self.room, self.damp) / self.hold
        return frozen(np.concatenate(([0.0], np.geomspace(largest / SPAN, largest, SIZES))))

    def job(self, number: int, leak: float, hold: float, volume: float | None = None) -> Job:
        """Return one job of the invented season.

        Parameters
        ----------
        number : int
            Which; the same number is the same day, whatever the leak, the hold and the volume. [-]
        leak : float
            As the rise in the stated volume: in another volume the same leak makes another rise. [Pa/s]
        hold : float
            Length that is looked at; the valve stays shut a little longer. [s]
        volume : float, optional
            Another volume, rig included. [m³]

        Returns
        -------
        Job
            The job; walls and moisture grow with the volume, so that a tight system rises alike in each.
        """
        rng = np.random.default_rng([self.seed, number])
        day = Day(
            damp=_log_uniform(rng, DRIEST * self.damp, self.damp),
            damp_time=_log_uniform(rng, *DAMP_TIME),
            surface=_log_uniform(rng, *SURFACE) * MICRON / 60.0,
            exponent=rng.uniform(*EXPONENT),
            gain=rng.uniform(1.0 - self.gauge_accuracy, 1.0 + self.gauge_accuracy),
            water_response=rng.uniform(*WATER_RESPONSE),
            drift=rng.uniform(-DRIFT, DRIFT),
            swing=rng.uniform(0.0, SWING),
            depth=rng.uniform(*DEPTH),
            seed=int(rng.integers(2**31)),
        )
        return self.job_on(day, leak, hold, f"lesson, job {number}", volume)

    def job_on(self, day: Day, leak: float, hold: float, name: str, volume: float | None = None) -> Job:
        """Return one job of which everything is stated.

        Parameters
        ----------
        day : Day
            What differs from job to job.
        leak : float
            As the rise in the stated volume. [Pa/s]
        hold : float
            Length that is looked at. [s]
        name : str
            Name of the job.
        volume : float, optional
            Another volume, rig included. [m³]
        """
        total = self.volume.value if volume is None else volume
        rig = min(RIG, total / 4.0)
        damp = min(day.damp, float(saturation_pressure(self.ambient)))
        return Job(
            volume=total - rig,
            # A small system is pulled through a finer way, so that no pull is over before the gauge has followed it.
            rig=Rig(volume=rig, hose_bore=HOSE_BORE * min(1.0, total / USUAL_VOLUME) ** 0.25),
            pump=Pump(PUMP_SPEED, PUMP_ULTIMATE),
            ambient=Ambient(self.ambient, day.drift, day.swing),
            gauge=replace(self.gauge, gain=day.gain, water_response=day.water_response),
            leaks=(Leak(leak * self.volume.value / total),) if leak > 0 else (),
            surfaces=(Surface(day.surface * total, day.exponent),),
            pools=(Pool(POOL_SIZE * damp * total, POOL_SIZE * day.damp_time, equilibrium=damp),) if damp > 0 else (),
            steps=self._steps(day.depth, hold),
            seed=day.seed,
            name=name,
        )

    def _steps(self, depth: float, hold: float) -> tuple[Step, ...]:
        rule = self.criterion
        pull = Step(StepKind.PUMP, PULL) if rule.target is None else Step(StepKind.PUMP, AT_MOST, depth * rule.target)
        steps = [Step(StepKind.REST, 30.0)]
        for _ in range(rule.evacuations - 1):
            steps += [pull, Step(StepKind.SWEEP, 300.0, 0.3 * self._outside)]
        steps.append(pull)
        if rule.pump_on > 0:
            steps.append(Step(StepKind.PUMP, 1.02 * rule.pump_on))
        return (*steps, Step(StepKind.HOLD, hold + max(EXTRA * hold, LEAST_EXTRA)))

    @property
    def _outside(self) -> float:
        return Ambient().pressure


def gauge_like(step: float, noise: float, interval: float | None, hold: float, criterion: Criterion) -> Gauge:
    """Return a gauge of a kind.

    Parameters
    ----------
    step : float
        Its smallest step, up to a thousand steps; ten times coarser in each decade above. [Pa]
    noise : float
        Standard deviation of its readings. [Pa]
    interval : float or None
        Time between readings; ``None`` for a three-hundredth of the hold, between 1 s and 10 s. [s]
    hold : float
        Length of the hold. [s]
    criterion : Criterion
        The rule: the gauge's range reaches four times its limit, a dial gauge's too.

    Raises
    ------
    RangeError
        If the step is not positive or there would be fewer than twenty readings in the hold.
    """
    if not step > 0:
        raise RangeError('the gauge\'s step must be larger than zero: "1 micron"')
    every = min(max(hold / 300.0, 1.0), 10.0) if interval is None else interval
    if not 0 < every <= hold / 20.0:
        raise RangeError("the time between readings must leave at least twenty of them in the hold")
    usual = Gauge()
    limit = max(criterion.fails or 0.0, criterion.rise or 0.0)
    return replace(
        usual,
        interval=every,
        noise=noise,
        steps=((1e3 * step, step), (1e4 * step, 10 * step), (1e9 * step, 100 * step)),
        upper=max(usual.upper, 4.0 * limit),
    )


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a number whose logarithm is uniform; 0 where the range is nothing."""
    drawn = rng.uniform(0.0, 1.0)
    return float(low * (high / low) ** drawn) if low > 0 else 0.0
