"""Jobs ready to run: presets that a word or two call for, and changes of a handful of quantities."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

from decay.errors import RangeError
from decay.simulation.job import Job, Step
from decay.simulation.job_file import JobFile, read_job_file
from decay.simulation.kinds import StepKind
from decay.simulation.sources import FreeWater, Leak, Pool

PRESETS = Path(__file__).resolve().parent / "preset_jobs"
"""One job file each; the sample logs are made from them."""
LONGEST_PULL = 2 * 3600.0  # s; a pull that has not reached its target by then has stalled


def preset_names() -> tuple[str, ...]:
    """Return the names of all presets, sorted."""
    return tuple(sorted(path.stem for path in PRESETS.glob("*.toml")))


def preset(name: str) -> JobFile:
    """Return a preset.

    Parameters
    ----------
    name : str
        Its name; blanks, hyphens and underscores count alike.

    Raises
    ------
    RangeError
        If there is none of that name; the nearest ones are named.

    Examples
    --------
    >>> preset("Leaking slowly").job.name
    'Kestrel Yard, refrigerated van 7, two evaporators'
    """
    wanted = "_".join(name.lower().replace("-", " ").replace("_", " ").split())
    names = preset_names()
    if wanted not in names:
        near = get_close_matches(wanted, names, 2) or names
        raise RangeError(f"there is no preset {name!r}. Did you mean {', '.join(near)}? `--presets` lists all.")
    return read_job_file(PRESETS / f"{wanted}.toml")


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
