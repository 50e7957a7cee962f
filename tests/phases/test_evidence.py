"""What must speak for a hold: a rise beyond noise and wandering, or a fall that ends too soon. All of it synthetic."""

from __future__ import annotations

import numpy as np
import pytest

from decay.log.pressure_log import PressureLog
from decay.phases import Kind, find_phases
from decay.phases.noise import slow_wander
from tests.phases.truth import ATMOSPHERE, MICRON

ULTIMATE = 30.0


def wandering(rng: np.random.Generator, count: int, interval: float, spread: float, lasts: float) -> np.ndarray:
    """Return a gauge's slow wandering: a stationary walk that forgets itself in so many seconds. [micron]"""
    keep = np.exp(-interval / lasts)
    steps = rng.normal(0.0, spread * np.sqrt(1.0 - keep**2), count)
    values = np.empty(count)
    values[0] = rng.normal(0.0, spread)
    for i in range(1, count):
        values[i] = keep * values[i - 1] + steps[i]
    return values


def made(
    seed: int,
    *,
    pulled: float,
    held: float = 0.0,
    rise: float = 0.0,
    interval: float = 2.0,
    noise: float = 0.5,
    wander: float = 0.0,
    ultimate: float = ULTIMATE,
) -> PressureLog:
    """Return a pull to an ultimate pressure, and a hold that rises by so many micron until its end."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, pulled + held, interval)
    micron = ultimate + ATMOSPHERE / MICRON * np.exp(-time / 14.0) + 300.0 * np.exp(-time / 150.0)
    if held > 0:
        micron = micron + rise * np.maximum(time - pulled, 0.0) / held
    micron = micron + noise * rng.standard_normal(len(time))
    if wander > 0:
        micron = micron + wandering(rng, len(time), interval, wander, 60.0)
    pressure = np.maximum(np.round(micron), 0.0) * MICRON
    return PressureLog(
        "made", time, pressure, np.arange(len(time)) + 2, np.zeros(len(time), bool), np.full(len(time), MICRON), "g",
        "micron", len(time),
    )  # fmt: skip


def holds(log: PressureLog):
    return [phase for phase in find_phases(log) if phase.kind is Kind.HOLD]


@pytest.mark.parametrize("seed", range(8))
def test_a_pump_at_its_limit_under_a_wandering_gauge_is_no_hold(seed):
    assert not holds(made(seed, pulled=5400.0, wander=1.0, noise=0.8))


@pytest.mark.parametrize("seed", range(4))
def test_while_the_log_grows_a_pump_at_its_limit_shows_no_hold(seed):
    log = made(seed, pulled=3600.0, wander=0.8)
    seen = []
    for count in range(150, len(log.time), 150):
        cut = PressureLog(
            log.source, log.time[:count], log.pressure[:count], log.line[:count], log.is_over_range[:count],
            log.step[:count], log.gauge, log.unit, count,
        )  # fmt: skip
        seen.append(find_phases(cut)[-1].kind)
    assert len(seen) >= 10
    assert Kind.HOLD not in seen


@pytest.mark.parametrize("seed", range(6))
def test_a_rise_of_five_micron_in_an_hour_is_found_and_its_start_told_with_a_doubt(seed):
    (hold,) = holds(made(seed, pulled=3600.0, held=3600.0, rise=5.0, wander=0.3))
    assert hold.start == pytest.approx(3600.0, abs=900.0)
    assert hold.end == pytest.approx(7198.0)
    assert "the valve closed " in hold.remark


def test_a_day_of_hold_after_an_hour_of_pulling_is_found_by_its_whole_rise():
    (hold,) = holds(made(1, pulled=3600.0, held=23 * 3600.0, rise=6.0, interval=10.0, wander=0.3))
    assert hold.start == pytest.approx(3600.0, abs=3 * 3600.0)
    assert "the valve closed " in hold.remark


@pytest.mark.parametrize("seed", range(3))
def test_a_day_without_any_rise_is_left_to_the_user(seed):
    found = find_phases(made(seed, pulled=3600.0, held=23 * 3600.0, rise=0.0, interval=10.0))
    assert found[-1].kind is Kind.UNCLEAR
    assert "--hold START..END" in found[-1].remark


@pytest.mark.parametrize("seed", range(4))
def test_a_plateau_of_water_under_the_pump_is_no_hold_while_it_falls(seed):
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 2400.0, 2.0)
    micron = 1700.0 - 25.0 * time / 2400.0 + ATMOSPHERE / MICRON * np.exp(-time / 14.0)
    micron = np.round((micron + 3.0 * rng.standard_normal(len(time))) / 10.0) * 10.0
    log = PressureLog(
        "made", time, micron * MICRON, np.arange(len(time)), np.zeros(len(time), bool),
        np.full(len(time), 10.0 * MICRON), "g", "micron", len(time),
    )  # fmt: skip
    assert not holds(log)


def test_flat_under_control_for_half_a_day_is_no_hold():
    rng = np.random.default_rng(2)
    time = np.arange(0.0, 20 * 3600.0, 60.0)
    micron = np.where(time < 8 * 3600.0, 2100.0, 100.0 + 2000.0 * np.exp(-(time - 8 * 3600.0) / 300.0))
    micron = np.round(micron + 0.8 * rng.standard_normal(len(time)))
    log = PressureLog(
        "made", time, micron * MICRON, np.arange(len(time)), np.zeros(len(time), bool), np.full(len(time), MICRON),
        "g", "micron", len(time),
    )  # fmt: skip
    assert not holds(log)


class TestSlowWander:
    """The wandering that means over neighbouring readings keep."""

    def test_independent_noise_is_none(self):
        rng = np.random.default_rng(0)
        wander, _ = slow_wander(100.0 + rng.standard_normal(6000), np.ones(6000), 1.0)
        assert wander < 0.2

    @pytest.mark.parametrize("lasts", [20.0, 60.0])
    def test_a_stationary_walk_is_seen_for_the_most_part(self, lasts):
        rng = np.random.default_rng(1)
        values = 100.0 + wandering(rng, 20000, 1.0, 1.0, lasts) + 0.3 * rng.standard_normal(20000)
        wander, over = slow_wander(values, np.full(20000, 0.3), 1.0)
        assert 0.6 < wander < 1.2
        assert over >= 16.0

    def test_a_steady_rise_adds_nothing(self):
        values = 100.0 + 0.05 * np.arange(3600.0)
        assert slow_wander(values, np.zeros(3600), 1.0)[0] < 1e-6

    def test_few_readings_tell_nothing(self):
        assert slow_wander(np.full(6, 3.0), np.ones(6), 1.0)[0] == 0.0


def held_after_standing(rise, seed: int) -> PressureLog:
    """Return a pull that ends early at the pump's limit, and a hold that the valve begins only at 500 s."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 1600.0, 2.0)
    pressure = ULTIMATE + 760_000.0 * np.exp(-time / 18.0) + rise(np.maximum(time - 500.0, 0.0))
    pressure = np.round((pressure + rng.normal(0.0, 0.3, len(time))) * 10.0) / 10.0 * MICRON
    count = len(time)
    return PressureLog("made", time, np.minimum(pressure, ATMOSPHERE), np.arange(count) + 2, np.zeros(count, bool),
                       np.full(count, 0.1 * MICRON), "gauge", "micron", count)


@pytest.mark.parametrize("seed", range(4))
def test_what_stands_before_it_rises_may_have_been_pumped_for_so_long(seed):
    log = held_after_standing(lambda s: -6.0 * np.expm1(-s / 400.0), seed)
    hold = next(phase for phase in find_phases(log) if phase.kind is Kind.HOLD)
    assert hold.start - hold.earlier - 10.0 <= 500.0 <= hold.start + hold.later + 45.0


@pytest.mark.parametrize("seed", range(4))
def test_a_hold_that_rises_from_its_closing_on_keeps_its_moment(seed):
    log = held_after_standing(lambda s: 0.05 * s, seed)
    hold = next(phase for phase in find_phases(log) if phase.kind is Kind.HOLD)
    assert hold.start == pytest.approx(500.0, abs=20.0)
    assert hold.later <= 40.0
