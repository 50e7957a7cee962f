"""One estimate with its interval: the shape in which every decisive number travels."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate and the interval that covers the truth at a stated level.

    Parameters
    ----------
    value : float
        The estimate. [unit of the quantity]
    low, high : float
        Ends of the interval, ``low <= value <= high``; an open end is ``-inf`` or ``inf``. [unit of the quantity]
    level : float
        Probability of covering the truth. [-]
    """

    value: float
    low: float
    high: float
    level: float = 0.95

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"an interval needs low <= value <= high, got {self.low}, {self.value}, {self.high}")

    def scaled(self, factor: float) -> Interval:
        """Return the interval of the quantity times a known, non-negative factor."""
        return self.mapped(lambda x: x * factor)

    def mapped(self, rising: Callable[[float], float]) -> Interval:
        """Return the interval seen through a rising function."""
        return Interval(rising(self.value), rising(self.low), rising(self.high), self.level)

    @property
    def width(self) -> float:
        """Distance between the two ends. [unit of the quantity]"""
        return self.high - self.low


def difference(first: Interval, second: Interval) -> Interval:
    r"""Return first minus second with its interval, from the intervals of both.

    .. math:: L = a - b - \sqrt{(a - l_a)^2 + (u_b - b)^2}, \quad U = a - b + \sqrt{(u_a - a)^2 + (b - l_b)^2}

    Parameters
    ----------
    first, second : Interval
        Estimates of the same unit and level, their errors independent; ends may be open. [any unit]

    Returns
    -------
    Interval
        The difference; it may be negative. [the same unit]

    Examples
    --------
    >>> difference(Interval(10.0, 7.0, 14.0), Interval(4.0, 1.0, 8.0))
    Interval(value=6.0, low=1.0, high=11.0, level=0.95)

    References
    ----------
    .. [1] Zou and Donner, "Construction of confidence limits about effect measures: a general approach", Statistics in
       Medicine 27 (2008) 1693-1702. It keeps intervals that are not symmetric, and needs no normal errors.
    """
    value = first.value - second.value
    down = math.hypot(first.value - first.low, second.high - second.value)
    up = math.hypot(first.high - first.value, second.value - second.low)
    return Interval(value, value - down, value + up, min(first.level, second.level))


def not_below_zero(interval: Interval) -> Interval:
    """Return the interval of a quantity that cannot be negative, cut at zero."""
    return Interval(max(interval.value, 0.0), max(interval.low, 0.0), max(interval.high, 0.0), interval.level)
