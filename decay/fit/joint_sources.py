"""What several holds of one system may share: a leak, sources that run dry, sources that repeat, walls that age."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from decay.arrays import BoolArray, FloatArray
from decay.fit.bins import power_column
from decay.fit.measured import Measured
from decay.fit.mixture import Mixture, Solution, non_negative, settling_time

REPEATING = 1.5
"""Longest time constant, in holds, of a source that a sweep or the rest of a pool may fill again. [-]"""
GROWTH = 1.1
"""Factor by which such a source may be larger in a later hold: 1.5 K more over water. [-]"""
EXPONENTS = (0.5, 0.65, 0.8, 1.0, 1.2)
"""Powers of the time under vacuum with which walls fade; 1/2 is diffusion out of a thick layer, the slowest. [-]"""
KEPT = (1.0, 0.75, 0.5)
"""Shares of their age under vacuum that walls keep when nitrogen is let in. [-]"""
SETTLING = 0.15
"""Longest time constant, in holds, of what may come from nowhere: rig and system equalise through a thin hose. [-]"""
_ONSET = 30.0
_SHORTEST_PULL = 60.0
_MOST_DEPLETION = 60.0
_SMALL = 1e-12  # of the readings' length: a column along which the misfit falls no faster is left out


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

    Notes
    -----
    The column of a source that ends in hold i is that hold's own part above a multiple of the column that ends in hold
    i - 1. So the slopes of the misfit along all columns follow from hold to hold, in a time that grows with the number
    of holds and not with its square, and only columns in use are ever written out. The solver works on these, and takes
    in what would still lower the misfit until nothing does: the same optimum, for the problem is convex.
    """

    def __init__(self, members: Sequence[Member], problems: Sequence[Mixture], grid: FloatArray) -> None:
        whitened = [p.whitened for p in problems]
        self._line = np.concatenate([line for line, _, _ in whitened])
        self._target = np.concatenate([target for _, _, target in whitened])
        tops = np.concatenate(([0], np.cumsum([len(line) for line, _, _ in whitened])))
        self._rows = [slice(int(a), int(b)) for a, b in pairwise(tops)]
        self._own, self._kept = _chains(members, problems, grid)
        self._norms = self._lengths()
        self._line_norm = float(np.linalg.norm(self._line))
        self._used = np.zeros(self._norms.shape, dtype=bool)
        self.freedom = max(1, len(self._target) - 1)

    def best(self) -> Solution:
        """Return the best fit over rate and sources together."""
        return self._solved(self._target, (self._line / self._line_norm)[:, None])

    def at(self, rate: float) -> Solution:
        """Return the best fit with the shared rate held at a value [Pa/s]."""
        found = self._solved(self._target - rate * self._line, np.empty((len(self._target), 0)))
        return Solution(rate, found.amplitudes, found.misfit)

    def _solved(self, target: FloatArray, free: FloatArray) -> Solution:
        """Return the best fit of some columns beside the sources, from those sources on that served before."""
        enough = _SMALL * float(np.linalg.norm(target))
        inside = self._used.copy()
        table = self._written(inside)
        while True:
            joint = np.hstack((free, table))
            x = _non_negative_in_few(joint, target)
            left = target - joint @ x
            slopes = np.where(inside, -np.inf, self._slopes(left))
            if float(slopes.max()) <= enough:
                break
            # Neighbouring sources are much alike: of each hill of slopes the top is taken in.
            beside = np.pad(slopes, ((0, 0), (1, 1)), constant_values=-np.inf)
            is_top = (slopes > enough) & (slopes >= beside[:, :-2]) & (slopes >= beside[:, 2:])
            inside = is_top | self._positive(inside, x[free.shape[1] :])
            table = self._written(inside)
        amplitudes = np.zeros(inside.shape)
        amplitudes[inside] = x[free.shape[1] :]
        self._used = amplitudes > 0.0
        rate = float(x[0] / self._line_norm) if free.shape[1] else 0.0
        return Solution(rate, amplitudes.ravel(), float(left @ left))

    def _positive(self, inside: BoolArray, x: FloatArray) -> BoolArray:
        kept = np.zeros(inside.shape, dtype=bool)
        kept[inside] = x > 0.0
        return kept

    def _slopes(self, left: FloatArray) -> FloatArray:
        """Return half the fall of the misfit along every column of unit length, shape (holds, sources). [-]"""
        found = np.empty(self._norms.shape)
        before = np.zeros(self._norms.shape[1])
        for i, rows in enumerate(self._rows):
            before = self._own[i].T @ left[rows] + self._kept[i] * before
            found[i] = before
        return np.asarray(found / self._norms)

    def _lengths(self) -> FloatArray:
        squares = np.empty((len(self._rows), self._own[0].shape[1]))
        before = np.zeros(squares.shape[1])
        for i in range(len(self._rows)):
            before = np.sum(self._own[i] ** 2, axis=0) + self._kept[i] ** 2 * before
            squares[i] = before
        return np.asarray(np.maximum(np.sqrt(squares), 1e-300))

    def _written(self, inside: BoolArray) -> FloatArray:
        """Return the columns of unit length that are in use, shape (readings, used). [-]"""
        last, source = np.nonzero(inside)
        table = np.zeros((len(self._target), len(last)))
        factor = np.zeros(len(last))
        for i in range(len(self._rows) - 1, -1, -1):
            if i + 1 < len(self._rows):
                factor = factor * self._kept[i + 1][source]
            factor[last == i] = 1.0
            table[self._rows[i]] = self._own[i][:, source] * factor
        return np.asarray(table / self._norms[inside])


