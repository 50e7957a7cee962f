"""Each option settles what it says, against what the content alone would give."""

import os

import numpy as np
import pytest
from writing import MICRONS, accounted, codes, read_text, rows, table

from decay.errors import LogError
from decay.log import ReadOptions, read_log
from decay.quantities import MICRON

PASCAL = np.array(MICRONS) * MICRON


@pytest.mark.parametrize("word", ["OL", "- - -", "OVER RNG", "19999"])
def test_over_range(tmp_path, word):
    values = [str(v) for v in MICRONS]
    values[12] = word  # amid low readings no content would tell
    text = table(rows(values))
    assert not read_text(tmp_path, text).is_over_range.any()
    log = read_text(tmp_path, text, over_range=(word,))
    assert np.flatnonzero(log.is_over_range).tolist() == [12]
    assert np.isnan(log.pressure[12])
    assert "over-range-declared" in codes(log)
    assert accounted(log)


def test_encoding(tmp_path):
    text = table(rows(), ("Время", "Давление (micron)"))
    log = read_text(tmp_path, text.encode("koi8-r"), encoding="koi8-r")
    assert log.gauge == "Давление (micron)"
    with pytest.raises(LogError, match="encoding no-such does not fit"):
        read_text(tmp_path, text, encoding="no-such")
    with pytest.raises(LogError, match="--encoding"):
        read_text(tmp_path, text.encode("koi8-r"), encoding="utf-8")


@pytest.mark.parametrize(("option", "mark"), [("tab", "\t"), ("semicolon", ";"), (";", ";"), ("~", "~"), ("pipe", "|")])
def test_delimiter(tmp_path, option, mark):
    log = read_text(tmp_path, table(rows(), mark=mark), delimiter=option)
    np.testing.assert_allclose(log.pressure, PASCAL)


def test_wrong_delimiter(tmp_path):
    with pytest.raises(LogError, match="not one character"):
        read_text(tmp_path, table(rows()), delimiter=",,")
    with pytest.raises(LogError):
        read_text(tmp_path, table(rows()), delimiter=";")


def test_decimal(tmp_path):
    text = table(rows([f"{v / 1000:.3f}" for v in MICRONS]), ("Time", "Torr"), mark=";").replace(".", ",")
    values = read_text(tmp_path, text, decimal=",").pressure
    np.testing.assert_allclose(values, np.array(MICRONS) / 1000 * 101325 / 760)
    grouped = table(rows([f"{v:,}" for v in MICRONS]), mark=";")  # thousands, or three decimals
    assert read_text(tmp_path, grouped, decimal=".").pressure[0] == pytest.approx(PASCAL[0])
    assert read_text(tmp_path, grouped, decimal=",").pressure[0] == pytest.approx(PASCAL[0] / 1000)


def test_header(tmp_path):
    text = table(rows(), ("2026", "5 micron"))  # names that look like values
    assert read_text(tmp_path, text, header=True, unit="micron").rows == len(MICRONS)
    named = table(rows())
    log = read_text(tmp_path, named, header=False, unit="micron")
    assert log.gauge == "column 2"
    np.testing.assert_allclose(log.pressure, PASCAL)


def test_temperature(tmp_path):
    body = [(*r, "70.0", "21.5") for r in rows()]
    text = table(body, ("Time", "micron", "Shop temp (°F)", "Suction temp (°C)"))
    plain = read_text(tmp_path, text)
    assert plain.temperature is None
    assert "temperature-unused" in codes(plain)
    np.testing.assert_allclose(read_text(tmp_path, text, temperature="Shop temp (°F)").temperature, 294.261, atol=1e-3)
    np.testing.assert_allclose(read_text(tmp_path, text, temperature="4").temperature, 294.65)
    with pytest.raises(LogError, match="--temperature-column"):
        read_text(tmp_path, text, temperature="Oil")


