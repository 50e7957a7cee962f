"""A hold's readings made ready for fitting: which ones count, averaged into bins, with their noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.errors import FitError
from decay.fit import noise as noise_model
from decay.fit.bins import FEWEST_READINGS, Bins, bin_readings
from decay.fit.noise import Noise
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.physics.gas import ROOM, STANDARD_ATMOSPHERE

UNNOTICED_DRIFT = 1.0 / 3600.0
"""Drift of the system's temperature that nobody would notice: 1 K in an hour. [K/s]"""
LAGGING = 12.0
"""Seconds left out after isolation, several times the lag of a thermal gauge. [s]"""
LAGGING_SHARE = 0.03
"""Share of the hold that they may take at most. [-]"""
HIGHEST = 1.2 * STANDARD_ATMOSPHERE
"""A vacuum gauge cannot read more, whatever the weather: such a number is no reading. [Pa]"""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One hold, ready for fitting.

    Parameters
    ----------
    start, end : float
        Isolation and the last undisturbed reading, on the log's clock. [s]
    bins : Bins
        Averaged readings, on a clock that starts at isolation. [Pa, s]
    noise : Noise
        Covariance of the bin means. [Pa²]
    readings : int
        Readings in the bins. [-]
    scatter_within : float
        Sum of squares of the readings about their bins' means. [Pa²]
    start_pressure, end_pressure, highest : float
        At isolation, the median of the last few readings, and the largest reading. [Pa]
    ambient : float or None
        Temperature: the logged one before the stated one. [K]
    ambient_spread : float
        Half width of the interval in which it lay. [K]
    air_drift : float
        Rate that a temperature drift within that knowledge would feign. [Pa/s]
    is_temperature_logged : bool
        Whether the log itself tells the temperature.
    share_at_zero : float
        Share of the readings that are zero. [-]
    is_constant : bool
        Whether all of them are the same.
    """

    start: float
    end: float
    bins: Bins
    noise: Noise
    readings: int
    scatter_within: float
    start_pressure: float
    end_pressure: float
    highest: float
    ambient: float | None
    ambient_spread: float
    air_drift: float
    is_temperature_logged: bool
    share_at_zero: float
    is_constant: bool

    @property
    def rise(self) -> float:
        """Rise of the fitted readings from the first bin to the last. [Pa]"""
        return float(self.bins.pressure[-1] - self.bins.pressure[0])


def measure(log: PressureLog, phase: Phase, ambient: float | None, ambient_spread: float) -> Measured:
    """Take a hold's usable readings out of a log.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    phase : Phase
        The hold; its first reading is the last one before the rise.
    ambient : float or None
        Stated temperature. [K]
    ambient_spread : float
        Half width of the interval in which it lay. [K]

    Returns
    -------
    Measured
        Bins, noise and temperature.

    Raises
    ------
    FitError
        If fewer than eight readings lie inside the gauge's range.
    """
    inside = slice(phase.first, phase.last + 1)
    usable = ~log.is_over_range[inside] & (np.abs(log.pressure[inside]) <= HIGHEST)
    # The first reading of a hold was taken before the valve closed: it anchors the start and is not fitted. Nor are
    # the seconds in which the gauge still lags behind the jump: their bend belongs to no source.
    usable &= log.time[inside] - phase.start > min(LAGGING, LAGGING_SHARE * phase.duration)
    time = log.time[inside][usable] - phase.start
    pressure = log.pressure[inside][usable]
    if len(time) < FEWEST_READINGS:
        raise FitError(
            f"the hold from {phase.start:.0f} s to {phase.end:.0f} s has {len(time)} usable readings; "
            f"a fit needs at least {FEWEST_READINGS}"
        )
    drift, logged = UNNOTICED_DRIFT, False
    if log.temperature is not None:
        known = log.temperature[inside][usable]
        known = known[np.isfinite(known)]
        if len(known) >= 2:
            logged = True
            ambient, ambient_spread = float(np.median(known)), max(1.0, float(np.ptp(known)) / 2)
            drift = float(np.ptp(known)) / phase.duration
    bins = bin_readings(time, pressure, log.step[inside][usable])
    before = float(log.pressure[phase.first])
    return Measured(
        start=phase.start,
        end=phase.end,
        bins=bins,
        noise=noise_model.estimate(bins),
        readings=len(time),
        scatter_within=_scatter_within(pressure, bins),
        start_pressure=before if np.isfinite(before) else float(pressure[0]),
        end_pressure=float(np.median(pressure[-5:])),
        highest=max(float(np.max(pressure)), np.finfo(float).tiny),
        ambient=ambient,
        ambient_spread=ambient_spread,
        # Gas in a closed volume follows its temperature, p ~ T: seen from end to end, the last pressure counts.
        air_drift=feigned_rise(float(np.max(pressure)), drift, ambient if ambient is not None else ROOM),
        is_temperature_logged=logged,
        share_at_zero=float(np.mean(pressure == 0.0)),
        is_constant=bool(np.ptp(pressure) == 0.0),
    )


def feigned_rise(pressure: float, drift: float, temperature: float) -> float:
    """Return the rate of rise that a temperature drift makes in a closed volume, p ~ T.

    Parameters
    ----------
    pressure : float
        Pressure. [Pa]
    drift : float
        Drift of the gas temperature. [K/s]
    temperature : float
        Gas temperature. [K]

    Returns
    -------
    float
        Rate of rise. [Pa/s]

    Notes
    -----
    The readings themselves are not corrected by a logged temperature: the sensor hangs at one place, the gas takes its
    temperature from metal that follows more slowly, and what sits on the walls follows it more steeply than gas does.
    The drift is carried into the interval instead, with either sign.

    Examples
    --------
    One kelvin an hour at 66.7 Pa (500 micron) and 293.15 K is 0.028 micron a minute:

    >>> round(feigned_rise(66.66, 1 / 3600, 293.15) * 60 / 0.13332, 3)
    0.028
    """
    return pressure * drift / temperature


def _scatter_within(pressure: FloatArray, bins: Bins) -> float:
    return max(0.0, float(np.sum(pressure**2) - np.sum(bins.count * bins.pressure**2)))
