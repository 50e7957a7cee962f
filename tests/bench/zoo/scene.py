"""What a foreign gauge sits on: one evacuation with its moments, its true readings and the truth of its holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.quantities import MICRON
from decay.simulation.gauge_model import lagged, noise, sample_times
from decay.simulation.kinds import Gas, Place
from decay.simulation.simulated_run import run
from tests.bench.jobs import KINDS, RATE, random_job


@dataclass(frozen=True, slots=True)
class Scene:
    """One evacuation before a logger has written it.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Moments of the readings, from 0 on. [s]
    micron : ndarray, shape (n,)
        What a gauge of endless digits and range would read, its noise included. [micron]
    pure : ndarray, shape (n,)
        The same without noise. [micron]
    holds : tuple of (float, float)
        When the valve was closed and opened. [s]
    truth : float
        The true leak. [micron/min]
    noise : float
        Standard deviation of the noise at low pressure. [micron]
    sampling : float
        Usual distance between readings. [s]
    far_side : ndarray, shape (n,)
        True pressure in the system, away from the pump. [micron]
    """

    time: FloatArray
    micron: FloatArray
    pure: FloatArray
    holds: tuple[tuple[float, float], ...]
    truth: float
    noise: float
    sampling: float
    far_side: FloatArray

    @property
    def last(self) -> tuple[float, float]:
        """The hold that decides."""
        return self.holds[-1]

    def inside(self, start: float, end: float) -> np.ndarray:
        """Return where the readings lie between two moments."""
        return (self.time >= start) & (self.time <= end)


def scene(seed: int, kinds: tuple[str, ...] = KINDS) -> Scene:
    """Return one of the bench's jobs before steps, range and logger; kinds go round by the seed."""
    job = random_job(kinds[seed % len(kinds)], seed)
    simulated = run(job)
    gauge = job.gauge
    rng = np.random.default_rng([seed, 77])
    response = {Gas.WATER: gauge.water_response, Gas.REFRIGERANT: gauge.refrigerant_response}
    seen = sum(simulated.partial[gauge.place, gas] * response.get(gas, 1.0) for gas in Gas)
    far = sum(simulated.partial[Place.SYSTEM, gas] for gas in Gas)
    moments = sample_times(float(simulated.time[-1]), gauge, rng)
    smooth = np.interp(moments, simulated.time, lagged(simulated.time, np.asarray(seen), gauge.lag))
    shown = np.maximum(smooth + noise(len(moments), smooth, gauge, rng), 0.0)
    return Scene(
        time=moments,
        micron=shown / MICRON,
        pure=smooth / MICRON,
        holds=tuple((h.start, h.end) for h in simulated.holds),
        truth=simulated.holds[-1].leak_rate / RATE if job.leaks else 0.0,
        noise=float(np.hypot(gauge.noise, gauge.wander)) / MICRON,
        sampling=gauge.interval,
        far_side=np.interp(moments, simulated.time, np.asarray(far)) / MICRON,
    )
