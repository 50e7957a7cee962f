"""The plan of a job: what a user tells made into an intent, what had to be assumed, and what is planned for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from decay.constants import MICRON, MINUTE, STANDARD_ATMOSPHERE
from decay.errors import RangeError
from decay.impact.assess import Impact, allowed_rise, assess
from decay.impact.hold_length import hold_needed
from decay.interval import Interval
from decay.judge.criteria import Criterion
from decay.physics.gas import ROOM
from decay.planning.hold_lengths import HoldCourse, LeftOpen, course, if_left_open
from decay.planning.planned_pull import Pull, Warmth, WaterTime, pull, warmth, water_time
from decay.planning.pump_and_gauge import Equipment, GaugeKind, Hose
from decay.planning.trial_holds import Conditions, Levelling
from decay.system import System
from decay.threads import on_one_thread

DAMP = Levelling(500.0 * MICRON, 10.0 * MINUTE)
"""What a damp system gives off where nothing is told. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Intent:
    """What is going to be done, as far as the user told us."""

    system: System  # volume, refrigerant, charge, temperature, the leak that matters
    criterion: Criterion  # the practice to meet
    equipment: Equipment | None  # pump and hoses; ``None`` where no pump was told
    gauge: GaugeKind  # noise, steps and time between readings
    damp: Levelling  # what a damp system is taken to give off
    target: float | None = None  # pressure to reach; ``None`` for the criterion's [Pa]
    water: float | None = None  # free water [kg]
    heating: float | None = None  # heat that reaches it [W]


@dataclass(frozen=True, slots=True)
class Sweeps:
    """How often dry nitrogen goes in between pulls."""

    asked: int  # by the criterion: one less than its pulls [-]
    dilution: float  # share of the vapour space that one sweep up to atmosphere leaves [-]


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer before the job."""

    intent: Intent  # what was told and taken
    target: float  # pressure to reach [Pa]
    pull: Pull | None  # the dry pull; ``None`` without pump or volume
    water: WaterTime | None  # bounds on drying; ``None`` without water or pump
    warmth: Warmth | None  # ``None`` without a temperature
    # The leak that matters, as a rate of rise; ``None`` where none was stated or it cannot be converted [Pa/s]
    matters: float | None
    # What holds can tell in a dry and in a damp system, and what the smallest leak would mean that the criterion's hold
    # tells there
    dry: HoldCourse
    damp: HoldCourse
    dry_meaning: Impact
    damp_meaning: Impact
    by_formula: float | None  # length for a dry system by the slope formula alone, for comparison [s]
    line_rate: float | None  # steady rise that the criterion's own line lets pass; ``None`` where it draws none [Pa/s]
    line_meaning: Impact | None  # what that would mean
    sweeps: Sweeps  # by the criterion
    # What would settle it if the hold leaves a leak open; ``None`` where it is named beside a slow source too
    left_open: LeftOpen | None = None
    assumed: tuple[str, ...] = ()  # what was taken because it was not told, one sentence each


@on_one_thread
def make_plan(intent: Intent, assumed: tuple[str, ...] = ()) -> Plan:
    """Plan one job.

    Parameters
    ----------
    intent : Intent
        What is going to be done.
    assumed : tuple of str
        What the caller took because it was not told; printed with the plan.

    Raises
    ------
    RangeError
        If no target is known, or one of the values makes no sense.
    FitError
        If the criterion's hold has too few readings of this gauge.
    """
    system, criterion, gauge = intent.system, intent.criterion, intent.gauge
    target = intent.target if intent.target is not None else criterion.target
    if target is None:
        raise RangeError('this criterion names no target: state one, like --target "500 micron"')
    if not 0 < target < STANDARD_ATMOSPHERE:
        raise RangeError('the target lies between zero and atmospheric pressure: state one, like --target "500 micron"')
    ambient = system.ambient
    temperature = ROOM if ambient is None else ambient
    if ambient is None:
        assumed = (*assumed, "The temperature is not known: 20 °C is assumed.")
    matters = allowed_rise(system)
    pulled = None
    if intent.equipment is not None and system.volume is not None:
        pulled = pull(system.volume.value, intent.equipment, target, temperature)
    known = None if pulled is None or pulled.to_target == float("inf") else pulled.to_target
    dry, damp = (
        course(name, Conditions(gauge, levelling, target, ambient, known), customary=criterion.hold, matters=matters)
        for name, levelling in (("dry", ()), ("damp", (intent.damp,)))
    )
    line = _line_rate(criterion, target)
    return Plan(
        intent=replace(intent, target=target),
        target=target,
        pull=pulled,
        water=None if intent.water is None or intent.equipment is None else water_time(
            intent.water, intent.equipment, temperature, intent.heating),
        warmth=None if ambient is None else warmth(ambient, target, criterion),
        matters=matters,
        dry=dry,
        damp=damp,
        dry_meaning=_meaning(dry.told_by(dry.customary), system),
        damp_meaning=_meaning(damp.told_by(damp.customary), system),
        by_formula=None if matters is None else hold_needed(matters, gauge.noise, gauge.interval, step=gauge.step),
        line_rate=line,
        line_meaning=None if line is None else _meaning(line, system),
        sweeps=Sweeps(criterion.evacuations - 1, target / STANDARD_ATMOSPHERE),
        left_open=if_left_open(damp, matters),
        assumed=assumed,
    )


def _line_rate(criterion: Criterion, target: float) -> float | None:
    """Return the steady rise from the target that the criterion's line or rise would just let pass. [Pa/s]"""
    if criterion.hold <= 0:
        return None
    if criterion.rise is not None:
        return criterion.rise / criterion.hold
    if criterion.passes is None or criterion.passes <= target:
        return None
    return (criterion.passes - target) / criterion.hold


