"""Small invented logs of known truth, built directly so that each has the one defect that a test is about."""

from __future__ import annotations

import numpy as np

from decay.log.pressure_log import PressureLog
from decay.quantities import MICRON

ATMOSPHERE = 760_000.0  # micron


def readings(*, pull_s=900.0, hold_s=1500.0, floor=150.0, leak=0.0, damp=260.0, damp_s=450.0, sampling=5.0,
             stop_at=None, slow_tail=10.0, noise=0.4, seed=0):
    """Return times [s] and pressures [micron] of one pull and one hold.

    The pull falls from atmosphere to ``floor`` [micron] with a time constant of 40 s, the hold rises by ``leak``
    [micron/min] and by ``damp`` [micron] with its time constant, so far and so slowly that it shows the closing.
    ``stop_at`` is a pressure at which the pull stalls; ``slow_tail`` [micron] is what the pull still loses over its
    length when it is cut off.
    """
    random = np.random.default_rng(seed)
    time = np.arange(0.0, pull_s + hold_s + sampling / 2, sampling)
    pull = ATMOSPHERE * np.exp(-time / 40.0) + (stop_at or floor)
    if slow_tail:
        pull = pull + slow_tail * (np.maximum(time, 1.0) / pull_s) ** -1.5
    pull = np.minimum(pull, ATMOSPHERE)
    held = np.maximum(time - pull_s, 0.0)
    start = pull[np.searchsorted(time, pull_s)]
    # Rig and system equalise in seconds once the valve is closed.
    hold = start + 15.0 * -np.expm1(-held / 8.0) + leak * held / 60.0 + damp * -np.expm1(-held / damp_s)
    pressure = np.where(time <= pull_s, pull, hold)
    return time, np.round(pressure + random.normal(0.0, noise, len(time)), 0)


def log_of(time, pressure, other=None):
    """Return the log that the reader would make of such readings."""
    n = len(time)
    others = {} if other is None else {"second": other * MICRON}
    return PressureLog("invented.csv", time, pressure * MICRON, np.arange(2, n + 2), np.zeros(n, bool),
                       np.full(n, MICRON), "pressure", "micron", n, other_gauges=others)


def write(path, time, pressure, started=None):
    """Write readings as a file; ``started`` is a date with time in place of elapsed seconds."""
    if started is None:
        lines = ["time [s],pressure [micron]", *(f"{t:.0f},{p:.0f}" for t, p in zip(time, pressure, strict=True))]
    else:
        stamps = np.datetime64(started) + time.astype("timedelta64[s]")
        lines = ["time,pressure [micron]", *(f"{str(t).replace('T', ' ')},{p:.0f}"
                                             for t, p in zip(stamps, pressure, strict=True))]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
