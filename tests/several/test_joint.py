"""Several holds of one system: one leak, sources that shrink, and repairs in between."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.optimize import nnls

from decay.fit.hold import fit_hold
from decay.fit.measured import measure
from decay.fit.mixture import Mixture
from decay.interval import Interval
from decay.several.chain import Chain, Link
from decay.several.few_holds import FewHolds
from decay.several.joint import MOST_SPLIT, Member, chain_of, fit_joint, no_tighter_than_chance
from tests.fit.holds import (
    DRY_PULL,
    PER_MINUTE,
    fading,
    hold_log,
    holds_of_one_job,
    levelling,
    steady,
    together,
)


def member(rise, isolated, *, seed=0, length=1200.0):
    log, phase = hold_log(together(levelling(25.0, 6.0), rise), seed=seed, length=length)
    measured = measure(log, phase, None, 3.0)
    return Member(measured, isolated, fit_hold(measured, under_vacuum=isolated, pull=DRY_PULL).tests.inflation)


ISOLATIONS = (1800.0, 5400.0, 9000.0)


@cache
def leaking_and_fading():
    """Return three holds of a leak and a source that fades, and what they say together."""
    members = [
        member(together(steady(3.0), fading(40.0, 2400.0, at)), at, seed=i) for i, at in enumerate(ISOLATIONS)
    ]
    return members, fit_joint(members)


def test_a_shared_leak_is_resolved_that_no_single_hold_resolves():
    _, joint = leaking_and_fading()
    assert all(alone.low == 0.0 for alone in joint.each)
    assert joint.is_leak_seen
    assert joint.leak.low <= 3.0 * PER_MINUTE <= joint.leak.high
    assert joint.is_homogeneous


def test_holds_disagree_where_what_they_say_together_one_of_them_excludes():
    def held(rise, isolated, length, inflation, noise):
        log, phase = hold_log(rise, length=length, noise=noise, seed=1)
        return Member(measure(log, phase, None, 3.0), isolated, inflation)

    first = held(levelling(400.0, 150.0), 8000.0, 330.0, 1.0, 2.0)
    # So loose by itself that any rate up to its own slope is allowed.
    second = held(together(steady(13.5), levelling(250.0, 150.0)), 19000.0, 1890.0, 400.0, 0.7)
    joint = fit_joint([first, second])
    assert joint.homogeneity_p > 0.1
    assert joint.misfit < 2.0
    assert joint.leak.low > joint.each[0].high
    assert not joint.is_homogeneous


def test_a_fading_source_is_not_a_leak():
    members = [member(fading(20.0, 9000.0, at), at, seed=i) for i, at in enumerate(ISOLATIONS)]
    joint = fit_joint(members)
    assert not joint.is_leak_seen
    assert joint.leak.low == 0.0


def test_a_repair_in_between_is_noticed():
    rates = (60.0, 60.0, 1.0)
    members = [member(steady(rate), at, seed=i) for i, (rate, at) in enumerate(zip(rates, ISOLATIONS, strict=True))]
    joint = fit_joint(members)
    assert not joint.is_homogeneous


def test_agreeing_holds_narrow_the_interval():
    members = [member(steady(30.0), at, seed=i) for i, at in enumerate(ISOLATIONS)]
    joint = fit_joint(members)
    assert joint.homogeneity_p > 0.01
    assert joint.leak.width < min(alone.width for alone in joint.each)
    assert joint.leak.value == pytest.approx(30.0 * PER_MINUTE, rel=0.05)


def test_what_each_hold_adds_is_told():
    members, joint = leaking_and_fading()
    assert len(joint.without) == 3
    for i, rest in enumerate(joint.without):
        assert rest.low <= 3.0 * PER_MINUTE <= rest.high
        others = fit_joint([m for k, m in enumerate(members) if k != i], is_split=False)
        assert (rest.low, rest.high) == pytest.approx((others.leak.low, others.leak.high), rel=0.02, abs=1e-9)


def test_a_source_that_repeats_in_every_hold_is_not_a_leak():
    # In equilibrium with the gas above it, filled again by every sweep: the same rise each time.
    members = [member(levelling(300.0, 900.0), at, seed=i) for i, at in enumerate(ISOLATIONS)]
    joint = fit_joint(members, under_vacuum=ISOLATIONS[-1])
    assert not joint.is_leak_seen
    assert joint.is_homogeneous


def test_an_open_leak_is_limited_no_more_tightly_than_so_many_holds_could_by_chance():
    """Means of n independent values scatter by a root of n less; more would rest on pools that repeat."""
    each = [Interval(1.2, 0.0, 1.3), Interval(0.0, 0.0, 1.5)]
    assert no_tighter_than_chance(Interval(0.0, 0.0, 0.66), each).high == pytest.approx(1.3 / 2.0**0.5)
    for kept in (Interval(0.0, 0.0, 1.1), Interval(0.5, 0.4, 0.6)):
        assert no_tighter_than_chance(kept, each) == kept


def test_walls_that_fade_as_a_power_of_time_are_not_a_leak():
    def walls(age, exponent=0.5, after_an_hour=20.0):
        def rise(t):
            grown = ((age + t) ** (1 - exponent) - age ** (1 - exponent)) / (1 - exponent)
            return after_an_hour / 60.0 * 3600.0**exponent * grown

        return rise

    members = [member(walls(at), at, seed=i) for i, at in enumerate(ISOLATIONS)]
    joint = fit_joint(members, under_vacuum=ISOLATIONS[-1])
    assert not joint.is_leak_seen


def test_a_quiet_last_hold_is_not_drowned_by_a_damp_first_one():
    members = [member(levelling(height, 300.0), at, seed=i)
               for i, (height, at) in enumerate(zip((800.0, 200.0, 20.0), ISOLATIONS, strict=True))]
    joint = fit_joint(members)
    # The quiet one's own upper end, and a tenth of the 45 micron that it rises before it levels off.
    assert joint.leak.high <= joint.each[-1].high + 0.1 * 45.0 * 3.0 * PER_MINUTE / 60.0
    # The first, by the same share of its 800 micron, might hide 4 micron/min.
    assert joint.leak.high < 0.1 * 4.0 * PER_MINUTE


def written_out(own, kept):
    """Return every column of a chain: a source's part in one hold and, as far as it is kept, in those before."""
    columns = []
    for last in range(len(own)):
        parts = [np.zeros_like(each) for each in own]
        factor = np.ones(own[0].shape[1])
        for i in range(last, -1, -1):
            parts[i] = own[i] * factor
            factor = factor * kept[i]
        columns.append(np.vstack(parts))
    return np.hstack(columns)


