"""What a difference of temperature between two holds makes of their rises, and what it leaves unexplained."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from decay.fit.warm import DIFFERENCE_KNOWN, NOTICED
from decay.fit.warm_sources import ENERGIES
from decay.physics.arrhenius import activation_energy, arrhenius_factor

LEAKLIKE = 15e3
"""Apparent activation energy below which warmth explains little of a rise: a leak has about none. [J/mol]"""


class Due(StrEnum):
    """What the difference of two rises at two temperatures is due to."""

    WARMTH = "warmth"          # outgassing grows so with temperature
    NOT_WARMTH = "not warmth"  # the rise hardly followed the temperature: a leak, or sources that ran dry
    MORE = "more"              # it changed by more than warmth can make


@dataclass(frozen=True, slots=True)
class Warmth:
    """Two rises at two temperatures.

    Parameters
    ----------
    before, after : float
        The two temperatures. [K]
    growth : float
        Second rise over first, both over the same stretch. [-]
    expected : tuple of float
        Growth of outgassing alone: the least and the most. [-]
    energy : float
        Apparent activation energy of the growth. [J/mol]
    due : Due
        What the difference is due to.
    """

    before: float
    after: float
    growth: float
    expected: tuple[float, float]
    energy: float
    due: Due


def warmth_of(before: float | None, after: float | None, rises: tuple[float, float]) -> Warmth | None:
    """Return what a difference of temperature makes of two rises.

    Parameters
    ----------
    before, after : float or None
        The two temperatures. [K]
    rises : tuple of float
        The two rises over the same stretch. [Pa]

    Returns
    -------
    Warmth or None
        ``None`` where a temperature is not known, they hardly differ, or one hold did not rise.
    """
    if before is None or after is None or abs(after - before) < NOTICED or min(rises) <= 0.0:
        return None
    growth = rises[1] / rises[0]
    energy = activation_energy(growth, before, after)
    warmer = DIFFERENCE_KNOWN if after > before else -DIFFERENCE_KNOWN
    ends = sorted((
        arrhenius_factor(ENERGIES[0], before, after - warmer), arrhenius_factor(ENERGIES[1], before, after + warmer)
    ))
    if energy < LEAKLIKE:
        due = Due.NOT_WARMTH if growth > 0.5 else Due.MORE
    else:
        due = Due.WARMTH if energy <= ENERGIES[1] else Due.MORE
    return Warmth(before, after, growth, (ends[0], ends[1]), energy, due)
