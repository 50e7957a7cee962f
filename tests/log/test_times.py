"""Every form of time gives the same seconds; clocks are carried, mended, sorted, and what happened is noted."""

import datetime as dt

import numpy as np
import pytest
from writing import MICRONS, START, accounted, codes, read_text, rows, table

from decay.errors import LogError, RangeError
from decay.phases.stated import hold_between

MOMENTS = [START + dt.timedelta(seconds=10 * i) for i in range(len(MICRONS))]
FORMS = {
    "iso": "%Y-%m-%dT%H:%M:%S", "fraction": "%Y-%m-%d %H:%M:%S.%f", "zone": "%Y-%m-%dT%H:%M:%S+02:00",
    "utc": "%Y-%m-%dT%H:%M:%SZ", "slashes": "%d/%m/%Y %H:%M:%S", "american": "%m/%d/%Y %I:%M:%S %p",
    "dots": "%d.%m.%Y %H:%M:%S", "short year": "%d/%m/%y %H:%M:%S", "named": "%d-%b-%Y %H:%M:%S",
    "underscores": "%Y_%m_%d-%p%I_%M_%S", "compact": "%Y%m%dT%H%M%S",
    "digits alone": "%Y%m%d%H%M%S", "clock": "%H:%M:%S", "clock am": "%I:%M:%S %p",
    "long month": "%B %d, %Y %H:%M:%S", "zone by its letters": "%Y-%m-%d %H:%M:%S CEST",
    "as C writes it": "%a %b %d %H:%M:%S %Y", "as Unix writes it": "%a %b %d %H:%M:%S UTC %Y",
}  # fmt: skip


@pytest.mark.parametrize("kind", FORMS)
def test_form(tmp_path, kind):
    body = [(m.strftime(FORMS[kind]), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body, mark=";"))
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)))
    if "%d" in FORMS[kind]:
        assert log.started is not None
        assert log.started.startswith("2026-03-14T09:00:00")


def _said(form: str, month: str = "", half: str = ""):
    return lambda m: m.strftime(form).replace("MONTH", month).replace("HALF", half)


FOREIGN = {
    "French": _said("%d MONTH %Y à %H:%M:%S", "mars"), "German": _said("%d. MONTH %Y %H:%M:%S Uhr", "März"),
    "Spanish": _said("%d de MONTH. de %Y %H:%M:%S", "mar"), "Russian": _said("%d MONTH %Y %H:%M:%S", "марта"),
    "Dutch": _said("%d-MONTH-%Y %H:%M:%S", "mrt"), "Finnish": _said("%d.%m.%Y klo %H.%M.%S"),
    "Hungarian": _said("%Y. %m. %d. %H:%M:%S"), "Italian points": _said("%d/%m/%Y %H.%M.%S"),
    "Chinese": _said("%Y年%m月%d日 %H时%M分%S秒"), "Japanese half": _said("%Y/%m/%d HALF%I:%M:%S", half="午前"),
    "Korean half": _said("%Y. %m. %d. HALF %I:%M:%S", half="오전"),
    "Spanish half": _said("%d/%m/%Y %I:%M:%S HALF", half="a.\u00a0m."),
    "clock first": _said("%H:%M:%S %d/%m/%Y"), "year, name": _said("%Y-%b-%d %H:%M:%S"),
    "dashes alone": _said("%Y-%m-%d-%H-%M-%S"), "web server": _said("[%d/%b/%Y:%H:%M:%S +0000]"),
    "browser": _said("%a %b %d %Y %H:%M:%S GMT+0000 (UTC)"), "place": _said("%Y-%m-%dT%H:%M:%S[Europe/Berlin]"),
    "day of the year": _said("%Y-%j %H:%M:%S"), "with strokes": _said("%Y/%j %H:%M:%S"),
    "with colons": _said("%Y:%j:%H:%M:%S"), "glued": _said("%Y%j %H:%M:%S"), "short, glued": _said("%y%j %H:%M:%S"),
    "day of the year, T": _said("%Y-%jT%H:%M:%SZ"), "day of the week": _said("%G-W%V-%uT%H:%M:%S"),
}  # fmt: skip


@pytest.mark.parametrize("kind", FOREIGN)
def test_as_other_languages_and_loggers_write_it(tmp_path, kind):
    body = [(FOREIGN[kind](m), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body, mark="|"))
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)))
    assert log.started is not None
    assert log.started.startswith("2026-03-14T09:00:00")


