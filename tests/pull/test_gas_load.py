"""The pull as evidence, held against the forward model and against hand calculations."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from decay.fit.results import Band, Plateau, StoodAt
from decay.interval import Interval
from decay.physics import pump
from decay.pipeline import Ahead, analyze_log
from decay.pull.gas_load import first_rise, gas_load, speed_behind
from decay.simulation.apparatus import Gauge, Pump, Rig
from decay.simulation.job import Job
from decay.simulation.kinds import Place
from decay.simulation.simulated_run import run
from decay.simulation.sources import Leak, Surface
from decay.system import System
from tests.fit.holds import DRY_PULL, PER_MINUTE

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
    return analyze_log(run(job).to_log(), told, ahead=Ahead.NOTHING)


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
        # Both are means over the band. The forward model's gas meets turbulence near atmosphere, and the walls below.
        assert 0.75 < band.seen.value / band.expected < 1.1
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
    # By hand: 611.66 Pa and 1e-3 m³/s at 273.16 K, as cold and dense as vapour leaves the water, are 0.2693e-3 mol/s,
    # 4.852e-6 kg/s; 10 g take 2,061 s; and 2.50 MJ/kg (handbook) make 12.1 W.
    pull = replace(DRY_PULL, plateaus=(Plateau(0.0, 600.0, 611.66, 611.66, "water at 0 °C", StoodAt.WATER),),
                   water_suspected=True)
    load = gas_load(pull, None, speed=1e-3, ambient=296.0)
    (water,) = load.water
    assert water.rate == pytest.approx(4.852e-6, rel=1e-3)
    assert water.time == pytest.approx(2061.0, rel=1e-3)
    assert water.power == pytest.approx(12.1, rel=5e-3)
    assert water.temperature == pytest.approx(273.16, abs=0.02)
    assert water.freezing == pytest.approx(2501 / (2501 + 333.5), abs=0.002)
    assert water.during == pytest.approx(600 * water.rate)


def test_what_left_through_a_hose_is_bounded_by_the_vapour_s_own_viscosity():
    """Saturated vapour at 0 degC has 9.22e-6 Pa s in the steam tables of 1984 (from memory; the formula of 2008 in use
    has 3 % less): half of air's 17.2e-6."""
    plateau = Plateau(0.0, 600.0, 611.66, 650.0, "water at 0 °C", StoodAt.WATER)
    load = gas_load(replace(DRY_PULL, plateaus=(plateau,), water_suspected=True), None, speed=SPEED, hose=HOSE,
                    ambient=296.0)
    (water,) = load.water
    bore, length = HOSE

    def gap(at_pump):  # laminar flow alone, which is nearly all of it here
        return math.pi * bore**4 * (650.0**2 - at_pump**2) / (256 * 9.22e-6 * length) - SPEED * at_pump

    laminar = SPEED * brentq(gap, 0.0, 650.0) * 0.018015 / (8.314463 * 273.16)
    assert laminar < water.rate < 1.06 * laminar
    assert water.during == pytest.approx(600.0 * water.rate)


def test_what_freezes_has_cooled_first():
    """By hand: from 7 degC to 0.01 degC 4.19 kJ/(kg K) take 1.2 % along, and 88.2 % of the rest freezes: 87.2 %."""
    pull = replace(DRY_PULL, plateaus=(Plateau(0.0, 600.0, 1002.1, 1002.1, "water", StoodAt.WATER),),
                   water_suspected=True)
    (water,) = gas_load(pull, None, speed=1e-3, ambient=296.0).water
    assert water.temperature - 273.15 == pytest.approx(7.0, abs=0.05)  # 1.0021 kPa at 7 degC, IAPWS-IF97 tables
    assert water.freezing == pytest.approx(0.872, abs=0.001)


def test_gas_pulled_at_most_lets_it_be_vapour():
    load = gas_load(replace(DRY_PULL, end_pressure=80.0), None, speed=SPEED, hose=HOSE, ambient=296.0)
    assert 1.65 < load.pulled.high / load.pulled.value < 1.9
    bare = gas_load(replace(DRY_PULL, end_pressure=80.0), None, speed=SPEED, ambient=296.0)
    assert bare.pulled.high == bare.pulled.value


def test_bands_took_no_longer_than_the_pull():
    analysis = judged(Place.SYSTEM, leak=0.0)
    pull, load = analysis.pumpdowns[0], analysis.load
    assert sum(band.time for band in load.bands) <= pull.end - pull.start
    assert sum(band.lost for band in load.bands) <= pull.end - pull.start


def test_the_speed_expected_in_a_band_is_its_mean():
    """Against an integral of ln p over the speed at each pressure, by another integrator."""
    high, low = 1333.2, 133.32
    band = Band(high, low, 100.0, exactly(100.0 / math.log(10.0)))
    load = gas_load(replace(DRY_PULL, bands=(band,)), None, speed=SPEED, hose=HOSE, volume=exactly(VOLUME))
    slowness, _ = quad(lambda x: 1.0 / speed_behind(SPEED, HOSE, math.exp(x), 293.15)[0], math.log(low), math.log(high))
    assert load.bands[0].expected == pytest.approx(math.log(high / low) / slowness, rel=1e-3)
    assert load.bands[0].seen.value == pytest.approx(VOLUME * math.log(10.0) / 100.0)
    assert load.bands[0].lost == pytest.approx(100.0 - VOLUME / SPEED * math.log(10.0))