def _non_negative_in_few(columns: FloatArray, target: FloatArray) -> FloatArray:
    """Return the non-negative coefficients of columns fewer than the readings, by way of their triangle. [Pa]"""
    if columns.shape[1] == 0:
        return np.empty(0)
    if columns.shape[1] >= len(target):
        return non_negative(columns, target)[0]
    rotation, triangle = np.linalg.qr(columns)
    return non_negative(triangle, rotation.T @ target)[0]


def _chains(
    members: Sequence[Member], problems: Sequence[Mixture], grid: FloatArray
) -> tuple[list[FloatArray], list[FloatArray]]:
    """Return, for each hold, its own part of every source's column, and how much of that the hold before it had.

    What a model lets in beside the shared pools (gas taken up) belongs to one hold alone.
    """
    walls = _walls_of(members, problems)
    beside = max(p.whitened[1].shape[1] for p in problems) - len(grid)
    own, kept = [], []
    for i, (problem, fading) in enumerate(zip(problems, walls, strict=True)):
        pools = problem.whitened[1]
        alone = np.zeros((len(pools), beside))
        alone[:, : pools.shape[1] - len(grid)] = pools[:, len(grid) :]
        own.append(np.hstack((pools[:, : len(grid)], alone, fading)))
        link = np.zeros(own[-1].shape[1])
        if i > 0 and not members[i].is_refreshed:
            link[: len(grid)] = _at_least(members[i - 1], members[i], grid)
            # A column without a part in this hold, its age unknown, does not go on to the one before.
            link[len(grid) + beside :] = np.any(fading != 0.0, axis=0)
        kept.append(link)
    return own, kept


def _walls_of(members: Sequence[Member], problems: Sequence[Mixture]) -> list[FloatArray]:
    """Return what walls give in each hold, by the share of their age that sweeps leave and the power of their law."""
    tables = [np.zeros((len(p.whitened[0]), len(KEPT) * len(EXPONENTS))) for p in problems]
    for k, share in enumerate(KEPT):
        for i, age in enumerate(_ages(members, share)):
            if age is None:
                continue
            for e, exponent in enumerate(EXPONENTS):
                shape = power_column(problems[i].bins, age + _ONSET, exponent)
                tables[i][:, k * len(EXPONENTS) + e] = problems[i].whiten(shape)
    return tables


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