@pytest.mark.parametrize("write", [
    _said("%H.%M.%S"), _said("%H-%M-%S"), _said("%Hh%Mm%Ss"), _said("%H:%M:%S Uhr"), _said("HALF%I:%M:%S", half="午前"),
    _said("%H:%M:%SZ"), _said("T%H:%M:%S"), _said("%b %d %H:%M:%S"), _said("%j:%H:%M:%S"), _said('="%H:%M:%S"'),
])  # fmt: skip
@pytest.mark.parametrize("comma", [False, True])
def test_clocks_as_others_write_them(tmp_path, write, comma):
    # Half past twelve and five seconds with points was a date in 2005, and stood beside pressures with commas.
    values = [f"{v / 1000:.3f}".replace(".", "," if comma else ".") for v in MICRONS]
    body = [(write(m + dt.timedelta(hours=3, minutes=29)), v) for m, v in zip(MOMENTS, values, strict=True)]
    log = read_text(tmp_path, table(body, ("Time", "p [Torr]"), mark=";"))
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)))
    np.testing.assert_allclose(log.pressure, [0.1333223684 * v for v in MICRONS])


@pytest.mark.parametrize("write", [
    lambda s: f"{s // 60}m {s % 60}s", lambda s: f"{s // 60}m{s % 60:02d}s", lambda s: f"{s // 60} min {s % 60} s",
    lambda s: f"PT{s // 60}M{s % 60}S", lambda s: f"PT{s}.0S", lambda s: f"{s // 60}'{s % 60:02d}\"",
    lambda s: f"{s // 60}′{s % 60}″", lambda s: f"T+0:{s // 60:02d}:{s % 60:02d}",
    lambda s: f"{s // 60:02d}:{s % 60:02d}.0", lambda s: f"0.00:{s // 60:02d}:{s % 60:02d}",
    lambda s: f"0:00:{s // 60:02d}:{s % 60:02d}", lambda s: f"000:00:{s // 60:02d}:{s % 60:02d}",
    lambda s: f"0.{s // 60:02d}.{s % 60:02d}",
])  # fmt: skip
def test_elapsed_times_as_others_write_them(tmp_path, write):
    """Days before a clock were hours: "0:00:12:05" was read as twelve seconds, and five minutes ten as 510."""
    text = table([(write(10 * i).replace('"', '""'), str(v)) for i, v in enumerate(MICRONS)], ("elapsed", "micron"))
    np.testing.assert_allclose(read_text(tmp_path, text).time, 10.0 * np.arange(len(MICRONS)), atol=0.11)


@pytest.mark.parametrize("write", [lambda i: f"{i:02d}:00:00:00", lambda i: f"00:{i // 6:02d}:{10 * i % 60:02d}:00"])
def test_four_parts_that_may_be_either_are_refused(tmp_path, write):
    text = table([(write(i), str(v)) for i, v in enumerate(MICRONS)], ("elapsed", "micron"))
    with pytest.raises(LogError, match="hundredths"):
        read_text(tmp_path, text)


def test_a_day_of_the_year_before_a_clock_is_no_reading(tmp_path):
    # Behind a comma six digits may be a fraction of the second: the day once stood for a pressure of 73 micron.
    readings = [760000 - 70000 * i for i in range(10)]
    body = [(m.strftime("%j %H:%M:%S"), f"{v}") for m, v in zip(MOMENTS[:10], readings, strict=True)]
    log = read_text(tmp_path, table(body, ("t", "vacuum/mTorr")))
    np.testing.assert_allclose(log.time, 10.0 * np.arange(10))
    np.testing.assert_allclose(log.pressure / log.pressure[0], np.array(readings) / readings[0])


@pytest.mark.parametrize(("name", "write"), [
    ("Elapsed (s)", lambda i: f"{10 * i}"), ("Time [min]", lambda i: f"{i / 6:.6f}"),
    ("elapsed_ms", lambda i: f"{10000 * i}"), ("Time", lambda i: f"{1773478800 + 10 * i}"),
    ("Time", lambda i: f"{(1773478800 + 10 * i) * 1000}"), ("Elapsed", lambda i: f"{i // 6:02d}:{10 * i % 60:02d}"),
    ("Elapsed", lambda i: f"{i // 360:02d}:{i // 6 % 60:02d}:{10 * i % 60:02d}"),
    ("elapsed", lambda i: f"{i // 360}h {i // 6 % 60:02d}m {10 * i % 60:02d}s"), ("Temps (s)", lambda i: f"{10 * i}"),
    ("Tiempo (min)", lambda i: f"{i / 6:.6f}"), ("tempo [h]", lambda i: f"{i / 360:.8f}"),
])  # fmt: skip
def test_counters(tmp_path, name, write):
    body = [(write(i), str(v)) for i, v in enumerate(MICRONS)]
    log = read_text(tmp_path, table(body, (name, "micron")))
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)), atol=1e-3)


