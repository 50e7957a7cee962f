"""What surfaces and pools still hold during a run, and what they give in one step."""

from __future__ import annotations

from math import expm1, log

from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.sources import Pool, Surface

GASES = (Gas.AIR, Gas.WATER, Gas.REFRIGERANT, Gas.NITROGEN)
SIDES = (Place.SYSTEM, Place.RIG)


class SurfaceState:
    """The age under vacuum of one `Surface`."""

    __slots__ = ("age", "gas", "pace", "side", "surface")

    def __init__(self, surface: Surface) -> None:
        self.surface = surface
        self.side, self.gas = SIDES.index(surface.place), GASES.index(surface.gas)
        self.age = 0.0
        self.pace = 1.0    # how much quicker than at the day's temperature

    def begin(self, kind: StepKind) -> None:
        """Take the surface back in age where gas is let in."""
        if kind is StepKind.SWEEP:
            self.age *= self.surface.kept_after_sweep
        elif kind is StepKind.VENT:
            self.age *= self.surface.kept_after_vent

    def give(self, h: float) -> float:
        """Grow older by ``h`` and return the mean throughput of that time, exactly. [Pa·m³/s]"""
        s, n = self.surface, self.surface.exponent
        a = self.age + s.onset
        b = a + self.pace * h
        self.age += self.pace * h
        if abs(n - 1.0) < 1e-9:
            return s.rate_after_hour * 3600.0 * log(b / a) / h
        return float(s.rate_after_hour * 3600.0**n * (b ** (1.0 - n) - a ** (1.0 - n)) / (1.0 - n) / h)

    @property
    def step_limit(self) -> float:
        """Longest sound step. [s]"""
        return 0.5 * (self.age + self.surface.onset) / self.pace


class PoolState:
    """The gas that is left in one `Pool`."""

    __slots__ = ("amount", "conductance", "gas", "pace", "pool", "side")

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self.side, self.gas = SIDES.index(pool.place), GASES.index(pool.gas)
        self.amount = pool.amount
        self.pace = 1.0    # how much quicker, or higher in equilibrium, than at the day's temperature
        # A pool with an equilibrium is a reservoir at a falling pressure behind this conductance. [m³/s]
        self.conductance = 0.0 if pool.equilibrium is None else pool.amount / pool.equilibrium / pool.time_constant

    def give(self, h: float) -> float:
        """Empty freely for ``h`` and return the mean throughput of that time, exactly. [Pa·m³/s]"""
        given = self.amount * -expm1(-h * self.pace / self.pool.time_constant)
        self.amount -= given
        return given / h

    def pressure(self, above: float, ahead: float) -> float:
        """Return the equilibrium pressure ``ahead`` seconds on, at a partial pressure ``above``. [Pa]"""
        if self.pool.equilibrium is None or self.pool.amount == 0.0:
            return 0.0
        over_pool = self.pace * self.pool.equilibrium / self.pool.amount
        amount = self.amount - ahead * self.conductance * (over_pool * self.amount - above)
        return over_pool * max(amount, 0.5 * self.amount)

    @property
    def step_limit(self) -> float:
        """Longest sound step. [s]"""
        return float("inf") if self.pool.equilibrium is None else 0.2 * self.pool.time_constant / self.pace
