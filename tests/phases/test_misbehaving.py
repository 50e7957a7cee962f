"""Gauges, loggers and systems that misbehave as real ones do, and what their phases must still be: all synthetic."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from decay.log.pressure_log import Mark, PressureLog, Valve
from decay.phases import Kind, Phase, find_phases
from decay.phases.phase import Begun, Ended, Untold
from tests.phases.truth import ATMOSPHERE, MICRON, Bench

CLOSED = 1500.0


def bench(seed: int = 1, sampling: float = 1.0) -> Bench:
    made = Bench(np.random.default_rng(seed), sampling)
    made.time.append(0.0)
    made.pressure.append(ATMOSPHERE)
    return made


def pulled(seed: int = 1, sampling: float = 1.0, ultimate: float = 60.0) -> Bench:
    made = bench(seed, sampling)
    made.pull(CLOSED, 12.0, ultimate * MICRON, 900 * MICRON)
    return made


def held(seed: int = 1, sampling: float = 1.0, leak: float = 10.0) -> PressureLog:
    """Return a pull and twenty minutes of a hold."""
    made = pulled(seed, sampling)
    made.hold(1200, leak * MICRON / 60, 150 * MICRON, 400.0, 20 * MICRON, 3.0)
    return made.log()


def changed(log: PressureLog, pressure, keep=None, time=None, step=None, marks=()) -> PressureLog:
    """Return the log with other readings; nan is above range."""
    keep = np.ones(len(log.time), dtype=bool) if keep is None else keep
    pressure = np.asarray(pressure, dtype=float)[keep]
    time = (log.time if time is None else time)[keep]
    step = (log.step if step is None else step)[keep]
    return PressureLog(
        "made", time, pressure, np.arange(len(time)), ~np.isfinite(pressure), step, "g", "micron", len(time),
        marks=marks,
    )  # fmt: skip


def holds(log: PressureLog) -> list[Phase]:
    return [phase for phase in find_phases(log) if phase.kind is Kind.HOLD]


def kinds(log: PressureLog) -> list[str]:
    return [phase.kind.value for phase in find_phases(log)]


def is_whole(hold: Phase, log: PressureLog, within: float = 3.0) -> None:
    """Check that a hold is the one that was made: from its closing to the end of the log."""
    assert hold.start == pytest.approx(CLOSED, abs=within)
    assert hold.end == pytest.approx(float(log.time[-1]), abs=1.0)


class TestGrossLeaks:
    """From the pump's pressure to the end of the range within a minute: the few readings between are the hold."""

    @pytest.mark.parametrize("base", [79.0, 500.0])
    @pytest.mark.parametrize(("seconds", "sampling"), [(50.0, 1.0), (20.0, 1.0), (50.0, 5.0), (12.0, 2.0), (12.0, 5.0)])
    def test_the_rising_readings_are_the_hold_and_the_rail_is_not(self, base, seconds, sampling):
        made = pulled(2, sampling, ultimate=base)
        made.hold(300, 19000.0 * MICRON / seconds, 0.0, 100.0, 0.0, 1.0)
        log = made.log(top=19000 * MICRON)
        (hold,) = holds(log)
        assert hold.start == pytest.approx(CLOSED, abs=max(3.0, 2 * sampling))
        first_above = int(np.flatnonzero(log.is_over_range & (log.time > CLOSED))[0])
        assert hold.last == first_above - 1
        assert hold.ended is Ended.OVER_RANGE
        assert find_phases(log)[-1].untold is Untold.OVER_RANGE

    def test_a_vent_straight_after_the_pull_is_no_gross_leak(self):
        made = pulled(2)
        made.let_in(Kind.VENT, ATMOSPHERE, 5.0, 90)
        assert kinds(made.log()) == ["pumpdown", "vent"]
        assert "hold" not in kinds(made.log(top=19000 * MICRON))


