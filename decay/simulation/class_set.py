"""Logs for a class: of mixed truth and mixed shape, with the key apart so that the folder can be handed out."""

from __future__ import annotations

import csv
import io
import os
import secrets
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from decay.errors import RangeError
from decay.quantities import MICRON
from decay.simulation.apparatus import Gauge, Pump
from decay.simulation.job import Job, Step
from decay.simulation.kinds import StepKind
from decay.simulation.log_file import log_text
from decay.simulation.simulated_run import SimulatedRun, run
from decay.simulation.sources import FreeWater, Leak, Pool, Surface

MOST_LOGS = 60
HANDED_OUT, KEPT = "class", "key"
"""Folder of the logs, and of what the teacher keeps."""
KEY = "key.csv"
KEY_COLUMNS = ("log", "kind", "leak_micron_per_min", "volume_l", "about")
SHEET_COLUMNS = ("student", "log", "answer", "why")
STARTED = datetime(2026, 4, 13, 8, 0)
PER_MINUTE = MICRON / 60.0
# Shapes that tell their time and unit by themselves: the lesson is about the hold, not about reading a file.
SHAPES = ("comma", "semicolon", "elapsed", "clock12", "tab", "minutes", "hms", "epoch-ms", "utf16")
UNITS = ("micron", "mTorr", "Pa", "mbar")


@dataclass(frozen=True, slots=True)
class ClassJob:
    """One kind of job that a class meets."""

    name: str  # by which the key calls it
    about: str  # what it teaches
    make: Callable[[np.random.Generator], Job]  # from a random generator to the job


@dataclass(frozen=True, slots=True, eq=False)
class ClassLog:
    """One log of a class set."""

    number: int  # from 1
    kind: ClassJob  # what it is
    made: SimulatedRun  # the job as it went
    # The log, and how it is written
    text: str
    encoding: str

    @property
    def name(self) -> str:
        """Name of its file."""
        return f"{self.number:02d}.csv"


def _between(rng: np.random.Generator, low: float, high: float) -> float:
    return float(low * (high / low) ** rng.uniform())


def _job(
    rng: np.random.Generator, *, hold: float, leak: float = 0.0, damp: float = 0.0, damp_time: float = 600.0,
    water: float = 0.0, target: float = 300.0, pull: float = 5400.0,
) -> Job:
    """Return a job: leak in micron/min, dampness and target in micron, times in s, water in kg."""
    size = _between(rng, 2e-3, 8e-3)
    job = Job(
        volume=size,
        pump=Pump(_between(rng, 1.2e-3, 2.5e-3), 20 * MICRON),
        gauge=Gauge(interval=float(rng.choice([1.0, 2.0, 5.0]))),
        leaks=(Leak(leak * PER_MINUTE),) if leak > 0 else (),
        surfaces=(Surface(_between(rng, 0.03, 0.1) * PER_MINUTE * size),),
        waters=(FreeWater(water),) if water > 0 else (),
        steps=(Step(StepKind.REST, 30.0), Step(StepKind.PUMP, pull, target * MICRON), Step(StepKind.HOLD, hold)),
        seed=int(rng.integers(2**31)),
    )
    if damp > 0:
        pool = Pool(40.0 * damp * MICRON * job.isolated_volume, 40.0 * damp_time, equilibrium=damp * MICRON)
        job = replace(job, pools=(pool,))
    return job


