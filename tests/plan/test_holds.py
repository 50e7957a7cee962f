"""What a planned hold is said to tell, against the estimator on holds with noise, and against the slope formula."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from decay import System, load_criterion
from decay.errors import RangeError
from decay.impact.hold_length import smallest_shown
from decay.plan import Equipment, GaugeKind, Intent, Levelling, expected_hold, make_plan, parse_hose
from decay.plan.hold_lengths import told_by
from decay.plan.warmth import warmth
from decay.quantities import MICRON, allowance, volume
from decay.system import Allowance, AllowKind

from ..fit.holds import DRY_PULL, PER_MINUTE, fit_of, hold_log, levelling, steady

GAUGE = GaugeKind()
DAMP = Levelling(500 * MICRON, 600.0)


@pytest.mark.parametrize(("length", "sampling"), [(600.0, 2.0), (1800.0, 2.0), (1800.0, 10.0)])
def test_a_dry_hold_tells_what_the_estimator_finds_in_noisy_ones(length, sampling):
    fits = [fit_of(*hold_log(steady(0.0), length=length, start=300.0, sampling=sampling, seed=seed), pull=DRY_PULL,
                     ambient=293.15) for seed in range(16)]
    expected = expected_hold(length, GaugeKind(interval=sampling), start=300 * MICRON, ambient=293.15)
    assert expected.leak.high == pytest.approx(float(np.median([fit.leak.high for fit in fits])), rel=0.35)
    assert expected.detection_limit == pytest.approx(float(np.median([fit.detection_limit for fit in fits])), rel=0.35)


def test_a_damp_hold_tells_what_the_estimator_finds_in_noisy_ones():
    fits = [fit_of(*hold_log(levelling(500.0, 600.0), length=3600.0, start=300.0, seed=seed), pull=DRY_PULL,
                     ambient=293.15) for seed in range(16)]
    expected = expected_hold(3600.0, GAUGE, levelling=(DAMP,), start=300 * MICRON, ambient=293.15)
    # Within a factor of three either way: the profile's end moves much with the noise where something levels off.
    ratios = [fit.leak.high / expected.leak.high for fit in fits]
    assert 1 / 3 < float(np.median(ratios)) < 3
    assert expected.leak.low == 0.0


def test_a_leak_is_found_where_it_is():
    expected = expected_hold(1800.0, GAUGE, leak=5 * PER_MINUTE, start=300 * MICRON)
    assert expected.leak.low < 5 * PER_MINUTE < expected.leak.high
    at_99 = expected_hold(1800.0, GAUGE, leak=5 * PER_MINUTE, start=300 * MICRON, level=0.99)
    assert at_99.leak.low <= expected.leak.low
    assert at_99.leak.high >= expected.leak.high


def test_in_the_limit_of_white_noise_it_is_currie_s_slope():
    # 2 x 1.645 x sqrt(12/n) sigma/T, with the two-sided quantile for the first: (1.960 + 1.645) instead of 3.29.
    gauge = GaugeKind(noise=1.0, step=0.0, interval=1.0)
    expected = expected_hold(1800.0, gauge, start=0.0)
    slope = math.sqrt(12.0 / 1800) / 1800
    drift = expected_hold(1800.0, GaugeKind(noise=1e-9, step=0.0, interval=1.0), start=0.0).detection_limit
    assert expected.detection_limit - drift == pytest.approx(3.605 * slope, rel=0.1)
    assert smallest_shown(1800.0, 1.0, 1.0) == pytest.approx(3.29 * slope, rel=0.01)


@cache
def plan_of(allow="2 micron/min", *, criterion=None):
    system = System(volume=volume("6.5 L"), refrigerant="R134a", charge=0.65, ambient=296.15,
                    allow=None if allow is None else allowance(allow))
    equipment = Equipment(2.83e-3, 3.0, (parse_hose("6 mm x 1.5 m"),))
    return make_plan(Intent(system, load_criterion(criterion), equipment, GAUGE, DAMP))


def test_the_length_needed_is_where_the_curve_crosses_the_leak_that_matters():
    plan = plan_of("0.5 micron/min")
    for course in (plan.dry, plan.damp):
        assert np.all(np.diff(course.told) <= 0)
        assert np.all(course.told[course.duration >= course.needed] <= plan.matters)
        assert np.all(course.told[course.duration < course.needed] > plan.matters)
    assert plan.dry.needed < plan.damp.needed
    assert plan_of("0.2 micron/min").dry.needed > plan.dry.needed


def test_a_leak_below_what_a_drift_feigns_is_never_told():
    plan = plan_of("0.005 micron/min")
    assert math.isinf(plan.dry.needed)
    assert plan.dry.floor > plan.matters


def test_without_a_leak_that_matters_there_is_no_length_but_the_customary_hold_is_judged():
    plan = plan_of(None)
    assert plan.dry.needed is None
    assert plan.matters is None
    assert told_by(plan.dry.customary) > 0
    assert plan.dry_meaning.detectable_loss is not None


def test_the_criterion_s_line_lets_a_leak_pass_that_its_hold_would_show():
    plan = plan_of()
    # 300 to 500 micron in an hour: 3.3 micron/min.
    assert plan.line_rate / PER_MINUTE == pytest.approx(200 / 60)
    assert told_by(plan.dry.customary) < 0.1 * plan.line_rate
    assert plan_of(criterion="triple-evacuation").line_rate is None
    assert plan_of(criterion="triple-evacuation").sweeps.asked == 2
    assert plan.sweeps.dilution == pytest.approx(300 * MICRON / 101325)


def test_a_criterion_without_a_target_needs_one():
    intent = plan_of().intent
    bare = replace(intent, target=None, criterion=replace(intent.criterion, target=None))
    with pytest.raises(RangeError, match="--target"):
        make_plan(bare)


def test_an_allowed_loss_becomes_the_smallest_rise_it_can_mean():
    plan = plan_of("40 g/yr")
    assert plan.intent.system.allow == Allowance(AllowKind.LOSS, pytest.approx(40e-3 / (365.25 * 86400)), "40 g/yr")
    assert 0.01 < plan.matters / PER_MINUTE < 0.1


@pytest.mark.parametrize(("celsius", "is_warm", "is_ice"),
                         [(24.0, True, False), (15.0, True, True), (1.0, False, True)])
def test_warmth(celsius, is_warm, is_ice):
    # Ice warned of below 15.6 degC (60 degF): US Army TM 10-8145-222-23. Above 2 degC: UFGS 15182, 3.3.3.
    found = warmth(273.15 + celsius, 300 * MICRON, load_criterion(None))
    assert (found.is_warm_enough, found.is_ice_likely) == (is_warm, is_ice)
    assert found.asked == pytest.approx(275.15)


def test_the_coldest_spot_is_where_ice_stands_at_the_target():
    # 500 micron: -24.48 degC over ice (IAPWS R14-08).
    assert warmth(296.15, 66.66, load_criterion(None)).coldest_spot - 273.15 == pytest.approx(-24.48, abs=0.005)
