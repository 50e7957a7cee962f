"""Two invented holds that a rule misjudges, picked to show it, and what holding them once more would have told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from decay.analysis import Analysis
from decay.arrays import frozen
from decay.judge.finding import Cause
from decay.judge.verdict import NAMED
from decay.lesson.growing import GrowingHold, grow
from decay.lesson.passing import told_log, up_to_length
from decay.lesson.terms import DEPTH, Day, Terms
from decay.log.pressure_log import PressureLog
from decay.physics.water import saturation_pressure
from decay.pipeline import Ahead, analyze_log
from decay.quantities import MICRON
from decay.several.next_test import MORE_PULL
from decay.several.warm import LEAST_WARMING, Warmed
from decay.simulation import Job, SimulatedRun, Step, StepKind, run
from decay.system import System

SECOND = 900.0
"""Length of the second hold. [s]"""


@dataclass(frozen=True, slots=True, eq=False)
class SecondHold:
    """One invented system with one hold, with a second, and with a warm second."""

    # What is said of the one hold, of both at one temperature, and of the cold and the warm one
    alone: Analysis
    again: Analysis
    warm: Analysis
    minutes: float  # what the second hold costs, pumping included [min]
    warmer: float  # how much warmer the warm hold is [K]


def with_second_hold(
    job: Job, system: System | None = None, *, alone: Analysis | None = None, warmer: float = LEAST_WARMING
) -> SecondHold:
    """Run an invented system's job once more with a second hold, cold and warm.

    Parameters
    ----------
    job : Job
        Its steps end with the hold that is to be repeated.
    system : System, optional
        What the analysis is told of it; its temperature is the job's.
    alone : Analysis, optional
        What is said of the one hold, where that is known.
    warmer : float
        How much warmer the warm hold is, rig included. [K]
    """
    cold = job.ambient.temperature
    told = replace(System() if system is None else system, ambient=cold, ambient_spread=1.0)
    again, warm = (
        replace(job, steps=(*job.steps, Step(StepKind.PUMP, MORE_PULL, temperature=t),
                            Step(StepKind.HOLD, SECOND, temperature=t)))
        for t in (None, cold + warmer)
    )
    first = analyze_log(told_log(run(job)), told, ahead=Ahead.NOTHING) if alone is None else alone
    second = analyze_log(told_log(run(again)), told, ahead=Ahead.NOTHING)
    both = analyze_log(_with_temperature(warm), told, warmed=Warmed.ALL, ahead=Ahead.NOTHING)
    return SecondHold(first, second, both, (MORE_PULL + SECOND) / 60.0, warmer)


def _with_temperature(job: Job) -> PressureLog:
    """Return the log of a job with the temperature logged beside the pressure."""
    simulated = run(job)
    temperature = np.interp(simulated.readings.time, simulated.time, simulated.ambient)
    return replace(told_log(simulated), temperature=frozen(temperature))


# How far beyond the rule's limit a damp system would level off, and how fast, in holds: tried in this order.
DAMP = tuple((over, time) for time in (0.22, 0.16, 0.12, 0.09) for over in (1.35, 1.7, 1.2))
# What the leaking system uses of the room that the rule leaves: tried in this order.
USED = (0.75, 0.85, 0.65, 0.55, 0.45)
_DECIDING = ("line", "rise", "all")  # parts of a criterion
LATER = 3.0
"""How much longer than the rule asks a hold is shown going on, so that one sees where each rise leads. [-]"""
_SLACK = 0.05
_QUIET_WALL = 0.02 * MICRON / 60.0  # Pa/s after an hour
_FULLEST = 0.6  # of saturation: a moisture that levels off nearer to it is free water


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """One invented hold with what the program says of it."""

    made: SimulatedRun  # the job as it went, with its truth
    analysis: Analysis  # what `decay.analyze` says of its log
    tried: int  # how many invented jobs were looked at to find it [-]
    held_on: SimulatedRun  # the same job, had its valve stayed shut `LATER` times as long
    second: SecondHold  # the same job with a second hold, at the same temperature and warmer


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """The two errors of a rule of thumb."""

    # Tight, fails the rule, and the program sees outgassing and no leak; ``None`` where none of the jobs tried did
    damp: Shown | None
    # Passes the rule, and the program names the leak, or at least leaves open what rises; ``None`` likewise
    leaking: Shown | None


def find_pair(terms: Terms) -> Pair:
    """Return the two holds of a fixed series of jobs that show best what the rule gets wrong.

    They are picked to show it, so they say nothing about how often it happens.
    """
    return Pair(
        damp=_first(terms, _damp_jobs(terms), is_met=False, causes=((Cause.OUTGASSING,),)),
        leaking=_first(terms, _leaking_jobs(terms), is_met=True, causes=(NAMED, (Cause.UNRESOLVED,))),
    )


def grow_pair(terms: Terms, pair: Pair) -> tuple[GrowingHold, ...]:
    """Judge both holds as they grow, up to the moment at which the rule looks."""
    grown = []
    for name, shown in (("A", pair.damp), ("B", pair.leaking)):
        if shown is None:
            continue
        log, start = shown.analysis.log, shown.made.holds[-1].start
        end = min(start + terms.hold + 2.0 * terms.gauge.interval, float(log.time[-1]))
        grown.append(grow(log, terms.system, terms.rule(), (start, end), name=name, truth=shown.made.leak_rate))
    return tuple(grown)


def _first(
    terms: Terms, jobs: Iterator[Job], *, is_met: bool, causes: tuple[tuple[Cause, ...], ...]
) -> Shown | None:
    """Return the first job that shows it best: with the earliest group of causes, and with a fit easy to read."""
    best: tuple[Job, SimulatedRun, Analysis, int] | None = None
    best_rank = 2 * len(causes)
    for tried, job in enumerate(jobs, 1):
        made = run(job)
        log = replace(up_to_length(made, terms.hold), source=f"invented: {job.name}")
        analysis = analyze_log(log, terms.system, terms.rule(), ahead=Ahead.ODDS)
        verdict = analysis.verdict
        # A pull that never came deep enough shows nothing about the hold.
        if verdict.criterion.met is not is_met or verdict.criterion.part not in _DECIDING:
            continue
        group = next((rank for rank, group in enumerate(causes) if verdict.cause in group), None)
        if group is None:
            continue
        rank = 2 * group + (0 if _parts_add_up(analysis) else 1)
        if rank < best_rank:
            best, best_rank = (job, made, analysis, tried), rank
        if best_rank == 0:
            break
    if best is None:
        return None
    job, made, analysis, tried = best
    second = with_second_hold(_held_on(job, terms.hold), terms.system, alone=analysis)
    return Shown(made, analysis, tried, run(_held_on(job, LATER * terms.hold)), second)


def _held_on(job: Job, hold: float) -> Job:
    """Return a job whose last step, the hold, lasts so long. [s]"""
    *before, last = job.steps
    return replace(job, steps=(*before, replace(last, duration=hold)))


def _parts_add_up(analysis: Analysis) -> bool:
    """Tell whether leak and outgassing as fitted make the rise, with no gas taken up again between them."""
    curve = analysis.holds[analysis.decisive or 0].fit.curve
    rise = float(curve.model[-1] - curve.model[0])
    return abs(float(curve.leak[-1] + curve.outgassing[-1]) - rise) <= _SLACK * abs(rise)


def _damp_jobs(terms: Terms) -> Iterator[Job]:
    fullest = _FULLEST * float(saturation_pressure(terms.ambient))
    # The pressure that the rule allows at the end of the hold, from the usual depth. [Pa]
    limit = float(np.mean(DEPTH)) * (terms.criterion.target or 0.0) + terms.room
    for number, (over, time) in enumerate(DAMP):
        level = over * limit
        if level <= fullest:
            yield _plain(terms, 0.0, level, time * terms.hold, number, "tight and damp")


def _leaking_jobs(terms: Terms) -> Iterator[Job]:
    for number, used in enumerate(USED):
        yield _plain(terms, used * terms.room / terms.hold, 0.0, terms.hold, number, "dry and leaking")


def _plain(terms: Terms, leak: float, damp: float, damp_time: float, number: int, name: str) -> Job:
    """Return a job on an even day with a gauge that reads true."""
    day = Day(damp, damp_time, _QUIET_WALL, seed=terms.seed + number)
    return terms.job_on(day, leak, terms.hold, name)
