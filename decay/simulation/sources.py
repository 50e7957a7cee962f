"""Where gas comes from in an invented evacuation: leaks, surfaces, pools and free water."""

from __future__ import annotations

from dataclasses import dataclass

from decay.simulation.kinds import Gas, Place, require

ACTIVATION = 55e3
"""Activation energy of outgassing where none is stated, amid what is published for water. [J/mol]"""


@dataclass(frozen=True, slots=True)
class Leak:
    """A laminar leak of air.

    Parameters
    ----------
    rate : float
        Rise that it makes in the whole isolated volume far below atmosphere, at the reference temperature. [Pa/s]
    place : Place
        The volume it leads into.
    opens_at : float
        Time at which it begins to open; 0 for a leak that is there from the start. [s]
    opening_time : float
        Time in which it opens fully, linearly. [s]
    growth : float
        Relative change of its rate for each kelvin above the day's temperature. [1/K]
    """

    rate: float
    place: Place = Place.SYSTEM
    opens_at: float = 0.0
    opening_time: float = 0.0
    growth: float = 0.0

    def __post_init__(self) -> None:
        require(self.rate >= 0, "a leak's rate must not be negative", self.rate)
        require(self.opens_at >= 0 and self.opening_time >= 0, "a leak's times must not be negative",
                 (self.opens_at, self.opening_time))

    def opening(self, time: float) -> float:
        """Return the share of the leak that is open. [-]"""
        if time < self.opens_at:
            return 0.0
        if self.opening_time == 0.0 or time >= self.opens_at + self.opening_time:
            return 1.0
        return (time - self.opens_at) / self.opening_time


@dataclass(frozen=True, slots=True)
class Surface:
    """Walls that give off gas as a power of the time under vacuum.

    Parameters
    ----------
    rate_after_hour : float
        Throughput one hour after pumping began, at the reference temperature. [Pa·m³/s]
    exponent : float
        ``n`` in ``t**-n``. [-]
    gas : Gas
        What they give off.
    place : Place
        The volume they line.
    onset : float
        Time added to the clock so that the rate is finite at its start. [s]
    kept_after_sweep, kept_after_vent : float
        Share of its age under vacuum that the surface keeps: 1 none re-adsorbed, 0 as new. [-]
    activation : float
        Energy by which it gives off gas, and grows older, the quicker in a step that is warmer. [J/mol]
    """

    rate_after_hour: float
    exponent: float = 1.0
    gas: Gas = Gas.WATER
    place: Place = Place.SYSTEM
    onset: float = 30.0
    kept_after_sweep: float = 0.8
    kept_after_vent: float = 0.1
    activation: float = ACTIVATION

    def __post_init__(self) -> None:
        require(self.rate_after_hour >= 0, "a surface's rate must not be negative", self.rate_after_hour)
        require(0 < self.exponent < 3, "a surface's exponent must lie between 0 and 3", self.exponent)
        require(self.onset > 0, "a surface's onset must be positive", self.onset)
        for kept in (self.kept_after_sweep, self.kept_after_vent):
            require(0 <= kept <= 1, "the share kept must lie between 0 and 1", kept)


@dataclass(frozen=True, slots=True)
class Pool:
    """Gas dissolved in oil or an elastomer, which leaves by a first-order law.

    Parameters
    ----------
    amount : float
        Gas in it when pumping begins, at the reference temperature. [Pa·m³]
    time_constant : float
        Time in which it gives off all but 1/e of that, into a perfect vacuum. [s]
    gas : Gas
        What it holds.
    place : Place
        The volume it lies in.
    equilibrium : float or None
        Partial pressure over the full pool at which nothing leaves; it falls in proportion as the pool empties,
        and gas above it is taken up again. ``None`` for a pool that takes nothing up. [Pa]
    activation : float
        Energy by which it empties the quicker in a step that is warmer; where there is an equilibrium, by which that
        is higher. [J/mol]
    """

    amount: float
    time_constant: float
    gas: Gas = Gas.WATER
    place: Place = Place.SYSTEM
    equilibrium: float | None = None
    activation: float = ACTIVATION

    def __post_init__(self) -> None:
        require(self.amount >= 0, "a pool's amount must not be negative", self.amount)
        require(self.time_constant > 0, "a pool's time constant must be positive", self.time_constant)
        require(self.equilibrium is None or self.equilibrium > 0, "a pool's equilibrium pressure must be positive",
                 self.equilibrium)


@dataclass(frozen=True, slots=True)
class FreeWater:
    """Liquid water somewhere in the system.

    Parameters
    ----------
    mass : float
        How much. [kg]
    area : float
        Effective area it evaporates from while whole; it shrinks as mass to the power 2/3. [m²]
    evaporation_coefficient : float
        Share of the Hertz-Knudsen limit that its surface reaches. [-]
    access : float
        Conductance of the way from its surface into the open volume, e.g. a tube or an oil film. [m³/s]
    coupling : float
        Heat flow from the surroundings into it. [W/K]
    place : Place
        The volume it lies in.
    """

    mass: float
    area: float = 4.0e-4
    evaporation_coefficient: float = 0.02
    access: float = 2.0e-3
    coupling: float = 0.3
    place: Place = Place.SYSTEM

    def __post_init__(self) -> None:
        require(self.mass >= 0, "the mass of water must not be negative", self.mass)
        for value in (self.area, self.evaporation_coefficient, self.access, self.coupling):
            require(value > 0, "area, coefficient, access and coupling of free water must be positive", value)
