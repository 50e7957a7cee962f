"""Single wrong readings are set aside wherever they stand; events, however short, are not. All data are synthetic."""

from __future__ import annotations

import io

import numpy as np
import pytest
from writing import accounted, codes, read_text, rows, table

from decay.log import Note, PressureLog, read_log
from decay.log.wrong import set_aside
from decay.pipeline import Ahead, analyze_log
from decay.quantities import MICRON


def job(every: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Return times [s] and pressures [micron]: a pull from atmosphere, a closing at 1500 s, a rise of 3 micron/min."""
    time = np.arange(0.0, 3600.0, every)
    pull = np.maximum(760000 * np.exp(-np.maximum(time - 30, 0) / 12.0), 80 + 420 * np.exp(-time / 400.0))
    values = np.where(time > 1500, pull[np.searchsorted(time, 1500)] + 3.0 * (time - 1500) / 60 + 30, pull)
    rng = np.random.default_rng(4)
    return time, np.round(values * (1 + 0.004 * rng.standard_normal(len(time))))


def log_of(time: np.ndarray, micron: np.ndarray) -> PressureLog:
    n = len(time)
    return PressureLog("made", time, micron * MICRON, np.arange(2, n + 2), np.zeros(n, bool), np.full(n, MICRON), "g",
                       "micron", n)


def test_clean_logs_stay_as_they_are() -> None:
    for every in (1.0, 5.0, 30.0):
        log = log_of(*job(every))
        assert set_aside(log) is log


@pytest.mark.parametrize("value", [0.0, 20000.0, 99999.0, 760000.0, 1.0])
@pytest.mark.parametrize("at", [2, 45, 700, 1499, 1502, 1503, 3000, 3590])
def test_one_wrong_reading(value: float, at: int) -> None:
    time, micron = job()
    if abs(np.log((micron[at] + 10) / (value + 10))) < np.log(2):
        return
    micron[at] = value
    log = set_aside(log_of(time, micron))
    assert np.flatnonzero(~np.isin(time, log.time)).tolist() == [at]
    assert log.notes == (Note("reading-wrong", "1 reading stands far from the readings before and after, which agree, "
                              "and was left out.", at + 2, 1),)
    assert accounted(log)


@pytest.mark.parametrize("value", [0.0, 99999.0, 1000.0])
def test_every_fiftieth_row(value: float) -> None:
    time, micron = job()
    bad = np.arange(100, 3600, 50)
    bad = bad[np.abs(np.log((micron[bad] + 10) / (value + 10))) > np.log(1.5)]
    micron[bad] = value
    log = set_aside(log_of(time, micron))
    assert np.flatnonzero(~np.isin(time, log.time)).tolist() == bad.tolist()


def test_one_in_a_hundred_by_chance() -> None:
    """Wrong values at random places, some of them side by side: nearly all go, and no good reading with them."""
    lost = kept = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        time, micron = job()
        bad = np.flatnonzero(rng.random(len(time)) < 0.01)
        true = micron[bad].copy()
        micron[bad] = rng.choice([0.0, 20000.0, 99999.0, 5.0], len(bad))
        plain = bad[np.abs(np.log((true + 10) / (micron[bad] + 10))) > np.log(1.5)]
        gone = np.flatnonzero(~np.isin(time, set_aside(log_of(time, micron)).time))
        lost += len(np.setdiff1d(gone, bad))
        kept += len(np.setdiff1d(plain, gone))
    assert lost <= 2
    assert kept <= 4  # of about 700


def test_zeros_between_readings_that_agree() -> None:
    time, micron = job()
    micron[2000:2060] = 0.0
    assert len(set_aside(log_of(time, micron)).time) == 3540


def vent(time, micron):
    micron[3000:] = 760000.0


def gross_leak(time, micron):
    micron[1501:] = 80 * np.exp(np.minimum(np.arange(len(time) - 1501) * 1.2, np.log(250.0)))


def leak_at_the_end(time, micron):
    micron[-3:] = (900.0, 6000.0, 20000.0)


def jump(time, micron):
    micron[2500:] *= 1.5


def sweep(time, micron):
    after = np.arange(1000, 1500)
    micron[1000:1500] = np.maximum(300000 * np.exp(-(after - 1000) / 8.0), micron[1000:1500])


def below_range(time, micron):
    micron[600:1500] = 0.0


@pytest.mark.parametrize("event", [vent, gross_leak, leak_at_the_end, jump, sweep, below_range])
def test_events_stay(event) -> None:
    time, micron = job()
    event(time, micron)
    log = log_of(time, micron)
    assert set_aside(log) is log


def test_slow_logs_keep_short_events() -> None:
    """Near miss: at a reading a minute, two different readings up and back are a let-in and a pull."""
    time, micron = job(60.0)
    micron[20:22] = (60000.0, 4000.0)
    log = log_of(time, micron)
    assert set_aside(log) is log


def test_read_from_a_file_and_built_by_hand_are_judged_alike() -> None:
    time, micron = job()
    clean = analyze_log(log_of(time, micron), ahead=Ahead.NOTHING)
    micron[[50, 900, 1700, 2600]] = (0, 20000, 99999, 0)
    text = "t (s),P (micron)\n" + "".join(f"{t:g},{p:g}\n" for t, p in zip(time, micron, strict=True))
    for log in (log_of(time, micron), read_log(io.BytesIO(text.encode()))):
        found = analyze_log(log, ahead=Ahead.NOTHING)
        assert len(found.log.time) == 3596
        assert found.verdict.result is clean.verdict.result
        assert found.verdict.cause is clean.verdict.cause
        assert [h.fit.start for h in found.holds] == [h.fit.start for h in clean.holds]


@pytest.mark.parametrize("word", ["ERR", "---", "9.9E37", "9.91E37", "9.99E+09", "1e308", "-9.9E37"])
def test_one_word_in_a_hold_is_missing(tmp_path, word: str) -> None:
    values: list[object] = [200 + i for i in range(30)]
    values[18] = word
    log = read_text(tmp_path, table(rows(values)))
    assert len(log.time) == 29
    assert not log.is_over_range.any()
    assert codes(log) == ["pressure-missing"]


@pytest.mark.parametrize("word", ["9.9E37", "9.99E+09", "1e308", "OL", "999999999"])
def test_no_number_at_the_top_is_over_range(tmp_path, word: str) -> None:
    pull = [int(15000 * 0.8**i) + 50 for i in range(30)]
    log = read_text(tmp_path, table(rows([word] * 6 + pull)))
    assert log.is_over_range[:6].all()
    assert log.is_over_range.sum() == 6
    assert "over-range-guessed" in codes(log)


def test_a_word_at_the_top_between_a_rise_and_a_fall_is_over_range(tmp_path) -> None:
    values = [100, 400, 900, 1500, 1900, "OL", 1800, 1400, 900, 400, 100, 80, 70, 60]
    assert read_text(tmp_path, table(rows(values))).is_over_range[5]


@pytest.mark.parametrize("wrong", [{12: "0"}, {12: "0", 30: "20000"}, {900: "99999"}, {3: "99999", 2000: "99999"}])
def test_a_wrong_reading_makes_no_word_at_the_top_a_missing_one(tmp_path, wrong: dict[int, str]) -> None:
    _, micron = job()
    cells = ["OL" if value > 25000 else f"{value:.0f}" for value in micron]
    over = cells.count("OL")
    for at, cell in wrong.items():
        over -= cells[at] == "OL"
        cells[at] = cell
    log = read_text(tmp_path, table(rows(cells, 1.0)))
    assert int(log.is_over_range.sum()) == over
    assert "pressure-missing" not in codes(log)


def test_wrong_readings_among_words_after_a_rise_off_the_range_leave_them_above_it(tmp_path) -> None:
    _, micron = job()
    cells = ["OL" if value > 25000 else f"{value:.0f}" for value in micron]
    cells[2000:] = [f"{value:.0f}" if value < 25000 else "OL" for value in 500.0 + 40.0 * np.arange(1600)]
    over = cells.count("OL")
    for at, cell in {2700: "99999", 2701: "OL", 2900: "0", 3100: "99999", 3300: "0", 3500: "20000"}.items():
        over -= cells[at] == "OL" != cell
        cells[at] = cell
    log = read_text(tmp_path, table(rows(cells, 1.0)))
    assert int(log.is_over_range.sum()) == over
    assert "pressure-missing" not in codes(log)


def test_a_stray_row_of_a_vent_days_later(tmp_path) -> None:
    body = [*rows(), ("2026-04-02 09:00:00", "760000")]
    log = read_text(tmp_path, table(body))
    assert log.duration < 300
    assert codes(log) == ["time-stray"]
