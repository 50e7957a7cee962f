"""The unit of a time is told by heading, unit line, cell or title; where it is not, the log is refused, not guessed."""

import numpy as np
import pytest
from writing import MICRONS, codes, read_text, table

from decay.errors import LogError
from decay.log.time_units import interval_in

EVERY = 10.0 * np.arange(len(MICRONS))


def timed(write, *header: str, below: str = "", title: str = "") -> str:
    body = [(write(i), str(v)) for i, v in enumerate(MICRONS)]
    names = ";".join(header or ("time", "micron"))
    return title + names + "\n" + below + table(body, None, ";")


@pytest.mark.parametrize("below", ["min;micron\n", "[min];[micron]\n", "(minutes);(micron)\n"])
def test_the_line_below_the_names_tells_the_unit_of_the_time(tmp_path, below):
    # It was passed over: minutes were read as seconds, and the leak came out sixty times too large.
    log = read_text(tmp_path, timed(lambda i: f"{i / 6:.5f}", "time", "p", below=below))
    np.testing.assert_allclose(log.time, EVERY, atol=0.01)
    assert "time-unit-assumed" not in codes(log)


@pytest.mark.parametrize("write", [lambda i: f"{i / 6:.5f} min", lambda i: f"{10000 * i} ms", lambda i: f"{10 * i} s",
                                   lambda i: f"{10 * i} s" if i < 6 else f"{i / 6:.5f} min"])
def test_the_unit_beside_each_time_counts(tmp_path, write):
    np.testing.assert_allclose(read_text(tmp_path, timed(write)).time, EVERY, atol=0.01)


def test_an_unknown_unit_beside_the_times_is_refused(tmp_path):
    with pytest.raises(LogError, match=r'unit "fortnights"[\s\S]*--time-unit'):
        read_text(tmp_path, timed(lambda i: f"{10 * i} fortnights"))


@pytest.mark.parametrize(("name", "size"), [
    ("Время, мин", 60.0), ("時間(分)", 60.0), ("时间/秒", 1.0), ("Stunden", 3600.0), ("Laufzeit in Sekunden", 1.0),
    ("Tid [minuter]", 60.0), ("millis", 1e-3), ("elapsed [days]", 86400.0),
])  # fmt: skip
def test_units_of_time_in_other_languages(tmp_path, name, size):
    log = read_text(tmp_path, timed(lambda i: f"{10 * i / size:.8f}", name, "micron"))
    np.testing.assert_allclose(log.time, EVERY, atol=0.01)


@pytest.mark.parametrize("name", ["time [ks]", "time x 60 s", "time [10 s]"])
def test_a_heading_understood_in_part_is_refused(tmp_path, name):
    with pytest.raises(LogError, match=r"the unit of the times is not understood[\s\S]*--time-unit"):
        read_text(tmp_path, timed(lambda i: f"{i}", name, "micron"))


def test_minutes_a_point_and_seconds(tmp_path):
    log = read_text(tmp_path, timed(lambda i: f"{i // 6}.{10 * i % 60:02d}", "time (mm.ss)", "micron"))
    np.testing.assert_allclose(log.time, EVERY)


@pytest.mark.parametrize("size", [1e-3, 60.0, 3600.0, 86400.0])
def test_numbers_that_make_no_job_in_seconds_are_refused(tmp_path, size):
    """Minutes, hours or a share of the day under a heading that tells no unit; and milliseconds."""
    text = timed(lambda i: f"{10 * i / size:.8f}")
    with pytest.raises(LogError, match=r"the times have no unit[\s\S]*--time-unit min"):
        read_text(tmp_path, text)
    with pytest.raises(LogError, match="the times have no unit"):
        read_text(tmp_path, text + "\nMin\n161\nMax\n760000\n")
    if size == 60.0:
        np.testing.assert_allclose(read_text(tmp_path, text, time_unit="min").time, EVERY, atol=0.01)


def test_a_share_of_the_day_that_passes_the_end_of_a_year_is_no_count_of_seconds(tmp_path):
    text = timed(lambda i: f"{(365.9988 + i / 8640 - 1.0) % 365.0 + 1.0:.7f}")
    with pytest.raises(LogError, match="the times have no unit"):
        read_text(tmp_path, text)


@pytest.mark.parametrize("name", ["time", "t"])
def test_two_parts_from_nought_on_may_be_minutes_or_hours(tmp_path, name):
    text = timed(lambda i: f"{i // 6:02d}:{10 * i % 60:02d}", name, "micron")
    with pytest.raises(LogError, match="hours and minutes, or minutes and seconds"):
        read_text(tmp_path, text)
    np.testing.assert_allclose(read_text(tmp_path, text, time_unit="min").time, EVERY)


@pytest.mark.parametrize("title", [
    "Sample interval [s]: 10", "Rate: 0.1 Hz", "Samples/min: 6", "Logging interval: 00:00:10", "Abtastrate: 10 s",
    "Sample rate 6/min", "dt = 10.0 s", "Interval (sec);10", "Period = 10 sec.", "Messintervall: 10 Sekunden",
    "Logging rate: 6 readings per minute", "Scan rate: 0.1 samples/s", "SampleTime=PT10S",
])  # fmt: skip
def test_a_title_that_tells_the_distance_of_rows(tmp_path, title):
    text = timed(lambda i: f"{i + 1}", "sample", "micron", title=title + "\n")
    lines = text.splitlines(keepends=True)
    log = read_text(tmp_path, "".join(lines[:5] + lines[8:]))
    np.testing.assert_allclose(log.time, np.delete(EVERY, [3, 4, 5]))  # by their numbers: rows may be missing
    bare = "\n".join([title, "micron", *map(str, MICRONS)])
    np.testing.assert_allclose(read_text(tmp_path, bare).time, EVERY)


@pytest.mark.parametrize("line", ["Rate of rise 5 micron/min", "Leak rate: 5 /min", "Hold period: 15 min", "Delta 5",
                                  "Alarm interval: 5 min", "Interval: 0:05", "Log interval: 5"])
def test_a_title_that_tells_no_distance_of_rows(line):
    assert interval_in((line,)) is None
