"""One pull as evidence: how fast it fell in each band, where it stood and why, and where its tail led."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right

import numpy as np

from decay.arrays import FloatArray, last_level, median, running_median
from decay.constants import HIGHEST_READING
from decay.errors import RangeError
from decay.fit.results import Plateau, PumpdownFit, StoodAt
from decay.log.pressure_log import PressureLog
from decay.phases.noise import reading_noise
from decay.phases.phase import Phase
from decay.physics import water
from decay.physics.gas import WORKSHOP
from decay.physics.gauge import VAPOUR_READING
from decay.pull.pumpdown_curve import bands, fast_fall, first_crossings, fit_tail, led_to_by_longer_pull

# Fewest readings that show more than a lowest pressure.
FEWEST_OF_PULL = 6
# Lower numbers are none of a pull: no gauge of any trade reads them. [Pa]
LOWEST = 1e-9
# The tail proper begins so many times the knee's own time after the knee: before that it is still bending.
AFTER_KNEE = 1.0
# A stall is passed so many times more slowly than what lies on both sides ...
SLOWER = 3.0
# ... and lasts. [s, readings]
SHORTEST = 60.0
FEWEST_OF_STALL = 5
# Steps of ln p in which the passage is timed, in noise and in gauge steps where these are coarser.
PASSAGE_STEP = 0.06
LEVEL_STEPS = 2.5
LEVEL_NOISE = 5.0
# Stretch of ln p on either side that a stall is compared with.
BESIDE = 0.7
LEAST_BESIDE = 0.2
# A flat end: share of the pull, least time [s], and fall (in ln p) that still counts as flat, low and high.
END_SHARE = 0.25
END_LEAST = 120.0
FLAT = 0.02
FLAT_IN_WATER = 0.12
# Ice colder than this gives so little vapour that a stall has likelier reasons. [K]
COLDEST_ICE = 248.15
# A pull that ends flat above the vapour pressure of ice this cold has more than a pump's limit to explain. [K]
COLDEST_END = 255.15
NEAR = 0.1


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
    seen = (pressure > LOWEST) & (pressure <= HIGHEST_READING)
    start, end = phase.start, phase.end
    if int(seen.sum()) < FEWEST_OF_PULL:
        lowest = float(pressure[seen].min()) if seen.any() else math.nan
        last = float(pressure[seen][-1]) if seen.any() else math.nan
        return PumpdownFit(start, end, lowest, last, None, (), None, (), None, (), False)
    step = log.step[phase.first : phase.last + 1][seen]
    time, pressure = time[seen], pressure[seen]
    smooth = running_median(pressure)
    noise = reading_noise(pressure, step, time)
    constant, knee = fast_fall(time, smooth)
    stood = plateaus(time, smooth, noise, step, ambient, ambient_spread)
    end_pressure = last_level(time, pressure)
    pumped = time - start + max(log.sampling, 1e-9)
    tail = None
    if knee is not None or constant is None:
        is_tail = time > _tail_begins(time, knee, stood)
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
        led_to_by_longer_pull(tail, float(pumped[-1]), end_pressure),
        any(p.is_water for p in stood),
    )


def _tail_begins(time: FloatArray, knee: int | None, stood: tuple[Plateau, ...]) -> float:
    """Return when the tail begins: once the knee's bend is over and nothing stalls the pull any more. [s]"""
    stalled_until = max((p.end for p in stood if p.end < time[-1]), default=-math.inf)
    return max(stalled_until, float(time[0] if knee is None else time[knee] + AFTER_KNEE * (time[knee] - time[0])))


