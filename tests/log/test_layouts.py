"""Times in several columns, gauges in several rows, times that run down: read as one row a moment, or refused."""

import datetime as dt

import numpy as np
import pytest
from writing import MICRONS, START, codes, read_text, table

from decay.errors import LogError

MOMENTS = [START + dt.timedelta(seconds=10 * i) for i in range(len(MICRONS))]
EVERY = 10.0 * np.arange(len(MICRONS))
PASCAL = 0.1333223684
PULL = [760000.0, 300000.0, 90000.0, 20000.0, *MICRONS]


def named(header: str, write, moments: list[dt.datetime] = MOMENTS) -> str:
    body = [(*(str(part) for part in write(m)), str(v)) for m, v in zip(moments, MICRONS, strict=True)]
    return table(body, (*header.split(), "micron"))


@pytest.mark.parametrize(("header", "write"), [
    ("year month day hour minute second", lambda m: (m.year, m.month, m.day, m.hour, m.minute, m.second)),
    ("yyyy mm dd hh mm ss", lambda m: (m.year, m.month, m.day, m.hour, m.minute, m.second)),
    ("hour minute second", lambda m: (m.hour, m.minute, m.second)),
    ("min sec", lambda m: (m.minute, m.second)), ("h min s", lambda m: (m.hour - 9, m.minute, f"{m.second}.0")),
])  # fmt: skip
def test_times_in_several_columns(tmp_path, header, write):
    # The hours alone were taken: nearly all rows were left out as doubles, and the log ran over an hour.
    log = read_text(tmp_path, named(header, write))
    np.testing.assert_allclose(log.time, EVERY)
    assert "time-joined" in codes(log)
    assert [int(line) for line in log.line] == list(range(2, len(MICRONS) + 2))
    assert log.started == ("2026-03-14T09:00:00" if header.startswith("y") else None)


def test_parts_of_a_clock_pass_midnight(tmp_path):
    moments = [m + dt.timedelta(hours=14, minutes=58) for m in MOMENTS]
    log = read_text(tmp_path, named("hour minute second", lambda m: (m.hour, m.minute, m.second), moments))
    np.testing.assert_allclose(log.time, EVERY)


def test_minutes_that_count_by_themselves_are_joined_to_nothing(tmp_path):
    text = table([(f"{i / 6:.5f}", f"{10 * i}", str(v)) for i, v in enumerate(MICRONS)], ("min", "sec", "micron"))
    log = read_text(tmp_path, text)
    assert "time-joined" not in codes(log)
    np.testing.assert_allclose(log.time, EVERY, atol=0.01)


def long_rows(blocks: bool = False, shift: float = 0.0) -> list[tuple[str, ...]]:
    kinds = [[(str(m), "temp", "22.1", "degC") for m in MOMENTS],
             [(str(m + dt.timedelta(seconds=shift)), "pump", f"{0.6 * v:.1f}", "micron")
              for m, v in zip(MOMENTS, MICRONS, strict=True)],
             [(str(m + dt.timedelta(seconds=2 * shift)), "system", str(v), "micron")
              for m, v in zip(MOMENTS, MICRONS, strict=True)]]
    sets = kinds if blocks else zip(*kinds, strict=True)
    return [row for rows in sets for row in rows]


@pytest.mark.parametrize(("blocks", "shift"), [(False, 0.0), (True, 0.0), (False, 0.5)])
def test_a_row_for_each_gauge(tmp_path, blocks, shift):
    """Pump and system one below the other were spread over time as readings of one gauge."""
    text = table(long_rows(blocks, shift), ("time", "channel", "value", "unit"), ";")
    log = read_text(tmp_path, text, gauge="system")
    np.testing.assert_allclose(log.time - log.time[0], EVERY)
    np.testing.assert_allclose(log.pressure, PASCAL * np.array(MICRONS), rtol=1e-6)
    assert "rows-unfolded" in codes(log)
    lines = text.splitlines()
    assert blocks or all(str(MOMENTS[i]) in lines[line - 1] or shift for i, line in enumerate(log.line.tolist()))


def test_words_of_a_state_are_no_gauges(tmp_path):
    body = [(str(m), "pumping" if i < 9 else "hold", str(MICRONS[i])) for i, m in enumerate(MOMENTS)]
    log = read_text(tmp_path, table(body, ("time", "stage name", "micron")))
    assert "rows-unfolded" not in codes(log)
    assert len(log.time) == len(MICRONS)


