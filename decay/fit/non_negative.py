"""Least squares with coefficients that are not negative, for one set of columns and many targets.

A judgement solves some hundred such problems, and most differ from the one before in their target alone, and by little:
the columns in use mostly stay in use, and their factors serve again. Along a straight line of targets the misfit is a
parabola for as long as they stay.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray

_LONGEST_SEARCH = 50
"""Rounds for each column; two or three in all are usual. [-]"""
_ROUNDING = 4.0 * float(np.finfo(float).eps)
"""Slope towards a column, as a share of what it is made of, that is none. [-]"""
_DEPENDENT = 1e-14
"""Length of what a column has beside the others, as a share of its own, that is rounding. [-]"""
_LITTLE = 1e-12
"""The same, both squared, below which it is not known well enough to go by. [-]"""
_NOTHING = 1e-300


class NonNegative:
    """The columns, those in use, and their factors: an orthonormal basis and a triangle.

    Parameters
    ----------
    columns : ndarray, shape (m, j)
        One column of the problem in each row, best of about one length each. [-]
    start : ndarray, shape (m,), optional
        Coefficients to begin with, not negative. The answer is the same up to rounding. [unit of target / column]

    Notes
    -----
    Of the columns that would lower the misfit the one that would most, alone with those in use, is taken in next: its
    slope counts by the length of what is new in it. Columns here are much alike, and by their slopes twice as many
    would be taken in, most of them to be taken out again.

    References
    ----------
    .. [1] Lawson and Hanson, *Solving Least Squares Problems*, SIAM (1995), chapters 23 and 24: the active set, which
       may begin from any coefficients that are let in; a column is taken out by rotations.
    """

    def __init__(self, columns: FloatArray, start: FloatArray | None = None) -> None:
        self._columns = np.ascontiguousarray(columns)
        self._readings = columns.shape[1]
        self._used: list[int] = []
        # The basis, and beside each of its vectors what every column has along it
        self._table = np.empty((min(columns.shape), self._readings + len(columns)))
        self._triangle: list[list[float]] = []  # column by column
        self._here: list[float] = []  # the coefficients of those in use
        self._squares = np.maximum(np.einsum("ij,ij->i", columns, columns), _NOTHING)
        self._new = self._squares.copy()  # of each column the square of what is beside the basis
        if start is not None:
            for column in np.flatnonzero(start > 0.0).tolist():
                if self._add(column):
                    self._here.append(float(start[column]))

    def fit(self, target: FloatArray) -> tuple[FloatArray, float]:
        """Return the coefficients, none below zero, that fit a target best, and the misfit's root.

        Parameters
        ----------
        target : ndarray, shape (j,)
            What the columns are to add up to. [-]

        Returns
        -------
        tuple
            Coefficients, shape (m,), and the root of the sum of squares that is left. [unit of target]
        """
        found = self._best(self._seen(target))
        if found is None:
            return self._by_other_means(target)
        left, _ = found
        coefficients = np.zeros(len(self._columns))
        coefficients[self._used] = self._here
        return coefficients, float(left @ left) ** 0.5

    def piece(self, start: FloatArray, stride: FloatArray, at: float) -> Parabola:
        """Return the misfit of targets `start + x stride` about one x, and how far the same columns stay in use.

        Parameters
        ----------
        start, stride : ndarray, shape (j,)
            The line of targets. [-]
        at : float
            The x. [unit of start / stride]

        Returns
        -------
        Parabola
            A parabola.
        """
        target = start + at * stride
        found = self._best(self._seen(target))
        if found is None:
            return Parabola(at, self._by_other_means(target)[1] ** 2, 0.0, 0.0, at, at)
        left, slopes = found
        growth, along, turns = self._solved(self._seen(stride))
        slopes[self._used], turns[self._used] = -1.0, 0.0
        # Of what is not in use each slope is below zero, and of what is in use each coefficient above it.
        rooms = np.concatenate((np.minimum(slopes, 0.0), np.negative(self._here)))
        paces = np.concatenate((turns, np.negative(growth)))
        upwards, downwards = paces > 0.0, paces < 0.0
        return Parabola(
            at=at,
            misfit=float(left @ left),
            slope=2.0 * float(left @ along),
            bend=float(along @ along),
            low=at - float((rooms[downwards] / paces[downwards]).min(initial=math.inf)),
            high=at + float((-rooms[upwards] / paces[upwards]).min(initial=math.inf)),
        )

    def _seen(self, target: FloatArray) -> FloatArray:
        """Return a target and what each column has along it, as the table has its vectors, shape (j + m,). [-]"""
        return np.concatenate((target, self._columns @ target))

    def _best(self, target: FloatArray) -> tuple[FloatArray, FloatArray] | None:
        """Bring the best columns into use; what they leave of the target, and half the misfit's fall along each column.

        `None` where no end is found.
        """
        refused: list[int] = []
        left, slopes = self._settle(target)
        for _ in range(_LONGEST_SEARCH * len(self._columns)):
            none = _ROUNDING * (float(left @ left) ** 0.5 + sum(self._here))
            helpful = np.maximum(slopes - none, 0.0)
            helpful[self._used + refused] = 0.0
            best = int((helpful**2 / np.maximum(self._new, _LITTLE * self._squares)).argmax())
            if not helpful[best] > 0.0:
                return left, slopes
            if not self._add(best):
                refused.append(best)
                continue
            self._here.append(0.0)
            solved = self._solved(target)
            if solved[0][-1] > 0.0:
                refused.clear()
                left, slopes = self._settle(target, solved)
            else:  # it does not help after all: the slope towards it is rounding
                refused.append(best)
                self._drop(len(self._used) - 1)
        return None

    def _settle(
        self, target: FloatArray, solved: tuple[list[float], FloatArray, FloatArray] | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Move the coefficients in use to their best while none falls below zero; what they leave, and the slopes.

        On the way there whichever would fall below zero first goes out of use. The best may be known already.
        """
        while True:
            found, left, slopes = self._solved(target) if solved is None else solved
            solved = None
            below = [i for i, value in enumerate(found) if not value > 0.0]
            if not below:
                self._here = found
                return left, slopes
            here = self._here
            steps = [here[i] / (here[i] - found[i]) if here[i] > 0.0 else 0.0 for i in below]
            step = min(steps)
            self._here = [now + step * (then - now) for now, then in zip(here, found, strict=True)]
            for i, each in reversed(list(zip(below, steps, strict=True))):
                if each == step:
                    self._drop(i)

    def _solved(self, target: FloatArray) -> tuple[list[float], FloatArray, FloatArray]:
        """Return the best coefficients of the columns in use, whatever their signs, what they leave, and the slopes."""
        table = self._table[: len(self._used)]
        shares = table[:, : self._readings] @ target[: self._readings]
        left = target - shares @ table
        found: list[float] = shares.tolist()
        for i in range(len(found) - 1, -1, -1):
            column = self._triangle[i]
            found[i] = value = found[i] / column[i]
            for k in range(i):
                found[k] -= column[k] * value
        return found, left[: self._readings], left[self._readings :]

    def _add(self, column: int) -> bool:
        """Take a column into use, unless it is made of those that are."""
        count = len(self._used)
        if count == len(self._table):
            return False
        basis, row = self._table[:count, : self._readings], self._table[count]
        share = self._table[:count, self._readings + column]
        beside = self._columns[column] - share @ basis
        again = basis @ beside  # twice is enough, for columns however alike
        beside = beside - again @ basis
        size = float(beside @ beside) ** 0.5
        if not size > _DEPENDENT * float(self._squares[column]) ** 0.5:
            return False
        row[: self._readings] = beside / size
        row[self._readings :] = self._columns @ row[: self._readings]
        self._new -= row[self._readings :] ** 2
        self._triangle.append([*(share + again).tolist(), size])
        self._used.append(column)
        return True

    def _drop(self, place: int) -> None:
        """Take a column out of use, by its place among those in use: what it alone brought goes to the basis' end."""
        del self._used[place], self._here[place], self._triangle[place]
        for i in range(place, len(self._used)):
            # The columns behind it reach one vector of the basis too far: each is turned until it does not.
            diagonal, beyond = self._triangle[i][i : i + 2]
            size = math.hypot(diagonal, beyond)
            cosine, sine = diagonal / size, beyond / size
            for column in self._triangle[i:]:
                upper, lower = column[i], column[i + 1]
                column[i], column[i + 1] = cosine * upper + sine * lower, cosine * lower - sine * upper
            self._triangle[i].pop()
            self._table[i : i + 2] = np.array(((cosine, sine), (-sine, cosine))) @ self._table[i : i + 2]
        self._new += self._table[len(self._used), self._readings :] ** 2

    def _by_other_means(self, target: FloatArray) -> tuple[FloatArray, float]:
        """Return the same by bounded variables: rounding keeps the active set from coming to an end."""
        from scipy.optimize import lsq_linear  # here: it takes longer to load than a log to judge

        matrix = self._columns.T
        found = np.maximum(lsq_linear(matrix, target, bounds=(0.0, np.inf), method="bvls").x, 0.0)
        return found, float(np.linalg.norm(matrix @ found - target))


@dataclass(frozen=True, slots=True)
class Parabola:
    """A stretch of a line of targets on which the same columns are in use: the misfit is a parabola there."""

    at: float  # where it was fitted
    # There, and its first and half its second derivative
    misfit: float
    slope: float
    bend: float
    # Its ends
    low: float
    high: float

    def of(self, x: float) -> float:
        """Return the misfit at a place on the line."""
        away = x - self.at
        return max(0.0, self.misfit + away * (self.slope + away * self.bend))


class Along:
    """The least misfit along a line of targets, `start + x stride`, fitted where it is asked for.

    Parameters
    ----------
    columns : NonNegative
        What the targets are made of.
    start, stride : ndarray, shape (j,)
        The line. [-]
    """

    def __init__(self, columns: NonNegative, start: FloatArray, stride: FloatArray) -> None:
        self._columns, self._start, self._stride = columns, start, stride
        self._pieces: list[Parabola] = []

    def __call__(self, x: float) -> float:
        """Return the misfit at a place on the line."""
        for piece in self._pieces:
            if piece.low <= x <= piece.high:
                return piece.of(x)
        self._pieces.append(self._columns.piece(self._start, self._stride, x))
        return self._pieces[-1].misfit
