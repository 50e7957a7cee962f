"""Gauges that misbehave as real ones do: digits, steps, ranges, rails, offsets, wrong readings, the wrong place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.bench.jobs import log_uniform
from tests.bench.zoo.scene import Scene, scene
from tests.bench.zoo.sheet import SIZES, USUAL_STEPS, Sheet, steps_at, usual, written

NO_NUMBERS = ("9.9E37", "9.91E37", "9.99E+09", "1e308", "99999999", "-1")
"""Numbers that mean no number; the first two are infinity and not-a-number of SCPI 1999 (from memory)."""
FULL_SCALE = ("0", "25000", "99999", "20000")
COARSE_STEPS = ((1_000.0, 1.0), (2_500.0, 10.0), (10_000.0, 50.0), (1e9, 500.0))


def two_digits(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with two significant digits, in Torr or mbar: the step is 1 to 10 % of the reading."""
    here = scene(seed)
    unit = str(rng.choice(("Torr", "mbar")))
    upper = 760_000.0
    values = np.minimum(here.micron, upper) / SIZES[unit]
    # A real one does not go below the first digit of its lowest decade.
    cells = tuple(f"{max(v, 1e-3):.1e}" for v in values.tolist())
    start = float(np.interp(here.last[0], here.time, here.pure))
    step = 10.0 ** (np.floor(np.log10(start / SIZES[unit])) - 1) * SIZES[unit]
    return Sheet(here, here.time, cells, upper=upper, unit=unit, heading=f"p [{unit}]", step=float(step))