@pytest.mark.parametrize("mark", [",", ";"])
@pytest.mark.parametrize("write", [str, lambda m: f"{(m - START).seconds}"])
def test_a_table_in_halves_side_by_side(tmp_path, mark, write):
    """The first half was read alone, where the halves agree within a factor of three."""
    body = [(write(m), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    half = len(body) // 2
    text = table([(*a, *b) for a, b in zip(body[:half], body[half:], strict=True)], ("t [s]", "micron") * 2, mark)
    turned = table([(*a[::-1], *b[::-1]) for a, b in zip(body[:half], body[half:], strict=True)],
                   ("micron", "t [s]") * 2, mark)
    np.testing.assert_allclose(read_text(tmp_path, turned).time, EVERY)
    log = read_text(tmp_path, text)
    np.testing.assert_allclose(log.time, EVERY)
    np.testing.assert_allclose(log.pressure, PASCAL * np.array(MICRONS), rtol=1e-6)
    assert "halves-joined" in codes(log)


def test_gauges_side_by_side_each_with_its_times_are_no_halves(tmp_path):
    body = [(str(m), str(v), str(m), str(v + 1)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body, ("time", "micron") * 2))
    assert "halves-joined" not in codes(log)
    assert len(log.time) == len(MICRONS)


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_a_first_column_without_a_name_shifts_no_other(tmp_path, mark):
    # Behind semicolons the setpoint took the name of the pressure, and was read.
    body = [(str(i), str(m), "500", str(v)) for i, (m, v) in enumerate(zip(MOMENTS, MICRONS, strict=True))]
    log = read_text(tmp_path, table(body, ("", "time", "setpoint [micron]", "pressure [micron]"), mark))
    np.testing.assert_allclose(log.pressure, PASCAL * np.array(MICRONS), rtol=1e-6)


@pytest.mark.parametrize("word", ["---", "OL", ""])
def test_rows_above_range_before_the_first_reading_count_where_the_pressure_stands_first(tmp_path, word):
    """They passed for lines of a title, and the times began with the first reading."""
    body = [(word if i < 6 else f"{9000 - 300 * i}", str(m)) for i, m in enumerate(MOMENTS)]
    log = read_text(tmp_path, table(body, ("micron", "time"), ";"))
    assert log.rows == len(body)
    assert log.time[-1] == EVERY[-1]


def test_ticks_since_the_year_one_are_no_nanoseconds(tmp_path):
    body = [(f"{639094728050000000 + 10**8 * i}", str(v)) for i, v in enumerate(MICRONS)]
    with pytest.raises(LogError, match="the times have no unit"):
        read_text(tmp_path, table(body))


def test_rows_of_two_gauges_without_a_name_are_refused(tmp_path):
    body = [(str(m), str(value)) for m, v in zip(MOMENTS, MICRONS, strict=True) for value in (v, round(0.3 * v))]
    with pytest.raises(LogError, match="each time stands in 2 rows, whose readings differ"):
        read_text(tmp_path, table(body))


def test_times_that_hardly_move_are_refused(tmp_path):
    body = [(str(i // 12), str(900 - i)) for i in range(60)]
    body[20], body[40] = body[40], body[20]
    with pytest.raises(LogError, match="share their times with others that read otherwise"):
        read_text(tmp_path, table(body, ("elapsed (h)", "micron")))


def test_a_counter_of_whole_seconds_with_several_rows_each(tmp_path):
    body = [(str(i // 4), str(5000 - 20 * i)) for i in range(120)]
    log = read_text(tmp_path, table(body, ("elapsed (s)", "micron")))
    assert "clock-coarse" in codes(log)
    np.testing.assert_allclose(np.diff(log.time), 0.25)


@pytest.mark.parametrize(("name", "write"), [
    ("remaining", lambda s: f"{s // 60:02d}:{s % 60:02d}"), ("time remaining [s]", str), ("t [s]", str),
    ("countdown", lambda s: f"0:{s // 60:02d}:{s % 60:02d}"), ("t [min]", lambda s: f"{s / 60:.4f}"),
])  # fmt: skip
def test_a_clock_that_counts_down(tmp_path, name, write):
    # It was sorted: the hold became a pull, and the pull a hold.
    body = [(write(1800 - 10 * i), f"{v}") for i, v in enumerate(PULL)]
    log = read_text(tmp_path, table(body, (name, "micron")))
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(PULL)), atol=0.01)
    np.testing.assert_allclose(log.pressure, PASCAL * np.array(PULL), rtol=1e-6)
    assert "time-counts-down" in codes(log)


def test_the_newest_row_first_is_no_count_down(tmp_path):
    body = [(f"{10 * i}", f"{v}") for i, v in enumerate(PULL)][::-1]
    log = read_text(tmp_path, table(body, ("elapsed (s)", "micron")))
    np.testing.assert_allclose(log.pressure, PASCAL * np.array(PULL), rtol=1e-6)
    assert "time-counts-down" not in codes(log)


def test_a_hold_alone_whose_times_run_down_is_refused(tmp_path):
    body = [(f"{1800 - 10 * i}", f"{300 + i}") for i in range(60)]
    with pytest.raises(LogError, match=r"run down[\s\S]*oldest row first"):
        read_text(tmp_path, table(body, ("t [s]", "micron")))
    log = read_text(tmp_path, table(body, ("t remaining [s]", "micron")))
    assert np.all(np.diff(log.pressure) > 0)


@pytest.mark.parametrize("start", [dt.timedelta(0), dt.timedelta(hours=14, minutes=58)])
def test_a_clock_without_marks(tmp_path, start):
    body = [((m + start).strftime("%H%M%S"), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    for below in ("", "\nMax\n760000\n"):
        log = read_text(tmp_path, table(body) + below)
        np.testing.assert_allclose(log.time - log.time[0], EVERY)
        assert "time-unit-assumed" in codes(log)


def test_digits_that_may_be_a_clock_or_seconds_are_refused(tmp_path):
    body = [(f"{90000 + 100 * i}", str(v)) for i, v in enumerate(MICRONS)]
    with pytest.raises(LogError, match=r"hhmmss[\s\S]*--time-unit s"):
        read_text(tmp_path, table(body))
    assert read_text(tmp_path, table(body), time_unit="s").sampling == 100.0
