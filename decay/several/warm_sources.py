"""A cold and a warm hold as one problem: one leak, and sources that grow and run dry as Arrhenius' law has it.

Every slow source enters the cold hold with what it holds then, and the warm hold with what is left of it, given off so
much quicker as its activation energy says. What levels off within a hold or so may be in equilibrium with the gas above
it and repeat itself, grown. What is quicker than a hold is free in each: it levels off, and is no leak.

Outgassing follows Arrhenius, a leak changes by 5 % at most. A slow source is let in with four energies from 40 to 90
kJ/mol: what runs dry grows most in the middle of a range, so its ends do not span it. Metal has up to 110, but ages: it
is let in from ten holds on. What levels off within 1.5 holds may be in equilibrium and repeat itself, grown. Slower
than half a hold is tied, up to 100 holds. A drop along the hose is one flow along one hose in both holds, and no larger
than its leak makes it; a source on the gauge's side has one too, which takes the more of its rise the quicker it is,
and is no larger than what jumped as the valve closed. A leak's change costs the square of its share of 2.9 %, the
standard deviation of what is as likely anywhere within 5 %.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.fit.alternatives import EQUALISED_WITHIN, fading_drop, hose_mean_pressure
from decay.fit.bins import Bins, Whitening, pool_columns
from decay.fit.hold import STOOD
from decay.fit.measured import Measured
from decay.fit.mixture import Solution, falling_constants
from decay.fit.non_negative import NonNegative
from decay.fit.results import HoldFit
from decay.fit.steady_rise import TAKING_UP_TIMES
from decay.physics.arrhenius import arrhenius_factor
from decay.several.joint import REPEATING

ENERGIES = (40e3, 110e3)
"""Activation energies of outgassing. Water in rubber has 46 to 60 kJ/mol (Krongauz et al., J. Therm. Anal. Calorim. 125
(2016) 231), on steel 304 and aluminium 6063 92 to 105 (thermal desorption, J. Vac. Sci. Technol., abstract). An error
of one kelvin in fifteen shifts an energy by a fifteenth, and leaves all of them within. [J/mol]"""
DRYING = 90e3
"""Largest energy of a source that runs dry as a pool does. Water in rubber stays far below; metal, which has more,
fades by its age and does not run dry. [J/mol]"""
AGEING = 10.0
"""Time constant, in lengths of the longer hold, from which on a source may be metal that ages. [-]"""
PART_WARMED = 1.3
"""Least growth where only a part was warmed through. [-]"""
LONGEST = 100.0
"""Slowest source let in, in lengths of the longer hold: beyond that all look alike. [-]"""
LEAK_CHANGES = 0.05 / 3.0**0.5
"""Standard deviation of a leak's relative change for the warming: laminar flow -4 %, molecular +3 %, and the metal
moves; as likely anywhere within 5 %. [-]"""
UNSEEN = 30.0
"""Time in which rig and system may equalise without a drop along the hose being seen; it is `STOOD` where a hold needs
more than sources to be described. Of 300 simulated tight systems 4 were named without it, 1 with 30 s, 1 with 60 s,
and the median width was 0.14, 0.16 and 0.18 of the leak. [s]"""
_FASTEST_TIED = 0.5
"""Quickest source that is followed from hold to hold, in lengths of the shorter one. [-]"""
_TIED, _REPEATED, _FREE, _ENERGIES = 28, 12, 30, 4
_SEEN = 3.0
"""Standard deviations of a reading by which a jump may have been missed. [-]"""
_FIRM = 1e3
"""Weight of a bound among whitened readings. [-]"""
_ROUNDS = 2
_NOTHING = 1e-300


@dataclass(frozen=True, slots=True, eq=False)
class WarmMember:
    """One of the two holds."""

    hold: Measured  # its readings [s, Pa]
    fit: HoldFit  # what it says alone
    isolated: float  # when its valve was closed, on a clock that both share [s]
    temperature: float | None  # of the system during it [K]
    is_wet: bool = False  # whether free water may be what raises it


class ColdAndWarm:
    """Both holds as one non-negative least-squares problem in the leak.

    Parameters
    ----------
    cold, warm : WarmMember
        The two holds, both of known temperature.
    is_part : bool
        Whether not all of it was warmed through: some sources then hardly grow.

    Raises
    ------
    RangeError
        If a temperature is not known.
    """

    def __init__(self, cold: WarmMember, warm: WarmMember, *, is_part: bool = False) -> None:
        members = (cold, warm)
        spans = [m.hold.bins.length for m in members]
        drops = _drops(members)
        tied, hosed = _tied(cold, warm, drops, is_part=is_part)
        noises = [Whitening(m.hold.noise.covariance * m.fit.tests.inflation) for m in members]
        own = [_own(m, noise) for m, noise in zip(members, noises, strict=True)]
        widths = [columns.shape[1] for columns in own]
        shown = drops[0].shape[1] if any(m.fit.hose_drop is not None for m in members) else 0
        rows = []
        for i, (member, noise) in enumerate(zip(members, noises, strict=True)):
            bins = member.hold.bins
            blocks = [np.zeros((len(bins.centre), width)) for width in widths]
            blocks[i] = own[i]
            # Line and drops each have a column for the cold and one for the warm hold: a leak changes between them.
            made = np.column_stack((bins.centre - bins.left[0], drops[i][:, :shown]))
            leak = np.zeros((len(made), 2 * made.shape[1]))
            leak[:, i::2] = made
            rows.append(noise.free_of_constant(np.column_stack((*blocks, tied[i], bins.pressure, leak))))
        table = np.vstack(rows)
        last = sum(widths) + tied[0].shape[1]
        leak = table[:, last + 1 :: 2] + table[:, last + 2 :: 2]
        self._warm_line = table[:, last + 2]
        self._line, self._columns, self._target = leak[:, 0], table[:, :last], table[:, last]
        self.line_error = 1.0 / float(np.linalg.norm(self._line))
        self._begun: FloatArray | None = None  # where the next search begins
        self.freedom = sum(len(m.hold.bins.centre) for m in members) - 3
        self._hold_in(hosed, [_jump(m) for m in members], leak[:, 1:], EQUALISED_WITHIN * min(spans))

    def _hold_in(self, hosed: FloatArray, jumps: list[float], drops: FloatArray, longest: float) -> None:
        """Add rows that keep the drops along the hose to what made them, each with a column for what is left of it. [-]

        A source's drop: under the pump the gauge stood no higher than the system, and rig and system meet within
        seconds; so much as a source lifts the gauge above the system [Pa], the gauge must have jumped. The leak's
        drop is its rate times the time in which rig and system equalise, and that time has a limit [s].
        """
        count, sources = self._columns.shape
        rows = np.zeros((3, sources + drops.shape[1] + 3))
        rows[:2, sources - hosed.shape[1] : sources] = hosed / np.array(jumps)[:, None]
        # In units of the leak's own error, so that the row weighs more than any reading.
        rows[2, sources : sources + drops.shape[1]] = 1.0 / (longest * self.line_error)
        rows[:, -3:] = np.eye(3)
        columns = np.column_stack((self._columns, drops, np.zeros((count, 3))))
        columns = np.vstack((columns, _FIRM * rows))
        self._columns = columns / np.maximum(np.linalg.norm(columns, axis=0), _NOTHING)
        self._target = np.concatenate((self._target, [_FIRM, _FIRM, 0.0]))
        self._line = np.concatenate((self._line, [0.0, 0.0, -_FIRM / self.line_error if drops.shape[1] else 0.0]))
        self._warm_line = np.concatenate((self._warm_line, np.zeros(3)))

    def best(self) -> Solution:
        """Return the best fit over leak, its change with the temperature, and sources."""
        norm = float(np.linalg.norm(self._line))
        rate, solution, x = 0.0, Solution(0.0, np.zeros(0), np.inf), None
        for _ in range(_ROUNDS):  # what a change of the leak costs goes by the leak
            changes, target = self._changes(rate)
            x, rest = NonNegative(np.vstack((np.append(self._line / norm, 0.0), changes.T)), x).fit(target)
            rate = float(x[0] / norm)
            solution = Solution(rate, x[1:], rest**2)
        return solution

    def misfit(self, rate: float) -> float:
        """Return the least misfit at a leak's rate [Pa/s]: what a change of the leak costs is part of it. [-]"""
        columns, target = self._changes(rate)
        self._begun, rest = NonNegative(columns.T, self._begun).fit(target - rate * np.append(self._line, 0.0))
        return rest**2

    def _changes(self, rate: float) -> tuple[FloatArray, FloatArray]:
        """Return columns and target with a leak's change in the warm hold, either way, in standard deviations. [-]"""
        change = LEAK_CHANGES * rate * self._warm_line
        both = np.column_stack((np.append(change, 1.0), np.append(-change, 1.0)))
        columns = np.vstack((self._columns, np.zeros(self._columns.shape[1])))
        return np.column_stack((columns, both)), np.append(self._target, 0.0)


