"""The gauge's own scale: how far a pressure must move, at each pressure, before the move says something."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray, median, quantile
from decay.phases.noise import AT_ONCE
from decay.phases.readings import Readings

# Noise and step of a gauge depend on the pressure: they are taken from so many stretches a decade, and the scale is
# summed up over so many points. Cost only.
STRETCHES_A_DECADE = 4
POINTS = 200
MEMBERS = 200
# Share of a pressure that no gauge of the trade repeats to.
REPEATS = 0.002
# Above this thermal gauges repeat to a few per cent only, as their makers' data sheets state in general. [Pa]
HIGH = 1e4
REPEATS_HIGH = 0.02
# The least pressure whose share counts: 4 micron. [Pa]
LEAST = 0.5
# Readings, and repeats of each number among them, that show a step.
FEWEST = 8
REPEATED = 3


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """How pressure is counted in scales of the gauge."""

    pressure: FloatArray  # grid of pressures, shape (n,) [Pa]
    scale: FloatArray  # the scale there: noise of a mean, half a step, wander, repeatability, shape (n,) [Pa]
    count: FloatArray  # its integral: scales from the lowest pressure on, shape (n,) [-]
    noise: FloatArray  # noise of one reading there, shape (n,) [Pa]

    def of(self, pressure: FloatArray) -> FloatArray:
        """Return pressures in scales; below the grid the lowest scale goes on. [-]"""
        below = np.minimum(pressure - self.pressure[0], 0.0) / self.scale[0]
        above = np.maximum(pressure - self.pressure[-1], 0.0) / self.scale[-1]
        return np.asarray(np.interp(pressure, self.pressure, self.count) + below + above)

    def excess(self, pressure: FloatArray, readings: IntArray) -> FloatArray:
        """Return by how much the noise of a mean of so few readings exceeds one scale. [-]"""
        noise, scale = np.interp(pressure, self.pressure, self.noise), np.interp(pressure, self.pressure, self.scale)
        return np.maximum(noise / np.sqrt(np.maximum(readings, 1)) / scale * FOUR_THIRDS - 1.0, 0.0)


FOUR_THIRDS = 1.6**0.5
"""Of two means the larger deviates by more than one does: 1.6 variances, chosen on the bench."""


def measure_scale(readings: Readings, block: int) -> Scale:
    """Return the scale of a log's gauge, for means of so many readings.

    Parameters
    ----------
    readings : Readings
        The log.
    block : int
        Readings in a mean. [-]
    """
    smooth, noise, step = readings.smooth, readings.noise, readings.step
    seen = ~readings.is_above
    low, high = (float(end(smooth, where=seen, initial=start)) for end, start in ((np.min, np.inf), (np.max, -np.inf)))
    begin = max(low, LEAST)
    decades = max(float(np.log10(max(high, begin) / begin)), 1e-6)
    bins = max(int(np.ceil(decades * STRETCHES_A_DECADE)), 1)
    which = _stretch_of(smooth, seen, begin, decades, bins)
    centre = begin * 10.0 ** ((np.arange(bins) + 0.5) * decades / bins)
    noises, steps = np.full(bins, np.nan), np.full(bins, np.nan)
    for row in range(bins):
        members = np.flatnonzero(which == row)
        members = members[:: max(len(members) // MEMBERS, 1)]
        if len(members) >= FEWEST:
            noises[row] = _middle(noise[members])
            steps[row] = max(_middle(step[members]), _step_of(readings.pressure[members]), 0.0)
    if not np.isfinite(noises).any():
        noises[0], steps[0] = median(noise[seen]), median(step[seen])
    noises, steps = _filled(centre, noises), _filled(centre, steps)
    grid = np.geomspace(begin, max(high, begin) * 1.01 + 1e-9, POINTS)
    if low < begin:
        grid = np.concatenate([[low - 1e-9], grid])
    at = np.log(np.maximum(grid, begin))
    noise_at, step_at = (np.interp(at, np.log(centre), values) for values in (noises, steps))
    scale = np.sqrt(
        FOUR_THIRDS**2 * noise_at**2 / block
        + (step_at / 2.0) ** 2
        + readings.wander**2
        + (np.where(grid > HIGH, REPEATS_HIGH, REPEATS) * np.maximum(np.abs(grid), begin)) ** 2
    )
    count = np.concatenate([[0.0], np.cumsum(np.diff(grid) * 2.0 / (scale[1:] + scale[:-1]))])
    return Scale(grid, scale, count, noise_at)


def _step_of(pressure: FloatArray) -> float:
    """Return the step of readings that repeat their numbers, else 0. [Pa]"""
    numbers = np.unique(pressure)
    if len(numbers) < 3 or len(pressure) < REPEATED * len(numbers):
        return 0.0
    return quantile(np.diff(numbers), 0.1)


def _middle(values: FloatArray) -> float:
    """Return the median, the upper of two middle ones."""
    half = len(values) // 2
    return float(np.partition(values, half)[half])


def _stretch_of(smooth: FloatArray, seen: BoolArray, begin: float, decades: float, bins: int) -> np.ndarray:
    """Return the stretch of pressure that each reading lies in; -1 where it is not seen."""
    which = np.full(len(smooth), -1, dtype=np.int16)
    for first in range(0, len(smooth), AT_ONCE):
        part = slice(first, first + AT_ONCE)
        row = np.log10(np.maximum(smooth[part], begin) / begin) / decades * bins
        which[part] = np.where(seen[part], np.clip(row.astype(int), 0, bins - 1), -1)
    return which


def _filled(centre: FloatArray, values: FloatArray) -> FloatArray:
    known = np.isfinite(values)
    return np.interp(np.log(centre), np.log(centre[known]), values[known])
