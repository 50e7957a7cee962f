"""The rig alone: the difference of intervals, and jobs of the forward model in which rig and system leak apart."""

from __future__ import annotations

import numpy as np
import pytest

from decay.interval import Interval, difference, not_below_zero
from decay.pipeline import Ahead, analyze_log, examine_rig
from decay.several.rig import rig_test, without_rig
from decay.simulation.apparatus import Gauge, Rig
from decay.simulation.job import Job
from decay.simulation.kinds import Place
from decay.simulation.simulated_run import run
from decay.simulation.sources import Leak, Surface
from decay.system import System
from tests.fit.holds import PER_MINUTE, fit_of, hold_log, steady


def exactly(x):
    return Interval(x, x, x)


def test_the_difference_covers_as_often_as_its_parts():
    # Against chance: normal estimates of 10 and 7 with errors of 1 and 2, their 95 % intervals taken apart.
    rng = np.random.default_rng(3)
    covered = 0
    for a, b in zip(rng.normal(10.0, 1.0, 4000), rng.normal(7.0, 2.0, 4000), strict=True):
        found = difference(Interval(a, a - 1.96, a + 1.96), Interval(b, b - 3.92, b + 3.92))
        covered += found.low <= 3.0 <= found.high
    assert covered / 4000 == pytest.approx(0.95, abs=0.012)


def test_the_difference_keeps_an_open_side():
    found = difference(Interval(5.0, 0.0, 6.0), exactly(1.0))
    assert (found.value, found.low, found.high) == (4.0, -1.0, 5.0)
    assert not_below_zero(found).low == 0.0


def rig_of(rate):
    log, phase = hold_log(steady(rate))

    from tests.fit.holds import DRY_PULL

    return fit_of(log, phase, under_vacuum=1800.0, pull=DRY_PULL), DRY_PULL


def test_the_same_throughput_rises_less_in_a_larger_volume():
    fit, pull = rig_of(60.0)
    test = rig_test("rig.csv", fit, pull, exactly(0.3e-3))
    share = without_rig(Interval(*(x * PER_MINUTE for x in (10.0, 9.0, 11.0))), test, exactly(6e-3))
    assert share.share.value == pytest.approx(3.0 * PER_MINUTE, rel=0.02)
    assert share.leak.value == pytest.approx(7.0 * PER_MINUTE, rel=0.02)
    assert share.leak.low < 7.0 * PER_MINUTE < share.leak.high
    assert not share.explains_all
    assert not share.leaks_as_much


def test_without_a_volume_only_the_lower_end_moves():
    fit, pull = rig_of(2.0)
    whole = Interval(*(x * PER_MINUTE for x in (10.0, 9.0, 11.0)))
    share = without_rig(whole, rig_test("rig.csv", fit, pull, None), exactly(6e-3))
    assert share.is_bounded_only
    assert share.leak.high == whole.high
    assert share.leak.low == pytest.approx(whole.low - fit.leak.high)
    assert share.leak.low > 0.0


def test_it_is_never_below_zero():
    fit, pull = rig_of(60.0)
    whole = Interval(*(x * PER_MINUTE for x in (1.0, 0.9, 1.1)))
    share = without_rig(whole, rig_test("rig.csv", fit, pull, exactly(0.3e-3)), exactly(3e-3))
    assert (share.leak.value, share.leak.low) == (0.0, 0.0)
    assert share.explains_all


SYSTEM_VOLUME, RIG_VOLUME = 4.0e-3, 0.4e-3


def job(system_leak, rig_leak, *, is_rig_alone=False, seed=5):
    """Return a job; leaks as the rise [micron/min] that each makes in rig and system together."""
    # Alone the rig holds its own volume; the model wants a system, which is then a plug of a few millilitres.
    volume = 4e-6 if is_rig_alone else SYSTEM_VOLUME
    whole = SYSTEM_VOLUME + RIG_VOLUME
    scale = whole / (volume + RIG_VOLUME)
    leaks = [Leak(rig_leak * scale * PER_MINUTE, Place.RIG)]
    if not is_rig_alone:
        leaks.append(Leak(system_leak * PER_MINUTE))
    return Job(
        volume=volume,
        rig=Rig(volume=RIG_VOLUME),
        gauge=Gauge(place=Place.RIG),
        leaks=tuple(leaks),
        surfaces=(Surface(0.1 * PER_MINUTE * whole),),
        seed=seed,
        name="rig alone" if is_rig_alone else "rig and system",
    )


@pytest.mark.parametrize(("system_leak", "rig_leak"), [(6.0, 2.0), (0.0, 8.0)])
def test_the_forward_models_system_leak_is_what_is_left(system_leak, rig_leak):
    told = System(
        volume=exactly(SYSTEM_VOLUME + RIG_VOLUME), volume_origin="stated", ambient=296.0,
        rig_volume=exactly(RIG_VOLUME + 4e-6),
    )
    test = examine_rig(run(job(0.0, rig_leak, is_rig_alone=True)).to_log(), told)
    analysis = analyze_log(run(job(system_leak, rig_leak)).to_log(), told, rig=test, ahead=Ahead.NOTHING)
    left = analysis.rig.leak
    assert left.low <= system_leak * PER_MINUTE <= left.high
    assert analysis.rig.share.low <= rig_leak * PER_MINUTE <= analysis.rig.share.high
    codes = {finding.code for finding in analysis.verdict.reasons}
    assert "R01" in codes
    assert ("R02" in codes) == (rig_leak > system_leak)
    assert ("H01" in codes) == (system_leak > 0)