def _jump(member: WarmMember) -> float:
    """Return the most by which a drop along the hose may have lifted the gauge as the valve closed. [Pa]"""
    return member.fit.sudden_rise + _SEEN * member.fit.noise + member.fit.step


def _drops(members: tuple[WarmMember, WarmMember]) -> list[FloatArray]:
    """Return in each hold the drop of one flow along one hose, by its first drop in the cold hold, shape (k, 2). [-]"""
    means = [hose_mean_pressure(m.hold.bins.pressure, m.fit.hose_drop or 0.0) for m in members]
    return np.split(fading_drop(np.concatenate(means)), [len(means[0])])


def _is_plain(member: WarmMember) -> bool:
    """Tell whether sources alone describe a hold, without a hose or gas that is taken up again."""
    return member.fit.tests.inflation >= member.fit.plain_inflation


def _tied(
    cold: WarmMember, warm: WarmMember, drops: list[FloatArray], *, is_part: bool
) -> tuple[list[FloatArray], FloatArray]:
    """Return each hold's columns of the sources that both share, for what they hold when the cold one begins. [-]

    And each source's drop along the hose as either hold begins, shape (2, m). It was cold through the cold hold. How
    early after it the system became warm is not known, so a source has run down at least as if it had been cold until
    the warm hold, and at most as if it had been warm since the cold one.
    """
    spans = [m.hold.bins.length for m in (cold, warm)]
    slow = np.geomspace(_FASTEST_TIED * min(spans), LONGEST * max(spans), _TIED)
    repeating = np.geomspace(_FASTEST_TIED * min(spans), REPEATING * max(spans), _REPEATED)
    everything, walls = slice(None), slice(int(np.searchsorted(slow, AGEING * max(spans))), None)
    still_cold = cold.hold.end - cold.hold.start
    between = max(0.0, warm.isolated - cold.isolated - still_cold)
    cold_from, warm_from = (float(m.hold.bins.left[0]) for m in (cold, warm))
    is_behind_hose = not (_is_plain(cold) and _is_plain(warm))
    drying = [_growth(cold, warm, energy) for energy in np.linspace(ENERGIES[0], DRYING, _ENERGIES)]
    if is_part:
        drying.insert(0, min(drying[0], PART_WARMED))
    most = _growth(cold, warm, ENERGIES[1])
    cold_rise, cold_drop = _rise_and_drop(cold.hold.bins, slow, drops[0])
    first, second, hosed = [], [], []
    for gain, pace, kept in (*((g, g, everything) for g in drying), (drying[-1], 1.0, everything), (most, most, walls)):
        tau = slow[kept]
        held = np.exp(-cold_from / tau)
        left = np.exp(-(still_cold + between * pace + warm_from * gain) / tau)
        rise, drop = _rise_and_drop(warm.hold.bins, tau / gain, drops[1])
        for hose_time in (0.0, STOOD if is_behind_hose else UNSEEN):
            first.append((cold_rise + hose_time * cold_drop)[:, kept] * held)
            second.append((rise + hose_time * drop) * left)
            flows = np.array([held / tau, left * gain / tau])
            hosed.append(hose_time * flows * np.array([[np.mean(drop[0])] for drop in drops]))
    repeated = pool_columns(cold.hold.bins, repeating), pool_columns(warm.hold.bins, repeating)
    for gain in (drying[0], drying[-1]):
        first.append(repeated[0])
        second.append(repeated[1] * gain)
        hosed.append(np.zeros((2, len(repeating))))
    return [np.column_stack(first), np.column_stack(second)], np.column_stack(hosed)


