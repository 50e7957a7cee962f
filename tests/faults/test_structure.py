"""A quick look at logs whose structure and meaning were changed, and the laws that answers obey, each seen to bite."""

from __future__ import annotations

import io
import random
from copy import deepcopy
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from decay.interval import Interval
from decay.judge.finding import Result
from decay.log import ReadOptions, read_log
from decay.pipeline import analyze_log
from decay.quantities import MICRON
from tests.faults.laws import ends_above, run, with_rows_that_say_nothing, wrong_answer
from tests.faults.mutations import MUTATIONS, mutated
from tests.faults.sheets import Table, whole_table
from tests.faults.writing import WAYS, misread, written
from tests.test_pipeline import WARM, synthetic

COUNT = 45


def test_mutated_logs_are_judged_or_refused_and_no_answer_breaks_a_law():
    tally = run(range(COUNT), seed=99)
    assert tally.faults == []
    assert tally.judged + tally.refused == COUNT
    assert tally.judged > COUNT // 3
    assert len(tally.results) == 3  # pass, fail and inconclusive: the laws are asked of each


@cache
def whole(number):
    """Return a sound table, its lines, and the state of chance behind it."""
    rng = random.Random(number)
    table = whole_table(rng)
    return table, table.lines(), rng.getstate()


@pytest.mark.parametrize("change", MUTATIONS, ids=lambda change: change.__name__)
def test_each_change_changes_something(change):
    changed, rng = 0, random.Random()
    for number in range(40):
        if changed > 3:
            return
        made, before, state = whole(number)
        table = deepcopy(made)
        rng.setstate(state)
        change(table, rng)
        changed += table.lines() != before
    assert changed > 3


def test_the_same_seed_makes_the_same_log():
    lines = []
    for _ in range(2):
        rng = random.Random("one")
        table = whole_table(rng)
        mutated(table, rng)
        lines.append(table.lines())
    assert lines[0] == lines[1]


def test_rows_that_say_nothing_add_lines_and_take_none():
    rng = random.Random(4)
    lines = whole_table(rng).lines()
    grown = with_rows_that_say_nothing(lines, rng)
    assert len(grown) > len(lines)
    assert [line for line in dict.fromkeys(grown) if line and line != "# nothing"] == list(dict.fromkeys(lines))


def test_the_laws_bite():
    sound = synthetic(hold=3700.0)
    analysis = analyze_log(sound, WARM, hold=(1800.0, float(sound.time[-1])))
    assert analysis.verdict.result is Result.PASS
    assert wrong_answer(analysis) is None
    log = analysis.log
    high = replace(log, pressure=np.where(log.time > log.time[-1] - 600.0, 900.0 * MICRON, log.pressure))
    assert "above its line" in (wrong_answer(replace(analysis, log=high)) or "")
    unbound = replace(analysis.basis, leak=Interval(0.0, 0.0, float("inf")))
    assert "bound" in (wrong_answer(replace(analysis, basis=unbound)) or "")
    assert "reason" in (wrong_answer(replace(analysis, verdict=replace(analysis.verdict, reasons=()))) or "")


def test_gas_that_is_let_in_at_once_is_no_end_above_the_line():
    log = synthetic(hold=3700.0)
    tail = log.time > log.time[-1] - 60.0
    let_in = replace(log, pressure=np.where(tail, 90e3, log.pressure))
    assert not ends_above(let_in, 500.0 * MICRON)
    crept = replace(log, pressure=np.where(tail, 600.0 * MICRON, log.pressure))
    assert ends_above(crept, 500.0 * MICRON)


def test_a_number_far_below_any_pump_says_zero_and_its_step_stays_a_step():
    rows = [f"{10 * i},{'5e-324' if i > 40 else 760 - i}" for i in range(80)]
    log = read_log(io.BytesIO(("t [s],p [Torr]\n" + "\n".join(rows) + "\n").encode()), ReadOptions())
    assert float(log.step.min()) >= 1e-9
    assert float(log.pressure[-1]) == 0.0


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_each_way_to_write_a_log_changes_its_lines(way):
    changed = 0
    for number in range(20):
        if changed > 3:
            return
        rng = random.Random(number)
        table = whole_table(rng)
        changed += way(table, table.lines(), rng) != table.lines()
    assert changed > 3


def test_a_log_that_says_something_else_is_found_to_be_misread():
    table = Table([0.0, 5.0, 10.0], [760_000.0, 900.0, 30.0], places=1)
    read = read_log(io.BytesIO("\n".join(table.lines()).encode()), ReadOptions())
    assert misread(read, table) is None
    assert "stands" in (misread(replace(read, pressure=read.pressure * 1.01), table) or "")
    assert "moment" in (misread(replace(read, time=read.time * 1.5), table) or "")
    assert "readings of" in (misread(read, Table(table.time[:2], table.micron[:2])) or "")


def test_a_sound_log_is_the_same_from_the_same_seed():
    def made():
        rng = random.Random("one")
        return written(whole_table(rng), rng)

    assert made() == made()
