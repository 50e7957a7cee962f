"""How likely a leak is where the interval leaves it open: a Bayes factor with stated priors, for a grade only.

Where a plain hold leaves a leak open, a Bayes factor with stated priors grades it: likely from 95 % on, unlikely from
5 % down. Sizes have priors uniform in the logarithm and are integrated out, by quadrature over one and two of them;
shapes are taken from a fixed sequence that fills the prior evenly, and in three or four rounds from a bell about those
that have described the hold best so far; each counts by how densely all rounds have drawn about it; six times as many
have to say so before a leak is called likely. A quiet hold fits one shape in thousands, along a ridge.

A pool that levels off stands in equilibrium with its vapour: where the walls give off the same, it takes that up, and a
steady rise beside it is a leak's. Damp walls, and pools of either kind, are summed each by itself: one bell about all
of them strays three times as far from what many more shapes have. The leak's own integral is tabulated once a hold. All
this takes 0.1 s, for such holds only. The odds decide nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache, partial

import numpy as np
from scipy.special import ndtri

from decay.arrays import FloatArray, IntArray
from decay.constants import MICRON, MINUTE
from decay.fit import evidence
from decay.fit.bins import Whitening, absorbed_power_columns, pool_columns, power_column
from decay.fit.evidence import Size
from decay.fit.measured import Measured

LIKELY = 0.95
"""Probability from which on a leak is graded as likely. [-]"""
UNLIKELY = 0.05
"""Probability down from which a leak is graded as unlikely. [-]"""

_RATE = MICRON / MINUTE
"""One micron a minute. [Pa/s]"""
LEAK = Size(0.5 * _RATE, 200.0 * _RATE)
"""Prior of a leak's rate. Assumed, no source. [Pa/s]"""
RESPONSE = (1.0, 1.8)
"""What a gauge calibrated for air reads of vapour, over its true pressure, uniform. [-]"""


@dataclass(frozen=True, slots=True)
class Walls:
    """A prior of walls whose rate falls as a power of the time under vacuum."""

    rate: Size  # rise an hour after pumping began [Pa/s]
    exponents: tuple[float, float]  # ends of the power, uniform between [-]


DRY_WALLS = Walls(Size(0.02 * _RATE, 0.4 * _RATE), (0.8, 1.2))
"""Walls that every system has. Assumed, no source."""
DAMP_WALLS = Walls(Size(0.3 * _RATE, 10.0 * _RATE), (0.5, 1.1))
"""Walls with more water on them, down to the power of diffusion out of a thick layer. Assumed, no source."""
LEVELLING_HEIGHT = Size(5.0 * MICRON, 1500.0 * MICRON)
"""Height of a pool that levels off. Assumed, no source. [Pa]"""
LEVELLING_TIME = Size(0.05, 1.0)
"""Its time constant, in holds. [-]"""
LEVELLING_SHARE = 0.7
"""Share of damp systems that have such a pool. [-]"""
TAKES_UP_SHARE = 0.5
"""Share of these pools that hold what the walls give off, and take it up; the others hold another gas. [-]"""
FADING_RATE = Size(1.0 * _RATE, 300.0 * _RATE)
"""First rate of a pool that fades. Assumed, no source. [Pa/s]"""
FADING_TIME = Size(0.5, 15.0)
"""Its time constant, in holds. [-]"""
AGE = Size(900.0, 7200.0)
"""Time under vacuum at isolation where the log does not tell it. [s]"""

