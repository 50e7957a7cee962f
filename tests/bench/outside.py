"""Jobs beside the bench's own: tight systems outside the model, the odds' population, and a cold and a warm hold.

All of it is synthetic. What the four kinds outside the model have in common: a source so slow that its rise is as
straight as a leak's.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from decay.fit import odds
from decay.fit.evidence import Size
from decay.physics.arrhenius import arrhenius_factor
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.sources import Leak, Pool, Surface

from .jobs import MICRON, RATE, _fading_pool, _surface, log_uniform, random_job

OUTSIDE = ("balanced", "rig_slow", "fading_slow", "two_pools")
"""A pool in equilibrium of 1.5 to 6 holds; a slow source on the rig's side; a pool that fades over 8 to 20 holds; two
pools of 3 and 15 holds."""
ASSUMED = ("walls", "damp_walls", "fading")
"""The families of sources that the odds take for equally likely, each with a leak as often as not."""
PAIRED = ("dry", "leak", "damp", "slow_damp", "leak_damp", "oil", "rig_leak")
"""Kinds of the bench with one hold and no free water: those that a warm hold is made of."""
WARMER = 15.0
"""How much warmer the second hold is. [K]"""
MORE_PULL, WARM_HOLD = 900.0, 900.0
"""The second hold costs so much more pumping, and so long a hold. [s]"""
ENERGIES = (40e3, 90e3)
"""Activation energies of the sources, drawn evenly. [J/mol]"""
LEAK_CHANGE = 0.05
"""Largest relative change of a leak's rise for the warming. [-]"""
HALF_WARMED = 1.3
"""Growth of the least warmed source in a system that is half warmed. [-]"""
_LARGE = 600.0
"""What a pool in equilibrium holds, over the vapour above it: no pull takes away what the priors say of it. [-]"""


def outside_job(kind: str, seed: int) -> Job:
    """Return one tight system of a kind that the model does not hold."""
    job = random_job("dry", seed)
    rng = np.random.default_rng([seed, 77])
    pull, hold = job.steps[1].duration, job.steps[2].duration
    total = job.volume + job.rig.volume
    if kind == "balanced":
        equilibrium = log_uniform(rng, 200.0, 1500.0) * MICRON
        amount = 60.0 * equilibrium * total
        time_constant = hold * rng.uniform(1.5, 6.0) * amount / (equilibrium * total)
        pools: tuple[Pool, ...] = (Pool(amount, time_constant, Gas.WATER, equilibrium=equilibrium),)
    elif kind == "rig_slow":
        slow = _fading_pool(rng, total, pull, hold * rng.uniform(1.0, 8.0), Gas.WATER)
        pools = (replace(slow, place=Place.RIG),)
    elif kind == "fading_slow":
        pools = (_fading_pool(rng, total, pull, hold * rng.uniform(8.0, 20.0), Gas.WATER),)
    else:
        pools = (
            _fading_pool(rng, total, pull, hold * 3.0, Gas.WATER),
            _fading_pool(rng, total, pull, hold * 15.0, Gas.REFRIGERANT),
        )
    return replace(job, pools=pools, name=f"bench {kind} {seed}")


def assumed_job(kind: str, seed: int) -> Job:
    """Return one job of the odds' own population: a family of sources, their sizes and a leak drawn from the priors."""
    job = random_job("dry", seed)
    rng = np.random.default_rng([seed, 55, ASSUMED.index(kind)])
    pull, hold = job.steps[1].duration, job.steps[2].duration
    total = job.volume + job.rig.volume

    def drawn(size: Size) -> float:
        return float(size.at(np.array(rng.random())))

    def walls(prior: odds.Walls) -> Surface:
        return _surface(rng, total, prior.rate.low / RATE, prior.rate.high / RATE, prior.exponents)

    surfaces, pools = [walls(odds.DRY_WALLS)], []
    if kind == "damp_walls":
        surfaces.append(walls(odds.DAMP_WALLS))
        if rng.random() < odds.LEVELLING_SHARE:
            height, time_constant = drawn(odds.LEVELLING_HEIGHT), hold * drawn(odds.LEVELLING_TIME)
            gas, gauge = Gas.WATER, job.gauge
            if rng.random() >= odds.TAKES_UP_SHARE:
                # Another gas than the walls', with the height that is read the same.
                gas, height = Gas.REFRIGERANT, height * gauge.water_response / gauge.refrigerant_response
            pools.append(Pool(_LARGE * height * total, _LARGE * time_constant, gas, equilibrium=height))
    if kind == "fading":
        time_constant = hold * drawn(odds.FADING_TIME)
        # Its first rate is the one that is read: the priors know nothing of a gauge's response to vapour there.
        left = drawn(odds.FADING_RATE) * time_constant * total / job.gauge.water_response
        pools.append(Pool(left * float(np.exp(min(pull / time_constant, 30.0))), time_constant, Gas.WATER))
    leaks = (Leak(drawn(odds.LEAK)),) if rng.random() < 0.5 else ()
    return replace(job, surfaces=tuple(surfaces), pools=tuple(pools), leaks=leaks, name=f"bench {kind} {seed}")


def any_job(kind: str, seed: int) -> Job:
    """Return a job of the bench, of the odds' population, or of the kinds outside the model."""
    if kind in ASSUMED:
        return assumed_job(kind, seed)
    return outside_job(kind, seed) if kind in OUTSIDE else random_job(kind, seed)


def warm_pair(
    kind: str, seed: int, *, warmer: float = WARMER, is_rig_warmed: bool = True, is_half_warmed: bool = False
) -> Job:
    """Return a job with its hold, a quarter of an hour more of pumping while it is warmed, and a warm hold.

    Parameters
    ----------
    kind : str
        Kind of the bench, or outside the model.
    seed : int
        The same seed gives the same job.
    warmer : float
        How much warmer the second hold is. [K]
    is_rig_warmed : bool
        Whether the rig's side was warmed too.
    is_half_warmed : bool
        Whether some sources lie where the warmth hardly came.

    Returns
    -------
    Job
        With two holds.
    """
    job = any_job(kind, seed)
    rng = np.random.default_rng([seed, 99])
    cold = job.ambient.temperature
    warm = cold + warmer
    lowest = ENERGIES[0]
    if is_half_warmed:
        lowest *= np.log(HALF_WARMED) / np.log(arrhenius_factor(ENERGIES[0], cold, warm))

    def activated(source: Surface | Pool) -> Surface | Pool:
        return replace(source, activation=float(rng.uniform(lowest, ENERGIES[1])))

    def changed(leak: Leak) -> Leak:
        # The rise that is read grows with the gas's own temperature as well.
        rise = 1.0 + rng.uniform(-LEAK_CHANGE, LEAK_CHANGE)
        return replace(leak, growth=(rise * cold / warm - 1.0) / warmer)

    again = (
        Step(StepKind.PUMP, MORE_PULL, temperature=warm, is_rig_warmed=is_rig_warmed),
        Step(StepKind.HOLD, WARM_HOLD, temperature=warm, is_rig_warmed=is_rig_warmed),
    )
    return replace(
        job,
        surfaces=tuple(activated(s) for s in job.surfaces),
        pools=tuple(activated(p) for p in job.pools),
        leaks=tuple(changed(leak) for leak in job.leaks),
        steps=(*job.steps[:3], *again),
    )
