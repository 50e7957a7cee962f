"""What holds of one sort promise, and how often it comes true."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..fit.holds import MICRON, PER_MINUTE
from .holds import SORTS, fit, measured

STEADY = (0.3, 3.0, 30.0)
"""True steady rises of the coverage, in stated limits: unseen, seen, plain. [-]"""


@dataclass(frozen=True, slots=True)
class Promise:
    """One sort of hold at one length.

    Parameters
    ----------
    sort : str
        Its name.
    length : float
        Of the hold. [s]
    limit : float
        Smallest steady rise that a hold without one says it would show, the median. [micron/min]
    shown : float
        Share of holds that show a rise of exactly what the like of them, with other noise, had stated. [-]
    false : float
        Share of holds without one that show it all the same. [-]
    leak_at_zero : float
        Share of holds without one whose interval lies above zero. [-]
    covered : float
        Share of intervals that hold the truth, over a range of true rises. [-]
    too_low, too_high : float
        Share of intervals that lie below and above the truth. [-]
    width : float
        Median width of the interval of holds without a rise. [micron/min]
    wander : float
        Median wander that was found in them. [micron]
    """

    sort: str
    length: float
    limit: float
    shown: float
    false: float
    leak_at_zero: float
    covered: float
    too_low: float
    too_high: float
    width: float
    wander: float


def keep(name: str, length: float, count: int, seed: int = 0) -> Promise:
    """Count how often a sort of hold keeps what it promises, over so many holds for each number."""
    sort = SORTS[name]
    holds = [measured(sort, length, 0.0, seed + i) for i in range(count)]
    still = [fit(hold) for hold in holds]
    limits = [found.detection_limit / PER_MINUTE for found in still]
    limit = float(np.median(limits))
    at_limit = [fit(measured(sort, length, own, seed + i, noise_seed=1)) for i, own in enumerate(limits)]
    low, high = [], []
    for k, factor in enumerate(STEADY):
        for i in range(count // 2):
            rate = factor * limit
            leak = fit(measured(sort, length, rate, seed + (2 + k) * count + i)).leak
            low.append(leak.high < rate * PER_MINUTE)
            high.append(leak.low > rate * PER_MINUTE)
    return Promise(
        sort=name,
        length=length,
        limit=limit,
        shown=float(np.mean([found.is_steady_rise_seen for found in at_limit])),
        false=float(np.mean([found.is_steady_rise_seen for found in still])),
        leak_at_zero=float(np.mean([found.is_leak_seen for found in still])),
        covered=1.0 - float(np.mean(low) + np.mean(high)),
        too_low=float(np.mean(low)),
        too_high=float(np.mean(high)),
        width=float(np.median([found.leak.width for found in still])) / PER_MINUTE,
        wander=float(np.median([hold.noise.wander for hold in holds])) / MICRON,
    )


def table(promises: list[Promise]) -> str:
    """Return one row for each sort and length, as text."""
    head = (
        f"{'sort':12} {'min':>4} {'limit':>8} {'shown':>6} {'false':>6} {'named':>6} {'covered':>8} {'below':>6} "
        f"{'above':>6} {'width':>8} {'wander':>7}"
    )
    lines = [
        f"{p.sort:12} {p.length / 60:4.0f} {p.limit:8.3g} {p.shown:6.3f} {p.false:6.3f} {p.leak_at_zero:6.3f} "
        f"{p.covered:8.3f} {p.too_low:6.3f} {p.too_high:6.3f} {p.width:8.3g} {p.wander:7.2f}"
        for p in promises
    ]
    return "\n".join([head, *lines])