_SHAPES = {3: 500, 4: 700, 6: 900}
"""Shapes that are tried over all of a prior, by the numbers that make a shape. [-]"""
_SURER = 6
"""So many times the shapes before a leak is called likely: fewer may miss the one corner in which a tight system fits.
[-]"""
_CLOSER = 0.28
_ROUNDS = (3, 4)
"""Share of them that each round tries about the best so far; rounds at the least, and at the most. [-]"""
_ENOUGH = 40.0
"""Shapes that tell mean and covariance of what describes a hold. [-]"""
_WIDER = 1.5
_LEAST_SPREAD = 1e-8
"""Factor on that covariance, and the least variance of a share, so that a bell covers what it was made from. [-]"""
_FLATTEST, _HALVINGS = 1e-9, 12
"""Least power to which they are levelled, and how often its range is halved, in the logarithm. [-]"""
_EXPONENTS, _TIMES = 24, 24
"""Powers of walls, and times in which a pool takes up what they give off, that are tabulated. [-]"""
_LEFT_OUT = (90.0, 0.08)
"""Start of the hold that is left out: so many seconds, at most so much of the hold. Rig and system equalise then."""
_LEAST_KEPT = 6
_STRAY = 0.0007
"""Share of the rise by which a gauge's scale bends it without notice. [-]"""


class Grade(StrEnum):
    """What the odds say of a leak."""

    LIKELY = "likely"
    UNLIKELY = "unlikely"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Odds:
    """The odds of a leak in one hold."""

    probability: float  # of a leak, given the hold and the priors [-]
    log_bayes_factor: float  # natural logarithm of the evidence with a leak over that without [-]

    @property
    def grade(self) -> Grade:
        """The grade."""
        if self.probability >= LIKELY:
            return Grade.LIKELY
        return Grade.UNLIKELY if self.probability <= UNLIKELY else Grade.OPEN


def odds_of_leak(hold: Measured, under_vacuum: float | None, inflation: float = 1.0) -> Odds:
    """Return the odds of a leak in a hold.

    Parameters
    ----------
    hold : Measured
        Its bins, noise and temperature. [Pa, s]
    under_vacuum : float or None
        Time since pumping began, at isolation; ``None`` where the log does not tell it. [s]
    inflation : float
        Factor on the squared misfit by which the hold's own tests widened its interval. [-]

    Returns
    -------
    Odds
        The same for the same hold: shapes are taken from a fixed sequence.

    References
    ----------
    .. [1] Kass and Raftery, "Bayes factors", J. Am. Stat. Assoc. 90 (1995) 773.
    """
    view = _View(hold, under_vacuum, inflation)
    found = _summed(view, 1)
    return found if found.grade is not Grade.LIKELY else _summed(view, _SURER)


def _summed(view: _View, many: int) -> Odds:
    """Return the odds by the usual number of shapes, or by so many times as many."""
    pools = LEVELLING_SHARE
    families = (
        (1.0, _dry, 3), (1.0 - pools, _damp, 4), (pools * TAKES_UP_SHARE, partial(_levelling, True), 6),
        (pools * (1.0 - TAKES_UP_SHARE), partial(_levelling, False), 6), (1.0, _fading, 4),
    )
    weights = np.array([weight for weight, _, _ in families])
    without, with_leak = np.array([_integrated(family, view, n, many) for _, family, n in families]).T
    factor = float(evidence.mean_of_exponentials(with_leak, weights)
                   - evidence.mean_of_exponentials(without, weights))
    return Odds(math.exp(min(factor, 0.0)) / (1.0 + math.exp(-abs(factor))), factor)


