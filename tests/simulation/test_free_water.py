"""Free water: its saturation plateau, its cooling, and its freezing, against tables and the heat balance."""

from __future__ import annotations

import numpy as np
import pytest

from decay.physics.water import LATENT_HEAT_FUSION, latent_heat
from decay.physics.water import saturation_pressure as reference_pressure
from decay.simulation import Ambient, FreeWater, Gas, Gauge, Job, Place, Pump, Rig, Step, StepKind, run
from decay.simulation.water_body import HEAT_LIQUID, quick_saturation_pressure

QUIET = Gauge(noise=0.0, wander=0.0, interval=10.0)


@pytest.mark.parametrize("temperature", [233.15, 263.15, 273.1599, 273.1601, 283.123, 293.15, 313.15])
def test_the_fast_saturation_pressure_is_the_physics_one(temperature):
    assert quick_saturation_pressure(temperature) == pytest.approx(float(reference_pressure(temperature)), rel=2e-6)


@pytest.mark.parametrize(("celsius", "published"), [(20.0, 2339.0), (10.0, 1228.0), (-10.0, 259.9)])
def test_a_held_wet_system_rises_to_saturation_at_ambient(celsius, published):
    # IAPWS steam tables at 20 °C (2.339 kPa) and 10 °C (1.228 kPa); ice at -10 °C 259.9 Pa, IAPWS R14-08.
    job = Job(ambient=Ambient(273.15 + celsius, humidity=0.0), gauge=QUIET, waters=(FreeWater(20e-3),),
              initial_pressure=1.0, steps=(Step(StepKind.PUMP, 300.0), Step(StepKind.HOLD, 6000.0)))
    made = run(job)
    assert float(made.partial[Place.SYSTEM, Gas.WATER][-1]) == pytest.approx(published, rel=2e-3)
    assert made.water_temperature[-1] == pytest.approx(273.15 + celsius, abs=0.1)


def test_pumped_water_without_heat_cools_and_freezes_by_its_own_evaporation():
    # The heat balance alone: from 20 °C, what evaporates until all is ice carries the sensible and the fusion heat.
    job = Job(volume=5e-3, rig=Rig(hose_bore=0.04, hose_length=0.2), pump=Pump(0.02, 0.0),
              ambient=Ambient(293.15, humidity=0.0), gauge=QUIET, initial_pressure=100.0,
              waters=(FreeWater(10e-3, area=5e-3, access=0.05, coupling=1e-9),), steps=(Step(StepKind.PUMP, 1200.0),))
    made = run(job)
    coldest = float(np.min(made.water_temperature))
    assert coldest < 272.0
    # At 0 °C the temperature stands still while it freezes; then all of it is ice.
    frozen = np.flatnonzero((made.water_temperature < 273.159) & (made.time > 1.0))[0]
    standing = np.flatnonzero(np.abs(made.water_temperature - 273.16) < 1e-9)
    assert len(standing) > 10
    start = job.waters[0].mass
    cooled = start * np.exp(-HEAT_LIQUID * (293.15 - 273.16) / latent_heat(283.15))
    # 11.8 % must leave for the rest to freeze.
    dry_share = LATENT_HEAT_FUSION / (latent_heat(273.16) + LATENT_HEAT_FUSION)
    left = _mass_left(job, float(made.time[frozen]))
    assert left == pytest.approx(cooled * (1.0 - dry_share), rel=0.005)
    assert start - left == pytest.approx(start - cooled * (1.0 - dry_share), rel=0.03)


def _mass_left(job, time):
    shorter = Job(**{**{f: getattr(job, f) for f in job.__dataclass_fields__},
                     "steps": (Step(StepKind.PUMP, time - 1e-3), Step(StepKind.HOLD, 1e-3))})
    return run(shorter).holds[0].water_mass


def test_little_water_dries_out_and_the_pull_goes_on():
    job = Job(gauge=QUIET, waters=(FreeWater(0.3e-3),),
              steps=(Step(StepKind.PUMP, 2400.0), Step(StepKind.HOLD, 300.0)))
    made = run(job)
    assert made.holds[0].water_mass == 0.0
    assert made.pressure[-1] < 10.0
    assert abs(made.imbalance) < 1e-12


def test_a_pull_stalls_while_there_is_water():
    pull = (Step(StepKind.PUMP, 1500.0),)
    wet = run(Job(gauge=QUIET, waters=(FreeWater(50e-3, area=3e-3, coupling=1.5),), steps=pull))
    dry = run(Job(gauge=QUIET, steps=pull))
    assert wet.pressure[-1] > 50 * dry.pressure[-1]
    late = wet.pressure[wet.time > 900.0]
    assert float(late.max() / late.min()) < 1.2
