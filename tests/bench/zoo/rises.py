"""Rises that the forward model does not make: gross, metered to near atmosphere, a hump, a far end behind a hose.

All of it is drawn from formulas that stand here and nowhere in the program, so that nothing is checked against itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from decay.arrays import FloatArray
from tests.bench.jobs import log_uniform
from tests.bench.zoo.scene import Scene, scene
from tests.bench.zoo.sheet import RAIL, Sheet, usual, written

ATMOSPHERE = 760_000.0
"""Pressure of the air outside. [micron]"""
HEAT_RATIO = 1.4
"""Of air, for the isentropic nozzle."""
CHOKED = (2.0 / (HEAT_RATIO + 1.0)) ** (HEAT_RATIO / (HEAT_RATIO - 1.0))
"""Inside over outside pressure below which a nozzle's flow grows no more, 0.528 (gas dynamics handbooks)."""


def laminar(inside: float) -> float:
    """Return the inflow through a long fine path, over that into nothing (Poiseuille, compressible)."""
    return 1.0 - (inside / ATMOSPHERE) ** 2


def nozzle(inside: float) -> float:
    """Return the inflow through an orifice, over that into nothing (isentropic nozzle; de Saint-Venant and Wantzel)."""
    ratio = min(inside / ATMOSPHERE, 1.0)
    if ratio <= CHOKED:
        return 1.0
    k = HEAT_RATIO
    most = CHOKED ** (2.0 / k) - CHOKED ** ((k + 1.0) / k)
    return float(np.sqrt(max(ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k), 0.0) / most))


def rising(time: FloatArray, start: float, rate: float, law: Callable[[float], float]) -> FloatArray:
    """Return the pressure of a vessel that fills from a start at a rate into nothing. [s, micron, micron/min]"""
    out = np.empty(len(time))
    p, now = start, 0.0
    for i, t in enumerate(time.tolist()):
        pieces = max(1, int(np.ceil((t - now) * rate / 60.0 / 2000.0)))
        for _ in range(pieces):
            h = (t - now) / pieces
            middle = p + 0.5 * h * rate / 60.0 * law(p)
            p = min(p + h * rate / 60.0 * law(min(middle, ATMOSPHERE)), ATMOSPHERE)
        now, out[i] = t, p
    return out


def _pulled(rng: np.random.Generator, length: float, sampling: float, base: float) -> tuple[FloatArray, FloatArray]:
    """Return the moments and pressures of a pull: a fast fall, a slower one, and a tail that fades as 1/t."""
    time = np.arange(0.0, length + 0.5 * sampling, sampling)
    fast = rng.uniform(8.0, 40.0)
    slow = rng.uniform(60.0, 150.0)
    fall = ATMOSPHERE * np.exp(-time / fast) + 3000.0 * np.exp(-time / slow)
    tail = base * (1.0 + rng.uniform(0.05, 0.4) * (length / (time + 60.0) - 1.0))
    # The two bases meet where the pull ends.
    return time, np.minimum(fall + tail - tail[-1] + base, ATMOSPHERE)


def _made(
    rng: np.random.Generator, pull: tuple[FloatArray, FloatArray], rise: FloatArray, sampling: float, truth: float
) -> Scene:
    """Return a scene of a pull and what followed it."""
    time, fall = pull
    after = time[-1] + sampling * np.arange(1, len(rise) + 1)
    pure = np.concatenate((fall, rise))
    noise = rng.uniform(0.3, 1.0)
    micron = np.maximum(pure * (1.0 + rng.normal(0.0, 5e-4, len(pure))) + rng.normal(0.0, noise, len(pure)), 0.0)
    moments = np.concatenate((time, after))
    return Scene(moments, micron, pure, ((float(time[-1]), float(moments[-1])),), truth, noise, sampling, pure)


