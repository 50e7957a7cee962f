"""What several holds of one system may share: a leak, sources that run dry, sources that repeat, walls that age."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins
from decay.fit.measured import Measured
from decay.fit.mixture import Mixture, Solution, non_negative
from decay.fit.parts import settling_time

REPEATING = 1.5
"""Longest time constant, in holds, of a source that a sweep or the rest of a pool may fill again. [-]"""
GROWTH = 1.1
"""Factor by which such a source may be larger in a later hold: 1.5 K more over water. [-]"""
EXPONENTS = (0.5, 0.65, 0.8, 1.0, 1.2)
"""Powers of the time under vacuum with which walls fade; 1/2 is diffusion out of a thick layer, the slowest. [-]"""
KEPT = (1.0, 0.75, 0.5)
"""Shares of their age under vacuum that walls keep when nitrogen is let in. [-]"""
HOUR = 3600.0
SETTLING = 0.15
"""Longest time constant, in holds, of what may come from nowhere: rig and system equalise through a thin hose. [-]"""
_ONSET = 30.0
_SHORTEST_PULL = 60.0
_MOST_DEPLETION = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One hold among several.

    Parameters
    ----------
    hold : Measured
        Its readings.
    isolated : float or None
        Isolation on a clock that all members share; ``None`` where the logs do not tell it. [s]
    inflation : float
        Factor that its own residual tests put on the squared misfit. [-]
    is_refreshed : bool
        Whether air came in since the hold before it: sources may then have been filled up again.
    under_vacuum : float or None
        Time since pumping began, at isolation; ``None`` where the logs do not show it. [s]
    """

    hold: Measured
    isolated: float | None
    inflation: float = 1.0
    is_refreshed: bool = False
    under_vacuum: float | None = None


class Stack:
    """All holds as one non-negative least-squares problem in the shared rate and the sources' decrements.

    Each column is what one source gives in one hold and, at least, in every hold before it; a later hold has whatever
    is left. So a source may vanish at any time, and never comes from nowhere.

    Parameters
    ----------
    members : sequence of Member
        In order of time.
    problems : sequence of Mixture
        One a member, all with the same time constants. [Pa, s]
    grid : ndarray, shape (m,)
        Those time constants. [s]
    """

    def __init__(self, members: Sequence[Member], problems: Sequence[Mixture], grid: FloatArray) -> None:
        whitened = [p.whitened for p in problems]
        self._line = np.concatenate([line for line, _, _ in whitened])
        self._target = np.concatenate([target for _, _, target in whitened])
        self._tops = np.concatenate(([0], np.cumsum([len(line) for line, _, _ in whitened])))
        table = np.hstack([*self._pools_of(members, problems, grid), *self._walls_of(members, problems)])
        self._columns = table / np.maximum(np.linalg.norm(table, axis=0), 1e-300)
        self._line_norm = float(np.linalg.norm(self._line))
        self.freedom = max(1, len(self._target) - 1)

    def _pools_of(
        self, members: Sequence[Member], problems: Sequence[Mixture], grid: FloatArray
    ) -> list[FloatArray]:
        pools = [p.whitened[1] for p in problems]
        blocks = []
        for last in range(len(members)):
            block = np.zeros((self._tops[-1], pools[last].shape[1]))
            block[self._tops[last] : self._tops[last + 1]] = pools[last]
            factor = np.ones(len(grid))
            for earlier in range(last - 1, -1, -1):
                if members[earlier + 1].is_refreshed:
                    break
                factor = factor * _at_least(members[earlier], members[earlier + 1], grid)
                rows = slice(self._tops[earlier], self._tops[earlier + 1])
                block[rows, : len(grid)] = pools[earlier][:, : len(grid)] * factor
            blocks.append(block)
        return blocks

    def _walls_of(self, members: Sequence[Member], problems: Sequence[Mixture]) -> list[FloatArray]:
        columns = []
        for kept in KEPT:
            ages = _ages(members, kept)
            for exponent in EXPONENTS:
                shapes = [
                    None if age is None else p.whiten(power_column(p.bins, age + _ONSET, exponent))
                    for p, age in zip(problems, ages, strict=True)
                ]
                for last in range(len(members)):
                    column = np.zeros((self._tops[-1], 1))
                    for earlier in range(last, -1, -1):
                        shape = shapes[earlier]
                        if shape is None:
                            break
                        column[self._tops[earlier] : self._tops[earlier + 1], 0] = shape
                        if members[earlier].is_refreshed:
                            break
                    columns.append(column)
        return columns

    def best(self) -> Solution:
        """Return the best fit over rate and sources together."""
        joint = np.column_stack((self._line / self._line_norm, self._columns))
        x, rest = non_negative(joint, self._target)
        return Solution(float(x[0] / self._line_norm), x[1:], rest**2)

    def at(self, rate: float) -> Solution:
        """Return the best fit with the shared rate held at a value [Pa/s]."""
        x, rest = non_negative(self._columns, self._target - rate * self._line)
        return Solution(rate, x, rest**2)


