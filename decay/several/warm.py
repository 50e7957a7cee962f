"""A warm second hold: outgassing grows with the temperature, a leak hardly does; that tells them apart.

Below its conditions nothing is concluded, and J07 names which one fails: both temperatures known and 15 K apart, warm
second, what was warmed told, rig warmed or tested alone, clock, no air in between, no free water, one leak and growing
sources describe both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from decay.fit.measured import Measured
from decay.fit.profile import misfit_probability, profile_interval, threshold, widened
from decay.fit.results import HoldFit, JointFit
from decay.interval import Interval
from decay.physics.arrhenius import activation_energy
from decay.several.joint import TAKEN_UP_TOGETHER
from decay.several.warm_sources import ColdAndWarm, WarmMember

LEAST_WARMING = 15.0
"""Difference of the two temperatures below which nothing is concluded: at 10 K one tight system in a hundred is named a
leak. [K]"""
NOTICED = 3.0
"""Difference from which on holds are no longer at one temperature: outgassing differs by a quarter and more. [K]"""
DIFFERENCE_KNOWN = 1.0
"""Error of the difference between two readings of one thermometer. Common practice, no source. [K]"""
STRAYS = 0.01
"""Share by which a steady rise's own rate strays from a line in two holds. [-]"""
WORST_MISFIT = 10.0
"""Misfit per degree of freedom beyond which one leak and growing sources do not describe the two holds. [-]"""


class Warmed(StrEnum):
    """What was warmed for the warm hold, as told."""

    ALL = "all"          # system and rig
    SYSTEM = "system"    # the rig stayed cold
    PART = "part"        # not all of it, or not through


class Condition(StrEnum):
    """What a warm hold has to meet before anything is concluded from it."""

    TEMPERATURES = "temperatures"    # both are known
    ORDER = "order"                  # the warm one comes second
    DIFFERENCE = "difference"        # warm enough
    WARMED = "warmed"                # what was warmed is told
    RIG = "rig"                      # the rig was warmed too, or tested alone
    CLOCK = "clock"                  # the time between the holds is known
    CLOSED = "closed"                # no air came in between
    WATER = "water"                  # no free water
    FITS = "fits"                    # model and holds agree


@dataclass(frozen=True, slots=True, eq=False)
class WarmFit:
    """What a cold and a warm hold say together."""

    leak: Interval | None  # the leak at the cold hold's temperature; ``None`` where nothing is concluded [Pa/s]
    alone: Interval  # the same from the cold hold alone [Pa/s]
    failed: tuple[Condition, ...]  # the conditions that are not met; empty where something is concluded
    temperatures: tuple[float, float] | None = None  # cold and warm [K]
    # Mean rate of the warm rise over that of the cold one, both over the shorter hold's length [-]
    growth: float | None = None
    # Apparent activation energy of that growth: about zero for a leak; what has run dry meanwhile lowers it [J/mol]
    energy: float | None = None
    misfit: float | None = None  # weighted sum of squares per degree of freedom [-]
    agreement_p: float = 1.0  # probability of so large a misfit where one leak and growing sources describe both [-]


def fit_warm(
    cold: WarmMember,
    warm: WarmMember,
    *,
    warmed: Warmed | None,
    is_rig_known: bool = False,
    is_clock_known: bool = True,
    is_opened: bool = False,
) -> WarmFit:
    """Fit a cold hold and a warm one with one leak.

    Parameters
    ----------
    cold, warm : WarmMember
        The two holds, in order of time.
    warmed : Warmed or None
        What was warmed; ``None`` where it was not told.
    is_rig_known : bool
        The rig was tested alone.
    is_clock_known : bool
        The logs tell the time between the two.
    is_opened : bool
        Air came in between.

    Returns
    -------
    WarmFit
        With the leak's interval, or with the conditions that keep from one.
    """
    failed = _failed(cold, warm, warmed, is_rig_known, is_clock_known, is_opened)
    temperatures = growth = energy = None
    if cold.temperature is not None and warm.temperature is not None:
        temperatures = (cold.temperature, warm.temperature)
        growth = _growth(cold.hold, warm.hold)
        if growth is not None and abs(warm.temperature - cold.temperature) >= NOTICED:
            energy = activation_energy(growth, *temperatures)
    leak = misfit = None
    agreement = 1.0
    if not failed and temperatures is not None:
        problem = ColdAndWarm(cold, warm, is_part=warmed is Warmed.PART)
        leak, misfit, agreement = _interval(problem, cold, warm)
        if misfit > WORST_MISFIT:
            leak, failed = None, (Condition.FITS,)
    return WarmFit(leak, cold.fit.leak, failed, temperatures, growth, energy, misfit, agreement)


