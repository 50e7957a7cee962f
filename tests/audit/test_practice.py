"""Each check of practice: a log that raises it, and a near miss that does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay import System, explain, finding_codes, finding_titles, load_criterion
from decay.audit import manual
from decay.audit.checks import CHECKS
from decay.audit.collect import Target
from decay.audit.extract import rows_of
from decay.judge.rules.rule import SECTIONS
from decay.pipeline import Ahead, analyze_log
from decay.quantities import read_allowance
from tests.audit.logs import log_of, readings

FIELD = load_criterion("field-line")  # 500 micron, ten minutes


def rows(log, system=None, criterion=FIELD):
    judged = analyze_log(log, system or System(), criterion, ahead=Ahead.ODDS)
    return rows_of(Target("a/b.csv", 1, 1), judged, criterion)


def codes(log, system=None, criterion=FIELD):
    (row,) = rows(log, system, criterion)
    return [code for code, _ in row.findings]


def test_good_practice_has_no_findings():
    (row,) = rows(log_of(*readings()))
    assert row.findings == ()
    assert (row.practice, row.proof, row.target_reached) == ("met", "no leak seen", True)


def test_a_row_tells_the_truth_of_its_log():
    (row,) = rows(log_of(*readings(leak=30.0)))
    assert row.hold_start_s == pytest.approx(900.0, abs=15.0)
    assert row.hold_length_s == pytest.approx(1500.0, abs=20.0)
    assert row.lowest_micron == pytest.approx(160.0, abs=3.0)
    # 500 = 150 + 760,000 exp(-t/40) + 10 (t/900)^-1.5 at t = 313 s; the pull begins at 0 or a few readings later.
    assert row.time_to_target_s == pytest.approx(313.0, abs=20.0)
    assert row.leak_low_micron_per_min <= 30.0 <= row.leak_high_micron_per_min
    assert row.outgassing_low_micron <= 260.0 <= row.outgassing_high_micron
    assert row.cause == "leak_and_outgassing"
    assert row.proof == "leak"
    assert row.detection_limit_micron_per_min < 30.0
    assert row.result == "fail"
    assert row.exit_code == 1


def test_hold_too_short_for_the_leak_that_matters():
    short = log_of(*readings(hold_s=600.0, damp=100.0, damp_s=300.0))
    system = System(allow=read_allowance("0.5 micron/min"))
    (row,) = rows(short, system)
    assert row.detection_limit_micron_per_min > 0.5
    assert "A01" in [code for code, _ in row.findings]
    assert "A01" not in codes(short, System(allow=read_allowance("5000 micron/min")))
    assert "A01" not in codes(short)  # where no leak was said to matter, none can be missed


def test_hold_too_short_for_the_criterion():
    log = log_of(*readings(hold_s=1200.0))
    assert "C04" in codes(log, criterion=load_criterion("one-hour-stand"))
    assert "C04" not in codes(log)


def test_isolated_above_the_target_is_told_beside_a_short_hold():
    log = log_of(*readings(floor=900.0, hold_s=400.0))
    assert {"C03", "C04"} <= set(codes(log))
    assert "C03" not in codes(log_of(*readings(floor=480.0)))


def test_isolated_before_the_tail_had_settled():
    assert "E03" in codes(log_of(*readings(slow_tail=150.0, floor=20.0, pull_s=1800.0)))
    assert "E03" not in codes(log_of(*readings(slow_tail=2.0, pull_s=1800.0)))


def test_stalled_pull_ignored():
    (row,) = rows(log_of(*readings(stop_at=900.0, pull_s=1500.0)))
    assert "A02" in [code for code, _ in row.findings]
    # The pump's own limit below the target is a stall as well, and no bad practice.
    assert "A02" not in codes(log_of(*readings(stop_at=200.0, pull_s=1500.0)))


def test_sampling_too_coarse():
    assert "A03" in codes(log_of(*readings(sampling=45.0)))
    assert "A03" not in codes(log_of(*readings(sampling=20.0)))


def test_readings_missing_in_the_hold():
    time, pressure = readings()
    kept = (time < 1500.0) | (time > 1900.0)
    assert "P03" in codes(log_of(time[kept], pressure[kept]))
    kept = (time < 1500.0) | (time > 1508.0)
    assert "P03" not in codes(log_of(time[kept], pressure[kept]))


def test_gauges_disagree_by_more_than_both_may_err():
    time, pressure = readings()
    assert "A04" in codes(log_of(time, pressure, pressure * 1.6))
    assert "A04" in codes(log_of(time, pressure, pressure / 1.6))
    assert "A04" not in codes(log_of(time, pressure, pressure * 1.2))
    assert "A04" in codes(log_of(time, pressure, pressure * 1.2), System(gauge_accuracy=0.05))
    assert "A04" not in codes(log_of(time, pressure, np.full(len(time), np.nan)))


def test_a_hold_that_could_not_be_fitted_has_a_row_that_says_so():
    log = log_of(*readings(hold_s=900.0))
    analysis = analyze_log(log, None, FIELD, ahead=Ahead.ODDS)
    without = replace(analysis, holds=(), decisive=None, joint=None)
    (row,) = rows_of(Target("a.csv", 1, 1), without, load_criterion("one-hour-stand"))
    assert (row.hold, row.proof, row.leak_micron_per_min) == (1, None, None)
    assert row.hold_length_s == pytest.approx(900.0, abs=20.0)
    assert "C04" in [code for code, _ in row.findings]


def test_a_log_without_a_hold_has_one_row_without_numbers():
    time, pressure = readings(hold_s=0.0)
    (row,) = rows(log_of(time, pressure))
    assert (row.holds, row.hold, row.proof, row.practice) == (0, None, None, "not answered")
    assert [code for code, _ in row.findings] == ["P01"]
    assert row.exit_code == 3


def test_two_holds_are_two_rows_and_one_decides():
    time, pressure = readings(leak=3.0)
    later, again = readings(leak=3.0, seed=1)
    both = log_of(np.concatenate((time, later + time[-1] + 5.0)), np.concatenate((pressure, again)))
    found = rows(both)
    assert [(row.hold, row.holds) for row in found] == [(1, 2), (2, 2)]
    assert [row.is_decisive for row in found] == [False, True]
    assert len({row.result for row in found}) == 1


@pytest.mark.parametrize("code", sorted(manual.own_titles()))
def test_every_own_code_has_a_manual_page(code):
    assert all(section in manual.practice_page(code.lower()) for section in SECTIONS)


def test_a_code_that_the_verdict_gives_too_has_its_title():
    shared = {check.code: check.title for check in CHECKS if check.code in finding_codes()}
    assert shared
    assert {code: finding_titles()[code] for code in shared} == shared
    assert manual.practice_page("C04") == explain("C04")
