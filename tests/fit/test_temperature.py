"""A logged temperature on the forward model: its drift is carried into the interval, and the ceiling follows it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay.physics.water import saturation_pressure
from decay.pipeline import Ahead, analyze_log
from decay.simulation.apparatus import Ambient
from decay.simulation.job import Job, Step
from decay.simulation.kinds import StepKind
from decay.simulation.simulated_run import run
from decay.simulation.sources import Leak, Surface
from decay.system import System

from .holds import PER_MINUTE

WHOLE = 3.15e-3


def judged(drift: float, leak: float, *, is_logged: bool, seed: int = 3):
    """Judge a job whose ambient drifts [K/h] with a leak [micron/min]; the column holds the true temperature."""
    job = Job(
        ambient=Ambient(temperature=296.0, drift=drift / 3600.0),
        leaks=(Leak(leak * PER_MINUTE),) if leak else (),
        surfaces=(Surface(0.05 * PER_MINUTE * WHOLE),),
        # Isolated high, where the gas law shows most.
        steps=(Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 3000.0, until=150.0), Step(StepKind.HOLD, 3600.0)),
        seed=seed,
    )
    made = run(job)
    log = made.to_log()
    if is_logged:
        at = np.interp(log.time, made.time - made.readings.time[0], made.ambient)
        log = replace(log, temperature=np.round(at, 1))
    first, truth = made.readings.time[0], made.holds[0]
    analysis = analyze_log(log, System(ambient=296.0), hold=(truth.start - first, truth.end - first),
                       ahead=Ahead.NOTHING)
    return analysis, analysis.holds[analysis.decisive].fit


@pytest.mark.parametrize("drift", [-6.0, 6.0])
@pytest.mark.parametrize("leak", [0.0, 2.0])
def test_a_logged_drift_is_inside_the_interval(drift, leak):
    analysis, fit = judged(drift, leak, is_logged=True)
    assert fit.leak.low <= leak * PER_MINUTE <= fit.leak.high
    if leak == 0.0:
        assert fit.leak.low == 0.0
    assert "K11" in {finding.code for finding in analysis.verdict.caveats}


def test_the_interval_is_wider_by_what_the_drift_can_feign():
    _, steady = judged(0.0, 2.0, is_logged=True)
    _, warming = judged(6.0, 2.0, is_logged=True)
    # p T'/T: about 170 Pa, 6 K/h and 297 K, by hand 0.43 micron/min.
    feigned = warming.end_pressure * 6.0 / 3600.0 / 297.0
    assert feigned == pytest.approx(0.43 * PER_MINUTE, rel=0.2)
    assert warming.decision_threshold > feigned
    # The warming gas itself rises by as much, and the interval reaches as far beyond that.
    assert warming.leak.high - steady.leak.high == pytest.approx(2 * feigned, rel=0.25)


def test_a_drift_that_nobody_logged_is_larger_than_assumed_and_shows():
    # What the column is for: without it one kelvin an hour is assumed, and six read as a rise of air.
    _, fit = judged(6.0, 0.0, is_logged=False)
    _, logged = judged(6.0, 0.0, is_logged=True)
    assert fit.is_steady_rise_seen
    assert not logged.is_steady_rise_seen
    assert logged.leak.high > fit.leak.high


def test_a_steady_column_tells_more_than_no_column():
    _, logged = judged(0.0, 0.0, is_logged=True)
    _, untold = judged(0.0, 0.0, is_logged=False)
    assert logged.decision_threshold < untold.decision_threshold


def test_the_ceiling_of_water_follows_the_logged_temperature():
    _, fit = judged(6.0, 0.0, is_logged=True)
    ends = [float(saturation_pressure(t)) for t in (296.0, 306.0)]
    assert ends[0] < fit.water.saturation.value < ends[1]
    _, stated = judged(6.0, 0.0, is_logged=False)
    assert stated.water.saturation.value == pytest.approx(float(saturation_pressure(296.0)))
    assert fit.water.saturation.value > stated.water.saturation.value
