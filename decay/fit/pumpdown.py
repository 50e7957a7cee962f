"""One pull as evidence: how fast it fell in each band, where it stood and why, and where its tail led."""

from __future__ import annotations

import math

import numpy as np

from decay.fit.measured import HIGHEST
from decay.fit.pumpdown_fall import bands, fast_fall
from decay.fit.pumpdown_plateaus import plateaus
from decay.fit.pumpdown_tail import fit_tail, longer_pull
from decay.fit.results import PumpdownFit
from decay.log.pressure_log import PressureLog
from decay.phases.costs import reading_noise
from decay.phases.phase import Phase
from decay.phases.search import running_median

# Fewest readings that show more than a lowest pressure.
FEWEST = 6
# Lower numbers are none of a pull: no gauge of any trade reads them. [Pa]
LOWEST = 1e-9
# The tail proper begins so many times the knee's own time after the knee: before that it is still bending.
AFTER_KNEE = 1.0


def fit_pumpdown(
    log: PressureLog, phase: Phase, *, ambient: float | None = None, ambient_spread: float = 3.0
) -> PumpdownFit:
    """Describe one pull.

    Parameters
    ----------
    log : PressureLog
        The readings.
    phase : Phase
        The pull.
    ambient : float, optional
        Temperature of the system; where it is not told, 5 to 40 °C are thought possible. [K]
    ambient_spread : float
        Half width of the interval in which it lay. [K]

    Returns
    -------
    PumpdownFit
        What the readings carry; ``None`` or empty where they do not, never an error.

    Notes
    -----
    A stall is a stretch that was passed at least three times more slowly than what lies on both sides of it: a knee
    and a fading tail are slower than what came before, but not than what follows.
    """
    time = log.time[phase.first : phase.last + 1]
    pressure = log.pressure[phase.first : phase.last + 1]
    seen = (pressure > LOWEST) & (pressure <= HIGHEST)
    start, end = phase.start, phase.end
    if int(seen.sum()) < FEWEST:
        lowest = float(pressure[seen].min()) if seen.any() else math.nan
        last = float(pressure[seen][-1]) if seen.any() else math.nan
        return PumpdownFit(start, end, lowest, last, None, (), None, (), None, (), False)
    step = log.step[phase.first : phase.last + 1][seen]
    time, pressure = time[seen], pressure[seen]
    smooth = running_median(pressure)
    noise = reading_noise(pressure, step)
    constant, knee = fast_fall(time, smooth)
    stood = plateaus(time, smooth, noise, step, ambient, ambient_spread)
    end_pressure = float(np.median(pressure[-5:]))
    pumped = time - start + max(log.sampling, 1e-9)
    stalled_until = max((p.end for p in stood if p.end < time[-1]), default=-math.inf)
    tail = None
    if knee is not None or constant is None:
        begin = max(stalled_until, time[0] if knee is None else time[knee] + AFTER_KNEE * (time[knee] - time[0]))
        is_tail = time > begin
        tail = fit_tail(pumped[is_tail], pressure[is_tail], noise[is_tail])
    return PumpdownFit(
        start,
        end,
        float(smooth.min()),
        end_pressure,
        constant,
        bands(time, smooth),
        (float(time[knee]), float(smooth[knee])) if knee is not None else None,
        stood,
        tail.exponent if tail is not None else None,
        longer_pull(tail, float(pumped[-1]), end_pressure),
        any(p.is_water for p in stood),
    )
