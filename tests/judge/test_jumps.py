"""A gauge that jumps within a hold: found, named, and carried by the interval; what is no jump is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay.judge.finding import Cause, Level, Result
from decay.judge.place import feigned, jumps_in
from decay.pipeline import judge_case
from decay.quantities import MICRON
from tests.judge.factories import ISOLATION, MICRON_PER_MINUTE, leaking_fit, make_case, make_fit, rates
from tests.judge.test_rules import found
from tests.judge.whole_log_cases import HOUR, JUMP_AT, jumping

TIME = np.arange(0.0, HOUR + 1.0, 10.0)


@pytest.mark.parametrize("size", [-18.0, 8.0, 40.0])
def test_a_jump_is_found_with_its_time_and_its_height(size):
    log = jumping(250.0 + 2.0 * TIME / 60.0, size)
    (jump,) = jumps_in(log, ISOLATION, ISOLATION + HOUR)
    assert jump.time == pytest.approx(ISOLATION + JUMP_AT, abs=10.0)
    assert jump.size / MICRON == pytest.approx(size, abs=1.5)
    assert jump.is_within_a_range_change is (abs(size) < 0.045 * 300.0)


def test_a_line_with_a_step_is_wrong_by_no_more_than_what_the_step_can_feign():
    """Least squares of a line through a step of one, at every place (numpy.polyfit)."""
    time = np.linspace(0.0, 1.0, 201)
    slopes = [np.polyfit(time, time > place, 1)[0] for place in np.linspace(0.05, 0.95, 19)]
    (jump,) = jumps_in(jumping(250.0 + 0.0 * TIME, 40.0), ISOLATION, ISOLATION + HOUR)
    assert max(slopes) * jump.size / HOUR <= feigned((jump,), HOUR) * 1.01
    assert max(slopes) == pytest.approx(1.5, rel=0.02)


@pytest.mark.parametrize("rise", [
    250.0 + 300.0 * (1.0 - np.exp(-TIME / 200.0)),  # quick at first
    250.0 + 2.0 * TIME / 60.0 + 40.0 * np.clip((TIME - JUMP_AT) / 120.0, 0.0, 1.0),  # within two minutes, not at once
    50.0 * np.round((250.0 + 3.0 * TIME / 60.0) / 50.0),  # steps of fifty
])  # fmt: skip
def test_what_takes_its_time_and_what_is_a_step_of_the_gauge_is_no_jump(rise):
    log = jumping(rise, 0.0)
    step = np.full(len(log.time), 50.0 * MICRON) if np.ptp(rise % 50.0) == 0.0 else log.step
    assert jumps_in(replace(log, step=step), ISOLATION, ISOLATION + HOUR) == ()


def test_a_jump_beyond_a_change_of_range_passes_nothing_and_a_smaller_one_widens_the_limit():
    quiet = make_case(log=jumping(250.0 + 0.0 * TIME, 0.0))
    assert judge_case(quiet).result is Result.PASS
    exchanged = make_case(log=jumping(250.0 + 0.0 * TIME, 40.0))
    assert found(exchanged, "P18")[0].level is Level.BLOCKS
    assert judge_case(exchanged).result is Result.INCONCLUSIVE
    ranged = make_case(log=jumping(250.0 + 0.0 * TIME, 9.0))
    assert found(ranged, "P18")[0].level is Level.CAVEAT
    assert ranged.detection_limit > quiet.detection_limit
    wider = (ranged.leak.high - quiet.leak.high) / MICRON_PER_MINUTE
    assert wider == pytest.approx(1.5 * 9.0 / 60.0, abs=1.5 * 1.5 / 60.0)  # the height is told to 1.5 micron


def test_a_leak_that_a_jump_may_have_made_is_not_named():
    fit = leaking_fit(leak=rates(0.3, 0.2, 0.4))
    assert make_case(fit, log=jumping(250.0 + 0.3 * TIME / 60.0, 0.0)).cause is Cause.LEAK
    case = make_case(fit, log=jumping(250.0 + 0.3 * TIME / 60.0, 10.0))
    assert case.cause is Cause.UNRESOLVED
    assert not case.is_leak_seen
    assert found(case, "P18")[0].level is Level.BLOCKS
    sure = make_case(leaking_fit(leak=rates(3.0, 2.8, 3.2)), log=jumping(250.0 + 3.0 * TIME / 60.0, 10.0))
    assert sure.cause is Cause.LEAK


def test_without_a_jump_nothing_is_widened():
    case = make_case(make_fit())
    assert case.jumps == ()
    assert case.feigned == 0.0
