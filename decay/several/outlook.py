"""Holds that have not been made yet, as one that was made lets expect them: longer, once more, or warmer."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins, Whitening, bin_readings, pool_columns
from decay.fit.hold import longest_time_constant
from decay.fit.measured import Measured, assumed_noise
from decay.fit.mixture import Mixture, Solution
from decay.physics.arrhenius import arrhenius_factor
from decay.several.joint import REPEATING

_MOST_READINGS = 4000
"""A longer hold is given fewer readings, each with as much less noise. [-]"""


class Outlook:
    """One hold and one way in which its rise may be made of a leak and of sources.

    Parameters
    ----------
    hold : Measured
        The hold that was made. [s, Pa]
    under_vacuum : float or None
        Time since pumping began, at its isolation. [s]
    leak : float
        The leak that is taken for true; the sources are the best ones beside it. [Pa/s]
    """

    def __init__(self, hold: Measured, under_vacuum: float | None, leak: float) -> None:
        self.hold = hold
        self.under_vacuum = under_vacuum
        bins = hold.bins
        problem = Mixture(bins, Whitening(hold.noise.covariance), longest_time_constant(bins.length, under_vacuum))
        solution: Solution = problem.at(leak)
        self.leak = leak
        self.start = problem.start_pressure(solution)
        self.time_constants = problem.time_constants
        self.heights = solution.amplitudes[: len(problem.time_constants)]

    @cached_property
    def made(self) -> Measured:
        """The hold that was made, without its luck. [s, Pa]"""
        return self._seen(self.hold.bins, self.heights, self.time_constants)

    def longer(self, length: float) -> Measured:
        """Return the same hold had it gone on for so long. [s]"""
        return self._seen(self._stretched(length), self.heights, self.time_constants)

    def again(self, pull: float, length: float, *, warmer: float = 0.0, energy: float = 0.0) -> Measured:
        """Return a hold of so long [s] after so much more pumping [s], at the same temperature or warmer.

        What is slower than a hold has run down; what levels off within one comes again.
        """
        cold = self.hold.ambient or 293.15
        quicker = arrhenius_factor(energy, cold, cold + warmer) if warmer else 1.0
        tau, span = self.time_constants, self.hold.bins.length
        is_slow = tau >= REPEATING * span
        left = np.where(is_slow, np.exp(-(span + pull * quicker) / tau), quicker)
        return self._seen(self._stretched(length), self.heights * left, np.where(is_slow, tau / quicker, tau))

    def _stretched(self, length: float) -> Bins:
        bins = self.hold.bins
        sampling = bins.length / float(np.sum(bins.count))
        spared = max(1.0, length / sampling / _MOST_READINGS)
        time = np.arange(bins.left[0] + sampling / 2, length, sampling * spared)
        step = np.full_like(time, float(np.max(bins.step)))
        fresh = bin_readings(time, np.zeros_like(time), step)
        return replace(fresh, reading_noise=bins.reading_noise / spared**0.5)

    def _seen(self, bins: Bins, heights: FloatArray, time_constants: FloatArray) -> Measured:
        # Averaged over each bin as the fit has it: a late bin is wider than a quick source, and what it shows at its
        # middle would count as a misfit that the leak explains.
        pressure = self.start + self.leak * bins.time + pool_columns(bins, time_constants) @ heights
        seen = replace(bins, pressure=pressure, inflow=None)
        noise = assumed_noise(seen, self.hold.noise.wander, self.hold.noise.memory)
        # What a drift of the temperature feigns grows with the pressure.
        higher = float(np.max(pressure)) / max(float(np.max(self.hold.bins.pressure)), 1e-9)
        drift = self.hold.air_drift * max(1.0, higher)
        return replace(self.hold, bins=seen, noise=noise, end=self.hold.start + bins.length, air_drift=drift)