def plateaus(
    time: FloatArray,
    pressure: FloatArray,
    noise: FloatArray,
    step: FloatArray,
    ambient: float | None,
    ambient_spread: float,
) -> tuple[Plateau, ...]:
    """Return where the pressure stood during a pull.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure, smoothed, positive. [Pa]
    noise, step : ndarray, shape (n,)
        Noise of a reading and step of the gauge. [Pa]
    ambient : float or None
        Temperature of the system. [K]
    ambient_spread : float
        Half width of the interval in which it lay. [K]

    Returns
    -------
    tuple of Plateau
        In order of time.
    """
    found: list[Plateau] = []
    for first, last in [*stalls(time, pressure, noise, step), *flat_tail(time, pressure, noise, step)]:
        if found and time[first] <= found[-1].end:
            continue
        middle = median(pressure[first : last + 1])
        is_end = last == len(time) - 1
        stood_at, text = meaning(middle, ambient, ambient_spread, is_end=is_end)
        highest = float(pressure[first : last + 1].max())
        found.append(Plateau(float(time[first]), float(time[last]), middle, highest, text, stood_at))
    return tuple(found)


def stalls(time: FloatArray, pressure: FloatArray, noise: FloatArray, step: FloatArray) -> list[tuple[int, int]]:
    """Return first and last reading of each stretch passed clearly more slowly than before and after. [-]"""
    levels = _levels(pressure, noise, step)
    if len(levels) < 4:
        return []
    at = np.minimum(first_crossings(pressure, levels), len(time) - 1)
    log_levels = (-np.log(levels)).tolist()
    reached = time[at].tolist()
    count = len(levels) - 1
    passage = [(reached[j + 1] - reached[j]) / (log_levels[j + 1] - log_levels[j]) for j in range(count)]
    centres = [(log_levels[j + 1] + log_levels[j]) / 2 for j in range(count)]
    slow, settled = [False] * count, [False] * count
    # From the slowest bin down: a bin is in a stall if it is slow against both sides beyond its slow neighbours.
    for j in sorted(range(count), key=lambda j: -passage[j])[: max(count // 3, 3)]:
        if settled[j]:
            continue
        low = high = j
        while low > 0 and passage[low - 1] > passage[j] / SLOWER:
            low -= 1
        while high + 1 < count and passage[high + 1] > passage[j] / SLOWER:
            high += 1
        before = passage[bisect_right(centres, centres[low] - BESIDE) : low]
        after = passage[high + 1 : bisect_left(centres, centres[high] + BESIDE)]
        if log_levels[-1] - log_levels[high + 1] < LEAST_BESIDE:
            # A faster bin in here reaches as far at least, and finds no more beyond.
            settled[low : high + 1] = [True] * (high + 1 - low)
            continue
        if not before or not after:
            continue
        typical = (reached[high + 1] - reached[low]) / (log_levels[high + 1] - log_levels[low])
        if typical > SLOWER * _median(before) and typical > SLOWER * _median(after):
            slow[low : high + 1] = settled[low : high + 1] = [True] * (high + 1 - low)
    found = []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.array(slow, dtype=int), [0]])))
    for low, high in zip(edges[::2], edges[1::2], strict=True):
        first, last = int(at[low]), int(at[high])
        if time[last] - time[first] >= SHORTEST and last - first >= FEWEST_OF_STALL:
            found.append((first, last))
    return found


def _median(values: list[float]) -> float:
    """Return the median of a few values; an array would take longer to make than to sort."""
    ordered, middle = sorted(values), len(values) // 2
    return ordered[middle] if len(values) % 2 else (ordered[middle - 1] + ordered[middle]) / 2.0


def _levels(pressure: FloatArray, noise: FloatArray, step: FloatArray) -> FloatArray:
    """Return pressures from the highest down, spaced so that one reading's error does not cross a space."""
    lowest = float(pressure.min())
    coarse = np.maximum(LEVEL_STEPS * step, LEVEL_NOISE * np.minimum(noise, 0.02 * pressure))
    order = np.argsort(pressure)
    rising, errors = pressure[order], coarse[order]
    level = float(pressure[0])
    out = [level]
    while level > lowest and len(out) < 2000:
        level *= math.exp(-max(PASSAGE_STEP, _between(level, rising, errors) / level))
        out.append(max(level, lowest))
    return np.asarray(out)


