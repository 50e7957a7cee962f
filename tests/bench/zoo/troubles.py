"""The troubles of the zoo by name, and the log of each for a seed."""

from __future__ import annotations

from collections.abc import Callable
from zlib import crc32

import numpy as np

from tests.bench.zoo import gauges, loggers, rises
from tests.bench.zoo.scene import scene
from tests.bench.zoo.sheet import Sheet, usual


def plain(seed: int, rng: np.random.Generator) -> Sheet:
    """Return a log without a trouble, by which the others are measured."""
    return usual(scene(seed))


TROUBLES: tuple[Callable[[int, np.random.Generator], Sheet], ...] = (
    plain,
    gauges.two_digits, gauges.coarse_steps, gauges.range_jump, gauges.wandering_gain, gauges.top_rail_number,
    gauges.top_rail_word, gauges.bottom_rail, gauges.zero_offset, gauges.no_numbers, gauges.wrong_in_pull,
    gauges.wrong_at_closing, gauges.wrong_in_hold, gauges.every_fiftieth, gauges.one_percent, gauges.lone_words,
    gauges.gauge_changed, gauges.pump_side, gauges.two_gauges,
    loggers.restarts, loggers.stray_row, loggers.minute_stamps, loggers.on_change, loggers.clock_step,
    loggers.powers_of_ten, loggers.usual_units, loggers.error_column, loggers.valve_marks,
    rises.gross, rises.metered_laminar, rises.metered_orifice, rises.hump, rises.wet_far_end,
)  # fmt: skip
"""Every trouble; its function makes one log of a seed."""
BY_NAME = {trouble.__name__: trouble for trouble in TROUBLES}
WITH_WRONG_READINGS = (
    "wrong_in_pull", "wrong_at_closing", "wrong_in_hold", "every_fiftieth", "one_percent", "lone_words",
)  # fmt: skip
"""The troubles that are nothing but wrong readings in a plain log: the verdict must be that of the plain one."""


APART = 100_000
"""Between the evacuations of two troubles: each draws its own, or one that is missed would be missed in all of them."""


def sheet(name: str, seed: int) -> Sheet:
    """Return the log of a trouble; the same seed gives the same log. Kinds go round by the seed in every trouble."""
    own = seed + APART * list(BY_NAME).index(name)
    return BY_NAME[name](own, np.random.default_rng([own, crc32(name.encode())]))
