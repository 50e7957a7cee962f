"""A quick look at the zoo: every trouble is written and judged once, and what no log may do is not done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from functools import cache

import numpy as np
import pytest

from decay.pipeline import Ahead

from .zoo import gauges, loggers, rises, troubles
from .zoo.rises import ATMOSPHERE, CHOKED, laminar, nozzle, rising
from .zoo.scene import scene
from .zoo.score import Outcome, outcome, table
from .zoo.troubles import BY_NAME, sheet

SEEDS = (101, 106)
"""A plain leak and a slow source of the bench's kinds, by turns."""


@pytest.fixture(scope="module", autouse=True)
def each_evacuation_once() -> Iterator[None]:
    """Simulate the evacuation below a log once: it is written, and written again, by the trouble's own hand."""
    once = cache(scene)
    with pytest.MonkeyPatch.context() as patch:
        for room in (gauges, loggers, rises, troubles):
            patch.setattr(room, "scene", once)
        yield


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    # To follow an open hold up takes longer than all of the rest: each third log has to survive it.
    turns = [outcome(name, SEEDS[i % 2], ahead=Ahead.NOTHING if i % 3 else Ahead.TESTS)
             for i, name in enumerate(BY_NAME)]
    return turns + [outcome("plain", seed, ahead=Ahead.NOTHING) for seed in SEEDS]


def test_no_log_ends_in_an_internal_error(outcomes):
    assert not [o for o in outcomes if o.error and not o.is_refused]


def test_a_log_without_a_trouble_is_read_and_its_hold_found(outcomes):
    plain = [o for o in outcomes if o.trouble == "plain"]
    assert all(o.is_found and o.extra == 0 and o.is_covered for o in plain if o.leaves_mark)


def test_the_table_has_a_row_for_each_trouble_and_one_for_all(outcomes):
    lines = table(outcomes).splitlines()
    assert len(lines) == len(BY_NAME) + 2
    assert lines[-1].startswith("all")


def test_the_same_seed_makes_the_same_log():
    for i, name in enumerate(BY_NAME):
        seed = SEEDS[i % 2]
        made = sheet(name, seed)
        assert made.text() == sheet(name, seed).text(), name
        assert len(made.numbers) > 30, name
    one, two = scene(SEEDS[0]), scene(SEEDS[0])
    for field in fields(one):
        assert np.array_equal(getattr(one, field.name), getattr(two, field.name)), field.name


def test_each_trouble_draws_its_own_evacuations():
    assert len({sheet(name, 7).scene.last for name in ("plain", "two_digits", "coarse_steps")}) == 3


def test_the_rises_own_laws_hold():
    """The choked ratio of air is 0.528 in every gas dynamics handbook; a laminar inflow falls with 1 - (p/p_a)^2."""
    assert pytest.approx(0.528, abs=5e-4) == CHOKED
    assert nozzle(0.5 * ATMOSPHERE) == 1.0
    assert nozzle(0.999 * ATMOSPHERE) < 0.1
    # Into a vessel that is far below atmosphere the rise is a line; near atmosphere it levels off there.
    time = np.linspace(0.0, 60.0, 61)
    assert rising(time, 100.0, 3000.0, laminar)[-1] == pytest.approx(3100.0, rel=1e-4)
    assert ATMOSPHERE * 0.99 < rising(time, 100.0, 4e6, nozzle)[-1] <= ATMOSPHERE