def _rise_and_drop(bins: Bins, time_constants: FloatArray, drops: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what a gauge reads of pools on its own side of a hose: their rise, and the drop along the hose.

    The drop, for each second [1/s] in which rig and system equalise, is the pool's flow: it goes down with the flow,
    and as the hose conducts better. A quicker source's rise loses the more by it, so that it seems to have grown less.
    """
    flow = np.exp(-(bins.centre - bins.left[0])[:, None] / time_constants) / time_constants
    return pool_columns(bins, time_constants), np.asarray(flow * drops.mean(axis=1)[:, None])


def _growth(cold: WarmMember, warm: WarmMember, energy: float) -> float:
    """Return by how much a source of an energy [J/mol] is quicker in the warm hold. [-]"""
    if cold.temperature is None or warm.temperature is None:
        raise RangeError("a cold and a warm hold need their temperatures")
    return arrhenius_factor(energy, cold.temperature, warm.temperature)


def _own(member: WarmMember, noise: Whitening) -> FloatArray:
    """Return the columns of what is free in one hold: what levels off within it, and equalisation. [-]"""
    bins = member.hold.bins
    shortest = 1.0 / min(3000.0, float(np.sum(bins.count)))
    falls = falling_constants(bins, noise.covariance)
    if member.fit.hose_drop is None and not _is_plain(member):
        # What describes the hold alone lets gas be taken up again.
        falls = np.append(falls, bins.length * np.array(TAKING_UP_TIMES))
    rises = pool_columns(bins, bins.length * np.geomspace(shortest, 1.0, _FREE))
    return np.column_stack((rises, -pool_columns(bins, falls)))
