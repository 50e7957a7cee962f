"""Ranks the tests that would settle a hold which left a leak open, by minutes and by the chance that each does.

For a hold that is left open: the same hold expected longer, once more, or warmer, from its own fit, noise and
outgassing. The misfit that its estimator would find without a leak is the square of the leak's distance from nothing,
and the normal law of that distance less 1.96 is the chance that the leak is named; averaged over leaks of 1, 0.7 and
0.4 of what the hold shows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property, lru_cache

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins, bin_readings, pool_columns
from decay.fit.chances import normal_probability
from decay.fit.hold import KAPPA, longest_time_constant
from decay.fit.measured import Measured, assumed_noise
from decay.fit.mixture import POOLS, Mixture, Solution
from decay.fit.profile import Z_SEEN
from decay.fit.results import HoldFit
from decay.physics.arrhenius import arrhenius_factor
from decay.physics.gas import ROOM
from decay.several.joint import REPEATING, Member, chain_of
from decay.several.warm import LEAST_WARMING, Warmed, WarmMember, misfit_without_leak

_MOST_READINGS = 4000
"""A longer hold is given fewer readings, each with as much less noise. [-]"""
_FEWEST_READINGS = 10
"""A hold that is made on purpose is read so often at least. [-]"""
AIM = 0.6
"""Chance from which on a test is worth its minutes. [-]"""
LEAKS = (1.0, 0.7, 0.4)
"""Leaks that are tried, as shares of the rate that the hold itself shows: the rest is then outgassing. [-]"""
HOLDS = (900.0, 1800.0, 3600.0, 7200.0)
"""Lengths of a further hold that are tried. Common practice, no source. [s]"""
LONGER = (2.0, 3.0, 4.0, 6.0, 8.0)
"""Lengths to which the hold may go on, in lengths of its own. [-]"""
MORE_PULL = 900.0
"""Pumping between two holds, warming up included. Common practice, no source. [s]"""
RIG_MINUTES = 20.0
"""Blanking off, pulling down and holding the rig alone. Common practice, no source. [min]"""
EXPECTED_ENERGIES = (45e3, 80e3)
"""Activation energies that are expected of outgassing, amid the published ones. [J/mol]"""
LONGEST_TEST = 4 * 3600.0
"""Nobody waits for longer at a job. [s]"""


class Outlook:
    """One hold and one way in which its rise may be made of a leak and of sources.

    Parameters
    ----------
    hold : Measured
        The hold that was made. [s, Pa]
    under_vacuum : float or None
        Time since pumping began, at its isolation. [s]
    leak : float
        The leak that is taken for true; the sources are the best ones beside it. [Pa/s]
    """

    def __init__(self, hold: Measured, under_vacuum: float | None, leak: float) -> None:
        self.hold = hold
        self.under_vacuum = under_vacuum
        bins = hold.bins
        problem = Mixture(bins, hold.noise.whitening, longest_time_constant(bins.length, under_vacuum))
        solution: Solution = problem.at(leak)
        self.leak = leak
        self.start = problem.start_pressure(solution)
        self.time_constants = problem.time_constants
        self.heights = solution.amplitudes[: len(problem.time_constants)]

    @cached_property
    def made(self) -> Measured:
        """The hold that was made, without its luck. [s, Pa]"""
        return self._seen(self.hold.bins, self.heights, self.time_constants)

    def longer(self, length: float) -> Measured:
        """Return the same hold had it gone on for so long. [s]"""
        return self._seen(_stretched(self.hold.bins, length), self.heights, self.time_constants)

    def again(self, pull: float, length: float, *, warmer: float = 0.0, energy: float = 0.0) -> Measured:
        """Return a hold of so long [s] after so much more pumping [s], at the same temperature or warmer.

        What is slower than a hold has run down; what levels off within one comes again.
        """
        cold = self.hold.ambient or ROOM
        quicker = arrhenius_factor(energy, cold, cold + warmer) if warmer else 1.0
        tau, span = self.time_constants, self.hold.bins.length
        is_slow = tau >= REPEATING * span
        left = np.where(is_slow, np.exp(-(span + pull * quicker) / tau), quicker)
        quickened = np.where(is_slow, tau / quicker, tau)
        return self._seen(_stretched(self.hold.bins, length), self.heights * left, quickened)

    def _seen(self, bins: Bins, heights: FloatArray, time_constants: FloatArray) -> Measured:
        # Averaged over each bin as the fit has it: a late bin is wider than a quick source, and what it shows at its
        # middle would count as a misfit that the leak explains.
        pressure = self.start + self.leak * bins.time + pool_columns(bins, time_constants) @ heights
        seen = replace(bins, pressure=pressure, inflow=None)
        noise = assumed_noise(seen, self.hold.noise.wander, self.hold.noise.memory)
        # What a drift of the temperature feigns grows with the pressure.
        higher = float(np.max(pressure)) / max(float(np.max(self.hold.bins.pressure)), 1e-9)
        drift = self.hold.air_drift * max(1.0, higher)
        return replace(self.hold, bins=seen, noise=noise, end=self.hold.start + bins.length, air_drift=drift)


@lru_cache(maxsize=32)  # of one hold the same for every test, leak and energy
def _stretched(bins: Bins, length: float) -> Bins:
    """Return the bins of a hold of so long [s], read as often as the one that was made; their pressure is none."""
    # Who reads by hand, every ten minutes at the end of an hour, reads a short hold more often.
    sampling = min(bins.length / float(np.sum(bins.count)), length / _FEWEST_READINGS)
    spared = max(1.0, length / sampling / _MOST_READINGS)
    time = np.arange(bins.left[0] + sampling / 2, length, sampling * spared)
    step = np.full_like(time, float(np.max(bins.step)))
    fresh = bin_readings(time, np.zeros_like(time), step)
    return replace(fresh, reading_noise=bins.reading_noise / spared**0.5)


class TestKind(StrEnum):
    """What can be done next."""

    __test__ = False  # no test of this project's own

    LONGER = "longer"      # let the same hold go on
    AGAIN = "again"        # pull once more and hold again
    WARM = "warm"          # the same, warmer
    RIG = "rig"            # the rig alone
    SECTION = "section"    # a part of the system alone


@dataclass(frozen=True, slots=True)
class NextTest:
    """One test that may settle it."""

    kind: TestKind  # which
    minutes: float  # what it costs [min]
    chance: float | None = None  # that it names the leak, if there is one; ``None`` where a hold cannot tell [-]
    hold: float | None = None  # length of its hold: from the closing of the valve on [s]


def next_tests(
    hold: Measured,
    fit: HoldFit,
    under_vacuum: float | None,
    outlooks: Sequence[Outlook] | None = None,
    *,
    only_sooner: bool = False,
) -> tuple[NextTest, ...]:
    """Rank what would settle a hold that left a leak open.

    Parameters
    ----------
    hold : Measured
        Its readings. [s, Pa]
    fit : HoldFit
        What it says.
    under_vacuum : float or None
        Time since pumping began, at its isolation. [s]
    outlooks : sequence of Outlook, optional
        What counts as true, the largest leak first; unless given, `LEAKS` of the rate that the hold shows, with the
        best sources beside each.
    only_sooner : bool
        For whoever is holding on anyway: leave out what takes longer than holding on, where that has a good chance;
        and what falls short of `AIM` is given the chance for the largest leak, which is no smaller.

    Returns
    -------
    tuple of NextTest
        The best first: of those whose chance reaches `AIM` the quickest, then the others by chance; last what tells
        where a leak is and not whether.

    Notes
    -----
    The chance is the power of the same test as for a hold that was made: its readings are expected from this hold's
    own, with its noise and its outgassing, and the misfit without a leak is the square of the distance in standard
    deviations by which the leak would show. It is the mean over the outlooks.
    """
    if hold.bins.length <= 0.0 or (outlooks is None and fit.leak.value <= 0.0):
        return ()
    if outlooks is None:
        outlooks = [Outlook(hold, under_vacuum, share * fit.leak.value) for share in LEAKS]
    made = fit.duration
    longer = _quickest(TestKind.LONGER, [(n * made, (n - 1.0) * made) for n in LONGER], outlooks, _longer, only_sooner)
    is_settled = only_sooner and (longer.chance or 0.0) >= AIM
    anew = [(h, h + MORE_PULL) for h in HOLDS if not is_settled or h + MORE_PULL < 60.0 * longer.minutes]
    shown_by = {TestKind.AGAIN: _again, TestKind.WARM: _warm_of(fit)} if anew else {}
    tests = [longer, *(_quickest(kind, anew, outlooks, shows, only_sooner) for kind, shows in shown_by.items())]
    ranked = sorted(tests, key=_rank)
    return (*ranked, NextTest(TestKind.RIG, RIG_MINUTES), NextTest(TestKind.SECTION, (made + MORE_PULL) / 60.0))


def _rank(test: NextTest) -> tuple[bool, float, float]:
    chance = test.chance or 0.0
    return (chance < AIM, test.minutes if chance >= AIM else -chance, test.minutes)


def _quickest(
    kind: TestKind,
    lengths: list[tuple[float, float]],
    outlooks: Sequence[Outlook],
    shows: Callable[[Outlook, float], float],
    is_bound_enough: bool,
) -> NextTest:
    """Return a test with the least of its lengths that has a good chance, else with the longest that is waited for."""

    def tried(length: float, cost: float) -> NextTest:
        # By how many standard deviations each leak would show; the interval's lower end asks for 1.96.
        chances = []
        for outlook in outlooks:
            chances.append(normal_probability(max(shows(outlook, length), 0.0) ** 0.5 - Z_SEEN))
            if is_bound_enough and chances[0] < AIM:
                break  # smaller leaks show less
        return NextTest(kind, cost / 60.0, float(np.mean(chances)), length)

    within = [(length, cost) for length, cost in lengths if cost <= LONGEST_TEST] or lengths[:1]
    # The chance grows with the length: halving finds the shortest that is good enough, and often the longest is not.
    best, low, high = tried(*within[-1]), 0, len(within) - 1
    while (best.chance or 0.0) >= AIM and low < high:
        middle = (low + high) // 2
        test = tried(*within[middle])
        if (test.chance or 0.0) >= AIM:
            best, high = test, middle
        else:
            low = middle + 1
    return best


def _longer(outlook: Outlook, length: float) -> float:
    """Return how much worse the hold, had it gone on, is described without its leak than with it. [-]"""
    hold = outlook.longer(length)
    longest = longest_time_constant(hold.bins.length, outlook.under_vacuum)
    problem = Mixture(hold.bins, hold.noise.whitening, longest)
    # A source between two time constants of the grid is missed a little with the leak as without it.
    return problem.at(hold.air_drift).misfit - problem.at(outlook.leak).misfit


def _again(outlook: Outlook, length: float) -> float:
    """Return the same of both holds together, at one temperature. [-]"""
    holds = [outlook.made, outlook.again(MORE_PULL, length)]
    span = max(h.bins.length for h in holds)
    grid = np.geomspace(min(h.bins.length / float(np.sum(h.bins.count)) for h in holds), KAPPA * span, POOLS)
    later = outlook.hold.bins.length + MORE_PULL
    before = outlook.under_vacuum
    members = [
        Member(holds[0], 0.0, under_vacuum=before),
        Member(holds[1], later, under_vacuum=None if before is None else before + later),
    ]
    chain = chain_of(members, [Mixture(h.bins, h.noise.covariance, grid) for h in holds], grid)
    return chain.misfit(max(h.air_drift for h in holds)) - chain.misfit(outlook.leak)


def _warm_of(fit: HoldFit) -> Callable[[Outlook, float], float]:
    def shows(outlook: Outlook, length: float) -> float:
        """Return the same of a cold and a warm hold, the mean over energies. [-]"""
        return float(np.mean([of_energy(outlook, length, energy) for energy in EXPECTED_ENERGIES]))

    def of_energy(outlook: Outlook, length: float, energy: float) -> float:
        cold = outlook.hold.ambient or ROOM
        warm = outlook.again(MORE_PULL, length, warmer=LEAST_WARMING, energy=energy)
        pair = (WarmMember(outlook.made, fit, 0.0, cold),
                WarmMember(warm, fit, outlook.hold.bins.length + MORE_PULL, cold + LEAST_WARMING))
        return misfit_without_leak(*pair, Warmed.ALL, warm.air_drift, outlook.leak)

    return shows
