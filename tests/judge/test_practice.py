"""One hold against one criterion: met, not met, not answered, and on which part."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from decay.judge import practice
from decay.judge.answer import CriterionOutcome, Part
from decay.judge.criteria import default_criteria, load_criterion
from decay.quantities import MICRON
from decay.system import System
from tests.judge.factories import ISOLATION, make_fit, make_log, make_pull

WARM = System(ambient=295.15)


def outcome(
    name: str,
    start: float,
    rise: float,
    hold: float,
    *,
    system: System = WARM,
    pulls: tuple[Any, ...] | None = None,
    **log: Any,
) -> CriterionOutcome:
    """Judge a straight rise [micron] over a hold [s]."""
    fit = make_fit(start=start, rise=rise, duration=hold)
    pulls = (make_pull(),) if pulls is None else pulls
    return practice.outcome_of(load_criterion(name), fit, pulls, make_log(start=start, rise=rise, hold=hold, **log),
                               system)


@pytest.mark.parametrize(
    ("name", "start", "rise", "minutes", "met", "part"),
    [
        ("one-hour-stand", 290, 150, 60, True, "all"),
        ("one-hour-stand", 290, 210, 60, True, "all"),  # 500 itself is not above 500
        ("one-hour-stand", 290, 212, 60, False, "line"),
        ("one-hour-stand", 310, 50, 60, False, "target"),
        ("one-hour-stand", 290, 50, 12, None, "hold"),
        ("one-hour-stand", 290, 250, 12, False, "line"),  # too short, but already exceeded
        ("one-hour-stand", 290, 400, 300, True, "all"),  # beyond 500 only after its hour
        ("field-line", 480, 500, 10, True, "all"),
        ("field-line", 480, 530, 10, False, "line"),
        ("two-lines-15-min", 480, 210, 15, True, "all"),
        ("two-lines-15-min", 480, 220, 15, None, "between"),  # 700 itself is not below 700
        ("two-lines-15-min", 480, 270, 15, None, "between"),
        ("two-lines-15-min", 480, 320, 15, False, "line"),  # 800 itself fails
        ("limit-15-min", 260, 10, 15, False, "target"),
        ("limit-15-min", 240, 460, 15, True, "all"),
        ("three-zones-5-min", 240, 1200, 5, True, "all"),
        ("three-zones-5-min", 240, 3000, 5, None, "between"),
        ("three-zones-5-min", 240, 5000, 5, False, "line"),
        ("older-car-dial", 300, 25000, 5, True, "all"),
        ("older-car-dial", 300, 26000, 5, False, "rise"),
        ("older-car-dial", 300, 100, 2, None, "hold"),
        ("rig-proof", 450, 40, 30, True, "all"),
        ("rig-proof", 450, 60, 30, False, "line"),
    ],
)
def test_straight_rises(name, start, rise, minutes, met, part):
    found = outcome(name, start, rise, minutes * 60.0)
    assert (found.met, found.part) == (met, part), found.detail
    assert found.detail


def test_no_hold_is_not_answered():
    found = practice.outcome_of(load_criterion(), None, (), make_log(), WARM)
    assert (found.met, found.part) == (None, "no hold")


def test_the_outcome_carries_source_and_standing():
    found = outcome("one-hour-stand", 290, 50, 3600)
    assert "15182" in found.source
    assert found.standing == "read in the source"
    assert found.limit == pytest.approx(500 * MICRON)


def test_target_that_was_never_logged_is_not_answered():
    found = outcome("one-hour-stand", 400, 20, 3600, pulls=(), pulled=False)
    assert (found.met, found.part) == (None, "target")


def test_target_reached_needs_no_logged_pull():
    assert outcome("one-hour-stand", 290, 20, 3600, pulls=(), pulled=False).met is True


def test_over_range_at_isolation_is_target_not_met():
    log = make_log([np.nan] * 10 + [20000.0] * 20, pulled=False)
    fit = make_fit(start=20000, rise=0, duration=290)
    found = practice.outcome_of(load_criterion(), fit, (), log, WARM)
    assert (found.met, found.part) == (False, "target")


def test_going_over_range_in_the_hold_breaks_the_line():
    log = make_log([290.0, 300.0, 350.0, *[np.nan] * 400])
    found = practice.outcome_of(load_criterion(), make_fit(start=290, duration=4000), (make_pull(),), log, WARM)
    assert (found.met, found.part) == (False, "line")


def test_one_odd_reading_is_no_rise():
    values = np.full(400, 300.0)
    values[200] = 900.0
    found = practice.outcome_of(
        load_criterion(), make_fit(start=300, duration=3990), (make_pull(),), make_log(values), WARM
    )
    assert found.met is True
    values[200:202] = 900.0
    found = practice.outcome_of(
        load_criterion(), make_fit(start=300, duration=3990), (make_pull(),), make_log(values), WARM
    )
    assert found.met is False


@pytest.mark.parametrize(
    ("celsius", "met"), [(None, True), (20.0, True), (2.1, True), (1.9, None), (-5.0, None)]
)
def test_lowest_ambient(celsius, met):
    system = System(ambient=None if celsius is None else celsius + 273.15)
    found = outcome("one-hour-stand", 290, 50, 3600, system=system)
    assert found.met is met
    if met is None:
        assert found.part == "ambient"


def test_logged_temperature_goes_before_the_stated_one():
    log = make_log(start=290)
    log = replace(log, temperature=np.full(len(log.time), 273.15))
    found = practice.outcome_of(load_criterion(), make_fit(start=290), (make_pull(),), log, WARM)
    assert (found.met, found.part) == (None, "ambient")


def test_broken_line_goes_before_a_cold_day():
    found = outcome("one-hour-stand", 290, 300, 3600, system=System(ambient=270.0))
    assert (found.met, found.part) == (False, "line")


@pytest.mark.parametrize(("pulls", "met"), [(1, None), (2, None), (3, True)])
def test_three_evacuations(pulls, met):
    made = tuple(make_pull(start=100.0 * i, end=100.0 * i + 50) for i in range(pulls))
    found = outcome("triple-evacuation", 280, 10, 7200, pulls=made)
    assert found.met is met
    assert found.part == ("all" if met else "evacuations")


def test_a_pull_that_missed_the_target_is_no_evacuation():
    made = tuple(make_pull(start=100.0 * i, lowest=(290.0 if i else 400.0) * MICRON) for i in range(3))
    assert outcome("triple-evacuation", 280, 10, 7200, pulls=made).part == "evacuations"


def test_no_change_is_no_change_within_a_step():
    time = np.arange(0.0, ISOLATION + 14400.0 + 7201.0, 10.0)
    isolated = ISOLATION + 14400.0
    pull = 4000.0 + 7e5 * np.exp(-time / 60.0)
    for rise, met in ((1.0, True), (2.0, False)):
        values = np.where(time <= isolated, pull, 4000.0 + rise)
        log = make_log(values)
        log = replace(log, time=time)
        fit = make_fit(start=4000, rise=rise, duration=7200)
        fit = replace(fit, start=isolated, end=isolated + 7200)
        found = practice.outcome_of(load_criterion("chiller-dehydration"), fit, (make_pull(),), log, WARM)
        assert found.met is met, found.detail


def test_pumping_on_below_the_target():
    # half an hour of pull in all: less than the two hours below 677 Pa that are asked for
    found = outcome("chiller-dehydration", 4000, 0, 7200)
    assert (found.met, found.part) == (False, "pump_on")
    found = outcome("chiller-dehydration", 4000, 0, 7200, pulls=())
    assert found.met is None


def test_under_is_under():
    # 0.05 inHg is 1270 micron
    assert outcome("chiller-standing", 300, 1265, 86400, sampling=60.0).met is True
    assert outcome("chiller-standing", 300, 1280, 86400, sampling=60.0).met is False


def test_the_part_without_a_number_is_said():
    assert "not rising steadily" in outcome("field-line", 480, 100, 600).detail


def test_same_readings_in_torr_on_the_line_give_the_same_answer():
    # 1 torr is 101325/760 Pa; a conventional mmHg is 133.322387415 Pa: 1.4e-7 apart
    log = make_log(start=290, rise=210)
    other = replace(log, pressure=log.pressure * (133.322387415 / (101325 / 760)))
    for readings in (log, other):
        found = practice.outcome_of(load_criterion(), make_fit(start=290, rise=210), (make_pull(),), readings, WARM)
        assert found.met is True, found.detail


def test_one_odd_low_reading_is_no_target_reached():
    log = make_log(start=400.0)
    pressure = np.array(log.pressure)
    pressure[int(np.searchsorted(log.time, ISOLATION)) - 2] = 250.0 * MICRON
    found = practice.outcome_of(
        load_criterion(), make_fit(start=400.0), (make_pull(),), replace(log, pressure=pressure), WARM
    )
    assert (found.met, found.part) == (False, "target")


# ------------------------------------------------------------------------------------- how long a hold counts


@pytest.mark.parametrize(
    ("seconds", "doubt", "met"),
    [(600, (0, 0), True), (590, (0, 0), True), (580, (0, 0), True), (570, (0, 0), None), (570, (10, 0), True),
     (560, (10, 0), None), (500, (900, 0), None), (600, (0, 60), True), (600, (0, 90), None), (900, (0, 360), True),
     (900, (0, 400), None)],
)
def test_two_readings_and_the_closing_may_be_missing_and_no_more(seconds, doubt, met):
    # Readings every 10 s. An uncertain closing lends a tenth of the stand at the most; one that may lie later by more
    # than that leaves only what came after it.
    fit = make_fit(start=290, rise=20, duration=seconds)
    log = make_log(start=290, rise=20, hold=seconds)
    found = practice.outcome_of(load_criterion("field-line"), fit, (make_pull(),), log, WARM, doubt=doubt)
    assert (found.met, found.missing == 0.0) == (met, met is True)


@pytest.mark.parametrize(("seconds", "met"), [(595, True), (594, None)])
def test_no_closing_is_told_better_than_a_gauge_lags(seconds, met):
    # Readings every second: two of them, and the 3 s by which a gauge lags behind the valve.
    fit = make_fit(start=290, rise=20, duration=seconds)
    log = make_log(start=290, rise=20, hold=seconds, sampling=1.0)
    assert practice.outcome_of(load_criterion("field-line"), fit, (make_pull(),), log, WARM).met is met


def gapped(hold: float, gap: tuple[float, float]) -> Any:
    """Return a log with a straight rise from 290 by 100 micron, and a gap [s after isolation] without readings."""
    log = make_log(start=290, rise=100, hold=hold)
    kept = (log.time <= ISOLATION + gap[0]) | (log.time >= ISOLATION + gap[1])
    return replace(log, **{n: getattr(log, n)[kept] for n in ("time", "pressure", "line", "is_over_range", "step")})


def test_a_gap_is_no_part_of_a_hold():
    fit = make_fit(start=290, rise=100, duration=700)
    assert practice.outcome_of(load_criterion("field-line"), fit, (), gapped(700, (200, 300)), WARM).met is True
    found = practice.outcome_of(load_criterion("field-line"), fit, (), gapped(700, (200, 400)), WARM)
    assert (found.met, found.part) == (None, Part.LENGTH)
    assert found.missing == pytest.approx(90.0)  # 700 s, of which 200 hold one distance between readings of 10 s
    assert "without its gaps" in found.detail


def test_a_stand_with_a_gap_goes_on_until_readings_fill_its_length():
    # 500 micron is reached after 1,200 s of a rise of 210 in 1,200: with a gap of 600 s the 20 minutes end later.
    fit = make_fit(start=290, rise=315, duration=1800)
    log = make_log(start=290, rise=315, hold=1800)
    kept = (log.time <= ISOLATION + 300) | (log.time >= ISOLATION + 900)
    log = replace(log, **{n: getattr(log, n)[kept] for n in ("time", "pressure", "line", "is_over_range", "step")})
    found = practice.outcome_of(load_criterion("ceiling-20-min"), fit, (), log, WARM)
    assert (found.met, found.part) == (False, Part.LINE)
    log = make_log(start=290, rise=315, hold=1800)
    assert practice.outcome_of(load_criterion("ceiling-20-min"), fit, (), log, WARM).met


@pytest.mark.parametrize(
    ("minutes", "chosen", "met"),
    [(5, "field-line", None), (10, "field-line", True), (15, "field-line", True), (20, "ceiling-20-min", True),
     (45, "ceiling-20-min", True), (60, "one-hour-stand", True), (200, "one-hour-stand", True)],
)
def test_where_none_is_chosen_the_longest_stand_that_the_hold_answers_judges(minutes, chosen, met):
    hold = 60.0 * minutes
    fit, log = make_fit(start=290, rise=20, duration=hold), make_log(start=290, rise=20, hold=hold)
    found = practice.held_against(None, fit, (make_pull(),), log, WARM)
    assert (found.criterion.name, found.outcome.name, found.outcome.met) == (chosen, chosen, met)
    assert {found.outcome.name, *(other.name for other in found.others)} == {s.name for s in default_criteria()}
    longer = [other for other in found.others if other.asked > hold + 20]
    assert all((other.met, other.part) == (None, Part.LENGTH) for other in longer)
    assert all(other.missing == pytest.approx(other.asked - hold) for other in longer)


def test_a_chosen_criterion_judges_however_short_the_hold_is():
    fit, log = make_fit(start=290, rise=20, duration=700.0), make_log(start=290, rise=20, hold=700.0)
    found = practice.held_against(load_criterion("one-hour-stand"), fit, (make_pull(),), log, WARM)
    assert (found.outcome.name, found.outcome.met, found.others) == ("one-hour-stand", None, ())


def test_the_brief_names_the_reason():
    assert outcome("one-hour-stand", 310, 50, 3600).brief == "isolated at 310 micron, target 300"
    assert outcome("one-hour-stand", 290, 300, 3600).brief.startswith("above 500 micron after ")
    assert outcome("one-hour-stand", 290, 50, 720).brief == "held 12 min of 60 min"