class TestSteps:
    """The gauge's own steps and jumps cut no hold."""

    @pytest.mark.parametrize("seed", range(4))
    def test_two_significant_digits(self, seed):
        log = held(seed)
        step = 10.0 ** np.floor(np.log10(np.maximum(log.pressure, MICRON) / MICRON)) * MICRON / 10.0
        two = changed(log, np.round(log.pressure / step) * step, step=step)
        (hold,) = holds(two)
        is_whole(hold, two, within=20.0)

    @pytest.mark.parametrize("seed", range(3))
    def test_steps_of_fifty_above_a_thousand(self, seed):
        made = pulled(seed)
        made.hold(1200, 150 * MICRON / 60, 0.0, 400.0, 0.0, 3.0)
        log = made.log()
        step = np.where(log.pressure < 1000 * MICRON, MICRON, 50 * MICRON)
        coarse = changed(log, np.round(log.pressure / step) * step, step=step)
        (hold,) = holds(coarse)
        is_whole(hold, coarse)

    @pytest.mark.parametrize("share", [-0.04, -0.02, 0.01, 0.04])
    @pytest.mark.parametrize("at", [110.0, 250.0])
    def test_a_range_jump_in_the_hold_or_in_the_pull(self, share, at):
        log = held(3)
        jumped = changed(log, np.where(log.pressure > at * MICRON, log.pressure * (1 + share), log.pressure))
        (hold,) = holds(jumped)
        is_whole(hold, jumped, within=5.0)


class TestWrongReadings:
    """What leaves the curve and comes back is none of the system's."""

    @pytest.mark.parametrize("value", [0.0, 99999.0, 20000.0, np.nan])
    @pytest.mark.parametrize("at", [0, 5, 700, 1499, 1500, 1501, 2100, -1])
    def test_one_reading_wherever_it_stands(self, value, at):
        log = held(4)
        pressure = log.pressure.copy()
        pressure[at] = value * MICRON
        (hold,) = holds(changed(log, pressure))
        is_whole(hold, log, within=4.0)

    @pytest.mark.parametrize("value", [99999.0, 0.0, np.nan])
    def test_every_fiftieth(self, value):
        log = held(5)
        pressure = log.pressure.copy()
        pressure[7::50] = value * MICRON
        (hold,) = holds(changed(log, pressure))
        is_whole(hold, log)

    @pytest.mark.parametrize("at", [400, 1502, 2100])
    def test_three_rows_of_a_thousand(self, at):
        log = held(6)
        pressure = log.pressure.copy()
        pressure[at : at + 3] = 1000.0 * MICRON
        (hold,) = holds(changed(log, pressure))
        is_whole(hold, log, within=5.0)

    @pytest.mark.parametrize("seed", range(12))
    def test_one_percent_wrong_changes_no_phase(self, seed):
        log = held(seed, sampling=float(1 + seed % 3))
        rng = np.random.default_rng(seed)
        pressure = log.pressure.copy()
        wrong = rng.random(len(pressure)) < 0.01
        pressure[wrong] = rng.choice([0.0, 5e3, 2e4, 99999.0, np.nan], int(wrong.sum())) * MICRON
        before, after = find_phases(log), find_phases(changed(log, pressure))
        assert [phase.kind for phase in after] == [phase.kind for phase in before]
        within = max(3.0, 2 * log.sampling)
        assert [phase.start for phase in after] == pytest.approx([phase.start for phase in before], abs=within)

    def test_a_long_stretch_is_no_excursion(self):
        log = held(7)
        pressure = log.pressure.copy()
        pressure[2000:2060] += 300 * MICRON
        found = find_phases(changed(log, pressure))
        assert found[1].end == pytest.approx(1999, abs=3)
        assert found[1].ended is Ended.STEP


class TestUnderThePump:
    """What rises while the pump runs is no hold."""

    @pytest.mark.parametrize("width", [8.0, 25.0, 60.0])
    @pytest.mark.parametrize("sampling", [1.0, 5.0])
    def test_a_hump_of_150_micron(self, width, sampling):
        log = held(8, sampling)
        hump = 150 * MICRON * np.exp(-0.5 * ((log.time - 900.0) / width) ** 2)
        (hold,) = holds(changed(log, log.pressure + hump))
        is_whole(hold, log, within=max(3.0, 2 * sampling))

    @pytest.mark.parametrize("share", [0.1, 0.2])
    def test_slow_creep_before_the_closing(self, share):
        log = held(9)
        creep = share * 130 * MICRON * np.clip((log.time - 900.0) / 600.0, 0.0, 1.0)
        (hold,) = holds(changed(log, log.pressure + creep))
        is_whole(hold, log, within=5.0)


