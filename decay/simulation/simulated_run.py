"""Runs an invented evacuation and tells its truth: what was in the volumes, and what the gauge showed of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, frozen
from decay.errors import RangeError
from decay.log.pressure_log import PressureLog
from decay.simulation.balance import CHANGE_PER_STEP, FIRST_STEP, Balance
from decay.simulation.gauge_model import GaugeRecord, observe
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.outgassing_state import GASES, SIDES

MOST_STEPS = 200_000


@dataclass(frozen=True, slots=True)
class StepTruth:
    """One step of the job as it went."""

    kind: StepKind  # what was done
    # When [s], and the true total pressure at the gauge [Pa]
    start: float
    end: float
    start_pressure: float
    end_pressure: float


@dataclass(frozen=True, slots=True)
class HoldTruth:
    """What happened in one hold."""

    # When the valve was closed and opened [s]
    start: float
    end: float
    leak_rate: float  # mean rise that air leaking in made, at the reference temperature [Pa/s]
    # Rise made by surfaces, pools and water, less what they took up again, at the reference temperature [Pa]
    outgassing_rise: float
    water_mass: float  # liquid water and ice left at its end [kg]


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedRun:
    """One invented evacuation: synthetic, and with its truth known."""

    job: Job  # what was run
    time: FloatArray  # times of the integration, shape (m,) [s]
    pressure: FloatArray  # true total pressure in the system, shape (m,) [Pa]
    partial: dict[tuple[Place, Gas], FloatArray]  # true partial pressures, shape (m,) [Pa]
    ambient: FloatArray  # temperature of the surroundings, shape (m,) [K]
    water_temperature: FloatArray  # of free water; ``nan`` where there is none, shape (m,) [K]
    readings: GaugeRecord  # what the gauge showed
    stretches: tuple[StepTruth, ...]  # the steps as they went
    holds: tuple[HoldTruth, ...]  # the truth of each hold
    # Full leak into the isolated volume, when open, far below atmosphere, at the reference temperature [Pa/s]
    leak_rate: float
    imbalance: float  # gas gained less gas let in, released and leaked, as a share of all gas that moved [-]

    @property
    def isolated_volume(self) -> float:
        """Gas volume behind the valve that a hold closes. [m³]"""
        return self.job.isolated_volume

    def to_log(self) -> PressureLog:
        """Return the readings as the reader would give them, without a file between."""
        r = self.readings
        n = len(r.time)
        return PressureLog(
            source=f"synthetic: {self.job.name or 'unnamed job'}",
            time=r.time - r.time[0],
            pressure=r.pressure,
            line=np.arange(2, n + 2, dtype=np.int64),
            is_over_range=r.is_over_range,
            step=r.step,
            gauge="pressure",
            unit=self.job.gauge.unit,
            rows=n,
        )


def run(job: Job) -> SimulatedRun:
    """Run a job.

    Parameters
    ----------
    job : Job
        What to run.

    Raises
    ------
    RangeError
        If the job needs an absurd number of integration steps.
    """
    balance = Balance(job)
    inventory = _inventory(balance)
    bounds: list[tuple[StepKind, int, int]] = []
    water_left: list[float] = []
    for step in job.steps:
        first = len(balance.track.time) - 1
        _do(balance, step)
        bounds.append((step.kind, first, len(balance.track.time) - 1))
        water_left.append(sum(body.mass for body, _ in balance.waters))
    return _collect(job, balance, bounds, water_left, inventory)


def _responses(job: Job) -> tuple[float, ...]:
    g = job.gauge
    return (g.gain, g.gain * g.water_response, g.gain * g.refrigerant_response, g.gain)


def _do(balance: Balance, step: Step) -> None:
    """Integrate one step of the job."""
    job = balance.job
    balance.begin(step)
    end = balance.time + step.duration
    goal = job.ambient.pressure if step.kind is StepKind.VENT else (step.until or 0.0)
    filling = 0.0
    if step.kind in (StepKind.SWEEP, StepKind.VENT):
        filling = goal * (job.volume + job.rig.volume) / step.fill_time
    weights, side = _responses(job), SIDES.index(job.gauge.place)
    h = FIRST_STEP
    while end - balance.time > 1e-9 * end:
        h = min(h, balance.longest(step), end - balance.time)
        if filling:
            missing = (goal - balance.mean_pressure()) * (job.volume + job.rig.volume)
            if missing <= 0.0:
                filling = 0.0
            else:
                h = min(h, missing / filling * (1.0 + 1e-9))
        change = balance.advance(step, h, filling)
        balance.write()
        if len(balance.track.time) > MOST_STEPS:
            raise RangeError(f"the job takes more than {MOST_STEPS} integration steps; shorten its steps")
        if step.kind is StepKind.PUMP and step.until is not None:
            seen = sum(w * p for w, p in zip(weights, balance.pressures[side], strict=True))
            if seen * balance.warmth(balance.time) <= step.until:
                return
        h *= min(1.6, max(0.3, CHANGE_PER_STEP / change)) if change > 0.0 else 1.6


def _inventory(balance: Balance) -> float:
    """Return the gas in both volumes. [Pa·m³]"""
    return sum(v * sum(p) for v, p in zip(balance.volumes, balance.pressures, strict=True))


def _collect(
    job: Job, balance: Balance, bounds: list[tuple[StepKind, int, int]], water_left: list[float], inventory: float
) -> SimulatedRun:
    track = balance.track
    time = np.array(track.time)
    scale = np.array(track.scale)
    partial = np.array(track.partial) * scale[:, np.newaxis]
    by_name = {(place, gas): frozen(partial[:, 4 * i + j])
               for i, place in enumerate(SIDES) for j, gas in enumerate(GASES)}
    at = 4 * SIDES.index(job.gauge.place)
    true_at_gauge = partial[:, at:at + 4].sum(axis=1)
    seen = partial[:, at:at + 4] @ np.array(_responses(job))
    readings = observe(time, seen, job.gauge, np.random.default_rng(job.seed))

    inside = [0] if job.rig.isolate_at is Place.SYSTEM else [0, 1]
    volume = job.isolated_volume
    leaked = np.array(track.leaked)[:, inside].sum(axis=1) / volume
    released = np.array(track.released)[:, inside].sum(axis=1) / volume
    stretches, holds = [], []
    for (kind, i, j), water in zip(bounds, water_left, strict=True):
        stretches.append(StepTruth(kind, float(time[i]), float(time[j]), float(true_at_gauge[i]),
                                 float(true_at_gauge[j])))
        if kind is StepKind.HOLD:
            span = float(time[j] - time[i])
            holds.append(HoldTruth(float(time[i]), float(time[j]), float(leaked[j] - leaked[i]) / span,
                                   float(released[j] - released[i]), water))
    gained = _inventory(balance) - inventory
    came = sum(balance.leaked) + sum(balance.released) + balance.filled
    moved = inventory + abs(came) + balance.pumped
    return SimulatedRun(
        job=job, time=frozen(time), pressure=frozen(partial[:, :4].sum(axis=1)), partial=by_name,
        ambient=frozen(scale * balance.reference), water_temperature=frozen(np.array(track.water_temperature)),
        readings=readings, stretches=tuple(stretches), holds=tuple(holds),
        leak_rate=sum(leak.rate for leak in job.leaks if SIDES.index(leak.place) in inside),
        imbalance=(gained - came + balance.pumped) / moved,
    )