@pytest.mark.parametrize(("count", "form"), [(2, FewHolds), (5, FewHolds), (2, Chain), (5, Chain)])
def test_few_holds_and_a_chain_find_the_optimum_of_the_whole_table(count, form):
    """Against scipy's solver on the whole table of columns, written out hold by hold."""
    members = holds_of_one_job(count)
    grid = np.geomspace(2.0, 9000.0, 40)
    problems = [Mixture(m.hold.bins, m.hold.noise.covariance, grid) for m in members]
    links = chain_of(members, problems, grid).links
    found = form(links)
    table = written_out([link.own for link in links], [link.kept for link in links])
    lengths = np.linalg.norm(table, axis=0)
    table /= np.where(lengths > 0.0, lengths, 1.0)
    line, target = (np.concatenate([getattr(link, name) for link in links]) for name in ("line", "target"))
    for rate in (0.0, PER_MINUTE, 5 * PER_MINUTE):
        _, rest = nnls(table, target - rate * line, maxiter=20_000)
        assert found.misfit(rate) == pytest.approx(rest**2, rel=1e-9)
    _, rest = nnls(np.column_stack((line / np.linalg.norm(line), table)), target, maxiter=20_000)
    assert found.best().misfit == pytest.approx(rest**2, rel=1e-9)


def test_sources_that_run_dry_over_many_holds_stay_within_what_a_float_holds():
    """A hundred holds, each an hour after the one before: a source of a quarter of an hour falls by e^400."""
    readings, sources = 12, 3
    generator = np.random.default_rng(5)
    time = np.linspace(0.0, 1.0, readings)
    own = -np.expm1(-np.outer(time, (1.0, 3.0, 9.0)))
    links = [Link(time, 0.2 * time + own @ np.array([1.0, 0.5, 0.2]) + 0.01 * generator.standard_normal(readings), own,
                  np.full(sources, np.exp(4.0))) for _ in range(100)]  # fmt: skip
    found = Chain(links).best()
    assert np.isfinite(found.misfit)
    assert np.isfinite(found.amplitudes).all()
    # What is in the last hold was there e^4 times larger in the one before: a line stands for what repeats itself.
    assert found.rate > 0.2


def test_what_each_of_many_holds_adds_is_not_worked_out_and_that_is_said():
    joint = fit_joint(holds_of_one_job(MOST_SPLIT + 1))
    assert joint.without == ()
    assert "not worked out" in joint.remarks[0]
    assert joint.leak.low <= PER_MINUTE <= joint.leak.high