@pytest.mark.parametrize("header", [("Elapsed (s)", "micron"), None])
def test_times_count_from_a_first_row_without_a_reading(tmp_path, header):
    body = [(f"{10 * i}", "" if i < 6 else f"{v}") for i, v in enumerate([0] * 6 + MICRONS)]
    log = read_text(tmp_path, table(body, header), unit="micron", time_column="1")
    assert log.time[0] == 60.0
    assert log.rows == len(body)
    assert accounted(log)
    assert "time-from-first-row" not in codes(log)


def test_elapsed_times_that_start_late_are_told(tmp_path):
    body = [(f"{1000 + 10 * i}", f"{v}") for i, v in enumerate(MICRONS)]
    log = read_text(tmp_path, table(body, ("Elapsed (s)", "micron")))
    assert log.time[0] == 0.0
    assert "1000 s of the log's own time" in next(n.text for n in log.notes if n.code == "time-from-first-row")
    with pytest.raises(RangeError, match="stands at 1000 s"):
        hold_between(log, 1050.0, 1200.0)


def test_split_columns(tmp_path):
    body = [(m.strftime("%d.%m.%Y"), m.strftime("%H:%M:%S"), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body, ("Date", "Time", "Vacuum micron")))
    assert log.duration == 210.0
    assert log.started == "2026-03-14T09:00:00"


def test_midnights(tmp_path):
    moments = [dt.datetime(2026, 3, 14, 20) + dt.timedelta(hours=2 * i) for i in range(len(MICRONS))]
    body = [(m.strftime("%H:%M:%S"), str(v)) for m, v in zip(moments, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body))
    assert log.duration == 2 * 3600 * 21
    assert "midnight-passed" in codes(log)


def test_bare_midnight(tmp_path):
    moments = [dt.datetime(2026, 3, 14, 23, 58) + dt.timedelta(minutes=i) for i in range(len(MICRONS))]
    words = [m.strftime("%m/%d/%Y" if m.hour == m.minute == 0 else "%m/%d/%Y %H:%M:%S") for m in moments]
    log = read_text(tmp_path, table([(w, str(v)) for w, v in zip(words, MICRONS, strict=True)]))
    assert len(log.time) == len(MICRONS)
    assert log.duration == 60.0 * (len(MICRONS) - 1)
    assert "midnight-bare-date" in codes(log)


