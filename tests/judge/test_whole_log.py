"""What the whole log decides: an answer that it contradicts is withheld, and what runs off the range is named."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from decay.judge.case import Case
from decay.judge.finding import Cause, Level, Result
from decay.judge.gross import FASTEST, gross_rise
from decay.log.pressure_log import Mark, Valve
from decay.phases.phase import Begun
from decay.pipeline import judge_case
from decay.quantities import MICRON, read_allowance
from decay.system import System
from tests.judge.factories import (
    ISOLATION,
    MICRON_PER_MINUTE,
    leaking_fit,
    make_case,
    make_fit,
    make_impact,
    make_phase,
    slow_fit,
)
from tests.judge.test_rules import found
from tests.judge.whole_log_cases import (
    CREEP,
    PULL,
    SLOWING,
    STRAIGHT,
    TO_ATMOSPHERE,
    after_hold,
    before_hold,
    flat,
    log_of,
    no_hold_then,
)


def test_an_answer_that_the_log_contradicts_is_withheld():
    assert judge_case(after_hold(flat(250.0, 600.0))).result is Result.PASS
    case = after_hold(CREEP)
    verdict = judge_case(case)
    assert verdict.result is Result.INCONCLUSIVE
    assert verdict.cause is Cause.UNRESOLVED
    assert case.leak is not None
    assert math.isinf(case.leak.high)
    assert not found(case, "H04")
    (finding,) = found(case, "P12")
    assert finding.level is Level.BLOCKS
    assert "0.1 micron/min" in finding.summary  # what the hold claims
    assert finding.evidence["rise_micron_per_min"] == pytest.approx(8.1, rel=0.02)


def test_the_end_of_the_range_after_a_gross_rise_is_never_tight():
    case = before_hold((250.0, 6_000.0, 12_000.0, 20_000.0))
    assert case.cause is not Cause.TIGHT
    assert found(case, "P12")[0].evidence["rise_micron"] > 15_000.0


def creep_then(held: np.ndarray) -> Case:
    """Return a rise of 17 micron in fifty minutes that a pull ends with, and an hour of readings after it."""
    fit = make_fit(start=57.0, rise=float(held[-1] - held[0]))
    creep = np.concatenate((np.linspace(40.0, 57.0, 300), np.full(60, 57.0)))
    return make_case(fit, log=log_of(np.concatenate((PULL - 210.0, creep)), held))


def test_what_creeps_up_under_the_pump_contradicts_no_hold_that_begins_with_a_turn():
    """A pump keeps up with a source that grows; what is held rises the slower the longer it is held."""
    time = np.arange(0.0, 3610.0, 10.0)
    assert not found(creep_then(57.0 + 110.0 * (1.0 - np.exp(-time / 800.0))), "P12")
    assert found(creep_then(np.full(len(time), 57.0)), "P12")


def test_a_valve_that_the_log_says_was_opened_explains_the_rise():
    opened = Mark(ISOLATION + 3600.0 + 5.0, Valve.OPEN)
    unknown = after_hold(TO_ATMOSPHERE, begun=Begun.END_OF_FALL)
    assert found(unknown, "P12")
    marked = make_case(unknown.fit, log=_with_marks(unknown.log, opened), phases=unknown.phases)
    assert not found(marked, "P12")


def _with_marks(log, *marks):
    return replace(log, marks=marks)


@pytest.mark.parametrize("rate", [4_000.0, 15_000.0, 60_000.0])
@pytest.mark.parametrize("sampling", [1.0, 5.0])
def test_a_gross_leak_is_named_with_a_bound_below_its_rate(rate, sampling):
    rise = 250.0 + np.arange(0.3 * sampling, 1e4, sampling) * rate / 60.0
    case = no_hold_then(rise[rise < 25_000.0], sampling)
    verdict = judge_case(case)
    assert verdict.result is Result.FAIL
    assert verdict.cause is Cause.LEAK
    assert case.leak is not None
    assert 0.6 * rate <= case.leak.low / MICRON_PER_MINUTE <= rate
    assert math.isinf(case.leak.high)
    assert found(case, "H25")[0].level is Level.FAILS
    assert not found(case, "P01")


def test_water_that_slows_down_towards_its_saturation_is_not_named_a_leak():
    """17,500 micron is the saturation of water at 20 °C (IAPWS R7-97: 2339 Pa)."""
    case = no_hold_then(SLOWING)
    (finding,) = found(case, "H25")
    assert finding.level is Level.BLOCKS
    assert "free water" in finding.headline
    assert case.cause is Cause.UNRESOLVED
    assert case.leak is not None
    assert case.leak.low == 0.0


def test_water_far_below_its_saturation_is_told_from_a_leak_by_no_more_than_a_gauge_errs():
    """36,700 micron is the saturation of water at 32.5 °C (IAPWS R7-97: 4893 Pa).

    The gain of this gauge grows by 4 %, and its readings stir about the base before the rise.
    """
    vapour = 36_700.0 * (1.0 - np.exp(-np.arange(5.0, 200.0, 5.0) / 340.0))
    shown = vapour * (1.0 + 0.04 * np.clip(vapour / 10_000.0, 0.0, 1.0))
    ends = np.full(60, np.nan)
    pull = np.where(PULL > 9_900.0, np.nan, PULL)
    still = (70.0, 90.0, 92.0, 91.0, 92.0)
    log = log_of(pull, still, (*shown[shown < 9_900.0], *ends), 5.0)
    case = make_case(has_hold=False, log=log)
    assert "free water" in found(case, "H25")[0].headline
    assert not case.is_gross_leak


def test_few_readings_below_the_saturation_of_water_name_nothing():
    case = no_hold_then((9_000.0,), 10.0)
    assert case.gross is not None
    assert not case.is_gross_leak


def test_a_jump_to_a_low_range_is_no_gross_leak():
    """Rig and system that meet make a thousand micron in seconds: a gauge that ends there shows nothing gross."""
    pull = np.minimum(PULL, 1000.0)
    log = log_of(np.where(PULL > 1000.0, np.nan, pull), (250.0, 535.0, 900.0), np.full(100, np.nan))
    assert gross_rise(log) is None


def test_a_rise_faster_than_leaks_usually_are_may_be_gas_let_in_and_is_named_as_both():
    log = log_of(PULL, flat(250.0, 20.0), (250.0 + 1.2 * FASTEST / MICRON * 5.0, *np.full(300, np.nan)), 5.0)
    case = make_case(has_hold=False, log=log)
    (finding,) = found(case, "H25")
    assert finding.level is Level.BLOCKS
    assert "gas let in" in finding.headline
    assert "gross leak of at least" in finding.headline
    assert finding.evidence["leak_low_micron_per_min"] > 100_000.0
    assert case.cause is Cause.UNRESOLVED
    assert judge_case(case).result is Result.INCONCLUSIVE
    assert found(case, "P01")  # there is no hold either
    closed = _with_marks(log, Mark(0.0, Valve.OPEN), Mark(ISOLATION - 10.0, Valve.CLOSED))
    marked = make_case(has_hold=False, log=closed)
    assert found(marked, "H25")[0].headline.startswith("free water or a gross leak of at least ")


def test_a_rise_within_one_reading_names_water_too():
    (finding,) = found(no_hold_then(()), "H25")
    assert finding.headline.startswith("gas let in, free water, or a gross leak of at least ")
    assert "free water close to the gauge" in finding.summary


def test_what_leads_to_the_end_of_the_range_is_told_once():
    case = after_hold((*STRAIGHT, *np.full(60, np.nan)), begun=Begun.END_OF_FALL)
    assert found(case, "H25")
    assert not found(case, "P12")


@pytest.mark.parametrize(("made", "cause"), [(slow_fit, Cause.UNRESOLVED), (leaking_fit, Cause.LEAK)])
def test_a_hold_that_is_left_open_or_leaks_little_enough_claims_no_more_than_the_log_shows_after_it(made, cause):
    """An hour passes by an allowance of 4 micron/min; a rise of 8 that follows takes that back."""

    def followed_by(after):
        fit = made()
        held = np.linspace(250.0, fit.end_pressure / MICRON, 361)
        log = log_of(PULL, held, held[-1] + after)
        allowing = make_impact(allowed=4.0)
        system = System(allow=read_allowance("4 micron/min"))
        return make_case(fit, log=log, system=system, phases=(make_phase(fit),), impact=allowing)

    quiet, risen = followed_by(np.zeros(60)), followed_by(CREEP - 250.0)
    assert quiet.is_above_allowed_excluded
    assert judge_case(quiet).result is Result.PASS
    assert not found(quiet, "P12")
    (finding,) = found(risen, "P12")
    assert finding.level is Level.BLOCKS
    assert "upper end" in finding.summary
    assert math.isinf(risen.leak.high)
    assert risen.cause is cause
    assert judge_case(risen).result is Result.INCONCLUSIVE
