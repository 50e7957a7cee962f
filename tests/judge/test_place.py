"""Where the gauge sits: a fall at the closing blocks a pass, and gauges that disagree widen the interval."""

from __future__ import annotations

import math

import numpy as np
import pytest

from decay.interval import Interval
from decay.judge.around import JudgedStretch
from decay.judge.finding import Cause, Level, Result
from decay.judge.place import Beside, fall_at_closing, fall_within, opens_with_fall, widened_by
from decay.pipeline import judge_case
from tests.judge.factories import ISOLATION, MICRON_PER_MINUTE, make_case, make_fit, make_log
from tests.judge.test_rules import found
from tests.judge.whole_log_cases import HOUR, PULL, at_bottom, at_pump, beside_hold, log_of


def test_a_fall_at_the_closing_keeps_a_quiet_hold_from_passing():
    assert judge_case(at_pump(230.0)).result is Result.PASS
    case = at_pump(15.0)
    verdict = judge_case(case)
    assert verdict.result is Result.INCONCLUSIVE
    assert verdict.cause is Cause.UNRESOLVED
    assert case.leak is not None
    assert math.isinf(case.leak.high)
    (finding,) = found(case, "P15")
    assert finding.level is Level.BLOCKS
    assert "pump's side" in finding.summary


def test_a_gauge_that_stands_while_another_rises_passes_nothing():
    case = beside_hold(1.5, 600.0)
    assert judge_case(case).result is Result.INCONCLUSIVE
    assert "--gauge" in found(case, "P15")[0].summary


@pytest.mark.parametrize("level", [0.75, 1.25])
def test_the_interval_holds_what_either_gauge_shows(level):
    leak = Interval(10.0, 9.0, 11.0)
    wide = widened_by(leak, (Beside("other", level, 10.0 * level, 10.0),))
    assert wide.low <= min(9.0, 9.0 * level)
    assert wide.high >= max(11.0, 11.0 * level)
    assert widened_by(leak, (Beside("other", 1.05, 10.5, 10.0),)) is leak


def test_a_gauge_on_the_pumps_side_takes_nothing_from_a_leak_that_the_other_shows():
    leak = Interval(10.0, 9.0, 11.0)
    assert widened_by(leak, (Beside("pump", 0.1, 0.2, 10.0),)) is leak


def test_at_the_bottom_of_its_range_a_gauge_says_how_much_may_hide():
    """40 micron in sixty minutes: 0.67 micron/min."""
    case = at_bottom(np.array((300.0, 200.0, 120.0, 70.0)))
    assert case.leak is not None
    assert case.detection_limit is not None
    assert case.leak.high / MICRON_PER_MINUTE == pytest.approx(40.0 / 60.0, rel=1e-6)
    assert case.detection_limit >= case.leak.high
    assert "0.67 micron/min" in found(case, "P14")[0].summary


def test_one_number_all_the_time_may_be_the_end_of_a_range_however_slowly_it_was_reached():
    slowly = np.array((43.0, 42.0, 41.0, 41.0))
    assert "0.67 micron/min" in found(at_bottom(slowly), "P14")[0].summary
    assert found(at_bottom(slowly, 1.0), "P14") == ()


def test_a_hold_that_opens_with_a_fall_shows_the_pump_though_it_rises_after_it():
    creep = np.linspace(372.0, 370.0, 60)
    held = 268.0 + 60.0 * (1.0 - np.exp(-np.arange(0.0, HOUR + 10.0, 10.0) / 600.0))
    fit = make_fit(start=370.0, rise=-42.0)
    case = make_case(fit, log=log_of(np.concatenate((PULL[:-60], creep)), np.concatenate(([370.0], held[1:]))))
    assert opens_with_fall(case.log, case.stretch)
    mended = make_case(fit, log=log_of(np.concatenate((PULL[:-60], creep)), 370.0 + held - 268.0))
    assert not opens_with_fall(mended.log, mended.stretch)


TIME = np.arange(0.0, HOUR + 1.0, 10.0)
CREPT = 20.0 * np.minimum(TIME / 1800.0, 1.0)
NOISE = np.random.default_rng(8).normal(0.0, 2.5, len(TIME))


def test_a_hold_into_which_the_pump_is_let_again_passes_nothing():
    again = 60.0 + 1.5 * CREPT - 30.0 * np.clip((TIME - 1800.0) / 30.0, 0.0, 1.0) + NOISE
    case = make_case(make_fit(start=60.0), log=log_of(PULL, again))
    (finding,) = found(case, "H13")
    assert finding.level is Level.BLOCKS
    assert "pump" in finding.summary
    fall = case.fall_within
    assert fall is not None
    assert fall.start <= ISOLATION + 1830.0
    assert fall.end >= ISOLATION + 1800.0
    assert judge_case(case).result is Result.INCONCLUSIVE


@pytest.mark.parametrize("held", [
    60.0 + CREPT + NOISE,
    60.0 + 6.0 * np.sin(TIME / 40.0) + NOISE,  # waves of the gauge
    600.0 - 24.0 * np.clip((TIME - 1800.0) / 60.0, 0.0, 1.0) + NOISE,  # a change of its range
    600.0 - 60.0 * np.clip((TIME - 600.0) / 1800.0, 0.0, 1.0) + NOISE,  # half an hour in a cooling room
    60.0 + 40.0 * np.exp(-TIME / 25.0) + NOISE,  # rig and system meet
])  # fmt: skip
def test_noise_waves_and_slow_falls_are_no_pump_let_in(held):
    assert fall_within(log_of(PULL, held), ISOLATION, ISOLATION + HOUR) is None


def test_an_earlier_hold_that_is_pumped_down_again_is_no_closing():
    # A pull, a hold that levels off at 900 micron within minutes, ten minutes of pump, and the hold that is judged.
    step = 5.0
    first = 400.0 + 500.0 * (1.0 - np.exp(-np.arange(0.0, 900.0, step) / 120.0))
    again = 100.0 + 800.0 * np.exp(-np.arange(0.0, 600.0, step) / 30.0)
    held = np.full(240, 100.0)
    log = make_log(np.concatenate((np.geomspace(20000.0, 400.0, 120), first, again, held)), sampling=step)
    end = float(log.time[0]) + step * (120 + len(first))
    stretch = JudgedStretch(end + 600.0, float(log.time[-1]), 0.0, 0.01, False)
    assert fall_at_closing(log, stretch) is not None
    assert fall_at_closing(log, stretch, since=end) is None
