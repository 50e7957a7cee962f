"""One estimate with its interval: the shape in which every decisive number travels."""

from __future__ import annotations

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

    def excludes(self, x: float) -> bool:
        """Tell whether ``x`` lies outside."""
        return not self.low <= x <= self.high
