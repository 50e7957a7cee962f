"""The next test: what is expected of holds not made yet, by hand, and how the tests are ranked (invented holds)."""

from __future__ import annotations

import numpy as np
import pytest

from decay.fit.measured import measure
from decay.several.next_test import AIM, LONGEST_TEST, NextTest, Outlook, TestKind, next_tests
from decay.several.next_test_words import what_to_do
from tests.bench.next_score import carried_out
from tests.fit.holds import MICRON, PER_MINUTE, fit_of, hold_log, levelling, steady, together


def made(rise, **changes):
    log, phase = hold_log(rise, **changes)
    return measure(log, phase, 296.0, 2.0), fit_of(log, phase)


def test_a_longer_hold_goes_on_as_the_fit_has_it():
    hold, _ = made(together(steady(6.0), levelling(40.0, 200.0)), length=1200.0, noise=0.1)
    longer = Outlook(hold, 1800.0, 6.0 * PER_MINUTE).longer(3600.0)
    rise = longer.bins.pressure[-1] - longer.bins.pressure[0]
    assert longer.bins.length == pytest.approx(3600.0, rel=0.01)
    # By hand, from the first bin on: 6 micron/min for an hour, and what is left of 40 micron.
    assert rise == pytest.approx((6.0 * longer.bins.time[-1] / 60.0 + 40.0 * np.exp(-14.0 / 200.0)) * MICRON, rel=0.02)


def test_a_second_hold_has_less_of_a_slow_source_and_all_of_the_leak():
    hold, _ = made(levelling(600.0, 6000.0), length=1200.0, noise=0.1)
    tight, leaking = (Outlook(hold, 1800.0, leak).again(900.0, 1200.0) for leak in (0.0, 2.0 * PER_MINUTE))
    # By hand: exp(-(1200 + 900) / 6000) = 0.705 of the first rise.
    first = 600.0 * -np.expm1(-1200.0 / 6000.0)
    assert tight.rise / MICRON == pytest.approx(0.705 * first, rel=0.05)
    assert leaking.rise > tight.rise


def test_a_warm_hold_has_more_of_a_slow_source():
    hold, _ = made(levelling(600.0, 12000.0), length=1200.0, noise=0.1)
    look = Outlook(hold, 1800.0, 0.0)
    grown = look.again(900.0, 1200.0, warmer=15.0, energy=55e3).rise / look.again(900.0, 1200.0).rise
    # By hand: 2.92 times as fast at 296 K, and it has run down 900 x 1.92 / 12,000 s further by then; within the
    # hold it bends more as well.
    assert 2.0 < grown < 2.92


def test_the_quickest_of_those_that_are_likely_to_decide_comes_first_and_places_come_last():
    tests = next_tests(*made(steady(4.0), length=600.0, noise=3.0), 1800.0)
    deciding = [t for t in tests if t.chance is not None]
    assert {t.kind for t in tests} == set(TestKind)
    assert [t.kind for t in tests[-2:]] == [TestKind.RIG, TestKind.SECTION]
    likely = [t.minutes for t in deciding if t.chance >= AIM]
    assert likely == sorted(likely)
    assert [t.chance >= AIM for t in deciding] == sorted((t.chance >= AIM for t in deciding), reverse=True)
    assert all(60.0 * t.minutes <= LONGEST_TEST and 0.0 <= t.chance <= 1.0 for t in deciding)


def test_a_quieter_gauge_needs_no_longer():
    noisy, quiet = (
        next(t for t in next_tests(*made(steady(4.0), length=600.0, noise=noise), 1800.0) if t.kind is TestKind.LONGER)
        for noise in (6.0, 0.3)
    )
    assert quiet.chance >= noisy.chance or quiet.minutes <= noisy.minutes


def test_nothing_rose_and_nothing_is_advised():
    hold, fit = made(lambda t: -5.0 * t / 600.0, length=600.0)
    assert fit.leak.value <= 0.0
    assert next_tests(hold, fit, 1800.0) == ()


@pytest.mark.parametrize(("kind", "seed"), [("leak", 40_001), ("rig_leak", 40_002), ("leak_damp", 40_003)])
def test_it_can_be_carried_out_in_simulation(kind, seed):
    done = carried_out(kind, seed)
    assert done is None or 0.0 < done.minutes <= LONGEST_TEST / 60.0


def test_what_holding_on_asks_for_adds_up_to_the_minute():
    # A hold of 2.07 min, eight times as long: 14.5 min more make 16.6.
    said = what_to_do(NextTest(TestKind.LONGER, 14.49, 0.35, 16.56 * 60.0))
    assert said == "Let the hold go on to 17 min (15 min more), or hold anew for as long"