def test_time_column(tmp_path):
    body = [(t, str(20 * i), v) for i, (t, v) in enumerate(rows())]
    text = table(body, ("Logged at", "Run seconds", "micron"))
    assert read_text(tmp_path, text).sampling == 10.0
    assert read_text(tmp_path, text, time_column="Run seconds").sampling == 20.0
    assert read_text(tmp_path, text, time_column="2").sampling == 20.0
    with pytest.raises(LogError, match="no column"):
        read_text(tmp_path, text, time_column="Clock")


def test_time_unit(tmp_path):
    text = table([(str(10 * i), str(v)) for i, v in enumerate(MICRONS)], ("Elapsed", "micron"))
    assert read_text(tmp_path, text).sampling == 10.0
    assert read_text(tmp_path, text, time_unit="min").sampling == 600.0
    assert read_text(tmp_path, text, time_unit="ms").sampling == pytest.approx(1e-2)
    with pytest.raises(LogError, match="--time-unit"):
        read_text(tmp_path, text, time_unit="fortnight")


def test_day_or_month_first(tmp_path):
    body = [(t.replace("2026-03-14", "05/04/2026"), v) for t, v in rows()]
    text = table(body)
    assert "date-order-open" in codes(read_text(tmp_path, text))
    assert read_text(tmp_path, text).started is None
    for first, begins in ((True, "2026-04-05T09:00:00"), (False, "2026-05-04T09:00:00")):
        log = read_text(tmp_path, text, day_first=first)
        assert (log.started, log.duration) == (begins, 210.0)


def test_unit_and_gauge_are_checked(tmp_path):
    with pytest.raises(LogError, match='"furlong" is not a pressure unit'):
        read_text(tmp_path, table(rows()), unit="furlong")
    with pytest.raises(LogError, match="below atmosphere"):
        read_text(tmp_path, table(rows()), unit="inHg vac")
    with pytest.raises(LogError, match="--gauge"):
        read_text(tmp_path, table([(*r, "ok") for r in rows()], ("Time", "micron", "Remark")), gauge="Remark")


def test_no_header_and_no_unit_is_refused(tmp_path):
    with pytest.raises(LogError, match="--unit"):
        read_text(tmp_path, table(rows(), None))


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="permissions do not bind this user")
def test_unreadable_file(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(table(rows()))
    path.chmod(0)
    with pytest.raises(LogError, match=r"Permission denied(.|\n)*permissions"):
        read_log(path)


def test_a_file_that_fails_to_open(tmp_path, monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "log.csv"
    path.write_text(table(rows()))
    monkeypatch.setattr("pathlib.Path.open", refuse)
    with pytest.raises(LogError, match=r"Permission denied(.|\n)*permissions"):
        read_log(path, ReadOptions())


def test_a_column_of_another_quantity_is_no_pressure(tmp_path):
    path = tmp_path / "humid.csv"
    path.write_text("time,humidity\n0,30\n1,31\n2,30\n3,29\n")
    with pytest.raises(LogError, match="no column looks like a pressure"):
        read_log(path)


def test_a_pressure_column_without_a_reading_is_named(tmp_path):
    path = tmp_path / "empty.csv"
    path.write_text("time,pressure (micron),remark\n" + "".join(f"{i},,pumping\n" for i in range(20)))
    with pytest.raises(LogError, match=r'column "pressure \(micron\)": the column is empty'):
        read_log(path)


def test_a_log_over_range_throughout_says_so(tmp_path):
    path = tmp_path / "over.csv"
    path.write_text("time,micron\n" + "".join(f"{i},OL\n" for i in range(20)))
    with pytest.raises(LogError, match='all readings are words like "OL"'):
        read_log(path)


def test_what_a_log_has_no_use_for_is_said(tmp_path):
    log = read_text(tmp_path, table(rows()), sheet="Sheet1", time_unit="min")
    assert {"sheet-unused", "time-unit-unused"} <= set(codes(log))
    assert log.duration == read_text(tmp_path, table(rows())).duration