def gross(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a rise of 1,500 to 60,000 micron/min: few readings between base and rail, then the rail for minutes."""
    rate = log_uniform(rng, 1500.0, 60_000.0)
    sampling = float(rng.choice((1.0, 2.0, 5.0, 10.0)))
    base = log_uniform(rng, 20.0, 700.0)
    top = float(rng.choice((20_000.0, 25_000.0, 12_000.0)))
    pull = _pulled(rng, rng.uniform(900.0, 3000.0), sampling, base)
    after = sampling * np.arange(1, int(rng.uniform(120.0, 900.0) / sampling) + 1)
    # The valve is closed somewhere between two rows.
    rise = rising(after - rng.uniform(0.0, 0.9) * sampling, base, rate, laminar)
    here = _made(rng, pull, rise, sampling, rate)
    is_word = rng.random() < 0.5
    shown = here.micron if is_word else np.minimum(here.micron, top)
    return replace(usual(here), cells=written(shown, upper=top), upper=top, has_mark=True)


def _metered(seed: int, rng: np.random.Generator, law: Callable[[float], float]) -> Sheet:
    hold = float(rng.choice((600.0, 1200.0, 1800.0)))
    sampling = float(rng.choice((1.0, 2.0, 5.0)))
    rate = rng.uniform(0.3, 1.6) * ATMOSPHERE / (hold / 60.0)
    base = log_uniform(rng, 100.0, 2000.0)
    pull = _pulled(rng, rng.uniform(900.0, 2400.0), sampling, base)
    after = sampling * np.arange(1, int(hold / sampling) + 1)
    here = _made(rng, pull, rising(after, base, rate, law), sampling, rate)
    # A piezo gauge: one step over the whole range.
    cells = tuple(f"{v / 750.0617:.1f}" for v in here.micron.tolist())
    return Sheet(here, here.time, cells, upper=1e9, unit="mbar", heading="p [mbar]", step=75.0, has_mark=True)


def metered_laminar(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a rise to 30 to 95 % of atmosphere through a fine path."""
    return _metered(seed, rng, laminar)


def metered_orifice(seed: int, rng: np.random.Generator) -> Sheet:
    """Return the same through an orifice."""
    return _metered(seed, rng, nozzle)


def hump(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with a hump under the running pump: ballast, a second valve, a trapped volume."""
    here = scene(seed)
    start = here.holds[0][0]
    at = rng.uniform(0.4 * start, start - 420.0)
    height, up, down = rng.uniform(0.5, 3.0), rng.uniform(5.0, 40.0), rng.uniform(20.0, 90.0)
    since = np.maximum(here.time - at, 0.0)
    factor = 1.0 + np.where(here.time < start, height * (1 - np.exp(-since / up)) * np.exp(-since / down), 0.0)
    changed = replace(here, micron=here.micron * factor, pure=here.pure * factor)
    return replace(usual(changed), cells=written(changed.micron))


def wet_far_end(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a rise by 1,000 to 3,000 micron within seconds, then twenty times slower: water behind a hose, far from
    the gauge; a leak of up to 3 micron/min, or none, beside it."""
    truth = 0.0 if rng.random() < 0.4 else log_uniform(rng, 0.5, 3.0)
    sampling = float(rng.choice((1.0, 2.0, 5.0)))
    hold = float(rng.choice((600.0, 1200.0, 1800.0)))
    base = log_uniform(rng, 100.0, 400.0)
    pull = _pulled(rng, rng.uniform(1200.0, 3000.0), sampling, base)
    t = sampling * np.arange(1, int(hold / sampling) + 1)
    jump, quick = rng.uniform(1000.0, 3000.0), rng.uniform(2.0, 8.0)
    # Water warms again and nears its saturation: from the slow end on over several holds.
    ceiling, slow = rng.uniform(8_000.0, 15_000.0), hold * rng.uniform(1.0, 4.0)
    near = base + jump * (1.0 - np.exp(-t / quick))
    rise = near + (ceiling - near) * (1.0 - np.exp(-t / slow)) + truth * t / 60.0
    here = _made(rng, pull, rise, sampling, truth)
    return replace(usual(here), cells=written(here.micron), upper=RAIL, has_mark=True)
