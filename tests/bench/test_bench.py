"""A quick look at the calibration bench: four random jobs of every kind, judged whole, from log to verdict."""

from __future__ import annotations

import numpy as np
import pytest

from .jobs import KINDS
from .score import Outcome, outcome, table, tolerance

JOBS = 4


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    return [outcome(kind, 5000 + i) for kind in KINDS for i in range(JOBS)]


def test_no_tight_system_is_called_leaking(outcomes):
    assert not [o for o in outcomes if o.is_falsely_named]


def test_no_leak_above_twice_the_stated_limit_is_denied(outcomes):
    assert not [o for o in outcomes if o.is_found and o.is_denied]


def test_the_interval_covers_the_truth(outcomes):
    found = [o for o in outcomes if o.is_found]
    # At 95 % more than five misses among some forty would happen in 1 % of runs.
    assert sum(not o.is_covered for o in found) <= 5


def test_holds_are_found_and_visible_edges_are_placed(outcomes):
    assert np.mean([o.is_found for o in outcomes]) > 0.8
    visible = [o for o in outcomes if o.is_found and o.is_edge_visible]
    assert len(visible) >= 10
    assert np.mean([abs(o.start_error) <= tolerance(o.interval) for o in visible]) >= 0.85


def test_clear_leaks_are_named(outcomes):
    clear = [o for o in outcomes if o.is_found and o.kind == "leak" and o.truth > 30]
    assert clear
    assert all(o.is_named for o in clear)


def test_a_hold_whose_ends_are_told_is_judged_where_it_lies():
    told = [outcome(kind, 5000 + i, is_told=True) for kind in ("dry", "leak") for i in range(JOBS)]
    assert all(o.is_found and abs(o.start_error) <= tolerance(o.interval) for o in told)
    assert sum(not o.is_covered for o in told) <= 2


def test_the_table_has_a_row_for_each_kind_and_one_for_all(outcomes):
    lines = table(outcomes, by=lambda o: o.kind).splitlines()
    assert len(lines) == len(KINDS) + 2
    assert lines[-1].startswith("all")
