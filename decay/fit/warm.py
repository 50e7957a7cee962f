"""A warm second hold: outgassing grows with temperature by Arrhenius' law, a leak hardly does; that tells them apart.

Every slow source enters the cold hold with what it holds then, and the warm hold with what is left of it, given off so
much quicker as its activation energy says. Two energies span those between. What is quicker than a hold is free in
each: it levels off, and is no leak whatever it does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.optimize import nnls

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.fit.alternatives import behind_hose
from decay.fit.bins import Whitening, pool_columns
from decay.fit.measured import Measured
from decay.fit.mixture import Mixture, Solution
from decay.fit.profile import misfit_probability, profile_interval, threshold, widened
from decay.fit.results import HoldFit, JointFit
from decay.interval import Interval
from decay.physics.arrhenius import activation_energy, arrhenius_factor

LEAST_WARMING = 15.0
"""Difference of the two temperatures below which nothing is concluded: at 10 K one tight system in a hundred is named a
leak. [K]"""
NOTICED = 3.0
"""Difference from which on holds are no longer at one temperature: outgassing differs by a quarter and more. [K]"""
DIFFERENCE_KNOWN = 1.0
"""Error of the difference between two readings of one thermometer. Common practice, no source. [K]"""
ENERGIES = (40e3, 110e3)
"""Activation energies of outgassing. Water in rubber has 46 to 60 kJ/mol (Krongauz et al., J. Therm. Anal. Calorim. 125
(2016) 231), on steel 304 and aluminium 6063 92 to 105 (thermal desorption, J. Vac. Sci. Technol., abstract). [J/mol]"""
PART_WARMED = 1.3
"""Least growth where only a part was warmed through. [-]"""
LONGEST = 100.0
"""Slowest source let in, in lengths of the longer hold: a slower one cannot fill a system with gas. [-]"""
LEAK_CHANGES = (-0.05, 0.0, 0.05)
"""Relative change of a leak's rise for the warming: laminar flow -4 %, molecular +3 %, and the metal moves. [-]"""
TAKEN_UP = 0.10
"""Share of what levels off that may be taken up again unseen, as for several holds. [-]"""
STRAYS = 0.02
"""Share by which a steady rise's own rate strays from a line in two holds. [-]"""
WORST_MISFIT = 10.0
"""Misfit per degree of freedom beyond which one leak and growing sources do not describe the two holds. [-]"""
_TIED = 28
_FREE = 30
_FASTEST_TIED = 0.5
"""Quickest source that is followed from hold to hold, in lengths of the shorter one. [-]"""


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
class WarmMember:
    """One of the two holds.

    Parameters
    ----------
    hold : Measured
        Its readings. [s, Pa]
    fit : HoldFit
        What it says alone.
    isolated : float
        When its valve was closed, on a clock that both share. [s]
    temperature : float or None
        Of the system during it. [K]
    is_wet : bool
        Whether free water may be what raises it.
    """

    hold: Measured
    fit: HoldFit
    isolated: float
    temperature: float | None
    is_wet: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class WarmFit:
    """What a cold and a warm hold say together.

    Parameters
    ----------
    leak : Interval or None
        The leak at the cold hold's temperature; ``None`` where nothing is concluded. [Pa/s]
    alone : Interval
        The same from the cold hold alone. [Pa/s]
    failed : tuple of Condition
        The conditions that are not met; empty where something is concluded.
    temperatures : tuple of float, or None
        Cold and warm. [K]
    growth : float or None
        Mean rate of the warm rise over that of the cold one, both over the shorter hold's length. [-]
    energy : float or None
        Apparent activation energy of that growth: about zero for a leak; what has run dry meanwhile lowers it. [J/mol]
    misfit : float or None
        Weighted sum of squares per degree of freedom. [-]
    agreement_p : float
        Probability of so large a misfit where one leak and growing sources describe both. [-]
    """

    leak: Interval | None
    alone: Interval
    failed: tuple[Condition, ...]
    temperatures: tuple[float, float] | None = None
    growth: float | None = None
    energy: float | None = None
    misfit: float | None = None
    agreement_p: float = 1.0


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
        problem = _Pair(cold, warm, _gains(*temperatures, warmed))
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


def _gains(cold: float, warm: float, warmed: Warmed | None) -> tuple[float, float]:
    """Return the least and the most by which a source may be quicker in the warm hold. [-]"""
    least = arrhenius_factor(ENERGIES[0], cold, warm - DIFFERENCE_KNOWN)
    most = arrhenius_factor(ENERGIES[1], cold, warm + DIFFERENCE_KNOWN)
    return (min(least, PART_WARMED) if warmed is Warmed.PART else least), most


def _growth(cold: Measured, warm: Measured) -> float | None:
    """Return the warm rise over the cold one, both over the shorter length; ``None`` where either did not rise. [-]"""
    length = min(cold.bins.length, warm.bins.length)
    rises = []
    for hold in (cold, warm):
        time = hold.bins.centre - hold.bins.left[0]
        rises.append(float(np.interp(length, time, hold.bins.pressure) - hold.bins.pressure[0]))
    noise = max(cold.bins.reading_noise, warm.bins.reading_noise)
    return rises[1] / rises[0] if min(rises) > 3.0 * noise and min(rises) > 0.0 else None