class TestTheGauge:
    """Changed, unplugged, set off, or standing still."""

    @pytest.mark.parametrize("factor", [0.3, 0.6, 1.6, 4.0])
    def test_another_gauge_from_one_row_on_ends_the_hold(self, factor):
        log = held(10)
        pressure = np.where(log.time < 2100, log.pressure, factor * log.pressure)
        (hold,) = holds(changed(log, pressure))
        assert hold.start == pytest.approx(CLOSED, abs=3)
        assert hold.end == pytest.approx(2099, abs=3)
        assert hold.ended is Ended.STEP

    def test_unplugged_it_reads_atmosphere_and_the_hold_ends_there(self):
        log = held(10)
        (hold,) = holds(changed(log, np.where(log.time < 2100, log.pressure, ATMOSPHERE)))
        assert hold.end == pytest.approx(2099, abs=3)
        assert hold.ended is Ended.LET_IN

    @pytest.mark.parametrize("offset", [-20.0, -2.0, 15.0])
    def test_a_zero_offset_hides_no_hold(self, offset):
        log = held(11, leak=30.0)
        (hold,) = holds(changed(log, log.pressure + offset))
        is_whole(hold, log, within=5.0)

    @pytest.mark.parametrize("level", [24.0 * MICRON, 1700.0, 0.0])
    def test_a_number_that_never_changes_is_neither_pull_nor_hold(self, level):
        log = held(12)
        (phase,) = find_phases(changed(log, np.full(len(log.time), level)))
        assert (phase.kind, phase.untold) == (Kind.UNCLEAR, Untold.FLAT)
        assert phase.closings == pytest.approx((0.0, log.time[-1]), abs=2.0)

    @pytest.mark.parametrize(("count", "every"), [(30, 10.0), (60, 1.0), (3600, 1.0)])
    def test_a_log_that_falls_a_hundredfold_without_its_start_is_a_pull(self, count, every):
        time = np.arange(count) * every
        micron = np.round(7.3 + 693.7 * np.exp(-8.0 * time / time[-1]), 1)
        log = PressureLog("made", time, micron * MICRON, np.arange(count), np.zeros(count, bool),
                          np.full(count, 0.1 * MICRON), "g", "micron", count)  # fmt: skip
        assert [phase.kind for phase in find_phases(log)] == [Kind.PUMPDOWN]

    def test_a_log_of_the_air_outside_is_atmosphere(self):
        log = held(12)
        (phase,) = find_phases(changed(log, np.full(len(log.time), 90000.0)))
        assert phase.kind is Kind.ATMOSPHERE

    def test_the_bottom_of_the_range_before_the_rise_is_pumping(self):
        log = held(12)
        (hold,) = holds(changed(log, np.maximum(log.pressure, 200 * MICRON)))
        assert hold.start >= CLOSED - 3
        assert hold.end == log.time[-1]


class TestWhatIsLetIn:
    """Gas that comes in and then stands is no hold, and nothing enters a hold twice."""

    @pytest.mark.parametrize("drift", [-0.05, 0.0, 0.02])
    def test_gas_that_stands(self, drift):
        made = pulled(13)
        made.hold(1200, 10 * MICRON / 60, 150 * MICRON, 400.0, 20 * MICRON, 3.0)
        made.let_in(Kind.VENT, 4e4, 4.0, 900)
        log = made.log()
        pressure = log.pressure * np.where(log.time > 2760, 1 + drift * (log.time - 2760) / 900, 1.0)
        assert kinds(changed(log, pressure)) == ["pumpdown", "hold", "vent"]

    def test_wet_and_far_it_rises_at_once_and_is_a_hold_still(self):
        made = pulled(14)
        made.hold(1800, 5 * MICRON / 60, 1800 * MICRON, 10.0, 0.0, 3.0)
        log = made.log()
        (hold,) = holds(log)
        is_whole(hold, log)


class TestTime:
    """Pauses, and rows on change."""

    def test_a_pause_of_twelve_days_parts_two_pulls(self):
        log = pulled(15).log()
        found = find_phases(changed(log, log.pressure, time=log.time + np.where(log.time > 600, 12 * 86400.0, 0.0)))
        assert [phase.kind for phase in found] == [Kind.PUMPDOWN, Kind.PUMPDOWN]
        assert found[0].ended is Ended.GAP
        assert found[0].end <= 600.0

    def test_a_pause_in_which_the_same_curve_goes_on_parts_nothing(self):
        log = held(16)
        (hold,) = holds(changed(log, log.pressure, keep=(log.time < 1800) | (log.time > 2500)))
        is_whole(hold, log)

    @pytest.mark.parametrize("seed", range(3))
    def test_rows_only_on_change(self, seed):
        made = pulled(17 + seed)
        made.hold(1200, 10 * MICRON / 60, 150 * MICRON, 400.0, 20 * MICRON, 3.0)
        log = made.log(noise=0.0002, least=0.05 * MICRON)
        keep = np.append(True, np.diff(log.pressure) != 0)
        keep[-1] = True
        (hold,) = holds(changed(log, log.pressure, keep=keep))
        is_whole(hold, log, within=10.0)