def coarse_steps(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log in steps of 1 below 1,000 micron, then 10, 50 and 500."""
    here = scene(seed)
    start = float(np.interp(here.last[0], here.time, here.pure))
    step = float(steps_at(np.array([start]), COARSE_STEPS)[0])
    return replace(usual(here), cells=written(here.micron, COARSE_STEPS), step=step)


def range_jump(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log that jumps by 1 to 4 % where the gauge changes its range, with hysteresis; right at the closing."""
    here = scene(seed)
    start, end = here.last
    low, high = np.interp((start, end), here.time, here.pure)
    # In two of three logs the change lies within the hold's rise.
    at = float(rng.uniform(low, max(high, 1.02 * low))) if rng.random() < 0.67 else log_uniform(rng, 100.0, 10_000.0)
    jump = float(rng.choice((-1.0, 1.0)) * rng.uniform(0.01, 0.04))
    width = float(rng.uniform(0.0, 0.01))
    is_upper = bool(here.pure[0] > at)
    upper = np.empty(len(here.time), dtype=bool)
    for i, p in enumerate(here.micron.tolist()):
        is_upper = p > at * (1 - width) if is_upper else p > at * (1 + width)
        upper[i] = is_upper
    gain = np.where(upper, 1.0 + jump, 1.0)
    gain /= gain[int(np.searchsorted(here.time, start))]
    return replace(usual(here), cells=written(here.micron * gain))


def wandering_gain(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose gain wanders smoothly by some per cent a decade; right on the average of the hold."""
    here = scene(seed)
    decades, phase = rng.uniform(1.5, 4.0), rng.uniform(0.0, 2 * np.pi)
    size = rng.uniform(0.01, 0.04)

    def shown(micron: np.ndarray) -> np.ndarray:
        return micron * (1.0 + size * np.sin(2 * np.pi * np.log10(np.maximum(micron, 1e-3)) / decades + phase))

    low, high = np.interp(here.last, here.time, here.pure)
    ends = shown(np.array([low, max(high, low + 1.0)]))
    scale = float((max(high, low + 1.0) - low) / (ends[1] - ends[0])) if high > low else 1.0
    return replace(usual(here), cells=written(np.maximum(shown(here.micron) * scale, 0.0)))


def _railed(seed: int, rng: np.random.Generator) -> tuple[Scene, float]:
    """Return a scene of a leak or water with a top of the range that its hold reaches within half of its time."""
    here = scene(seed, ("leak", "wet", "leak_damp", "rig_leak"))
    start, end = here.last
    low, half = np.interp((start, 0.6 * end + 0.4 * start), here.time, here.pure)
    tops = (1000.0, 2000.0, 5000.0, 10_000.0, 12_000.0, 20_000.0, 25_000.0)
    fitting = [top for top in tops if 1.5 * low + 50.0 < top < half] or [20_000.0]
    return here, fitting[0]


def top_rail_number(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log that stands at the largest value of its range while the pressure is above it."""
    here, top = _railed(seed, rng)
    return replace(usual(here), cells=written(np.minimum(here.micron, top)), upper=top)


def top_rail_word(seed: int, rng: np.random.Generator) -> Sheet:
    """Return the same with a word instead of the number."""
    here, top = _railed(seed, rng)
    word = str(rng.choice(("OL", "HI", "----", "over", ">range")))
    return replace(usual(here), cells=written(here.micron, upper=top, over=word), upper=top)


def bottom_rail(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log of a gauge that does not read below some value, which the pull reaches."""
    here = scene(seed)
    start = float(np.interp(here.last[0], here.time, here.pure))
    rails = np.array((5.0, 10.0, 20.0, 50.0, 100.0, 500.0, 1000.0))
    above = rails[rails > start]
    rail = float(above[0]) if len(above) else 1000.0
    sheet = replace(usual(here), cells=written(np.maximum(here.micron, rail)))
    _, end = here.last
    last = float(np.interp(end, here.time, here.pure))
    return replace(sheet, has_mark=bool(last > rail + 3.0 + 8.0 * here.noise))


def zero_offset(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose zero is off: some readings at the end of the pull lie below zero."""
    here = scene(seed)
    start = float(np.interp(here.last[0], here.time, here.pure))
    offset = start + rng.uniform(1.0, 5.0) + 2.0 * here.noise
    size = steps_at(here.micron, USUAL_STEPS)
    shown = np.round((here.micron - offset) / size) * size
    cells = tuple("OL" if v > 25_000 else f"{v:.0f}" for v in shown.tolist())
    return replace(usual(here), cells=cells)


def no_numbers(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log that writes a number which means none above the gauge's range, and two in its pull."""
    here = scene(seed)
    word = NO_NUMBERS[seed % len(NO_NUMBERS)]
    sheet = replace(usual(here), cells=written(here.micron, over=word))
    pull = np.flatnonzero((here.time < here.holds[0][0]) & (here.micron < 20_000))
    return sheet.with_cells({int(i): word for i in rng.choice(pull, 2, replace=False)})


def _one_wrong(seed: int, rng: np.random.Generator, where: str) -> Sheet:
    here = scene(seed)
    start, end = here.last
    row = here.sampling
    bounds = {"pull": (60.0, start - 10 * row), "closing": (start - 2 * row, start + 2 * row),
              "hold": (start + 5 * row, end - 5 * row)}  # fmt: skip
    inside = np.flatnonzero(here.inside(*bounds[where]))
    return usual(here).with_cells({int(rng.choice(inside)): str(rng.choice(FULL_SCALE))})


def wrong_in_pull(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with one wrong reading in its pull: zero, full scale, 99999."""
    return _one_wrong(seed, rng, "pull")


def wrong_at_closing(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with one wrong reading within two rows of the closing."""
    return _one_wrong(seed, rng, "closing")


def wrong_in_hold(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with one wrong reading in its hold."""
    return _one_wrong(seed, rng, "hold")


def every_fiftieth(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log in which every 50th row is a wrong reading."""
    here = scene(seed)
    word = FULL_SCALE[seed % len(FULL_SCALE)]
    return usual(here).with_cells(dict.fromkeys(range(int(rng.integers(10, 50)), len(here.time), 50), word))


def one_percent(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log in which one reading in a hundred is wrong, anywhere."""
    here = scene(seed)
    rows = np.flatnonzero(rng.random(len(here.time)) < 0.01)
    return usual(here).with_cells({int(i): str(rng.choice(FULL_SCALE)) for i in rows})


def lone_words(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log with one to three words where a reading should stand, in its hold."""
    here = scene(seed)
    inside = np.flatnonzero(here.inside(*here.last))[3:-3]
    rows = rng.choice(inside, int(rng.integers(1, 4)), replace=False)
    return usual(here).with_cells({int(i): str(rng.choice(("ERR", "---", "NaN", "E04", ""))) for i in rows})


def gauge_changed(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log whose gauge is changed in mid-hold: from one row on it reads another level, or the air outside."""
    here = scene(seed)
    start, end = here.last
    at = rng.uniform(start + 0.5 * (end - start), start + 0.8 * (end - start))
    after = here.time >= at
    shown = here.micron.copy()
    shown[after] = rng.choice((760_000.0, 3.0 * here.micron[after].mean() + 500.0)) + 0 * shown[after]
    sheet = replace(usual(here), cells=written(shown))
    start_level, last = np.interp((start, at), here.time, here.pure)
    cut = replace(here, holds=(*here.holds[:-1], (start, at)))
    return replace(sheet, scene=cut, has_mark=bool(last - start_level > 3.0 * sheet.step + 8.0 * here.noise))


def pump_side(seed: int, rng: np.random.Generator) -> Sheet:
    """Return the log of a gauge between valve and pump: it falls at the closing and shows nothing of the leak."""
    here = scene(seed, ("leak", "leak_damp", "rig_leak"))
    start, _ = here.last
    level = float(np.interp(start, here.time, here.pure))
    ultimate = min(rng.uniform(3.0, 20.0), 0.6 * level)
    after = here.time > start
    shown = here.micron.copy()
    fall = ultimate + (level - ultimate) * np.exp(-(here.time[after] - start) / rng.uniform(2.0, 20.0))
    shown[after] = np.maximum(fall + (here.micron - here.pure)[after], 0.0)
    return replace(usual(here), cells=written(shown), has_mark=False, has_answer=False)


def two_gauges(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log of two gauges that differ by a quarter; either may be the right one."""
    here = scene(seed)
    other = here.micron * float(rng.choice((0.75, 1.25)))
    names = [("near", written(here.micron)), ("far", written(other))]
    rng.shuffle(names)
    (first, cells), second = names
    return replace(usual(here), cells=cells, heading=f"{first} [micron]", more=((f"{second[0]} [micron]", second[1]),))
