"""A warmer step: sources follow Arrhenius and run dry the sooner, leaks hardly change, a cold rig stays as it was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from decay.errors import RangeError
from decay.physics.arrhenius import activation_energy, arrhenius_factor
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Place, StepKind
from decay.simulation.simulated_run import run
from decay.simulation.sources import Leak, Pool, Surface

RATE = 0.133322387415 / 60.0
COLD = 296.15
WARM = COLD + 15.0
VOLUME = 3.15e-3
SLOW = 1e7
"""Time constant of a pool that hardly runs down. [s]"""


def job(*, warm=WARM, is_rig_warmed=True, **sources):
    steps = (Step(StepKind.PUMP, 1800.0), Step(StepKind.HOLD, 600.0, temperature=warm, is_rig_warmed=is_rig_warmed))
    return Job(steps=steps, **sources)


def outgassed(**changes):
    return run(job(**changes)).holds[0].outgassing_rise


def pool(energy, **changes):
    return replace(Pool(10.0 * RATE * VOLUME * SLOW, SLOW, activation=energy), **changes)


def test_a_pool_grows_as_computed_by_hand():
    """40,000 J/mol and 15 K: exp(40,000 / 8.314 x (1/296.15 - 1/311.15)) = exp(0.7831) = 2.188."""
    grown = outgassed(pools=(pool(40e3),)) / outgassed(pools=(pool(40e3),), warm=None)
    assert grown == pytest.approx(2.188, rel=2e-3)


def test_the_factor_and_the_energy_are_inverse_and_mean_the_same_either_way():
    assert arrhenius_factor(90e3, COLD, WARM) == pytest.approx(5.82, abs=0.01)  # by hand: exp(1.762)
    assert activation_energy(arrhenius_factor(55e3, COLD, WARM), COLD, WARM) == pytest.approx(55e3)
    assert arrhenius_factor(55e3, WARM, COLD) == pytest.approx(1.0 / arrhenius_factor(55e3, COLD, WARM))
    with pytest.raises(RangeError):
        activation_energy(2.0, COLD, COLD)


def test_ten_kelvin_double_a_rate_at_fifty_kilojoules():
    """The chemist's rule of thumb: near room temperature ten kelvin double a rate at about 50 kJ/mol. From memory."""
    assert arrhenius_factor(53e3, 298.15, 308.15) == pytest.approx(2.0, abs=0.02)


def test_what_is_warm_runs_dry_the_sooner():
    fast = Pool(100.0 * RATE * VOLUME, 600.0, activation=60e3)
    steps = (Step(StepKind.PUMP, 1200.0, temperature=WARM), Step(StepKind.HOLD, 600.0, temperature=WARM))
    warm = run(Job(pools=(fast,), steps=steps)).holds[0].outgassing_rise
    cold = run(Job(pools=(fast,), steps=tuple(replace(s, temperature=None) for s in steps))).holds[0].outgassing_rise
    assert warm < 0.5 * cold


def test_walls_grow_at_once_and_age_the_sooner():
    walls = Surface(5.0 * RATE * VOLUME, 1.0, activation=40e3)
    grown = outgassed(surfaces=(walls,)) / outgassed(surfaces=(walls,), warm=None)
    assert 1.5 < grown < 2.188


def test_a_cold_rig_gives_off_what_it_gave_before():
    at_rig = (pool(60e3, place=Place.RIG),)
    cold = outgassed(pools=at_rig, warm=None)
    assert outgassed(pools=at_rig, is_rig_warmed=False) == pytest.approx(cold, rel=1e-6)
    assert outgassed(pools=at_rig) > 2.0 * cold


def test_a_leak_keeps_its_amount_of_gas_or_changes_as_told():
    steady, grown = (run(job(leaks=(Leak(4.0 * RATE, growth=growth),))).holds[0].leak_rate for growth in (0.0, 0.002))
    assert steady == pytest.approx(4.0 * RATE, rel=1e-4)
    assert grown / steady == pytest.approx(1.03, rel=1e-4)


def test_a_step_outside_any_workshop_is_refused():
    with pytest.raises(RangeError):
        Step(StepKind.HOLD, 600.0, temperature=400.0)