class _View:
    """A hold's whitened readings without their first seconds, and the curves that the priors put to them."""

    def __init__(self, hold: Measured, under_vacuum: float | None, inflation: float) -> None:
        bins = hold.bins
        keep = bins.left >= min(_LEFT_OUT[0], _LEFT_OUT[1] * bins.length)
        keep[-_LEAST_KEPT:] = True
        self.span = bins.length
        self.under_vacuum = under_vacuum
        self.bins = kept = replace(
            bins, left=bins.left[keep], right=bins.right[keep], pressure=bins.pressure[keep], count=bins.count[keep],
            step=bins.step[keep], inflow=None,
        )
        time, rise = kept.centre - kept.left[0], kept.pressure - kept.pressure[0]
        # A drift of the temperature as likely at any rate within what would be noticed.
        drift = hold.air_drift / np.sqrt(3.0) * time
        covariance = hold.noise.covariance[np.ix_(keep, keep)] * inflation + np.outer(drift, drift)
        self.noise = Whitening(covariance + np.diag((_STRAY * rise) ** 2))
        self.readings = self.noise.free_of_constant(kept.pressure)
        self.line = self.noise.free_of_constant(time)
        self._tables = {prior.exponents: self._table(prior.exponents) for prior in (DRY_WALLS, DAMP_WALLS)}
        self._absorbed = {prior.exponents: self._absorbed_table(prior.exponents) for prior in (DRY_WALLS, DAMP_WALLS)}

    def walls(self, prior: Walls, where: FloatArray, response: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return curves of walls for unit rate after an hour [s], and how much of it the gauge reads. [-]"""
        below, share = _between(where, _EXPONENTS)
        table = self._tables[prior.exponents]
        curves = table[below] * (1.0 - share) + table[below + 1] * share
        return curves, RESPONSE[0] + response * (RESPONSE[1] - RESPONSE[0])

    def _table(self, exponents: tuple[float, float]) -> FloatArray:
        """Return the curves of walls for unit rate after an hour, power by power. [s]"""
        powers, ages = self._powers(exponents)
        columns = [power_column(self.bins, age, power)
                   for power, age in zip(powers.tolist(), ages.tolist(), strict=True)]
        return self.noise.free_of_constant(np.column_stack(columns)).T

    def absorbed_walls(self, prior: Walls, where: FloatArray, tau: FloatArray) -> FloatArray:
        """Return the curves of walls of which a pool takes up what it can, between two that are tabulated. [s]"""
        (power, part), (time, share) = _between(where, _EXPONENTS), _between(tau, _TIMES)
        table = self._absorbed[prior.exponents]
        early, late = (table[power, at] * (1.0 - part) + table[power + 1, at] * part for at in (time, time + 1))
        return np.asarray(early * (1.0 - share) + late * share)

    def _absorbed_table(self, exponents: tuple[float, float]) -> FloatArray:
        """Return the same beside a pool in equilibrium, by power and by the pool's time. [s]"""
        times = LEVELLING_TIME.at(np.linspace(0.0, 1.0, _TIMES)) * self.span
        powers, ages = self._powers(exponents)
        columns = absorbed_power_columns(self.bins, ages, powers, times)
        white = self.noise.free_of_constant(columns.reshape(len(columns), -1))
        return np.ascontiguousarray(white.T.reshape(_EXPONENTS, _TIMES, -1))

    def _powers(self, exponents: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
        """Return the powers that are tabulated [-], and the walls' time under vacuum for each. [s]"""
        powers = np.linspace(*exponents, _EXPONENTS)
        # Where the age is not known each power comes with one of its own, spread over the prior.
        ages = AGE.at((np.arange(_EXPONENTS) * 7 % _EXPONENTS + 0.5) / _EXPONENTS)
        return powers, ages if self.under_vacuum is None else np.full(_EXPONENTS, self.under_vacuum)

    def drawn_walls(self, prior: Walls, where: FloatArray, size: FloatArray, response: FloatArray) -> FloatArray:
        """Return the rise of walls whose rate is drawn as well, one row a shape. [-]"""
        curves, reads = self.walls(prior, where, response)
        return np.asarray(curves * (prior.rate.at(size) * reads)[:, None])

    def pools(self, time_constants: FloatArray) -> FloatArray:
        """Return the rise of pools of unit height, one row a time constant. [per Pa]"""
        later = np.exp(-self.bins.left[0] / time_constants)
        return np.asarray((self.noise.free_of_constant(pool_columns(self.bins, time_constants)) * later).T)


def _between(share: FloatArray, tabulated: int) -> tuple[IntArray, FloatArray]:
    """Return the entry below each share of a prior that is tabulated evenly, and how far on to the next, (n, 1). [-]"""
    place = share * (tabulated - 1)
    below = np.minimum(place.astype(int), tabulated - 2)
    return below, (place - below)[:, None]


_Family = Callable[["_View", bool, FloatArray], FloatArray]


def _integrated(family: _Family, view: _View, dimensions: int, many: int) -> tuple[float, float]:
    """Return the log evidence of a family of shapes, without and with a leak. [-]"""
    points = _spread(dimensions, many * _SHAPES[dimensions])
    without, with_leak = (partial(family, view, is_leaky) for is_leaky in (False, True))
    return _closed_in(without, points), _closed_in(with_leak, points)


def _closed_in(logs_of: Callable[[FloatArray], FloatArray], points: FloatArray) -> float:
    """Return the log evidence, with more shapes tried about those that have described the hold best so far.

    A quiet hold fits one shape in thousands, and what fits lies along a ridge: each round draws its shapes from a bell
    with the mean and the covariance of all before it. Every shape counts by how densely all rounds together have drawn
    about it (Cornuet et al., Scandinavian Journal of Statistics 39 (2012) 798, from memory); the first round fills the
    prior evenly, so that none counts for much more than one of its own. Rounds go on until shapes enough count.
    """
    found, evenly = logs_of(points), points.shape[1]
    closer = int(_CLOSER * evenly)
    bells: list[_Bell] = []
    while len(bells) < _ROUNDS[1]:
        bell = _bell_about(points, found - np.log(_density(points, bells, evenly, closer)))
        if bell.is_settled and len(bells) >= _ROUNDS[0]:
            break
        drawn = bell.at(_normal_spread(len(points), closer))
        is_inside = np.all((drawn > 0.0) & (drawn < 1.0), axis=0)
        logs = np.full(closer, -np.inf)
        logs[is_inside] = logs_of(drawn[:, is_inside])
        bells.append(bell)
        points, found = np.column_stack((points, drawn)), np.append(found, logs)
    logs = found - np.log(_density(points, bells, evenly, closer))
    return float(evidence.mean_of_exponentials(logs, np.full(len(logs), 1.0 / len(logs))))


@dataclass(frozen=True, slots=True, eq=False)
class _Bell:
    """A normal density over the shapes: mean, shape (d,), and triangular root of the covariance, shape (d, d). [-]"""

    mean: FloatArray
    root: FloatArray
    is_settled: bool  # whether it was made from shapes enough with none of them levelled down

    def at(self, standard: FloatArray) -> FloatArray:
        """Return points of it by points of a bell of mean zero and variance one, shape (d, n). [-]"""
        return np.asarray(self.mean[:, None] + self.root @ standard)

    def density(self, points: FloatArray) -> FloatArray:
        """Return its density, shape (n,). [-]"""
        off = np.linalg.inv(self.root) @ (points - self.mean[:, None])
        scale = np.prod(np.diag(self.root)) * (2.0 * np.pi) ** (len(points) / 2.0)
        return np.asarray(np.exp(-0.5 * np.sum(off**2, axis=0)) / scale)


def _density(points: FloatArray, bells: list[_Bell], evenly: int, closer: int) -> FloatArray:
    """Return how densely all rounds together have drawn about each point, by the numbers of each, shape (n,). [-]"""
    drawn = np.full(points.shape[1], float(evenly))
    for bell in bells:
        drawn += closer * bell.density(points)
    return np.asarray(drawn / (evenly + closer * len(bells)))


def _bell_about(points: FloatArray, logs: FloatArray) -> _Bell:
    """Return a bell about what counts most, with the best levelled down to `_ENOUGH` points at least."""
    above = logs - logs.max()

    def weight(power: float) -> FloatArray:
        weight = np.exp(power * above)
        return np.asarray(weight / weight.sum())

    low, high = _FLATTEST, 1.0
    is_settled = bool(1.0 / np.sum(weight(high) ** 2) >= _ENOUGH)
    if not is_settled:
        for _ in range(_HALVINGS):
            middle = math.sqrt(low * high)
            low, high = (low, middle) if 1.0 / np.sum(weight(middle) ** 2) < _ENOUGH else (middle, high)
        high = low
    share = weight(high)
    mean = points @ share
    off = points - mean[:, None]
    covariance = _WIDER * (off * share) @ off.T + _LEAST_SPREAD * np.eye(len(points))
    return _Bell(mean, np.asarray(np.linalg.cholesky(covariance), dtype=np.float64), is_settled)


def _dry(view: _View, is_leaky: bool, points: FloatArray) -> FloatArray:
    """Return the log evidence of dry walls alone, shape (shapes,). [-]"""
    left = view.readings - view.drawn_walls(DRY_WALLS, *points)
    return evidence.of_one(left, view.line, LEAK) if is_leaky else evidence.of_none(left)


def _damp(view: _View, is_leaky: bool, points: FloatArray) -> FloatArray:
    """Return the same of dry and damp walls. [-]"""
    where, size, response, damp_where = points
    left = view.readings - view.drawn_walls(DRY_WALLS, where, size, response)
    curves, reads = view.walls(DAMP_WALLS, damp_where, response)
    return _sized(view, is_leaky, left, curves * reads[:, None], DAMP_WALLS.rate)


def _levelling(takes_up: bool, view: _View, is_leaky: bool, points: FloatArray) -> FloatArray:
    """Return the same of dry and damp walls with a pool that levels off in equilibrium with its vapour. [-]

    Where the walls give off the same vapour it takes that up as well, and their rise ends with its own; a leak's air
    stays.
    """
    where, size, response, damp_where, damp_size, tau = points
    left = np.broadcast_to(view.readings, (len(tau), len(view.readings)))
    for prior, at, share in ((DRY_WALLS, where, size), (DAMP_WALLS, damp_where, damp_size)):
        curves, reads = view.walls(prior, at, response)
        curves = view.absorbed_walls(prior, at, tau) if takes_up else curves
        left = left - curves * (prior.rate.at(share) * reads)[:, None]
    pools = view.pools(LEVELLING_TIME.at(tau) * view.span) * reads[:, None]
    return _sized(view, is_leaky, left, pools, LEVELLING_HEIGHT)


def _fading(view: _View, is_leaky: bool, points: FloatArray) -> FloatArray:
    """Return the same of dry walls with a pool that fades. [-]"""
    where, size, response, tau = points
    left = view.readings - view.drawn_walls(DRY_WALLS, where, size, response)
    time_constants = FADING_TIME.at(tau) * view.span
    return _sized(view, is_leaky, left, view.pools(time_constants) * time_constants[:, None], FADING_RATE)


def _sized(view: _View, is_leaky: bool, left: FloatArray, columns: FloatArray, size: Size) -> FloatArray:
    """Return the log evidence of a column of unknown size, shape (shapes,). [-]"""
    return evidence.of_two(left, columns, size, view.line, LEAK) if is_leaky else evidence.of_one(left, columns, size)


def _spread(dimensions: int, shapes: int) -> FloatArray:
    """Return points that fill a unit cube evenly, shape (dimensions, shapes). [-]

    An additive recurrence with powers of the generalised golden ratio: no chance in it, and no point twice.
    """
    ratio = 1.5
    for _ in range(50):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1)
    return np.asarray((0.5 + steps[:, None] * np.arange(1, shapes + 1)) % 1.0)


@lru_cache(maxsize=8)
def _normal_spread(dimensions: int, shapes: int) -> FloatArray:
    """Return points that fill a bell of mean zero and variance one evenly, shape (dimensions, shapes). [-]"""
    return np.asarray(ndtri(_spread(dimensions, shapes)))
