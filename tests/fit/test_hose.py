"""A gauge beside a leaking rig: the drop along the hose is told from a leak that opens, and the leak's size is right.

The conductance here is the handbook's formula in its own units, and not the package's: for air at 20 degC in a long
tube `C = 135 d^4 p / l + 12.1 (d^3 / l) (1 + 192 d p) / (1 + 237 d p)`, in L/s, cm and mbar (vacuum handbooks, after
Knudsen 1909).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from decay.fit.alternatives import fading_drop, hose_mean_pressure, least_left
from decay.pipeline import Ahead, analyze_log
from decay.simulation.kinds import Place
from decay.simulation.simulated_run import run
from decay.system import System
from tests.bench.jobs import random_job

from .holds import DRY_PULL, MICRON, PER_MINUTE, fit_of, hold_log, levelling, steady, together

MICRON_IN_MBAR = MICRON / 100.0


def conductance(bore: float, length: float, mean: float) -> float:
    """Return the conductance of a hose, bore and length in cm, at a mean pressure in micron. [L/s]"""
    p = mean * MICRON_IN_MBAR
    return 135 * bore**4 * p / length + 12.1 * bore**3 / length * (1 + 192 * bore * p) / (1 + 237 * bore * p)


def beside_the_leak(rate, *, bore, length=100.0, volume, start):
    """Return the rise that the gauge reads beside a leak of so many micron/min: the system's and the hose's drop."""
    flow = rate / 60.0 * volume  # micron L/s

    def drop(system: float) -> float:
        return float(brentq(lambda d: d * conductance(bore, length, system + d / 2) - flow, 0.0, 1e6))

    def rise(time):
        system = start + rate / 60.0 * time
        settled = -np.expm1(-time / 8.0)  # the drop builds up as the rig's own volume fills
        return system - start + settled * np.array([drop(p) for p in system])

    return rise, drop(start)


def fit(rise, **options):
    log, phase = hold_log(rise, length=3600.0, sampling=5.0, **options)
    return fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL, ambient=293.15)


@pytest.mark.parametrize("bore", [0.45, 0.63, 0.95])
@pytest.mark.parametrize("rate", [20.0, 120.0])
def test_a_leak_beside_the_gauge_is_named_with_its_size_and_the_drop(rate, bore):
    rise, first_drop = beside_the_leak(rate, bore=bore, volume=12.0 * bore**3, start=40.0)
    assert first_drop > 20.0  # else there would be nothing to find
    found = fit(rise, start=40.0)
    assert found.tests.adequate
    assert 0.6 * rate * PER_MINUTE < found.leak.low < rate * PER_MINUTE < found.leak.high < 1.1 * rate * PER_MINUTE
    assert found.leak.value == pytest.approx(rate * PER_MINUTE, rel=0.02)
    assert found.hose_drop == pytest.approx(first_drop * MICRON, rel=0.5)


def short(rise):
    log, phase = hold_log(rise, start=50.0, length=600.0, sampling=5.0)
    return fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL, ambient=293.15)


def test_a_drop_that_fades_unseen_leaves_the_leak_within_the_interval():
    # Ten minutes are too short to show the hose, whose fading drop takes a fifth off the rise.
    rise, _ = beside_the_leak(27.0, bore=0.57, length=155.0, volume=13.5, start=50.0)
    assert rise(np.array([600.0]))[0] - rise(np.array([60.0]))[0] < 0.85 * 27.0 * 9.0
    found = short(rise)
    assert found.tests.adequate
    assert found.hose_drop is None
    assert found.leak.low < 27.0 * PER_MINUTE < found.leak.high < 1.25 * 27.0 * PER_MINUTE


def test_a_rise_that_did_not_begin_with_a_jump_is_left_no_room_for_a_drop():
    assert short(steady(27.0)).leak.high < 1.03 * 27.0 * PER_MINUTE


@pytest.mark.parametrize(
    "rise",
    [
        steady(120.0),
        levelling(900.0, 600.0),
        together(steady(20.0), levelling(400.0, 300.0)),
        # A leak that opens in the middle of the hold fades from nothing.
        lambda t: np.where(t < 1800.0, 10.0 * t / 60.0, 300.0 + 40.0 * (t - 1800.0) / 60.0),
        lambda t: 300.0 * (t / 3600.0) ** 2,
    ],
)
def test_other_rises_show_no_hose(rise):
    assert fit(rise).hose_drop is None


def test_a_leak_that_opens_still_accelerates():
    found = fit(lambda t: np.where(t < 1800.0, 10.0 * t / 60.0, 300.0 + 40.0 * (t - 1800.0) / 60.0))
    assert found.tests.bend_p < 1e-3
    assert not found.tests.adequate
    # It holds the leak at the end, and does not reach far beyond the steepest stretch of the hold.
    assert found.leak.low < 10.0 * PER_MINUTE < 40.0 * PER_MINUTE < found.leak.high < 2.5 * 40.0 * PER_MINUTE


def test_the_drop_that_fades_is_in_neither_part_of_the_drawn_rise():
    rise, _ = beside_the_leak(120.0, bore=0.63, volume=3.0, start=40.0)
    found = fit(rise, start=40.0)
    curve = found.curve
    hidden = (curve.leak[-1] + curve.outgassing[-1]) - (curve.model[-1] - curve.model[0])
    # All of the first drop has faded but for what is left at the end.
    assert 0.6 * found.hose_drop < hidden < found.hose_drop


def test_the_same_leak_is_told_apart_by_where_the_gauge_stands():
    job = random_job("rig_leak", 4)
    assert job.gauge.place is Place.RIG
    system = System(ambient=job.ambient.temperature)
    beside, beyond = (
        analyze_log(run(replace(job, gauge=replace(job.gauge, place=place))).to_log(), system, ahead=Ahead.NOTHING)
        for place in (Place.RIG, Place.SYSTEM)
    )
    for analysis, codes in ((beside, {"H01", "H15"}), (beyond, {"H01"})):
        fit = analysis.holds[-1].fit
        assert fit.leak.low <= job.leaks[0].rate <= fit.leak.high
        assert {finding.code for finding in analysis.verdict.reasons} & {"H01", "H12", "H14", "H15"} == codes


@pytest.mark.parametrize("gap", [150.0, 250.0])
def test_two_volumes_that_equalise_through_a_path_that_opens_hide_no_leak(gap):
    """Knudsen's path between them lets more through as the pressure rises; integrated by scipy.integrate.solve_ivp."""
    near = 0.3  # of the whole volume
    rate = 3.0

    def flows(_, pressure):
        flow = (0.3 + pressure.mean() / 500.0) / 1.3 * (pressure[1] - pressure[0]) / 100.0
        return [flow * (1.0 - near), rate / (1.0 - near) / 60.0 - flow * near]

    def rise(time):
        found = solve_ivp(flows, (0.0, time[-1]), [25.0, 25.0 + gap], t_eval=time, rtol=1e-8, atol=1e-6)
        return found.y[0] - 25.0

    log, phase = hold_log(rise, length=1800.0, sampling=5.0, noise=0.1, start=25.0, seed=3)
    leak = fit_of(log, phase, under_vacuum=3000.0, pull=DRY_PULL, ambient=293.15).leak
    assert leak.low <= rate * PER_MINUTE <= leak.high


def test_no_drop_fades_below_the_share_told_from_both_ends():
    rng = np.random.default_rng(3)
    for _ in range(200):
        begin = 10.0 ** rng.uniform(-2.0, 3.5)
        pressure = np.linspace(begin, begin * 10.0 ** rng.uniform(0.0, 2.0), 8)
        first = begin * rng.uniform(0.0, 1.5)
        assert least_left(pressure, first) <= fading_drop(hose_mean_pressure(pressure, first))[-1].min()
