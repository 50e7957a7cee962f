"""Invented logs of any length for the benchmarks: a fall, then a hold with a leak and a rise that levels off."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase

MICRON = 0.133322387415
PULL_SHARE = 0.4


def evacuation(rows: int, *, interval: float = 1.0, hold: float | None = None, seed: int = 0) -> PressureLog:
    """Return one pull and one hold, read every ``interval`` seconds in steps of one micron.

    Parameters
    ----------
    rows : int
        Readings. [-]
    interval : float
        Time between two. [s]
    hold : float, optional
        Length of the hold; three fifths of the log where it is not given. [s]
    seed : int
        Of the noise. [-]
    """
    rng = np.random.default_rng(seed)
    time = np.arange(rows) * interval
    closed = PULL_SHARE * time[-1] if hold is None else time[-1] - hold
    held = time[-1] - closed
    pumped, since = np.minimum(time, closed), np.maximum(time - closed, 0.0)
    fall = 760e3 * np.exp(-60.0 * pumped / closed) + 150.0 + 300.0 / (1.0 + 60.0 * pumped / closed)
    rise = 300.0 * since / held + 120.0 * (1.0 - np.exp(-10.0 * since / held))
    readings = np.maximum(np.round(fall + rise + rng.normal(0.0, 0.4, rows)), 1.0) * MICRON
    return _log(time, readings)


def hold_alone(rows: int, length: float, *, seed: int = 0) -> tuple[PressureLog, Phase]:
    """Return a log that is one hold of so many readings and seconds, and its phase."""
    rng = np.random.default_rng(seed)
    time = np.linspace(0.0, length, rows)
    rise = 300.0 * time / length + 120.0 * (1.0 - np.exp(-10.0 * time / length))
    log = _log(time, np.round(200.0 + rise + rng.normal(0.0, 0.7, rows)) * MICRON)
    ends = float(log.pressure[0]), float(log.pressure[-1])
    return log, Phase(Kind.HOLD, 0, rows - 1, 0.0, length, *ends)


def write_csv(path: Path, log: PressureLog) -> Path:
    """Write a log of whole seconds as a comma-separated file with ISO 8601 times."""
    moments = np.datetime64("2025-03-01T08:00:00") + log.time.astype("timedelta64[s]")
    microns = np.round(log.pressure / MICRON).astype(int)
    lines = (f"{moment},{micron}\n" for moment, micron in zip(moments.astype(str), microns, strict=True))
    path.write_text("Time,Pressure (micron)\n" + "".join(lines), encoding="utf-8")
    return path


def _log(time: np.ndarray, pressure: np.ndarray) -> PressureLog:
    rows = len(time)
    is_over = np.zeros(rows, dtype=bool)
    step = np.full(rows, MICRON)
    return PressureLog("invented", time, pressure, np.arange(2, rows + 2), is_over, step, "gauge", "micron", rows)