class TestMarks:
    """What the log itself says of its valve."""

    def flat(self) -> PressureLog:
        made = bench(20)
        made.pull(2400, 12.0, 20 * MICRON, 0.0)
        return made.log(noise=0.0005, least=0.2 * MICRON)

    def test_without_a_mark_a_pump_at_its_limit_tells_nothing(self):
        found = find_phases(self.flat())
        assert Kind.HOLD not in {phase.kind for phase in found}
        assert found[-1].untold is Untold.FLAT
        earliest, latest = found[-1].closings
        assert earliest < 900.0
        assert latest == 2400.0

    def test_a_mark_begins_and_ends_a_hold_to_the_reading(self):
        log = self.flat()
        marks = (Mark(1500.0, Valve.CLOSED), Mark(2200.0, Valve.OPEN))
        (hold,) = holds(changed(log, log.pressure, marks=marks))
        assert (hold.start, hold.end, hold.begun, hold.ended) == (1499.0, 2199.0, Begun.MARK, Ended.PUMPING)
        assert hold.has_rise
        assert (hold.earlier, hold.later) == (0.0, 0.0)

    def test_a_rise_under_an_open_valve_is_no_hold(self):
        log = held(21)
        (last,) = [p for p in find_phases(changed(log, log.pressure, marks=(Mark(0.0, Valve.OPEN),))) if p.first > 1000]
        assert (last.kind, last.untold) == (Kind.UNCLEAR, Untold.OPEN)

    def test_what_the_log_does_not_speak_of_is_as_it_was(self):
        log = held(21)
        first, *_ = holds(changed(log, log.pressure, marks=(Mark(2600.0, Valve.OPEN),)))
        assert first.start == pytest.approx(CLOSED, abs=3)
        assert first.begun is Begun.READINGS


class TestAnyArray:
    """Whatever the numbers are: phases that cover every reading once, and no warning."""

    SIZES = (1, 4, 5, 6, 9, 20, 130, 131, 700)

    def values(self, rng: np.random.Generator, count: int) -> np.ndarray:
        every = (
            lambda: np.full(count, np.nan),
            lambda: np.full(count, 10.0 ** rng.uniform(-320, 308)),
            lambda: rng.choice([1e308, 0.0, -1e308, 5e-324, np.nan, 100.0], count),
            lambda: np.cumsum(rng.normal(size=count)) * 10.0 ** rng.uniform(-300, 300),
            lambda: 10.0 ** rng.uniform(-320, 308, count),
            lambda: -20.0 * np.abs(rng.normal(size=count)),
            lambda: 1e5 * np.exp(-10.0 * np.arange(count) / count) + rng.normal(size=count),
            lambda: np.where(rng.random(count) < 0.5, np.inf, 10.0),
            lambda: rng.choice([10.0, 1e5], count),
        )
        return every[int(rng.integers(len(every)))]()

    @staticmethod
    def wrong_of(log: PressureLog) -> str | None:
        """Return what is wrong with the phases of a log, or ``None``."""
        try:
            phases = find_phases(log)
        except Exception as problem:
            return f"{type(problem).__name__}: {problem}"
        if phases[0].first != 0 or phases[-1].last != len(log.time) - 1:
            return "an end is not covered"
        return None if all(a.last + 1 == b.first for a, b in pairwise(phases)) else "a gap or an overlap"

    @pytest.mark.filterwarnings("error")
    def test_it_is_covered_once(self):
        wrong = {}
        for seed in range(150):
            rng = np.random.default_rng(seed)
            count = int(rng.choice(self.SIZES))
            pressure = self.values(rng, count)
            time = np.cumsum(rng.choice([1.0, 0.05, 60.0, 1e-9, 1e6], count, p=[0.7, 0.1, 0.1, 0.05, 0.05]))
            if rng.random() < 0.3:
                time[count // 2 :] += 10.0 ** rng.uniform(2, 12)
            kept = np.append(True, np.diff(time) > 0)
            step = rng.choice([0.0, 1e-300, 0.1, 1e300, np.nan]) * np.ones(count)
            log = PressureLog(
                "made", time[kept], pressure[kept], np.arange(int(kept.sum())), rng.random(int(kept.sum())) < 0.1,
                step[kept], "g", "Pa", int(kept.sum()),
            )  # fmt: skip
            if (fault := self.wrong_of(log)) is not None:
                wrong[seed] = fault
        assert wrong == {}
