"""Clocks that step, counters that start again, and gaps that are gaps. All data are synthetic."""

from __future__ import annotations

import datetime as dt
import io

import numpy as np
import pytest
from writing import accounted, codes

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from decay.log.quality import inspect
from decay.quantities import MICRON

START = dt.datetime(2026, 5, 2, 9, 0, 3)


def read(text: str, **options: object) -> PressureLog:
    return read_log(io.BytesIO(text.encode()), ReadOptions(**options))  # type: ignore[arg-type]


def hold(rate: float, count: int = 240, every: float = 5.0) -> tuple[np.ndarray, np.ndarray]:
    """Return times [s] and whole microns of a hold that rises at a rate [micron/min]."""
    time = every * np.arange(count)
    noise = np.random.default_rng(1).normal(0.0, 0.4, count)
    return time, np.round(300 + rate * time / 60 + noise)


def dated(time: np.ndarray, values: np.ndarray) -> str:
    return "Time,P (micron)\n" + "".join(
        f"{START + dt.timedelta(seconds=float(t)):%Y-%m-%d %H:%M:%S},{v:g}\n"
        for t, v in zip(time, values, strict=True))


@pytest.mark.parametrize("rate", [0.0, 3.0, 60.0])
@pytest.mark.parametrize("step", [3600.0, 7200.0, -3600.0, -1500.0, 86400.0 * 400])
def test_a_step_in_a_hold_is_undone(rate: float, step: float) -> None:
    time, values = hold(rate)
    log = read(dated(np.where(np.arange(240) < 120, time, time + step), values))
    np.testing.assert_allclose(log.time, time)
    assert not inspect(log).is_gap_before.any()
    (note,) = (note for note in log.notes if note.code in {"clock-step", "dst-ends"})
    assert note.line == 122
    assert log.pressure[0] == pytest.approx(values[0] * MICRON)


@pytest.mark.parametrize("at", [8, 17, 30])
@pytest.mark.parametrize("step", [-86_395.0, 7200.0])
def test_a_step_while_the_pump_pulls_is_undone(at: int, step: float) -> None:
    time = 5.0 * np.arange(200)
    values = np.round(100 + 760_000 * np.exp(-time / 14.0))
    log = read(dated(np.where(np.arange(200) < at, time, time + step), values))
    np.testing.assert_allclose(log.time, time)
    assert codes(log) == ["clock-step"]


@pytest.mark.parametrize("twice", [(119,), (120, 120), (100, 121, 121, 122)])
def test_rows_that_are_there_twice_hide_no_step(twice: tuple[int, ...]) -> None:
    time, values = hold(3.0)
    rows = np.sort(np.concatenate((np.arange(240), twice)))
    shown = np.where(np.arange(240) < 120, time, time - 32_000.0)
    log = read(dated(shown[rows], values[rows]))
    np.testing.assert_allclose(log.time, time)
    assert sorted(codes(log)) == ["clock-step", "duplicate-time"]


def test_a_step_of_some_minutes_shows_by_the_rise() -> None:
    time, values = hold(60.0)
    log = read(dated(np.where(np.arange(240) < 120, time, time + 700), values))
    np.testing.assert_allclose(log.time, time)
    assert codes(log) == ["clock-step"]


@pytest.mark.parametrize("lost", [40, 150])
def test_a_gap_that_readings_do_not_fill_stays(lost: int) -> None:
    time, values = hold(60.0, 400)
    keep = np.r_[0:120, 120 + lost : 400]
    log = read(dated(time[keep], values[keep]))
    np.testing.assert_allclose(log.time, time[keep])
    assert np.flatnonzero(inspect(log).is_gap_before).tolist() == [120]
    assert codes(log) == []


def test_a_flat_gap_of_any_length_stays() -> None:
    """Near miss: nothing rises, and the gap is no whole number of hours: it may be real, so it stays and is marked."""
    time, values = hold(0.0)
    log = read(dated(np.where(np.arange(240) < 120, time, time + 2222), values))
    assert log.duration == time[-1] + 2222
    assert inspect(log).is_gap_before[120]


def test_rows_out_of_place_are_sorted_and_no_step() -> None:
    time, values = hold(60.0)
    order = np.arange(240)
    order[[50, 54]] = order[[54, 50]]
    log = read(dated(time[order], values[order]))
    np.testing.assert_allclose(log.time, time)
    np.testing.assert_allclose(log.pressure, values * MICRON)
    assert codes(log) == ["time-disorder"]


def elapsed(*parts: tuple[np.ndarray, np.ndarray]) -> str:
    return "t (s),P (micron)\n" + "".join(f"{t:g},{v:g}\n" for part in parts for t, v in zip(*part, strict=True))


def test_a_counter_that_starts_again_goes_on() -> None:
    time, values = hold(60.0)
    log = read(elapsed((time[:100], values[:100]), (time[100:] - time[100], values[100:])))
    np.testing.assert_allclose(log.time, time)
    np.testing.assert_allclose(log.pressure, values * MICRON)
    assert codes(log) == ["time-restarted"]
    assert accounted(log)


def test_two_recordings_that_do_not_go_on_are_refused() -> None:
    """A pull, and a hold with its own zero of time: nothing tells what lies between."""
    time, values = hold(60.0)
    pull = np.round(80000 * np.exp(-time / 100) + 90)
    with pytest.raises(LogError, match="begins again") as caught:
        read(elapsed((time, pull), (time, values)))
    assert caught.value.line == 242
    assert "--same-job" in caught.value.remedy


def test_times_that_span_ages_are_refused() -> None:
    time, values = hold(0.0)
    with pytest.raises(LogError, match="years"):
        read(elapsed((time**4, values)))


def test_rows_only_on_change() -> None:
    """A slow rise of which only the changes are written: long distances, and no gap."""
    rng = np.random.default_rng(5)
    values = 300 + np.arange(200)
    time = np.cumsum(rng.exponential(20.0, 200).round(1) + 0.1)
    log = read(elapsed((time, values)))
    assert inspect(log).is_gap_before.sum() <= 2


@pytest.mark.parametrize("form", ["%I:%M %p", "%m/%d/%Y %I:%M %p", "%H:%M", "%d.%m.%Y %H:%M"])
def test_six_rows_with_one_minute(form: str) -> None:
    start = dt.datetime(2026, 5, 13, 11, 48)
    text = "Time,P (micron)\n" + "".join(
        f"{start + dt.timedelta(seconds=10 * i):{form}},{400 + i}\n" for i in range(240))
    log = read(text, time_unit="h") if form == "%H:%M" else read(text)
    np.testing.assert_allclose(np.diff(log.time), 10.0, atol=1e-6)
    assert log.rows == len(log.time) == 240


@pytest.mark.parametrize("form", ["%H:%M:%S", "%I:%M:%S %p", "%I:%M %p"])
def test_a_new_day_without_a_date(form: str) -> None:
    start = dt.datetime(2026, 5, 13, 22, 0)
    text = "Time,P (micron)\n" + "".join(
        f"{start + dt.timedelta(minutes=i):{form}},{400 + i}\n" for i in range(240))
    log = read(text)
    np.testing.assert_allclose(np.diff(log.time), 60.0)
    assert "midnight-passed" in codes(log)
