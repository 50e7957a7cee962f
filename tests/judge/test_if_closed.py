"""A log that ends flat with nothing that marks the closing: what it would prove, and the option that confirms it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay.examine import fit_pulls
from decay.judge.answer import IfClosed
from decay.judge.case import Case
from decay.judge.criteria import load_criterion
from decay.judge.finding import Result
from decay.phases.phase import Kind, Phase, Untold
from decay.pipeline import if_closed, judge_case
from decay.quantities import MICRON
from decay.system import System
from tests.judge.factories import ISOLATION, make_case, make_log
from tests.judge.test_rules import found
from tests.judge.whole_log_cases import IF_CLOSED, at_pump

SAMPLING = 2.0


def flat_log(minutes: float, rise: float = 0.0):
    """Return half an hour of pull that ends at 45 micron, and so many minutes of 45 micron with a rise [micron/min]."""
    rng = np.random.default_rng(5)
    time = np.arange(0.0, ISOLATION + 60.0 * minutes, SAMPLING)
    held = np.maximum(time - ISOLATION, 0.0)
    values = 45.0 + 7e5 * np.exp(-time / 60.0) + rise * held / 60.0 + rng.normal(0.0, 0.4, len(time))
    log = make_log(np.round(values), sampling=SAMPLING)
    return replace(log, time=time, started="2026-03-14T10:00:00")


def told(log, criterion: str | None = None) -> tuple[IfClosed | None, Case]:
    at = int(ISOLATION / SAMPLING)
    last = len(log.time) - 1
    end = float(log.time[-1])
    phases = (
        Phase(Kind.PUMPDOWN, 0, at, 0.0, ISOLATION, 7e5 * MICRON, 45.0 * MICRON),
        Phase(Kind.UNCLEAR, at, last, ISOLATION, end, 45.0 * MICRON, 45.0 * MICRON,
              untold=Untold.FLAT, closings=(ISOLATION, end)),
    )  # fmt: skip
    pulls = fit_pulls(log, phases, System())
    wanted = None if criterion is None else load_criterion(criterion)
    known = if_closed(log, phases, pulls, System(), wanted)
    return known, make_case(log=log, has_hold=False, phases=phases, pumpdowns=pulls, if_closed=known)


@pytest.mark.parametrize(("minutes", "stand"), [(12.0, 600.0), (25.0, 1200.0), (65.0, 3600.0)])
def test_the_longest_stand_that_the_flat_end_leaves_room_for_is_met(minutes, stand):
    known, _ = told(flat_log(minutes))
    assert known is not None
    assert known.outcome.met is True
    assert known.outcome.asked == stand
    assert stand <= known.end - known.closed_by + SAMPLING
    assert known.closed_by >= ISOLATION


def test_the_finding_names_the_moment_the_limit_and_the_option_and_nothing_passes():
    known, case = told(flat_log(65.0))
    assert known is not None
    (finding,) = found(case, "P17")
    assert finding.span is not None
    assert "--hold 10:3" in finding.summary
    assert "..end" in finding.summary
    assert "met" in finding.summary
    assert 0.0 < finding.evidence["leak_high_micron_per_min"] < 0.2
    assert judge_case(case).result is Result.INCONCLUSIVE
    assert not found(case, "P01")
    assert not found(case, "V01")


def test_without_a_clock_the_option_counts_from_the_first_row():
    log = replace(flat_log(12.0), started=None)
    known, case = told(log)
    assert known is not None
    assert known.closed_by == 31 * 60.0
    assert "--hold 0:31:00..end" in found(case, "P17")[0].summary


def test_an_end_that_rises_is_not_offered():
    known, case = told(flat_log(25.0, rise=3.0))
    assert known is None
    assert not found(case, "P17")


def test_a_gauge_that_reads_zero_proves_nothing_whenever_the_valve_was_closed():
    log = flat_log(25.0)
    known, case = told(replace(log, pressure=np.maximum(log.pressure - 50.0 * MICRON, 0.0)))
    assert known is None
    assert not found(case, "P17")


def test_what_the_pumps_side_shows_promises_nothing():
    case = replace(at_pump(15.0), holds=(), decisive=None, if_closed=IF_CLOSED)
    assert found(case, "P15")
    assert not found(case, "P17")
    assert case.basis.if_closed is None
    assert replace(case, log=at_pump(230.0).log).basis.if_closed is IF_CLOSED
