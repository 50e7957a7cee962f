"""While it runs: a hold that leaves a leak open names the test that settles it sooner (synthetic holds)."""

from __future__ import annotations

from functools import cache

from decay.several.next_test import AIM, TestKind
from decay.several.next_test_words import deciding
from decay.several.warm import LEAST_WARMING
from decay.watch import Decision
from decay.watch.watch_line import short_line, sooner, watch_line

from ..fit.holds import levelling, steady, together
from .test_sequence import followed

SLOW = 3 * 2400.0


@cache
def left_open():
    """Return the statuses of a hold with a leak of 3 micron/min and a slow source that is as fast at first."""
    return followed(together(steady(3.0), levelling(3.0 * SLOW / 60.0, SLOW)), ranks_tests=True)


def open_status():
    """Return the first status that is left open with a rise clear enough for a hold."""
    return next(s for s in left_open() if s.is_new_look and s.decision is Decision.OPEN and not s.look.is_flat)


def test_an_open_hold_names_a_test_that_is_sooner_than_holding_on():
    last = open_status()
    test = sooner(last, last.look)
    assert test.kind is not TestKind.LONGER
    assert test.chance >= AIM
    assert 60.0 * test.minutes < last.look.decisive_length - last.phase.duration
    line = watch_line(last, None)
    assert "sooner: " in line
    assert ("no flame" in line) is (test.kind is TestKind.WARM)
    assert LEAST_WARMING == 15.0  # as the manual page has it


def test_the_line_of_a_terminal_says_it_within_sixty_columns():
    status = open_status()
    line = short_line(status, 59)  # of sixty the last column stays free
    assert len(line) <= 59
    assert line.endswith("%")
    assert "; left open; " in short_line(status, 100)


def test_nothing_is_advised_where_nothing_is_open():
    shown = followed(steady(20.0), ranks_tests=True)
    dry = followed(steady(0.0), allow="2 micron/min", ranks_tests=True)
    for statuses in (shown, dry):
        looks = [status.look for status in statuses if status.is_new_look]
        assert not any(deciding(look.next_tests) for look in looks[-2:])
    assert "sooner" not in watch_line(shown[-1], None)
