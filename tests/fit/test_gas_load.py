"""The pull as evidence, held against the forward model and against hand calculations."""

from __future__ import annotations

import pytest

from decay.fit.gas_load import first_rise, gas_load, speed_behind
from decay.fit.results import Plateau
from decay.interval import Interval
from decay.physics import pump
from decay.pipeline import analyze
from decay.simulate.equipment import Gauge, Pump, Rig
from decay.simulate.job import Job
from decay.simulate.simulated_run import run
from decay.simulate.sources import Leak, Surface
from decay.simulate.words import Place
from decay.system import System

from .holds import DRY_PULL, PER_MINUTE

VOLUME = 5.2e-3
HOSE = (6.0e-3, 1.5)
SPEED = 2.8e-3


def exactly(x):
    return Interval(x, x, x)


def judged(place, *, volume=VOLUME, leak=20.0, hose=HOSE):
    job = Job(
        volume=VOLUME - 0.2e-3,
        rig=Rig(volume=0.2e-3, hose_bore=hose[0], hose_length=hose[1]),
        pump=Pump(speed=SPEED, ultimate=2.0),
        gauge=Gauge(place=place),
        leaks=(Leak(leak * PER_MINUTE),),
        surfaces=(Surface(1.0 * PER_MINUTE * VOLUME),),
        seed=2,
    )
    told = System(volume=exactly(volume), volume_origin="stated", ambient=296.0, pump_speed=SPEED, hose=HOSE)
    return analyze(run(job).to_log(), told)


def codes(analysis):
    return {finding.code for finding in analysis.verdict.caveats}


def test_speed_behind_a_hose_balances_the_flow():
    # What leaves through the hose enters the pump: C (p - p1) = S p1.
    speed, line = speed_behind(SPEED, HOSE, 100.0, 296.0)
    at_pump = 100.0 * line / (line + SPEED)
    assert line == pytest.approx(float(pump.tube_conductance(*HOSE, (100.0 + at_pump) / 2, 296.0)), rel=1e-6)
    assert speed == pytest.approx(SPEED * at_pump / 100.0, rel=1e-6)
    assert speed_behind(SPEED, None, 100.0, 296.0) == (SPEED, None)


def test_bands_of_the_forward_model_show_the_speed_that_the_hose_leaves():
    load = judged(Place.SYSTEM, leak=0.0).load
    fast = [band for band in load.bands if band.low > 100.0]
    assert fast
    for band in fast:
        # The expected speed is that in the middle of a band of up to a decade, the seen one its mean: a factor of two.
        assert 0.5 < band.seen.value / band.expected < 2.0
    assert load.lost_to_hose > 60.0
    assert load.lost_to_hose <= sum(band.lost for band in load.bands)


def test_pull_and_hold_of_the_forward_model_agree_where_the_gauge_sees_the_system():
    analysis = judged(Place.SYSTEM)
    assert not analysis.load.gives_more_than_pulled
    assert "E07" not in codes(analysis)
    assert "E06" in codes(analysis)


def test_a_gauge_at_the_pump_is_noticed():
    analysis = judged(Place.RIG)
    assert analysis.load.gives_more_than_pulled
    assert "E07" in codes(analysis)


def test_a_volume_stated_far_too_large_is_noticed():
    assert "E07" in codes(judged(Place.SYSTEM, volume=10 * VOLUME))


def test_a_known_ultimate_pressure_shows_gas_that_never_came_from_the_system():
    fit = judged(Place.SYSTEM, leak=0.0).holds[0].fit
    pull = judged(Place.SYSTEM).pumpdowns[0]
    load = gas_load(pull, fit, speed=SPEED, volume=exactly(VOLUME), ultimate=1.0, ambient=296.0)
    assert load.gives_less_than_pulled == (load.given.high * 3 < load.pulled.low)
    assert load.pulled.low > 0.0


def test_first_rise_is_the_leak_where_nothing_levels_off():
    fit = judged(Place.SYSTEM, leak=200.0).holds[0].fit
    assert first_rise(fit).value == pytest.approx(200.0 * PER_MINUTE, rel=0.05)


def test_water_leaves_no_faster_than_its_vapour_is_pumped():
    # By hand: 611.66 Pa and 1e-3 m³/s at 296 K are 0.2485e-3 mol/s, 4.48e-6 kg/s; 10 g take 2,234 s; and 2.50 MJ/kg
    # (handbook) make 11.2 W.
    from dataclasses import replace

    pull = replace(DRY_PULL, plateaus=(Plateau(0.0, 600.0, 611.66, "water at 0 °C"),), water_suspected=True)
    load = gas_load(pull, None, speed=1e-3, ambient=296.0)
    (water,) = load.water
    assert water.rate == pytest.approx(4.477e-6, rel=1e-3)
    assert water.time == pytest.approx(2234.0, rel=1e-3)
    assert water.power == pytest.approx(11.2, rel=5e-3)
    assert water.temperature == pytest.approx(273.16, abs=0.02)
    assert water.freezing == pytest.approx(2501 / (2501 + 333.5), abs=0.002)
    assert water.during == pytest.approx(600 * water.rate)