def _failed(
    cold: WarmMember, warm: WarmMember, warmed: Warmed | None, is_rig_known: bool, is_clock_known: bool,
    is_opened: bool,
) -> tuple[Condition, ...]:
    """Return the conditions that can be seen not to be met before anything is fitted."""
    before, after = cold.temperature, warm.temperature
    is_known = before is not None and after is not None
    difference = after - before if before is not None and after is not None else 0.0
    met = {
        Condition.TEMPERATURES: is_known,
        Condition.ORDER: not is_known or difference > 0.0,
        Condition.DIFFERENCE: not is_known or abs(difference) >= LEAST_WARMING,
        Condition.WARMED: warmed is not None,
        Condition.RIG: warmed is not Warmed.SYSTEM or is_rig_known,
        Condition.CLOCK: is_clock_known,
        Condition.CLOSED: not is_opened,
        Condition.WATER: not (cold.is_wet or warm.is_wet),
    }
    return tuple(condition for condition, is_met in met.items() if not is_met)


def _growth(cold: Measured, warm: Measured) -> float | None:
    """Return the warm rise over the cold one, both over the shorter length; ``None`` where either did not rise. [-]"""
    length = min(cold.bins.length, warm.bins.length)
    rises = []
    for hold in (cold, warm):
        time = hold.bins.centre - hold.bins.left[0]
        rises.append(float(np.interp(length, time, hold.bins.pressure) - hold.bins.pressure[0]))
    noise = max(cold.bins.reading_noise, warm.bins.reading_noise)
    return rises[1] / rises[0] if min(rises) > 3.0 * noise and min(rises) > 0.0 else None


def misfit_without_leak(
    cold: WarmMember, warm: WarmMember, warmed: Warmed, drift: float, leak: float | None = None
) -> float:
    """Return by how much two holds miss a fit whose only steady rise is what a drift feigns.

    Parameters
    ----------
    cold, warm : WarmMember
        The two holds, both of known temperature.
    warmed : Warmed
        What was warmed.
    drift : float
        That rise. [Pa/s]
    leak : float, optional
        A leak whose own misfit is taken off. [Pa/s]

    Returns
    -------
    float
        Weighted sum of squares: for readings without luck the square of the leak's distance from nothing. [-]
    """
    problem = ColdAndWarm(cold, warm, is_part=warmed is Warmed.PART)
    return problem.misfit(drift) - (0.0 if leak is None else problem.misfit(leak))


def as_joint(
    found: WarmFit, cold: HoldFit, warm: HoldFit, here: tuple[int, ...], elsewhere: tuple[tuple[str, int], ...],
    remarks: tuple[str, ...] = (),
) -> JointFit | None:
    """Return what a cold and a warm hold say together as holds that share one leak; ``None`` where nothing.

    Parameters
    ----------
    found : WarmFit
        The pair's fit.
    cold, warm : HoldFit
        Each hold alone.
    here : tuple of int
        Which holds of the deciding log are of the pair.
    elsewhere : tuple of (str, int)
        The cold hold, where it is another log's.
    remarks : tuple of str
        What was left out and why.

    Returns
    -------
    JointFit or None
        The leak at the cold hold's temperature.
    """
    if found.leak is None or found.misfit is None:
        return None
    detection = min(cold.detection_limit, warm.detection_limit)
    if found.leak.low <= 0.0:
        # What the interval does not exclude cannot have been sure to show.
        detection = max(detection, found.leak.high)
    return JointFit(
        leak=found.leak,
        holds_used=here,
        each=(cold.leak, warm.leak),
        homogeneity_p=found.agreement_p,
        is_homogeneous=True,
        is_leak_seen=found.leak.low > 0.0,
        decision_threshold=min(cold.decision_threshold, warm.decision_threshold),
        detection_limit=detection,
        misfit=found.misfit,
        elsewhere=elsewhere,
        remarks=remarks,
    )


def _interval(problem: ColdAndWarm, cold: WarmMember, warm: WarmMember) -> tuple[Interval, float, float]:
    """Return the leak's interval [Pa/s], the misfit per degree of freedom, and its probability. [-]"""
    best = problem.best()
    freedom = max(1, problem.freedom - int(np.count_nonzero(best.amplitudes > 0.0)))
    misfit = best.misfit / freedom
    leak = profile_interval(problem.misfit, best, threshold() * max(1.0, misfit), problem.line_error)
    leak = widened(leak, max(cold.hold.air_drift, warm.hold.air_drift))
    # What is taken up again unseen hides a share of the leak, the less the quieter of the two holds levels off.
    levelling = (max(0.0, m.hold.rise / m.hold.bins.length - best.rate) for m in (cold, warm))
    high = leak.high * (1.0 + STRAYS) + TAKEN_UP_TOGETHER * min(levelling)
    found = Interval(leak.value, leak.low * (1.0 - STRAYS), max(high, leak.value), leak.level)
    return found, misfit, misfit_probability(best.misfit, freedom)


def warm_pair(temperatures: Sequence[float | None]) -> tuple[int, int] | None:
    """Return which two holds are a cold and a warm one: the last, and the last before it at another temperature.

    Parameters
    ----------
    temperatures : sequence of float or None
        Of each hold, in order of time. [K]

    Returns
    -------
    tuple of int, or None
        Their indices; ``None`` where all were at one temperature, or it is not known.
    """
    if not temperatures or temperatures[-1] is None:
        return None
    final = temperatures[-1]
    others = [i for i, t in enumerate(temperatures) if t is not None and abs(final - t) >= NOTICED]
    return (others[-1], len(temperatures) - 1) if others else None