KINDS: tuple[ClassJob, ...] = (
    ClassJob("damp", "moisture carries it over the customary line, and levels off",
         lambda rng: _job(rng, hold=1500.0, damp=_between(rng, 1900, 2600), damp_time=_between(rng, 150, 280))),
    ClassJob("hidden leak", "stays under the customary line of 1,000 micron at ten minutes",
         lambda rng: _job(rng, hold=1500.0, leak=_between(rng, 18, 35), damp=60.0, damp_time=120.0)),
    ClassJob("tight", "dry enough: nothing to see",
         lambda rng: _job(rng, hold=2400.0, damp=_between(rng, 340, 420), damp_time=_between(rng, 90, 200))),
    ClassJob("leak", "everybody sees it",
         lambda rng: _job(rng, hold=1200.0, leak=_between(rng, 90, 220), damp=60.0, damp_time=120.0)),
    ClassJob("too short", "the hold is too short to show it",
         lambda rng: _job(rng, hold=180.0, leak=_between(rng, 4, 8), damp=_between(rng, 600, 900),
                          damp_time=_between(rng, 250, 400))),
    ClassJob("leak and damp", "damp as well: the rise bends, and goes on",
         lambda rng: _job(rng, hold=2700.0, leak=_between(rng, 12, 20), damp=_between(rng, 600, 800),
                          damp_time=_between(rng, 200, 350))),
    ClassJob("slow outgassing", "gas leaves the oil more slowly than the hold lasts, and looks like a leak",
         lambda rng: _job(rng, hold=900.0, damp=_between(rng, 1500, 2200), damp_time=_between(rng, 5000, 9000))),
    ClassJob("free water", "water stands in it: dry it, then test again",
         lambda rng: _job(rng, hold=1800.0, water=_between(rng, 40e-3, 80e-3), pull=1500.0)),
)
"""What a class meets, the most telling first: a set takes them in turn."""


def class_set(count: int, seed: int = 1) -> tuple[ClassLog, ...]:
    """Make the logs of a class.

    Parameters
    ----------
    count : int
        How many. [-]
    seed : int
        The same seed, the same set. [-]

    Returns
    -------
    tuple of ClassLog
        In the order of their numbers, which tells nothing about what they are.

    Raises
    ------
    RangeError
        If there are to be none, or too many.
    """
    if not 1 <= count <= MOST_LOGS:
        raise RangeError(f"a class set has 1 to {MOST_LOGS} logs, got {count}")
    rng = np.random.default_rng([seed, count])
    kinds = [KINDS[i % len(KINDS)] for i in range(count)]
    logs = []
    for number, place in enumerate(rng.permutation(count), 1):
        # The name stands in the preamble of some shapes, and must give nothing away.
        job = replace(kinds[place].make(rng), name=f"job {number}")
        made = run(job)
        unit = str(rng.choice(UNITS))
        started = STARTED + timedelta(days=number // 4, hours=2 * (number % 4), minutes=int(rng.integers(60)))
        text, encoding = log_text(made, SHAPES[(number + seed) % len(SHAPES)], unit=unit, started=started)
        logs.append(ClassLog(number, kinds[place], made, text, encoding))
    return tuple(logs)


def write_class_set(
    logs: tuple[ClassLog, ...], folder: str | os.PathLike[str], extra: Callable[[Path], object] = lambda place: None
) -> Path:
    """Write a class set as a folder, whole or not at all.

    Parameters
    ----------
    logs : tuple of ClassLog
        From `class_set`.
    folder : str or path-like
        Must not exist. ``class`` in it is to be handed out; ``key`` is to be kept.
    extra : callable
        Told the folder to hand out, to put more into it.

    Raises
    ------
    FileExistsError
        If it exists.
    OSError
        If it cannot be written; nothing is left behind.
    """
    target = Path(folder)
    if target.exists():
        raise FileExistsError(f"{target} exists and is not written over")
    draft = target.with_name(f".decay-{secrets.token_hex(6)}.part")
    try:
        for name in (HANDED_OUT, KEPT):
            (draft / name).mkdir(parents=True)
        for log in logs:
            (draft / HANDED_OUT / log.name).write_bytes(log.text.encode(log.encoding))
        sheet = [("", log.name, "", "") for log in logs]
        (draft / HANDED_OUT / "answers.csv").write_text(_table(SHEET_COLUMNS, sheet), encoding="utf-8")
        key = [(log.name, log.kind.name, f"{log.made.leak_rate / PER_MINUTE:.4g}",
                f"{log.made.isolated_volume * 1e3:.4g}", log.kind.about) for log in logs]
        (draft / KEPT / KEY).write_text(_table(KEY_COLUMNS, key), encoding="utf-8")
        extra(draft / HANDED_OUT)
        draft.rename(target)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise
    return target


def _table(columns: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()
