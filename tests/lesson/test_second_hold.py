"""What a second and a warm hold would have told of an invented system (synthetic)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from decay.lesson.holds import with_second_hold
from decay.lesson.lesson_text import second_hold
from decay.several.warm import LEAST_WARMING, Condition
from decay.simulation import Gas, Job, Leak, Pool, Step, StepKind

RATE = 0.133322387415 / 60.0
STEPS = (Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 2400.0), Step(StepKind.HOLD, 1200.0))
SLOW = 4 * 1200.0


@pytest.fixture(scope="module")
def told():
    pool = Pool(8.0 * RATE * SLOW * 3.15e-3 * 1.6, SLOW, Gas.WATER)
    return with_second_hold(Job(pools=(pool,), leaks=(Leak(4.0 * RATE),), steps=STEPS))


def test_the_same_system_is_asked_three_times(told):
    alone, again, warm = (a.basis.leak for a in (told.alone, told.again, told.warm))
    for leak in (alone, again, warm):
        assert leak.low <= 4.0 * RATE <= leak.high
    assert len(told.alone.holds) == 1
    assert told.again.warm is None
    assert not told.warm.warm.failed
    cold, hot = told.warm.warm.temperatures
    assert hot - cold >= LEAST_WARMING - 0.1
    assert told.warm.warm.alone.value == pytest.approx(alone.value, rel=0.1)


@pytest.mark.parametrize(("changes", "said"), [
    ({}, "15 K warmer it rises "),
    ({"growth": None}, "one hold hardly rises, so the pace cannot be compared: a leak of "),
    ({"failed": (Condition.WATER,), "leak": None}, "cannot answer: free water may lie in the system"),
    (None, "there is nothing to compare"),
])
def test_what_warmth_could_not_tell_is_said_with_its_reason(told, changes, said):
    found = None if changes is None else replace(told.warm.warm, **changes)
    assert said in second_hold(replace(told, warm=replace(told.warm, warm=found)))[1]
