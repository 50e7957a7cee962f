"""What only many jobs show together: a rig that gets slower, or no longer reaches as low as it did."""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from decay.arrays import FloatArray
from decay.quantities import MICRON
from decay.report.document_numbers import Json
from decay.wording import duration, number, pressure

FEWEST_JOBS = 8
"""Jobs below which no trend is looked for; our choice, no source. [-]"""
WORSE = 1.25
"""Ratio of the later third of the jobs to the earlier third that counts as worse; our choice, no source. [-]"""
CHANCE = 0.01
"""Probability of so strong a rise among jobs without a trend, above which it is taken for chance. [-]"""

SLOWER, SHALLOWER = "A05", "A06"
TITLES = {SLOWER: "Rig getting slower", SHALLOWER: "Lowest pressure getting worse"}
"""Codes and titles of the findings on a group of jobs."""


@dataclass(frozen=True, slots=True)
class Trend:
    """How one quantity went over the jobs of a group."""

    jobs: int  # jobs with that quantity [-]
    # Medians of the first and of the last third of them [s or micron]
    early: float
    late: float
    chance: float  # probability of so strong a rise without a trend (Mann and Kendall, one-sided) [-]

    @property
    def is_worse(self) -> bool:
        """Whether the quantity rose, by more than chance and by enough to matter."""
        return self.chance < CHANCE and self.late > WORSE * self.early


def trend(values: FloatArray) -> Trend | None:
    """Return the trend of a quantity; ``None`` where fewer than `FEWEST_JOBS` have one.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One value a job, in the order of the jobs; ``nan`` where a job has none. [s or micron]

    Examples
    --------
    >>> found = trend(np.array([10.0, 11, 10, 12, 13, 15, 14, 17, 19]))
    >>> found.early, found.late, round(found.chance, 4), found.is_worse
    (10.0, 17.0, 0.0008, True)
    """
    known = values[np.isfinite(values)]
    if len(known) < FEWEST_JOBS:
        return None
    third = len(known) // 3
    return Trend(len(known), float(np.median(known[:third])), float(np.median(known[-third:])), rising_by_chance(known))


def rising_by_chance(values: FloatArray) -> float:
    r"""Return the probability of so strong a rise among values without a trend.

    .. math:: S = \sum_{i<j} \mathrm{sign}(x_j - x_i), \quad
              z = \frac{S - 1}{\sqrt{[n(n-1)(2n+5) - \sum_t t(t-1)(2t+5)] / 18}}

    Parameters
    ----------
    values : ndarray, shape (n,)
        In order of time. [any unit]

    Returns
    -------
    float
        One-sided probability, by the normal approximation with its correction for continuity and ties. [-]

    Notes
    -----
    It takes the jobs for independent; jobs of one week at one site are less so, and the probability is then too small.

    References
    ----------
    .. [1] Mann, *Econometrica* 13 (1945) 245; Kendall, *Rank Correlation Methods*, 4th ed. 1975.
    """
    n = len(values)
    score = sum(float(np.sign(values[i + 1 :] - values[i]).sum()) for i in range(n - 1))
    _, ties = np.unique(values, return_counts=True)
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18.0
    if variance <= 0 or score <= 0:
        return 1.0 if variance <= 0 or score < 0 else 0.5
    return 0.5 * math.erfc((score - 1.0) / math.sqrt(2.0 * variance))


@dataclass(slots=True)
class Jobs:
    """The jobs of one group as they are met, a few numbers each."""

    clock: array[float] = field(default_factory=lambda: array("d"))
    time_to_target: array[float] = field(default_factory=lambda: array("d"))
    lowest: array[float] = field(default_factory=lambda: array("d"))
    place: array[int] = field(default_factory=lambda: array("q"))

    def add(self, record: Json, place: int) -> None:
        """Take in a log by the row of its first hold; ``place`` is that of its file in the order of paths."""
        self.clock.append(_moment(record["log_started"]))
        self.time_to_target.append(_or_nan(record["time_to_target_s"]))
        self.lowest.append(_or_nan(record["lowest_micron"]))
        self.place.append(place)

    @property
    def order(self) -> tuple[str, Sequence[int]]:
        """By what the jobs are in order, ``"clock"`` where every log has one, else ``"path"``; and their indices."""
        clock = np.asarray(self.clock)
        if len(clock) and bool(np.isfinite(clock).all()):
            return "clock", [int(i) for i in np.argsort(clock, kind="stable")]
        return "path", range(len(clock))


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _moment(started: str | None) -> float:
    """Return a moment on a clock that takes every log's clock for the same. [s]"""
    if started is None:
        return math.nan
    return (datetime.fromisoformat(started).replace(tzinfo=None) - datetime(2000, 1, 1)).total_seconds()


def rig_gets_slower(group: str, found: Trend) -> str:
    """
    What it looks for
        A group of jobs in which the time to the target went up: more than a quarter from the first third of the jobs
        to the last, and by more than chance.
    Why it matters
        Tired pump oil, a worn pump, clogged hoses or leaking cores cost time at every job and leave systems wetter.
    When it is wrong
        When the later systems were larger or wetter. Jobs of one week at one site resemble each other, which makes
        chance look smaller than it is.
    Example log
        Twelve jobs of one rig: eleven minutes to 300 micron in January, nineteen in June.
    What to do
        Change the pump oil, blank off the pump to see its own limit, look at hoses and cores.
    References
        Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods, 4th ed. 1975. The quarter is our choice.
    """
    return (
        f"Rig getting slower in group {group}: time to the target {duration(found.early)} in the first third of "
        f"{found.jobs} jobs, {duration(found.late)} in the last (chance {number(found.chance, 1)}). Larger or wetter "
        "systems make the same."
    )


def lowest_gets_worse(group: str, found: Trend) -> str:
    """
    What it looks for
        A group of jobs whose pulls no longer reach as low: the lowest pressure went up by more than a quarter from
        the first third of the jobs to the last, and by more than chance.
    Why it matters
        A pump that has lost its depth, a rig that leaks, or a gauge that is soiled makes every hold start higher.
    When it is wrong
        When the later pulls were shorter or the systems wetter, or the gauge was changed.
    Example log
        Twelve jobs of one rig that end their pulls at 60 micron in January and at 180 in June.
    What to do
        Test the rig alone with its valves closed, change the pump oil, compare the gauge with another.
    References
        As for A05.
    """
    return (
        f"Lowest pressure getting worse in group {group}: {pressure(found.early * MICRON)} in the first third of "
        f"{found.jobs} jobs, {pressure(found.late * MICRON)} in the last (chance {number(found.chance, 1)}). Shorter "
        "pulls, wetter systems or a gauge that drifts make the same."
    )


def findings(group: str, time_to_target: Trend | None, lowest: Trend | None) -> list[tuple[str, str]]:
    """Return code and text of what the jobs of a group show together.

    Parameters
    ----------
    group : str
        Its name.
    time_to_target, lowest : Trend or None
        The two quantities. [s, micron]

    Returns
    -------
    list of tuple of str
        Empty where neither got worse.
    """
    found = []
    if time_to_target is not None and time_to_target.is_worse:
        found.append((SLOWER, rig_gets_slower(group, time_to_target)))
    if lowest is not None and lowest.is_worse:
        found.append((SHALLOWER, lowest_gets_worse(group, lowest)))
    return found