def _meaning(rate: float, system: System) -> Impact:
    return assess(Interval(rate, rate, rate), rate, system)


def intent_of(
    system: System,
    criterion: Criterion,
    *,
    pump: float | None = None,
    ultimate: float | None = None,
    hoses: Sequence[Hose] = (),
    target: float | None = None,
    water: float | None = None,
    heating: float | None = None,
    damp: float | None = None,
    damp_time: float | None = None,
    gauge_noise: float | None = None,
    gauge_step: float | None = None,
    interval: float | None = None,
) -> tuple[Intent, tuple[str, ...]]:
    """Return what is going to be done, and what had to be assumed for it, one sentence each.

    Parameters
    ----------
    system : System
        Volume, refrigerant, charge, temperature, the leak that matters.
    criterion : Criterion
        The practice to meet.
    pump : float, optional
        Rated speed of the pump. [m³/s]
    ultimate : float, optional
        Pressure below which it moves nothing. [Pa]
    hoses : sequence of Hose
        Side by side.
    target : float, optional
        Pressure to reach; the criterion's if left out. [Pa]
    water : float, optional
        Free water. [kg]
    heating : float, optional
        Heat that reaches it. [W]
    damp, damp_time : float, optional
        Rise that levels off in a damp system, and its time constant. [Pa, s]
    gauge_noise, gauge_step, interval : float, optional
        Of the gauge: scatter and smallest step [Pa], and time between readings [s].

    Raises
    ------
    RangeError
        If what was told does not go together.
    """
    if pump is None and (hoses or ultimate is not None or water is not None):
        raise RangeError('--hose, --ultimate and --water need the pump. Add one, for example: --pump "6 cfm"')
    if heating is not None and water is None:
        raise RangeError('--heating needs the water that it warms. Add it, for example: --water "5 g"')
    if system.refrigerant is not None and system.ambient is None:
        raise RangeError('a refrigerant needs a temperature. Add one, for example: --ambient "24 degC"')
    usual = GaugeKind()
    taken = {"--damp": (damp, DAMP.rise), "--damp-time": (damp_time, DAMP.time_constant),
             "--gauge-noise": (gauge_noise, usual.noise), "--gauge-step": (gauge_step, usual.step),
             "--interval": (interval, usual.interval)}
    rise, time_constant, noise, step, between = (default if told is None else told for told, default in taken.values())
    assumed = []
    if pump is not None and ultimate is None:
        assumed.append("The pump's ultimate pressure is not known: none is assumed.")
    if pump is not None and not hoses:
        assumed.append("No hose was given: the pump is taken to stand right at the system.")
    defaults = [name for name, (told, _) in taken.items() if told is None]
    if defaults:
        assumed.append(f"Taken from the defaults, not from your equipment: {', '.join(defaults)}.")
    return Intent(
        system=system,
        criterion=criterion,
        equipment=None if pump is None else Equipment(pump, ultimate or 0.0, tuple(hoses)),
        gauge=GaugeKind(noise=noise, step=step, interval=between),
        damp=Levelling(rise, time_constant),
        target=target,
        water=water,
        heating=heating,
    ), tuple(assumed)