def _between(x: float, at: FloatArray, values: FloatArray) -> float:
    """Return what a function is at one place between those at which it is known; numpy's is for many places."""
    after = int(at.searchsorted(x, side="right"))
    if not 0 < after < len(at):
        return float(values[0 if after == 0 else -1])
    slope = float(values[after] - values[after - 1]) / float(at[after] - at[after - 1])
    return slope * (x - float(at[after - 1])) + float(values[after - 1])


def flat_tail(time: FloatArray, pressure: FloatArray, noise: FloatArray, step: FloatArray) -> list[tuple[int, int]]:
    """Return the flat stretch that a pull ends with, as a list of none or one. [-]"""
    last = len(time) - 1
    length = float(time[-1] - time[0])
    needed = max(END_SHARE * length, END_LEAST)
    if length < needed or last < 2 * FEWEST_OF_STALL:
        return []
    end = last_level(time, pressure)
    in_water = end > 0.7 * water.TRIPLE_POINT_PRESSURE
    flat = FLAT_IN_WATER if in_water else FLAT
    band = max(flat * end, 1.5 * float(step[-1]), 3.0 * float(noise[-1]))
    off = np.flatnonzero(np.abs(pressure - end) > band)
    first = int(off[-1]) + 1 if len(off) else 0
    if last - first < FEWEST_OF_STALL or time[last] - time[first] < needed:
        return []
    return [(first, last)]


def meaning(pressure: float, ambient: float | None, ambient_spread: float, *, is_end: bool) -> tuple[StoodAt, str]:
    """Return what a pull that stood at a pressure may have stood at.

    Parameters
    ----------
    pressure : float
        Median pressure of the plateau, as the gauge read it. [Pa]
    ambient : float or None
        Temperature of the system. [K]
    ambient_spread : float
        Half width of the interval in which it lay. [K]
    is_end : bool
        True where the pull ended there, with nothing below. [-]

    Notes
    -----
    Water that evaporates cools itself, so that its plateau may lie anywhere between freezing and ambient; a
    thermal-conductivity gauge reads water vapour up to twice its true pressure, which allows for as much above.

    Examples
    --------
    >>> meaning(2300.0, 293.15, 3.0, is_end=False)[1]
    'water at ambient temperature, about 20 °C'
    >>> meaning(60.0, None, 3.0, is_end=True)[1]
    'limit of pump or gauge'
    """
    told = ambient is not None
    low, high = (ambient - ambient_spread, ambient + ambient_spread) if ambient is not None else WORKSHOP
    freezing = water.TRIPLE_POINT_PRESSURE
    floor, ceiling = _saturation(low), _saturation(high)
    if (1 - NEAR) * floor <= pressure <= (1 + NEAR) * ceiling and pressure > (1 + NEAR) * freezing:
        return StoodAt.WATER, f"water{' at ambient temperature,' if told else ' at'} about {_celsius(pressure)} °C"
    if (1 + NEAR) * ceiling < pressure <= VAPOUR_READING * ceiling:
        return StoodAt.WATER, "water at ambient temperature, if the gauge reads its vapour up to twice too high"
    if (1 + NEAR) * freezing < pressure < floor:
        return StoodAt.WATER, f"water cooled by evaporation to about {_celsius(pressure)} °C"
    if (1 - NEAR) * freezing <= pressure <= (1 + NEAR) * freezing:
        return StoodAt.ICE, "ice at its melting point, 0 °C"
    if is_end and _saturation(COLDEST_END) <= pressure < freezing:
        return StoodAt.ICE, f"ice at about {_celsius(pressure)} °C, unless pump, gauge or a large leak stops it there"
    if not is_end and _saturation(COLDEST_ICE) <= pressure < freezing:
        return StoodAt.ICE, f"ice at about {_celsius(pressure)} °C"
    return (StoodAt.LIMIT, "limit of pump or gauge") if is_end else (StoodAt.UNKNOWN, "cause unknown")


def _saturation(temperature: float) -> float:
    return float(water.saturation_pressure(temperature))


def _celsius(pressure: float) -> str:
    try:
        return f"{water.saturation_temperature(pressure) - 273.15:.0f}".replace("-0", "0")
    except RangeError:
        return "?"
