"""The gas balance of a run: every step of the job integrated in time, every amount accounted for."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi, sin

from decay.physics.arrhenius import arrhenius_factor
from decay.physics.gas import AIR_MOLAR_MASS, GAS_CONSTANT, WATER_MOLAR_MASS
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.outgassing_state import GASES, SIDES, PoolState, SurfaceState
from decay.simulation.transport import HoseFlow, advance_pair
from decay.simulation.water_body import WaterBody, quick_saturation_pressure

MOLAR_MASSES = (AIR_MOLAR_MASS, WATER_MOLAR_MASS, 0.10203, 0.0280134)  # kg/mol; the refrigerant is R-134a
CHANGE_PER_STEP = 0.03         # relative change of a pressure that one step aims at
FIRST_STEP, LONGEST_STEP = 0.01, 15.0   # s


@dataclass(slots=True)
class Track:
    """What the integration wrote down after each of its steps; lists of equal length.

    Amounts are products of pressure and volume at the reference temperature, so that they can be added up.
    """

    time: list[float]
    partial: list[tuple[float, ...]]      # Pa at the reference temperature: system's four gases, rig's four
    scale: list[float]                    # ambient over reference temperature [-]
    leaked: list[tuple[float, float]]     # Pa m³ so far, into system and rig
    released: list[tuple[float, float]]   # Pa m³ so far, from surfaces, pools and water
    filled: list[float]                   # Pa m³ so far, swept or vented in
    pumped: list[float]                   # Pa m³ so far, taken by the pump
    water_temperature: list[float]        # K, of the first body of water; nan where there is none


class _Flows:
    """What one step lets into both volumes: by side and gas, what is lost in proportion to the pressure and what comes.

    ``loss`` [m³/s] and ``source`` [Pa·m³/s]; pools and water that take part in it, with the pressures that they strive
    for [Pa].
    """

    __slots__ = ("coupled", "loss", "source", "wet")

    def __init__(self) -> None:
        self.loss = [[0.0] * 4, [0.0] * 4]
        self.source = [[0.0] * 4, [0.0] * 4]
        self.coupled: list[tuple[PoolState, float]] = []
        self.wet: list[tuple[WaterBody, int, float, float]] = []


class Balance:
    """The state of a run, and how it moves on."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.reference = job.ambient.temperature
        self.volumes = (job.volume, job.rig.volume)
        self.time = 0.0
        self.pressures = [[0.0] * 4, [0.0] * 4]
        self.rates = [0.0, 0.0]
        start = job.initial_pressure if job.initial_pressure is not None else job.ambient.pressure
        damp = job.ambient.humidity * quick_saturation_pressure(self.reference) if job.initial_gas is Gas.AIR else 0.0
        damp *= min(1.0, start / job.ambient.pressure)
        for side in self.pressures:
            side[GASES.index(job.initial_gas)] = start - damp
            side[1] += damp
        self.waters = [(WaterBody(w, self.reference, self.volumes[SIDES.index(w.place)]), SIDES.index(w.place))
                       for w in job.waters if w.mass > 0]
        self.pools = [PoolState(pool) for pool in job.pools]
        self.surfaces = [SurfaceState(surface) for surface in job.surfaces]
        self.leaked, self.released = [0.0, 0.0], [0.0, 0.0]
        self.filled = self.pumped = 0.0
        self.has_pumped = False
        self.warmed = 0.0
        self.hose = HoseFlow(job.rig.hose_bore, job.rig.hose_length, self.reference, MOLAR_MASSES)
        self.track = Track([], [], [], [], [], [], [], [])
        self.write()

    def warmth(self, time: float) -> float:
        """Return ambient over reference temperature. [-]"""
        a = self.job.ambient
        if a.drift == 0.0 and a.swing == 0.0 and self.warmed == 0.0:
            return 1.0
        return 1.0 + (self.warmed + a.drift * time + a.swing * sin(2.0 * pi * time / a.swing_period)) / self.reference

    def write(self) -> None:
        """Note the present state on the track."""
        k = self.track
        k.time.append(self.time)
        k.partial.append((*self.pressures[0], *self.pressures[1]))
        k.scale.append(self.warmth(self.time))
        k.leaked.append((self.leaked[0], self.leaked[1]))
        k.released.append((self.released[0], self.released[1]))
        k.filled.append(self.filled)
        k.pumped.append(self.pumped)
        k.water_temperature.append(self.waters[0][0].temperature if self.waters else float("nan"))

    def begin(self, step: Step) -> None:
        """Set the valves and the temperature for a step."""
        self.rates = [0.0, 0.0]
        kind = step.kind
        if kind is StepKind.PUMP:
            self.has_pumped = True
        temperature = self.reference if step.temperature is None else step.temperature
        self.warmed = temperature - self.reference
        for surface in self.surfaces:
            surface.begin(kind)
            surface.pace = self._pace(step, surface.side, surface.surface.activation, temperature)
        for pool in self.pools:
            pool.pace = self._pace(step, pool.side, pool.pool.activation, temperature)

    def _pace(self, step: Step, side: int, activation: float, temperature: float) -> float:
        if temperature == self.reference or (SIDES[side] is Place.RIG and not step.is_rig_warmed):
            return 1.0
        return arrhenius_factor(activation, self.reference, temperature)

    def mean_pressure(self) -> float:
        """Return the volume-weighted total pressure of both volumes. [Pa]"""
        v1, v2 = self.volumes
        return (v1 * sum(self.pressures[0]) + v2 * sum(self.pressures[1])) / (v1 + v2) * self.warmth(self.time)

    def advance(self, step: Step, h: float, filling: float) -> float:
        """Move on by ``h`` seconds; return the largest relative change of a total pressure. [-]

        ``filling`` is the throughput let into the rig. [Pa·m³/s]
        """
        job, kind = self.job, step.kind
        theta = self.warmth(self.time + 0.5 * h)
        closed_at_system = kind is StepKind.HOLD and job.rig.isolate_at is Place.SYSTEM
        totals = [sum(self.pressures[0]), sum(self.pressures[1])]
        middle = [min(max(p + 0.5 * h * r, 0.7 * p), 1.4 * p) for p, r in zip(totals, self.rates, strict=True)]
        flows = self._flows(kind, theta, middle, h)
        if filling > 0.0:
            flows.source[1][3 if kind is StepKind.SWEEP else 0] += filling
            self.filled += filling * h
        speed = 0.0
        if (kind is StepKind.PUMP or closed_at_system) and middle[1] * theta > job.pump.ultimate:
            speed = job.pump.speed
        back = speed * job.pump.ultimate / theta / middle[1] if speed else 0.0
        mean = None if closed_at_system else 0.5 * (middle[0] + middle[1]) * theta
        new, areas = self._solved(flows, mean, speed, back, h)
        self._settle(flows, new, areas, theta, h)
        self.pressures = new
        self.time += h
        ends = [sum(new[0]), sum(new[1])]
        self.rates = [(b - a) / h for a, b in zip(totals, ends, strict=True)]
        return max(abs(log(b / a)) if a > 0.0 and b > 0.0 else 0.0 for a, b in zip(totals, ends, strict=True))

    def _flows(self, kind: StepKind, theta: float, middle: list[float], h: float) -> _Flows:
        """Return what leaks, surfaces, pools and water let in during a step, by side and gas."""
        job, flows = self.job, _Flows()
        loss, source = flows.loss, flows.source
        for leak in job.leaks:
            side = SIDES.index(leak.place)
            share = middle[side] * theta / job.ambient.pressure
            q = leak.rate * job.isolated_volume * leak.opening(self.time + 0.5 * h) * (1.0 - share * share)
            q *= 1.0 + leak.growth * self.warmed
            source[side][0] += q
            self.leaked[side] += q * h
        if kind is StepKind.PUMP or kind is StepKind.HOLD:
            for surface in self.surfaces:
                q = surface.give(h)
                source[surface.side][surface.gas] += q
                self.released[surface.side] += q * h
        for pool in self.pools if self.has_pumped else ():
            side, gas = pool.side, pool.gas
            if pool.pool.equilibrium is None:
                q = pool.give(h)
                source[side][gas] += q
                self.released[side] += q * h
            else:
                target = pool.pressure(self.pressures[side][gas], 0.5 * h)
                loss[side][gas] += pool.conductance
                source[side][gas] += pool.conductance * target
                flows.coupled.append((pool, target))
        for body, side in self.waters:
            k = body.conductance()
            if k > 0.0:
                target = body.pressure(0.5 * h) / theta
                loss[side][1] += k
                source[side][1] += k * target
                flows.wet.append((body, side, k, target))
        return flows

    def _solved(
        self, flows: _Flows, mean: float | None, speed: float, back: float, h: float
    ) -> tuple[list[list[float]], list[list[float]]]:
        """Return the pressures after a step [Pa] and their integrals over it [Pa·s], by side and gas.

        ``mean`` is the pressure in the hose, ``None`` where it is shut [Pa]; ``speed`` is the pump's [m³/s] and
        ``back`` what it gives back of a pressure [m³/s].
        """
        new: list[list[float]] = [[0.0] * 4, [0.0] * 4]
        areas: list[list[float]] = [[0.0] * 4, [0.0] * 4]
        (first, second), loss, source = self.pressures, flows.loss, flows.source
        for g in range(4):
            x1, x2, q1, q2 = first[g], second[g], source[0][g], source[1][g]
            if x1 == 0.0 and x2 == 0.0 and q1 == 0.0 and q2 == 0.0:
                continue
            c = 0.0 if mean is None else self.hose.conductance(g, mean)
            returned = back * x2
            y1, y2, i1, i2 = advance_pair(
                self.volumes, c, (loss[0][g], loss[1][g] + speed), (q1, q2 + returned), (x1, x2), h)
            new[0][g], new[1][g] = y1, y2
            areas[0][g], areas[1][g] = i1, i2
            self.pumped += speed * i2 - returned * h
        return new, areas

    def _settle(
        self, flows: _Flows, new: list[list[float]], areas: list[list[float]], theta: float, h: float
    ) -> None:
        """Take from pools and water what they gave; what water no longer had is taken back from ``new``."""
        for pool, target in flows.coupled:
            given = pool.conductance * (target * h - areas[pool.side][pool.gas])
            pool.amount -= given
            self.released[pool.side] += given
        surroundings = theta * self.reference
        for body, side, k, target in flows.wet:
            given = k * (target * h - areas[side][1])
            evaporated = given * WATER_MOLAR_MASS / (GAS_CONSTANT * self.reference)
            if evaporated > body.mass:
                # The last of it: what was not there is taken back from the vapour.
                excess = (evaporated - body.mass) * GAS_CONSTANT * self.reference / WATER_MOLAR_MASS
                new[side][1] -= excess / self.volumes[side]
                given -= excess
                evaporated = body.mass
            self.released[side] += given
            body.settle(evaporated, surroundings, h)

    def longest(self, step: Step) -> float:
        """Return the longest step that the slow parts allow at present. [s]"""
        limit = LONGEST_STEP
        for body, _ in self.waters:
            if body.mass > 0.0:
                limit = min(limit, body.step_limit)
        for pool in self.pools:
            limit = min(limit, pool.step_limit)
        if step.kind in (StepKind.PUMP, StepKind.HOLD):
            for surface in self.surfaces:
                limit = min(limit, surface.step_limit)
        return limit