@pytest.mark.parametrize("times", [1, 3])
def test_a_last_row_an_hour_early_is_no_summer_time_however_often_it_stands_there(tmp_path, times):
    body = [(m.isoformat(" "), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    early = (MOMENTS[-1] - dt.timedelta(hours=1)).isoformat(" ")
    log = read_text(tmp_path, table([*body[:-1], *[(early, body[-1][1])] * times]))
    assert "time-disorder" in codes(log)
    assert "dst-ends" not in codes(log)


@pytest.mark.parametrize(("hour", "code"), [(1, "dst-ends"), (2, "dst-begins")])
def test_summer_time(tmp_path, hour, code):
    begin = dt.datetime(2026, 10, 25, hour, 59, 0) if code == "dst-ends" else dt.datetime(2026, 3, 29, 1, 59, 0)
    shift = dt.timedelta(hours=-1 if code == "dst-ends" else 1)
    moments = [begin + dt.timedelta(seconds=10 * i) + (shift if i >= 6 else 0 * shift)
               for i in range(len(MICRONS))]
    log = read_text(tmp_path, table([(f"{m}", str(v)) for m, v in zip(moments, MICRONS, strict=True)]))
    assert log.duration == 210.0
    assert code in codes(log)


def test_order_by_continuity(tmp_path):
    moments = [dt.datetime(2026, 4, 3, 23, 59, 0) + dt.timedelta(seconds=10 * i) for i in range(len(MICRONS))]
    body = [(m.strftime("%d/%m/%Y %H:%M:%S"), str(v)) for m, v in zip(moments, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body))
    assert log.duration == 210.0
    assert log.started == "2026-04-03T23:59:00"
    assert "date-order-guessed" in codes(log)


def test_ambiguous_dates(tmp_path):
    body = [("01/02/2026 10:00:00", "500"), ("02/03/2026 10:00:00", "400"), ("03/04/2026 10:00:00", "300")]
    with pytest.raises(LogError, match="--day-first"):
        read_text(tmp_path, table(body))
    assert read_text(tmp_path, table(body), day_first=True).duration == 61 * 86400.0


def test_a_date_cut_short_opens_no_question(tmp_path):
    body = rows()
    body[7] = (body[7][0][2:], body[7][1])  # "26-03-14 ..." alone could be read three ways
    log = read_text(tmp_path, table(body))
    assert log.started == "2026-03-14T09:00:00"
    assert "date-order-open" not in codes(log)
    assert log.duration == 210.0  # and no twelve years between two rows
    assert "time-stray" in codes(log)
    assert accounted(log)


@pytest.mark.parametrize("row", [0, 1, 9, 20, 21])
@pytest.mark.parametrize("year", ["1926", "2036"])
def test_a_damaged_year(tmp_path, row, year):
    body = rows()
    body[row] = (body[row][0].replace("2026", year), body[row][1])
    log = read_text(tmp_path, table(body))
    assert accounted(log)
    assert (len(log.time), "time-stray" in codes(log)) == (21, True)
    assert log.duration == (200.0 if row in (0, 21) else 210.0)
    assert log.started == ("2026-03-14T09:00:10" if row == 0 else "2026-03-14T09:00:00")


def test_rows_of_yesterday_before_a_recording(tmp_path):
    """A buffer that still held three rows of the day before."""
    yesterday = [((MOMENTS[0] - dt.timedelta(days=1, seconds=-10 * i)).strftime("%Y-%m-%d %H:%M:%S"), "700")
                 for i in range(3)]
    log = read_text(tmp_path, table([*yesterday, *rows()]))
    assert (len(log.time), log.duration, log.started) == (22, 210.0, "2026-03-14T09:00:00")
    assert accounted(log)


def test_a_long_gap_is_no_stray(tmp_path):
    moments = [m + dt.timedelta(days=3 if i > 7 else 0) for i, m in enumerate(MOMENTS)]
    micron = [v * (3 if i > 7 else 1) for i, v in enumerate(MICRONS)]  # or it would be a step of the clock
    log = read_text(tmp_path, table([(f"{m}", str(v)) for m, v in zip(moments, micron, strict=True)]))
    assert (len(log.time), log.duration) == (22, 210.0 + 3 * 86400)


def test_dates_beside_clocks_of_every_form(tmp_path):
    for day in ("14/03/2026", "14-Mar-2026", "2026-03-14"):
        body = [(day, m.strftime("%I:%M:%S %p"), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
        log = read_text(tmp_path, table(body, ("Date", "Time", "Vacuum micron")))
        assert (log.started, log.duration) == ("2026-03-14T09:00:00", 210.0)


def test_disorder_and_doubles(tmp_path):
    body = rows()
    body[4], body[5] = body[5], body[4]
    body.insert(9, body[8])
    log = read_text(tmp_path, table(body))
    assert {"time-disorder", "duplicate-time"} <= set(codes(log))
    assert accounted(log)
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)))


def test_coarse_clock(tmp_path):
    body = [(m.strftime("%Y-%m-%d %H:%M"), str(v)) for m, v in zip(MOMENTS, MICRONS, strict=True)]
    log = read_text(tmp_path, table(body))
    assert "clock-coarse" in codes(log)
    np.testing.assert_allclose(np.diff(log.time), 10.0)


def test_no_time(tmp_path):
    text = table([(str(v),) for v in MICRONS], ("micron",))
    with pytest.raises(LogError, match="--time-unit"):
        read_text(tmp_path, text)
    assert read_text(tmp_path, text, time_unit="5 s").sampling == 5.0
    assert read_text(tmp_path, "Interval: 2000 ms\n" + text).sampling == 2.0


def test_two_time_columns(tmp_path):
    body = [(m.strftime("%H:%M:%S"), str(7 * i), str(v)) for i, (m, v) in enumerate(zip(MOMENTS, MICRONS, strict=True))]
    log = read_text(tmp_path, table(body, ("time", "sec", "micron")))
    assert log.duration == 210.0
    assert "time-columns-disagree" in codes(log)


REMARKS_BELOW = [
    ("Date", lambda i: f"{46143.5 + i * 10 / 86400:.8f}"), ("ts", lambda i: f"{(1773478800 + 10 * i) * 1000}"),
    ("t s", lambda i: f"{10 * i}"),
]


@pytest.mark.parametrize(("name", "write"), REMARKS_BELOW, ids=[name for name, _ in REMARKS_BELOW])
def test_a_number_in_a_remark_below_the_table_is_no_time(tmp_path, name, write):
    body = [(write(i), str(v)) for i, v in enumerate(MICRONS)]
    log = read_text(tmp_path, table(body, (name, "micron")) + "\nMax: 760000\n")
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)), atol=1e-3)
