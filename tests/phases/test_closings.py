"""Closings that the search once missed, each beside the like of it that must stay none: all synthetic."""

from __future__ import annotations

import numpy as np
import pytest

from decay.log.pressure_log import PressureLog
from decay.phases import Kind, Phase, find_phases
from tests.phases.truth import MICRON


def holds(log: PressureLog) -> list[Phase]:
    return [phase for phase in find_phases(log) if phase.kind is Kind.HOLD]


def made(time, micron, step: float = 1.0) -> PressureLog:
    """Return a log of pressures [micron] as a gauge with a step [micron] shows them."""
    count = len(time)
    shown = np.round(np.asarray(micron) / step) * step * MICRON
    steps = np.full(count, step * MICRON)
    return PressureLog("made", time, shown, np.arange(count), np.zeros(count, bool), steps, "g", "micron", count)


class TestClosingsThatHid:
    """Holds that a log of its own kind hid from the search, each beside what must stay none."""

    @staticmethod
    def levelling(sampling: float = 2.0) -> PressureLog:
        """Return a long pull and three holds that level off within minutes, each pumped down slowly."""
        time = np.arange(0.0, 4000.0, sampling)
        pressure, now = np.empty(len(time)), 2000.0
        for i, moment in enumerate(time):
            is_shut = any(begin <= moment < end for begin, end in ((1800, 2150), (2350, 3150), (3400, 4000)))
            target, pace = (205.0, 110.0) if is_shut else (115.0 + 30.0 * np.exp(-moment / 1500.0), 70.0)
            if not is_shut and moment < 1800:
                target, pace = 100.0 + 9e4 / (moment + 60.0), 60.0
            now += (target - now) * -np.expm1(-sampling / pace)
            pressure[i] = now
        return made(time, pressure + np.random.default_rng(5).normal(0.0, 0.3, len(time)))

    def test_several_that_level_off_are_no_wander_of_the_gauge(self):
        assert [hold.start for hold in holds(self.levelling())] == pytest.approx([1800.0, 2350.0, 3400.0], abs=12.0)

    def test_the_closing_comes_after_the_knee_of_a_fast_pull(self):
        # Ten seconds apart, a coarse step: the pull stops at 20 micron for minutes before the valve closes.
        time = np.arange(0.0, 3900.0, 10.0)
        closed = 437.0
        since, shut = np.clip(time - 140.0, 0.0, None), np.clip(time - closed, 0.0, None)
        pulled = np.where(time < 145.0, 7e5, 17.0 + 7e5 * np.exp(-since / 6.0) + 60.0 * np.exp(-since / 60.0))
        pressure = pulled + 330.0 * (shut / (shut + 1200.0)) ** 0.8
        pressure += np.random.default_rng(3).normal(0.0, 1.0, len(time))
        (hold,) = holds(made(time, pressure, 5.0))
        assert hold.start == pytest.approx(closed, abs=40.0)

    @staticmethod
    def with_pause(low_after: bool) -> PressureLog:
        """Return a pull, half an hour without a reading, and a pull from high up, or the hold that went on."""
        time = np.concatenate([np.arange(0.0, 3900.0, 10.0), np.arange(5700.0, 7200.0, 10.0)])
        pumped = 60.0 + 2e5 * np.exp(-time / 60.0)
        after = time >= 3900.0 - 600.0
        rise = np.where(after, 0.3 * (time - 3300.0), 0.0)
        if not low_after:
            pumped = np.where(time >= 5700.0, 60.0 + 9000.0 * np.exp(-(time - 5700.0) / 90.0), pumped)
            rise = np.zeros(len(time))
        pressure = pumped + rise + np.random.default_rng(2).normal(0.0, 0.3, len(time))
        return made(time, pressure)

    def test_no_hold_goes_on_over_a_pause_into_the_next_pull(self):
        assert not [hold for hold in holds(self.with_pause(low_after=False)) if hold.end > 3900.0]

    def test_a_hold_goes_on_over_a_pause_where_its_rise_does(self):
        (hold,) = holds(self.with_pause(low_after=True))
        assert (hold.start, hold.end) == (pytest.approx(3300.0, abs=40.0), pytest.approx(7190.0, abs=11.0))

    @staticmethod
    def shut_for_three_minutes(is_pumped: bool) -> PressureLog:
        """Return a straight rise of three minutes that a slow pump takes away, or the same load under that pump."""
        time = np.arange(0.0, 1500.0, 2.0)
        pressure, now = np.empty(len(time)), 9e4
        for i, moment in enumerate(time):
            is_on = 1000.0 <= moment < 1190.0
            load = 42.0 if is_on else 0.0
            drawn = 0.0 if is_on and not is_pumped else (now - 5800.0) / 60.0
            now += 2.0 * (load - drawn)
            pressure[i] = now
        pressure += np.random.default_rng(4).normal(0.0, 1.0, len(time))
        return made(time, pressure)

    def test_a_short_straight_rise_is_a_hold_though_the_pump_is_slow(self):
        (hold,) = holds(self.shut_for_three_minutes(is_pumped=False))
        assert hold.start == pytest.approx(1000.0, abs=4.0)

    def test_what_bends_at_the_pace_of_the_pump_is_a_hump(self):
        assert not holds(self.shut_for_three_minutes(is_pumped=True))

    @pytest.mark.parametrize(("readings", "found"), [(60, 1), (1, 0)])
    def test_a_rise_soon_over_is_a_hold_where_it_came_by_and_by(self, readings, found):
        # Behind the hose the system stood higher; what it holds is taken up again by and by.
        time = np.arange(0.0, 6000.0)
        closed = 2000.0
        since = np.clip(time - closed, 0.0, None)
        rise = np.where(since > 0.0, 960.0 * -np.expm1(-since / (readings / 3.0)) - 30.0 * since / 4000.0, 0.0)
        pressure = 110.0 + 9e4 * np.exp(-time / 40.0) + 800.0 * np.exp(-time / 500.0) + rise
        pressure += np.random.default_rng(6).normal(0.0, 1.0, len(time))
        assert [hold.start for hold in holds(made(time, pressure, 5.0))] == pytest.approx([closed] * found, abs=4.0)
