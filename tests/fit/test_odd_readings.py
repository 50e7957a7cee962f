"""Clocks that leap, numbers that no gauge reads, rows on change only: no fit breaks, hangs or answers nonsense."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay.errors import FitError
from decay.fit.bins import bin_readings
from decay.fit.hold import fit_hold
from decay.fit.measured import measure
from decay.fit.non_negative import NonNegative
from decay.phases.phase import Kind
from decay.pull.pumpdown import fit_pumpdown
from decay.several.joint import Member, fit_joint

from .holds import PER_MINUTE, fit_of, hold_log, levelling, steady, together

SCALES = (5e-324, 1e-310, 1e-160, 1e-30, 1e-9, 1.0, 1e3, 9e4)
"""Sizes of a reading, from the smallest number that a computer has to nearly the atmosphere. [Pa]"""
RISES = {
    "constant": lambda t, noise: np.ones(len(t)),
    "below zero": lambda t, noise: t - 2.0,
    "at once": lambda t, noise: (t > 0.5) * 1.0,
    "noise alone": lambda t, noise: noise,
    "falling": lambda t, noise: np.exp(-8.0 * t),
    "wandering": lambda t, noise: np.cumsum(noise),
}
YEARS = 5 * 365 * 86400.0


def leaping(step):
    """Return a hold of 10 micron/min whose clock leaps half way."""
    log, phase = hold_log(steady(10.0))
    time = log.time + np.where(np.arange(log.rows) >= log.rows // 2, step, 0.0)
    return replace(log, time=time), replace(phase, end=float(time[-1]))


@pytest.mark.parametrize("step", [3600.0, YEARS, 100 * YEARS])
def test_a_clock_that_leaps_inside_a_hold_leaves_bins_on_both_sides(step):
    log, phase = leaping(step)
    bins = measure(log, phase, None, 3.0).bins
    assert np.count_nonzero(bins.right < 700.0) >= 8
    assert np.count_nonzero(bins.left > step) >= 8
    found = fit_of(log, phase).leak
    assert 0.0 <= found.low <= found.value <= found.high < np.inf


def test_several_holds_of_which_one_leaps_are_fitted_together():
    members = [Member(measure(log, phase, None, 3.0), None) for log, phase in (leaping(YEARS), hold_log(steady(10.0)))]
    found = fit_joint(members).leak
    assert 0.0 <= found.low <= found.value <= found.high < np.inf


@pytest.mark.parametrize("number", [1e308, -1e308, 9.9e37, np.inf, np.nan])
def test_a_number_that_no_gauge_reads_is_left_out(number):
    log, phase = hold_log(steady(10.0))
    pressure = log.pressure.copy()
    pressure[300] = number
    found = fit_of(replace(log, pressure=pressure), phase)
    assert found.readings == fit_of(log, phase).readings - 1
    assert found.leak.high == pytest.approx(fit_of(log, phase).leak.high, rel=0.02)


def test_a_log_that_is_all_gaps_has_no_more_bins_than_a_fit_can_bear():
    # Rows on change: most come in pairs, each pair a while after the last.
    time = np.cumsum(np.where(np.arange(6000) % 3 == 0, 30.0, 1.0))
    assert len(bin_readings(time, time * PER_MINUTE, np.full(6000, 0.1)).centre) < 100


@pytest.mark.parametrize("number", [1e308, 5e-324, 0.0, -5.0])
def test_a_pull_with_a_number_that_no_gauge_reads_is_described_without_it(number):
    log, phase = hold_log(lambda t: 760_000.0 * np.exp(-t / 60.0), step=1.0, start=50.0)
    phase = replace(phase, kind=Kind.PUMPDOWN)
    clean = fit_pumpdown(log, phase)
    pressure = log.pressure.copy()
    pressure[50] = number
    found = fit_pumpdown(replace(log, pressure=pressure), phase)
    assert found.lowest == pytest.approx(clean.lowest, rel=0.05)
    assert found.time_constant.value == pytest.approx(clean.time_constant.value, rel=0.02)


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("scale", SCALES)
def test_no_size_and_no_shape_of_the_readings_breaks_a_fit(scale):
    members = []
    for seed, (name, rise) in enumerate(RISES.items()):
        log, phase = hold_log(steady(1.0), length=240.0, seed=seed)
        noise = np.random.default_rng(seed).standard_normal(log.rows)
        pressure = scale * rise(np.linspace(0.0, 1.0, log.rows), noise)
        # What steps the log claims is as odd as its readings: none, as large as they are, or larger than any.
        step = (0.0, scale, 1e5)[(seed + SCALES.index(scale)) % 3]
        odd = replace(log, pressure=pressure, step=np.full(log.rows, step))
        fit_pumpdown(odd, replace(phase, kind=Kind.PUMPDOWN))
        measured = measure(odd, phase, None, 3.0)
        found = fit_hold(measured).leak
        assert 0.0 <= found.low <= found.value <= found.high, name
        members.append(Member(measured, 1000.0 * seed, is_refreshed=seed == 2, under_vacuum=60.0))
    found = fit_joint(members, is_split=False).leak
    assert 0.0 <= found.low <= found.value <= found.high


def test_a_hold_at_the_pressure_of_the_atmosphere_is_said_to_show_nothing():
    log, phase = hold_log(lambda t: 30_000.0 * t / t[-1], start=765_000.0, length=240.0)
    with pytest.raises(FitError, match="nothing flows in"):
        fit_of(log, phase)


def test_a_solver_whose_active_set_cycles_is_replaced_by_another(monkeypatch):
    log, phase = hold_log(together(steady(3.0), levelling(60.0, 200.0)))
    usual = fit_of(log, phase).leak

    monkeypatch.setattr(NonNegative, "_best", lambda *_: None)  # no end is found
    found = fit_of(log, phase).leak
    assert (found.low, found.value, found.high) == pytest.approx((usual.low, usual.value, usual.high), rel=1e-6, abs=0)
