"""A job from a handful of quantities, for the command line and for lessons."""

from __future__ import annotations

from dataclasses import replace

from decay.simulation.job import Job, Step
from decay.simulation.kinds import StepKind
from decay.simulation.sources import FreeWater, Leak, Pool

LONGEST_PULL = 2 * 3600.0  # s; a pull that has not reached its target by then has stalled


def adjusted(
    job: Job,
    *,
    volume: float | None = None,
    leak: float | None = None,
    damp: float | None = None,
    damp_time: float = 600.0,
    water: float | None = None,
    target: float | None = None,
    hold: float | None = None,
    ambient: float | None = None,
    interval: float | None = None,
    seed: int | None = None,
) -> Job:
    """Return a job with some of its quantities replaced; what is ``None`` stays.

    Parameters
    ----------
    job : Job
        Where to start.
    volume : float, optional
        Gas volume of the system. [m³]
    leak : float, optional
        One leak into the system, instead of all others. [Pa/s]
    damp : float, optional
        One pool of moisture, instead of all others: the rise that it would make if all of it came out. [Pa]
    damp_time : float
        Its time constant. [s]
    water : float, optional
        One body of free water, instead of all others. [kg]
    target : float, optional
        Reading that ends each pull. [Pa]
    hold : float, optional
        Length of each hold. [s]
    ambient : float, optional
        Temperature. [K]
    interval : float, optional
        Time between readings. [s]
    seed : int, optional
        Seed of the noise. [-]

    Raises
    ------
    RangeError
        If a quantity makes no sense.

    Notes
    -----
    The pool takes gas up again above as much pressure as it can make, so that a pull empties it only in part.
    """
    if volume is not None:
        job = replace(job, volume=volume)
    if leak is not None:
        job = replace(job, leaks=(Leak(leak),) if leak else ())
    if damp is not None:
        pool = Pool(damp * job.isolated_volume, damp_time, equilibrium=damp) if damp else None
        job = replace(job, pools=(pool,) if pool else ())
    if water is not None:
        job = replace(job, waters=(FreeWater(water),) if water else ())
    if ambient is not None:
        job = replace(job, ambient=replace(job.ambient, temperature=ambient))
    if interval is not None:
        job = replace(job, gauge=replace(job.gauge, interval=interval))
    if seed is not None:
        job = replace(job, seed=seed)
    return replace(job, steps=tuple(_changed(step, target, hold) for step in job.steps))


def _changed(step: Step, target: float | None, hold: float | None) -> Step:
    if step.kind is StepKind.PUMP and target is not None:
        return replace(step, until=target, duration=max(step.duration, LONGEST_PULL))
    if step.kind is StepKind.HOLD and hold is not None:
        return replace(step, duration=hold)
    return step
