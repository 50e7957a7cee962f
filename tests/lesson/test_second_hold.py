"""What a second and a warm hold would have told of an invented system (synthetic)."""

from __future__ import annotations

import pytest

from decay.fit.warm import LEAST_WARMING
from decay.lesson.holds import with_second_hold
from decay.simulate import Gas, Job, Leak, Pool, Step, StepKind

RATE = 0.133322387415 / 60.0
STEPS = (Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 2400.0), Step(StepKind.HOLD, 1200.0))
SLOW = 4 * 1200.0


def test_the_same_system_is_asked_three_times():
    pool = Pool(8.0 * RATE * SLOW * 3.15e-3 * 1.6, SLOW, Gas.WATER)
    told = with_second_hold(Job(pools=(pool,), leaks=(Leak(4.0 * RATE),), steps=STEPS))
    alone, again, warm = (a.basis.leak for a in (told.alone, told.again, told.warm))
    for leak in (alone, again, warm):
        assert leak.low <= 4.0 * RATE <= leak.high
    assert len(told.alone.holds) == 1
    assert told.again.warm is None
    assert not told.warm.warm.failed
    cold, hot = told.warm.warm.temperatures
    assert hot - cold >= LEAST_WARMING - 0.1
    assert told.warm.warm.alone.value == pytest.approx(alone.value, rel=0.1)