def misfit_without_leak(cold: WarmMember, warm: WarmMember, warmed: Warmed, drift: float) -> float:
    """Return by how much two holds miss a fit whose only steady rise is what a drift feigns.

    Parameters
    ----------
    cold, warm : WarmMember
        The two holds, both of known temperature.
    warmed : Warmed
        What was warmed.
    drift : float
        That rise. [Pa/s]

    Returns
    -------
    float
        Weighted sum of squares: for readings without luck the square of the leak's distance from nothing. [-]
    """
    if cold.temperature is None or warm.temperature is None:
        raise RangeError("a cold and a warm hold need their temperatures")
    return _Pair(cold, warm, _gains(cold.temperature, warm.temperature, warmed)).misfit(drift)


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


class _Pair:
    """Both holds as one non-negative least-squares problem in the leak, reduced to a small triangle."""

    def __init__(self, cold: WarmMember, warm: WarmMember, gains: tuple[float, float]) -> None:
        members = (cold, warm)
        spans = [m.hold.bins.length for m in members]
        slow = np.geomspace(_FASTEST_TIED * min(spans), LONGEST * max(spans), _TIED)
        tied = _tied(cold, warm, slow, gains)
        noises = [Whitening(m.hold.noise.covariance * m.fit.plain_inflation) for m in members]
        own = [_own(m, noise) for m, noise in zip(members, noises, strict=True)]
        widths = [columns.shape[1] for columns in own]
        rows = []
        for i, (member, noise) in enumerate(zip(members, noises, strict=True)):
            bins = member.hold.bins
            blocks = [np.zeros((len(bins.centre), width)) for width in widths]
            blocks[i] = own[i]
            lines = np.zeros((len(bins.centre), 2))
            lines[:, i] = bins.centre - bins.left[0]
            rows.append(noise.free_of_constant(np.column_stack((*blocks, tied[i], lines, bins.pressure))))
        _, triangle = np.linalg.qr(np.vstack(rows))
        columns = triangle[:, :-3]
        self._columns = columns / np.maximum(np.linalg.norm(columns, axis=0), 1e-300)
        self._lines = [triangle[:, -3] + (1.0 + change) * triangle[:, -2] for change in LEAK_CHANGES]
        self._target = triangle[:, -1]
        self._most = 20 * self._columns.shape[1]
        self.freedom = sum(len(m.hold.bins.centre) for m in members) - 3
        self.line_error = 1.0 / float(np.linalg.norm(self._lines[1]))

    def best(self) -> Solution:
        """Return the best fit over leak, its change with the temperature, and sources."""
        return min((self._best(line) for line in self._lines), key=lambda solution: solution.misfit)

    def _best(self, line: FloatArray) -> Solution:
        norm = float(np.linalg.norm(line))
        x, rest = nnls(np.column_stack((line / norm, self._columns)), self._target, maxiter=self._most)
        return Solution(float(x[0] / norm), x[1:], float(rest) ** 2)

    def misfit(self, rate: float) -> float:
        """Return the least misfit at a leak's rate [Pa/s]. [-]"""
        return min(
            float(nnls(self._columns, self._target - rate * line, maxiter=self._most)[1]) ** 2 for line in self._lines
        )


def _tied(cold: WarmMember, warm: WarmMember, slow: FloatArray, gains: tuple[float, float]) -> list[FloatArray]:
    """Return each hold's columns of the sources that both share, for what they hold when the cold one begins. [-]

    It was cold through the cold hold. How early after it the system became warm is not known, so a source has run down
    at least as if it had been cold until the warm hold, and at most as if it had been warm since the cold one. The
    least quick source is let in only as far run down as it can be: the others lie between.
    """
    still_cold = cold.hold.end - cold.hold.start
    between = max(0.0, warm.isolated - cold.isolated - still_cold)
    cold_from, warm_from = (float(m.hold.bins.left[0]) for m in (cold, warm))
    first, second = [], []
    for gain, pace in ((gains[0], gains[0]), (gains[1], 1.0), (gains[1], gains[1])):
        first.append(pool_columns(cold.hold.bins, slow) * np.exp(-cold_from / slow))
        left = np.exp(-(still_cold + between * pace + warm_from * gain) / slow)
        second.append(pool_columns(warm.hold.bins, slow / gain) * left)
    return [np.column_stack(first), np.column_stack(second)]


def _own(member: WarmMember, noise: Whitening) -> FloatArray:
    """Return the columns of what is free in one hold: what levels off within it, equalisation, and the hose. [-]"""
    bins = member.hold.bins
    plain = Mixture(bins, noise, bins.length * np.geomspace(1.0 / min(3000.0, float(np.sum(bins.count))), 1.0, _FREE))
    if member.fit.hose_drop is None:
        return plain.columns
    return np.column_stack((plain.columns, behind_hose(bins, noise, bins.length).extra))


def _interval(problem: _Pair, cold: WarmMember, warm: WarmMember) -> tuple[Interval, float, float]:
    """Return the leak's interval [Pa/s], the misfit per degree of freedom, and its probability. [-]"""
    best = problem.best()
    freedom = max(1, problem.freedom - int(np.count_nonzero(best.amplitudes > 0.0)))
    misfit = best.misfit / freedom
    leak = profile_interval(problem.misfit, best, threshold() * max(1.0, misfit), problem.line_error)
    leak = widened(leak, max(cold.hold.air_drift, warm.hold.air_drift))
    # What is taken up again unseen hides a share of the leak, the less the quieter of the two holds levels off.
    levelling = (max(0.0, m.hold.rise / m.hold.bins.length - best.rate) for m in (cold, warm))
    high = leak.high * (1.0 + STRAYS / 2.0) + TAKEN_UP * min(levelling)
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
