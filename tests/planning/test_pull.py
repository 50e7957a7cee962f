"""The pull against published pump-down times, closed forms, and an independent integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from decay.errors import RangeError, UnitError
from decay.physics import pump, water
from decay.planning import Equipment, Hose, parse_hose
from decay.planning.planned_pull import pull, throughput, water_time

ROOM = 293.15


@pytest.mark.parametrize(("volume", "speed", "start", "target", "ultimate", "printed", "digit"), [
    # engineeringtoolbox.com, "Vacuum evacuation time" d_844: 1 m³, 0.1 m³/s, from 1000 mbar.
    (1.0, 0.1, 1000e2, 500e2, 0.0, 6.9, 0.1),
    (1.0, 0.1, 1000e2, 100e2, 0.0, 23.0, 1.0),
    (1.0, 0.1, 1000e2, 10e2, 0.0, 46.0, 1.0),
    # Textbook example 14-6 (engineering text, 6 ft³ at 4 ft³/min from 30 to 6 inHg absolute): 2.41 min.
    (6 * 0.3048**3, 4 * 0.3048**3 / 60, 30 * 3386.389, 6 * 3386.389, 0.0, 2.41 * 60, 0.6),
    # Closed form t = (V/S) ln((p0 - pu)/(p - pu)) as a pump maker's page states it; derived, not printed there.
    (0.010, 0.001, 101325.0, 10.0, 5.0, 99.166, 0.001),
    (0.010, 0.001, 101325.0, 66.661, 5.0, 74.0439, 0.0001),
])
def test_published_times_without_a_hose(volume, speed, start, target, ultimate, printed, digit):
    found = pull(volume, Equipment(speed, ultimate), target, ROOM, start=start)
    assert found.to_target == pytest.approx(printed, abs=max(digit / 2, 2e-3))
    assert found.without_hoses == pytest.approx(found.to_target, rel=1e-4)


def test_through_a_hose_it_is_the_integral_of_the_mass_balance():
    # Independent: scipy's integrator on V dp/dt = -Q, with the pump's side solved by another root finder.
    volume, hose, equipment = 6.5e-3, Hose(6e-3, 1.5), Equipment(2.83e-3, 3.0, (Hose(6e-3, 1.5),))

    def flow(p):
        def gap(p1):
            c = float(pump.tube_conductance(hose.bore, hose.length, 0.5 * (p + p1), ROOM))
            return c * (p - p1) - equipment.speed * (p1 - equipment.ultimate)
        return equipment.speed * (brentq(gap, equipment.ultimate, p, xtol=1e-10) - equipment.ultimate)

    reached = lambda t, y: y[0] - math.log(40.0)  # noqa: E731
    reached.terminal = True
    solved = solve_ivp(lambda t, y: [-flow(math.exp(y[0])) / volume / math.exp(y[0])], (0, 4000), [math.log(101325.0)],
                       events=reached, rtol=1e-8, atol=1e-9)
    assert pull(volume, equipment, 40.0, ROOM).to_target == pytest.approx(float(solved.t_events[0][0]), rel=2e-3)


def test_the_simulator_s_pull_takes_as_long():
    # Another route through the house: the forward model empties the same system of dry air through the same hose.
    from decay.simulation import Ambient, Gauge, Job, Pump, Rig, Step, StepKind, run

    made = run(Job(
        volume=6.0e-3,
        rig=Rig(volume=0.01e-3, hose_bore=6e-3, hose_length=1.5),
        pump=Pump(speed=2.0e-3, ultimate=3.0),
        ambient=Ambient(temperature=ROOM, humidity=0.0),
        gauge=Gauge(lag=0.0),
        steps=(Step(StepKind.PUMP, 900.0),),
    ))
    reached = float(np.interp(-40.0, -made.pressure, made.time))
    expected = pull(6.0e-3, Equipment(2.0e-3, 3.0, (Hose(6e-3, 1.5),)), 40.0, ROOM)
    assert expected.to_target == pytest.approx(reached, rel=0.03)


def test_limits():
    short = pull(5e-3, Equipment(2e-3, 0.0, (Hose(0.05, 0.06),)), 60.0, ROOM)
    bare = pull(5e-3, Equipment(2e-3), 60.0, ROOM)
    assert short.to_target == pytest.approx(bare.to_target, rel=0.01)  # a wide hose is no hose
    hose = Hose(6e-3, 1.5)
    one, two = (pull(5e-3, Equipment(2e-3, 0.0, (hose,) * n), 60.0, ROOM).to_target for n in (1, 2))
    assert 0.45 * one < two < one
    assert pull(1e-2, Equipment(2e-3, 0.0, (hose,)), 60.0, ROOM).to_target == pytest.approx(
        2 * pull(5e-3, Equipment(2e-3, 0.0, (hose,)), 60.0, ROOM).to_target)  # t ~ V
    assert math.isinf(pull(5e-3, Equipment(2e-3, 70.0, (hose,)), 60.0, ROOM).to_target)
    assert throughput(3.0, Equipment(2e-3, 3.0, (hose,)), ROOM)[0] == pytest.approx(0.0, abs=1e-12)


def test_speed_and_conductance_at_the_target_belong_together():
    # 1/S_eff = 1/S + 1/C, where the pump's ultimate pressure is nothing (any vacuum text).
    found = pull(6.5e-3, Equipment(2.83e-3, 0.0, (Hose(6e-3, 1.5),)), 40.0, ROOM)
    assert found.speed_at_target * 2.83e-3 == pytest.approx(
        float(pump.effective_speed(2.83e-3, found.hose_conductance)), rel=1e-6)


@pytest.mark.parametrize(("volume", "target"), [(0.0, 60.0), (1e-3, 0.0), (1e-3, 2e5)])
def test_nonsense_is_refused(volume, target):
    with pytest.raises(RangeError):
        pull(volume, Equipment(2e-3), target, ROOM)


def test_water_s_bounds():
    bounds = water_time(1e-3, Equipment(1e-3), 293.15, heating=10.0)
    # One gram of vapour at 20 degC and 2339 Pa fills 57.8 L (ideal gas): at 1 L/s that takes 57.8 s.
    assert bounds.by_pump == pytest.approx(57.8, rel=1e-3)
    # Latent heat at 20 degC 2453.6 kJ/kg (IAPWS-IF97 tables).
    assert bounds.heat == pytest.approx(2453.6, rel=2e-4)
    assert bounds.by_heat == pytest.approx(245.36, rel=2e-4)
    assert bounds.power == pytest.approx(bounds.heat / bounds.by_pump)
    assert bounds.least == bounds.by_heat
    hosed = water_time(1e-3, Equipment(1e-3, 0.0, (Hose(6e-3, 1.5),)), 293.15)
    assert hosed.by_pump > bounds.by_pump
    assert hosed.by_heat is None


def test_the_share_that_freezes():
    # From 0 degC 11.8 % evaporates and the rest freezes: L_f/(L_f + L_v) with 333.4 and 2500.9 kJ/kg.
    at_zero = water_time(1e-3, Equipment(1e-3), water.TRIPLE_POINT_TEMPERATURE + 1e-6).frozen_share
    assert at_zero == pytest.approx(1 - 0.1176, abs=1e-4)
    assert water_time(1e-3, Equipment(1e-3), 303.15).frozen_share < at_zero


def test_hoses_are_read():
    hose = parse_hose("1/4 in x 5 ft")
    assert (hose.bore, hose.length) == (pytest.approx(6.35e-3), pytest.approx(1.524))
    assert parse_hose("6 mm bore × 1.5 m long") == Hose(0.006, 1.5)
    for wrong in ("6 mm", "1.5 m x 6 mm", "8 mm OD x 1.5 m", "6 x 1.5"):
        with pytest.raises((UnitError, RangeError)):
            parse_hose(wrong)
