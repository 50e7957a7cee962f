"""The log thinned to a few hundred knots: stretches of equal numbers of readings, finer where the pressure moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, IntArray
from decay.phases.noise import AT_ONCE
from decay.phases.readings import Readings
from decay.phases.scale import Scale, measure_scale

# Stretches of equal numbers of readings to begin with: one in so many seconds, within these numbers; splitting them may
# double their number. Cost only. [s, -, -]
SECONDS = 120.0
STRETCHES = (64, 320)
# A stretch over which the pressure moves by more than this, in its logarithm, is split while it may be.
MOVES = 0.25
# Pressures below this move on a straight scale. [Pa]
STRAIGHT = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Knots:
    """The knots of one log."""

    # Readings of each, both included, shape (k,) [-]
    first: IntArray
    last: IntArray
    # Mean time, first and last, shape (k,) [s]
    time: FloatArray
    begin: FloatArray
    end: FloatArray
    # Mean of its readings, each clipped about their median; of the knot before where above range, shape (k,) [Pa]
    pressure: FloatArray
    height: FloatArray  # the same in scales of the gauge, shape (k,) [-]
    pad: FloatArray  # by how much its noise exceeds one scale, shape (k,) [-]
    is_above: BoolArray  # above range for the most part, shape (k,) [-]
    above: IntArray  # its readings above range, shape (k,) [-]
    scale: Scale  # the gauge's scale

    @property
    def size(self) -> IntArray:
        """Readings of each knot. [-]"""
        return np.asarray(self.last - self.first + 1)


def knots_of(readings: Readings) -> Knots:
    """Return the knots of a log that is not above range throughout."""
    count = len(readings.time)
    lasts = float(readings.time[-1] - readings.time[0])
    stretches = int(min(max(lasts / SECONDS, STRETCHES[0]), STRETCHES[1]))
    most = 2 * stretches
    block = 1 if count <= most else -(-count // stretches)
    scale = measure_scale(readings, block)
    first = _bounds(readings, block, most)
    last = np.append(first[1:], count) - 1
    size = last - first + 1
    above = np.add.reduceat(readings.is_above, first, dtype=int)
    is_above = 2 * above > size
    middle = _middle(readings.smooth, first, size)
    width = 2.0 * np.maximum(
        np.interp(middle, scale.pressure, scale.noise), np.interp(middle, scale.pressure, scale.scale)
    )
    value = middle + _clipped_sums(readings, first, size, middle, width) / np.maximum(size - above, 1)
    present = np.maximum.accumulate(np.where(is_above, -1, np.arange(len(first))))
    present = np.where(present < 0, int(np.argmin(is_above)), present)
    value = value[present]
    time = np.add.reduceat(readings.time, first) / size
    return Knots(
        first, last, time, readings.time[first], readings.time[last], value, scale.of(value),
        scale.excess(value, size), is_above, above, scale,
    )  # fmt: skip


def _bounds(readings: Readings, block: int, most: int) -> IntArray:
    """Return the first reading of each knot."""
    count = len(readings.time)
    first = np.arange(0, count, block)
    if block == 1:
        return first
    # Above range counts as high: its edge is split down to the reading.
    level = readings.smooth
    if readings.is_above.any():
        level = np.where(readings.is_above, 2.0 * float(level.max()) + STRAIGHT, level)
    while len(first) < most:
        ends = np.append(first[1:], count)
        size = ends - first
        moves = _logarithm(np.maximum.reduceat(level, first)) - _logarithm(np.minimum.reduceat(level, first))
        onward = np.append(np.abs(_logarithm(level[ends[:-1]]) - _logarithm(level[ends[:-1] - 1])), 0.0)
        moves = np.maximum(np.maximum(moves, onward), np.append(0.0, onward[:-1]))
        wanted = np.flatnonzero((moves > MOVES) & (size > 1))
        if not len(wanted):
            break
        if len(wanted) > most - len(first):
            wanted = wanted[np.argsort(-moves[wanted], kind="stable")[: most - len(first)]]
        first = np.union1d(first, first[wanted] + size[wanted] // 2)
    return first


def _logarithm(pressure: FloatArray) -> FloatArray:
    return np.arcsinh(pressure / STRAIGHT)


def _clipped_sums(
    readings: Readings, first: IntArray, size: IntArray, middle: FloatArray, width: FloatArray
) -> FloatArray:
    """Return the sum of what the readings of each knot lie off its middle, each by no more than its width. [Pa]"""
    sums = np.empty(len(first))
    begin = 0
    while begin < len(first):
        end = max(int(np.searchsorted(first, first[begin] + AT_ONCE)), begin + 1)
        part = slice(int(first[begin]), int(first[end - 1] + size[end - 1]))
        owner = np.repeat(np.arange(begin, end), size[begin:end])
        off = np.clip(readings.pressure[part] - middle[owner], -width[owner], width[owner])
        off[readings.is_above[part] | readings.is_odd[part]] = 0.0
        sums[begin:end] = np.add.reduceat(off, first[begin:end] - part.start)
        begin = end
    return sums


def _middle(values: FloatArray, first: IntArray, size: IntArray) -> FloatArray:
    """Return the median of five readings spread over each stretch."""
    at = first[:, None] + (size[:, None] * np.array([1, 3, 5, 7, 9])) // 10
    return np.asarray(np.sort(values[at], axis=1)[:, 2])
