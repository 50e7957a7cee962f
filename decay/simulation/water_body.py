"""One body of water under vacuum: it evaporates, cools itself, may freeze, and dries out."""

from __future__ import annotations

from functools import cache
from math import exp, pi, sqrt

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.physics.gas import GAS_CONSTANT, WATER_MOLAR_MASS
from decay.physics.water import (
    LATENT_HEAT_FUSION,
    TRIPLE_POINT_TEMPERATURE,
    latent_heat,
    saturation_pressure_over_ice,
    saturation_pressure_over_liquid,
)
from decay.simulation.sources import FreeWater

HEAT_LIQUID = 4200.0           # J/(kg K), handbook value near 10 °C
HEAT_ICE = 2050.0              # J/(kg K), handbook value near -10 °C
SHORTEST_STEP, LONGEST_STEP = 0.25, 6.0  # s; a thin film follows the rest at once, whatever its own pace
LARGEST_CHANGE = 1.0           # K in one step; only a film drying out would ask for more
_SPACING, _BELOW, _ABOVE = 0.05, 1600, 1600  # K, and nodes on both sides of the triple point, itself a node


@cache
def _table() -> list[float]:
    """Return ln p at the nodes, built once from `decay.physics.water`."""
    ice: FloatArray = TRIPLE_POINT_TEMPERATURE + _SPACING * np.arange(-_BELOW, 0, dtype=np.float64)
    liquid: FloatArray = TRIPLE_POINT_TEMPERATURE + _SPACING * np.arange(0, _ABOVE + 1, dtype=np.float64)
    pressure = np.concatenate([np.asarray(saturation_pressure_over_ice(ice)),
                               np.asarray(saturation_pressure_over_liquid(liquid))])
    logs: list[float] = np.log(pressure).tolist()
    return logs


def quick_saturation_pressure(temperature: float) -> float:
    """Return the vapour pressure of water, or of ice below the triple point, for one number and fast. [Pa]

    From a table of `decay.physics.water`, interpolated to 1e-6 of the value; 193 K to 353 K.
    """
    place = (temperature - TRIPLE_POINT_TEMPERATURE) / _SPACING + _BELOW
    if not 0.0 <= place < _BELOW + _ABOVE:
        raise RangeError(f"water in a run stays between 193 K and 353 K, got {temperature:g} K")
    i = int(place)
    logs = _table()
    return exp(logs[i] + (place - i) * (logs[i + 1] - logs[i]))


class WaterBody:
    """The changing state of one `FreeWater` during a run.

    Parameters
    ----------
    water : FreeWater
        What it is at the start.
    temperature : float
        Of the surroundings, at the start. [K]
    volume : float
        Gas volume it evaporates into, for the damping of its own step. [m³]
    """

    def __init__(self, water: FreeWater, temperature: float, volume: float) -> None:
        self.water = water
        self.mass = water.mass
        self.ice = water.mass if temperature < TRIPLE_POINT_TEMPERATURE else 0.0
        self.temperature = temperature
        self.volume = volume
        self.warming = 0.0
        self.owed = 0.0    # J; heat that the damping of the last step held back
        self.pace = LONGEST_STEP  # s; a step that follows the heat

    def conductance(self) -> float:
        """Return what stands between its saturation pressure and the open volume. [m³/s]"""
        if self.mass <= 0.0:
            return 0.0
        share = min(1.0, self.mass / self.water.mass) ** (2.0 / 3.0)
        speed = sqrt(GAS_CONSTANT * self.temperature / (2.0 * pi * WATER_MOLAR_MASS))
        surface = self.water.evaporation_coefficient * self.water.area * share * speed
        return float(surface * self.water.access / (surface + self.water.access))

    def pressure(self, ahead: float) -> float:
        """Return its vapour pressure, its temperature carried ahead by ``ahead`` seconds. [Pa]"""
        return quick_saturation_pressure(self.temperature + max(-0.3, min(0.3, self.warming * ahead)))

    def settle(self, evaporated: float, surroundings: float, h: float) -> None:
        """Take ``evaporated`` [kg] out over ``h`` seconds, and follow the heat."""
        self.mass = max(0.0, self.mass - evaporated)
        self.ice = min(self.ice, self.mass)
        if self.mass == 0.0:
            return
        t = self.temperature
        latent = latent_heat(min(max(t, 230.0), 330.0))
        heat = self.water.coupling * (surroundings - t) - latent * evaporated / h
        frozen, mixed = self.ice == self.mass, 0.0 < self.ice < self.mass
        if mixed:
            self._exchange_ice(heat * h + self.owed)
            self.pace = 0.02 * self.mass * LATENT_HEAT_FUSION / max(abs(heat), 1e-9)
            return
        k = self.conductance()
        slope = quick_saturation_pressure(t) * latent * WATER_MOLAR_MASS / (GAS_CONSTANT * t * t)
        feedback = k / (1.0 + k * h / self.volume) * slope * latent * WATER_MOLAR_MASS / (GAS_CONSTANT * surroundings)
        capacity = self.mass * (HEAT_ICE if frozen else HEAT_LIQUID)
        stiffness = self.water.coupling + feedback
        change = (heat * h + self.owed) / (capacity + h * stiffness)
        change = max(-LARGEST_CHANGE, min(LARGEST_CHANGE, change))
        # Carried on whole where the step is short against the heat's own pace; a film too thin to follow forgets it,
        # or it would swing from step to step.
        self.owed = (self.owed + heat * h - capacity * change) * capacity / (capacity + h * stiffness)
        self.pace = 0.5 * capacity / stiffness
        if not frozen and t + change < TRIPLE_POINT_TEMPERATURE:
            below = TRIPLE_POINT_TEMPERATURE - t - change
            self.ice = min(self.mass, max(1e-12, below * capacity / LATENT_HEAT_FUSION))
            change = TRIPLE_POINT_TEMPERATURE - t
        elif frozen and t + change > TRIPLE_POINT_TEMPERATURE:
            self.ice = max(0.0, self.mass - (t + change - TRIPLE_POINT_TEMPERATURE) * capacity / LATENT_HEAT_FUSION)
            change = TRIPLE_POINT_TEMPERATURE - t
        self.temperature = t + change
        self.warming = change / h

    def _exchange_ice(self, heat: float) -> None:
        self.temperature, self.warming = TRIPLE_POINT_TEMPERATURE, 0.0
        wanted = self.ice - heat / LATENT_HEAT_FUSION
        self.ice = min(self.mass, max(0.0, wanted))
        # What melting or freezing could not take goes into the temperature next.
        self.owed = (self.ice - wanted) * LATENT_HEAT_FUSION

    @property
    def step_limit(self) -> float:
        """Longest sound step: a third of a kelvin at the present pace, half the time constant of the heat. [s]"""
        return max(SHORTEST_STEP, min(LONGEST_STEP, self.pace, 0.3 / max(abs(self.warming), 1e-9)))
