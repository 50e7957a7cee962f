"""A quick look at the promise bench: a few sorts of hold, few of each, with room for chance."""

from __future__ import annotations

import pytest

from .score import keep, table

HOLDS = 40


@pytest.mark.parametrize(
    ("sort", "length"), [("dry", 900.0), ("middling", 900.0), ("slow", 900.0), ("coarse dry", 900.0)]
)
def test_what_a_hold_states_comes_true(sort, length):
    kept = keep(sort, length, HOLDS)
    # Promised are 95 %: of 40 more than six missed would happen in 1 % of runs.
    assert kept.shown >= 34 / 40
    # Promised are at most 5 % false: more than five in 40 would happen in 1 % of runs.
    assert kept.false <= 5 / 40
    # 60 intervals at 95 %: more than eight missed would happen in 1 % of runs.
    assert kept.covered >= 52 / 60
    assert kept.wander < 0.1 * 2.0
    assert table([kept]).splitlines()[1].startswith(sort)
