"""Random evacuations with known truth, kind by kind; some hold what the estimator's own model does not contain.

Not in the estimator's model: surfaces that fall as a power of the time under vacuum, pools in equilibrium that take gas
up again, water that cools and freezes, a temperature that drifts and swings, a gauge that lags, reads vapours high and
shows coarser steps further up. All of it is synthetic.
"""

from __future__ import annotations

import numpy as np

from decay.simulation.apparatus import Ambient, Gauge, Pump, Rig
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.sources import FreeWater, Leak, Pool, Surface

MICRON = 133.322387415e-3
RATE = MICRON / 60.0
"""One micron a minute. [Pa/s]"""

KINDS = ("dry", "leak", "damp", "slow_damp", "leak_damp", "wet", "oil", "rig_leak", "cycles", "slow_cycles")
REPEATED = ("cycles", "slow_cycles")
"""The kinds with two or three holds, nitrogen let in between them."""
HOLDS = (600.0, 1200.0, 1800.0, 3600.0)
INTERVALS = (1.0, 2.0, 5.0, 10.0)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a number whose logarithm is uniform."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def random_job(kind: str, seed: int) -> Job:
    """Return one random job of a kind; the same seed gives the same job."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    volume = log_uniform(rng, 1e-3, 15e-3)
    rig = Rig(
        volume=rng.uniform(0.1e-3, 0.5e-3),
        hose_bore=rng.uniform(5e-3, 9e-3),
        hose_length=rng.uniform(0.8, 1.6),
    )
    total = volume + rig.volume
    hold = float(rng.choice(HOLDS))
    pull = Step(StepKind.PUMP, rng.uniform(1500.0, 4500.0))
    steps = [Step(StepKind.REST, rng.uniform(10.0, 60.0)), pull, Step(StepKind.HOLD, hold)]
    if kind in REPEATED:
        for _ in range(int(rng.integers(1, 3))):
            fill = rng.uniform(0.2, 0.95) * 101325.0
            again = Step(StepKind.PUMP, rng.uniform(900.0, 2400.0))
            steps += [Step(StepKind.SWEEP, 120.0, until=fill), again, Step(StepKind.HOLD, hold)]

    surfaces = [_surface(rng, total, 0.02, 0.4, (0.8, 1.2))]
    pools: list[Pool] = []
    waters: list[FreeWater] = []
    leaks: list[Leak] = []
    if kind in ("leak", "leak_damp", "rig_leak") or (kind in ("oil", *REPEATED) and rng.random() < 0.5):
        place = Place.RIG if kind == "rig_leak" else Place.SYSTEM
        leaks.append(Leak(log_uniform(rng, 0.5, 200.0) * RATE, place))
    if kind in ("damp", "leak_damp", "cycles"):
        surfaces.append(_surface(rng, total, 0.3, 10.0, (0.5, 1.1)))
        if rng.random() < 0.7:
            pools.append(_levelling_pool(rng, total, hold * log_uniform(rng, 0.05, 1.0)))
    if kind in ("slow_damp", "slow_cycles"):
        pools.append(_fading_pool(rng, total, pull.duration, hold * rng.uniform(1.0, 8.0), Gas.WATER))
    if kind == "oil":
        pools.append(_fading_pool(rng, total, pull.duration, log_uniform(rng, 900.0, 14400.0), Gas.REFRIGERANT))
    if kind == "wet":
        waters.append(
            FreeWater(
                mass=log_uniform(rng, 1e-3, 30e-3),
                access=log_uniform(rng, 2e-5, 2e-3),
                coupling=log_uniform(rng, 0.02, 0.5),
            )
        )
    return Job(
        volume=volume,
        rig=rig,
        pump=Pump(speed=rng.uniform(1.0e-3, 3.0e-3), ultimate=log_uniform(rng, 1.5, 8.0)),
        ambient=Ambient(
            temperature=rng.uniform(288.0, 304.0),
            drift=rng.uniform(-0.7, 0.7) / 3600.0,
            swing=rng.uniform(0.0, 0.1),
            swing_period=rng.uniform(600.0, 2400.0),
        ),
        gauge=_gauge(rng),
        leaks=tuple(leaks),
        surfaces=tuple(surfaces),
        pools=tuple(pools),
        waters=tuple(waters),
        steps=tuple(steps),
        seed=seed,
        name=f"bench {kind} {seed}",
    )


def _gauge(rng: np.random.Generator) -> Gauge:
    return Gauge(
        place=Place.SYSTEM if rng.random() < 0.6 else Place.RIG,
        interval=float(rng.choice(INTERVALS)),
        jitter=0.0 if rng.random() < 0.7 else 0.2,
        lag=rng.uniform(0.3, 3.0),
        water_response=rng.uniform(1.0, 1.8),
        refrigerant_response=rng.uniform(0.8, 1.6),
        noise=log_uniform(rng, 0.2, 1.5) * MICRON,
        wander=rng.uniform(0.0, 1.0) * MICRON,
        wander_time=log_uniform(rng, 10.0, 120.0),
    )


def _surface(
    rng: np.random.Generator, total: float, low: float, high: float, exponents: tuple[float, float]
) -> Surface:
    """Return a surface that would raise the closed volume by so many microns a minute after an hour."""
    return Surface(log_uniform(rng, low, high) * RATE * total, rng.uniform(*exponents))


def _levelling_pool(rng: np.random.Generator, total: float, time_constant: float) -> Pool:
    """Return a large pool that comes into equilibrium with the gas above it: it repeats itself in every hold."""
    equilibrium = log_uniform(rng, 50.0, 1500.0) * MICRON
    amount = 60.0 * equilibrium * total
    return Pool(amount, time_constant * amount / (equilibrium * total), Gas.WATER, equilibrium=equilibrium)


def _fading_pool(rng: np.random.Generator, total: float, pumped: float, time_constant: float, gas: Gas) -> Pool:
    """Return a pool of which so much is left after the pull that its rise would begin at 1 to 60 microns a minute."""
    left = log_uniform(rng, 1.0, 60.0) * RATE * time_constant * total
    return Pool(left * float(np.exp(min(pumped / time_constant, 30.0))), time_constant, gas)