def power_column(bins: Bins, age: float, exponent: float) -> FloatArray:
    r"""Return the rise that walls of a rate :math:`t^{-n}` make, averaged over each bin.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [s]
    age : float
        Time under vacuum at isolation. [s]
    exponent : float
        The power n. [-]

    Returns
    -------
    ndarray, shape (k,)
        The rise since the first bin's left edge, for a rate of one after an hour. [s]
    """
    begin = age + float(bins.left[0])
    power = 1.0 - exponent

    def area(t: FloatArray) -> FloatArray:
        grown = 1.0 + t / begin
        if abs(power) < 1e-9:
            return np.asarray(begin**2 * (grown * np.log(grown) - t / begin))
        return np.asarray(begin**2 / power * ((grown ** (power + 1.0) - 1.0) / (power + 1.0) - t / begin))

    left, right = bins.left - bins.left[0], bins.right - bins.left[0]
    # One scale for all holds: what differs between them is how far the walls have faded.
    return np.asarray((begin / HOUR) ** -exponent * (area(right) - area(left)) / (right - left))


def _at_least(earlier: Member, later: Member, grid: FloatArray) -> FloatArray:
    """Return how much each pool held in the earlier hold for every one that it holds in the later one. [-]

    The slow ones have run down since, by their own time constant. Those that level off within a hold or so may be in
    equilibrium with the gas above them: they repeat, and grow only as the surroundings warm. The quickest belong to rig
    and fittings, which every sweep fills anew, and to the hose: they are free.
    """
    span = max(earlier.hold.bins.length, later.hold.bins.length)
    depletion = np.exp(np.minimum(_elapsed(earlier, later) / grid, _MOST_DEPLETION))
    settling = grid <= max(settling_time(span), SETTLING * span)
    return np.where(grid >= REPEATING * span, depletion, np.where(settling, 0.0, 1.0 / GROWTH))


def _elapsed(earlier: Member, later: Member) -> float:
    """Return the time between two isolations; where no clock tells it, the earlier hold's own length at least. [s]"""
    if earlier.isolated is not None and later.isolated is not None:
        return max(later.isolated - earlier.isolated, 0.0)
    return earlier.hold.bins.length


def _ages(members: Sequence[Member], kept: float) -> list[float | None]:
    """Return the walls' age under vacuum at each isolation, where sweeps take a share of it; None where unknown. [s]"""
    ages: list[float | None] = []
    for member in members:
        age = member.under_vacuum
        if ages and not member.is_refreshed and age is not None:
            before, previous = ages[-1], members[len(ages) - 1]
            if before is not None and previous.under_vacuum is not None:
                span = previous.hold.bins.length
                pulled = max(age - previous.under_vacuum - span, _SHORTEST_PULL)
                age = kept * (before + span) + pulled
        ages.append(age)
    return ages
