"""Holds that fill towards the pressure outside, and rises that begin behind a hose; synthetic, by handbook formula."""

from __future__ import annotations

import numpy as np
import pytest

from decay.fit.hold import is_sudden
from decay.fit.results import Inflow
from decay.physics import leak_flow

from .holds import DRY_PULL, MICRON, PER_MINUTE, fit_of, hold_log, levelling, steady, together

METERED = 70_000.0
"""Rate into an empty vessel. [micron/min]"""


def filling(law):
    """Return the rise of a vessel from 1,000 micron by a law of inflow, in steps of 50 ms. [s to micron]"""
    time = np.arange(0.0, 1300.0, 0.05)
    pressure = np.empty_like(time)
    now = 1000.0 * MICRON
    for i in range(len(time)):
        pressure[i] = now
        now += 0.05 * METERED * PER_MINUTE * float(law(now))
    return lambda t: np.interp(t, time, pressure) / MICRON - 1000.0


LAWS = {Inflow.LAMINAR: leak_flow.laminar_inflow, Inflow.ORIFICE: leak_flow.orifice_inflow}


@pytest.mark.parametrize("length", [260.0, 600.0, 1200.0])
@pytest.mark.parametrize("law", LAWS)
def test_an_inflow_that_fades_because_the_vessel_fills_is_a_leak(law, length):
    log, phase = hold_log(filling(LAWS[law]), length=length, start=1000.0, step=75.0, noise=20.0, sampling=1.0)
    found = fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL)
    assert found.leak.low < METERED * PER_MINUTE < found.leak.high
    assert found.leak.low > 0.5 * METERED * PER_MINUTE
    assert found.leak.value == pytest.approx(METERED * PER_MINUTE, rel=0.01)
    assert found.is_leak_seen
    if length > 300.0:
        assert found.inflow is law


def test_below_ten_kilopascal_the_inflow_is_steady():
    assert fit_of(*hold_log(steady(1000.0), step=10.0)).inflow is Inflow.STEADY


def test_what_follows_a_sudden_rise_is_no_proven_leak():
    # 184 to 2,000 micron within ten seconds, then twenty times slower: vapour stood behind a hose.
    rise = together(levelling(1800.0, 3.0), steady(290.0))
    log, phase = hold_log(rise, start=184.0, length=900.0)
    found = fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL)
    assert is_sudden(found.sudden_rise, found.leak.value)
    assert found.sudden_rise == pytest.approx(1800.0 * MICRON, rel=0.1)
    assert found.leak.low == 0.0
    assert found.leak.high > 290.0 * PER_MINUTE
    assert found.is_steady_rise_seen


def test_a_leak_behind_its_own_hose_is_not_sudden():
    # 40 micron/min through a hose that equalises within a minute: the system stood 40 micron above the gauge.
    log, phase = hold_log(together(levelling(40.0, 6.0), steady(40.0)))
    found = fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL)
    assert not is_sudden(found.sudden_rise, found.leak.value)
    assert found.leak.low > 0.0


def test_a_straight_rise_far_towards_water_s_ceiling_is_not_water():
    # 7,600 micron at 23 °C: water that kept its pace would have had to warm by several kelvin meanwhile.
    assert not fit_of(*hold_log(steady(380.0)), ambient=296.0).water.is_possible
    # 800 micron: one kelvin does.
    assert fit_of(*hold_log(steady(40.0)), ambient=296.0).water.is_possible


def test_a_straight_rise_to_twice_water_s_ceiling_is_not_water():
    found = fit_of(*hold_log(steady(2300.0), step=10.0), ambient=296.0)
    assert not found.water.is_possible
    assert found.leak.low > 0.0
