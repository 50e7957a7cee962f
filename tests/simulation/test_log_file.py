"""Written logs: every dialect says the same readings, says that it is synthetic, and nothing is half-written."""

from __future__ import annotations

import csv
import gzip
import io
import tomllib
from datetime import datetime, timedelta

import numpy as np
import pytest

from decay.errors import RangeError
from decay.quantities import MICRON, PRESSURE_UNITS
from decay.simulation import SHAPES, Job, Leak, LogShape, Step, StepKind, TimeForm, log_text, run, truth_path, write_log

MADE = run(Job(name='bay "4"', seed=3, leaks=(Leak(0.01),),
               steps=(Step(StepKind.PUMP, 300.0), Step(StepKind.HOLD, 200.0))))
STARTED = datetime(2026, 3, 14, 11, 58)


def seconds_of(form, fields):
    if form is TimeForm.SECONDS:
        return float(fields[0])
    if form is TimeForm.MINUTES:
        return 60 * float(fields[0])
    if form is TimeForm.HMS:
        h, m, s = fields[0].split(":")
        return 3600 * int(h) + 60 * int(m) + int(s)
    if form in (TimeForm.EPOCH, TimeForm.EPOCH_MS):
        start = (STARTED - datetime(1970, 1, 1)) / timedelta(seconds=1)
        return float(fields[0]) / (1000 if form is TimeForm.EPOCH_MS else 1) - start
    shape = {TimeForm.ISO: "%Y-%m-%dT%H:%M:%S", TimeForm.CLOCK_12: "%m/%d/%Y %I:%M:%S %p",
             TimeForm.SPLIT: "%d.%m.%Y %H:%M:%S"}[form]
    return (datetime.strptime(" ".join(fields), shape) - STARTED) / timedelta(seconds=1)


@pytest.mark.parametrize("unit", ["micron", "mbar", "inHg"])
@pytest.mark.parametrize("name", list(SHAPES))
def test_every_dialect_and_unit_carries_the_same_readings(name, unit, tmp_path):
    dialect = SHAPES[name]
    log, _ = write_log(MADE, tmp_path / "a.csv", name, unit=unit, started=STARTED)
    text = log.read_bytes().decode(dialect.encoding)
    assert text.startswith("# synthetic")
    rows = list(csv.reader(io.StringIO(text), delimiter=dialect.delimiter))
    columns = len(rows[-1]) - dialect.unit_column
    body = [row for row in rows if len(row) >= 2 and any(c.isdigit() for c in row[0]) and len(row) == len(rows[-1])]
    values = [row[columns - 1].replace(dialect.decimal, ".") for row in body]
    times = [seconds_of(dialect.time_form, [f.replace(dialect.decimal, ".") if dialect.time_form in (
        TimeForm.SECONDS, TimeForm.MINUTES, TimeForm.EPOCH) else f for f in row[:columns - 1]]) for row in body]
    assert times == pytest.approx(MADE.readings.time.tolist(), abs=0.011)
    shown = np.array([np.nan if v == "OL" else float(v) for v in values]) * PRESSURE_UNITS[unit]
    assert np.isnan(shown).tolist() == MADE.readings.is_over_range.tolist()
    finite = ~np.isnan(shown)
    # Within the rounding of the written digits, which is at most half a tenth of the gauge's step.
    allowed = 0.051 * MADE.readings.step[finite]
    assert np.all(np.abs(shown[finite] - MADE.readings.pressure[finite]) <= allowed)


def test_twelve_hour_times_pass_noon():
    text, _ = log_text(MADE, "clock12", started=STARTED)
    assert "03/14/2026 11:59:58 AM" in text
    assert "03/14/2026 12:00:00 PM" in text


def test_the_truth_stands_beside_the_log(tmp_path):
    expected = {"result": "fail", "exit_code": 1, "options": ["--volume", "3 L"]}
    log, truth = write_log(MADE, tmp_path / "a.csv.gz", expected=expected)
    assert truth == tmp_path / "a.toml" == truth_path(log)
    told = tomllib.loads(truth.read_text())
    assert told["synthetic"] is True
    assert told["job"] == 'bay "4"'
    assert told["truth"]["leak_rate_micron_per_min"] == pytest.approx(0.01 / MICRON * 60, rel=1e-5)
    assert told["truth"]["holds"][0]["start_s"] == 300.0
    assert [s["kind"] for s in told["truth"]["steps"]] == ["pump", "hold"]
    assert told["expected"] == expected
    assert gzip.decompress(log.read_bytes()).decode() == log_text(MADE, "comma")[0]


def test_the_same_run_gives_the_same_bytes(tmp_path):
    one, _ = write_log(MADE, tmp_path / "a.csv.gz")
    two, _ = write_log(MADE, tmp_path / "b.csv.gz")
    assert one.read_bytes() == two.read_bytes()


@pytest.mark.parametrize("name", ["a.csv", "a.toml"])
def test_nothing_is_overwritten_unasked(name, tmp_path):
    standing = tmp_path / name
    standing.write_text("mine")
    with pytest.raises(FileExistsError, match=r"a\.(csv|toml)"):
        write_log(MADE, tmp_path / "a.csv")
    assert [p.name for p in tmp_path.iterdir()] == [name]
    assert standing.read_text() == "mine"
    write_log(MADE, tmp_path / "a.csv", force=True)
    assert "synthetic" in standing.read_text()


def test_a_failed_write_leaves_nothing(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.link", full)
    monkeypatch.setattr("pathlib.Path.replace", full)
    with pytest.raises(OSError, match="No space"):
        write_log(MADE, tmp_path / "a.csv")
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_written_is_refused(tmp_path):
    with pytest.raises(RangeError, match="choose one of comma"):
        write_log(MADE, tmp_path / "a.csv", "no such")
    with pytest.raises(RangeError, match="unit of pressure"):
        write_log(MADE, tmp_path / "a.csv", unit="furlong")
    with pytest.raises(RangeError, match="truth"):
        write_log(MADE, tmp_path / "a.toml")
    with pytest.raises(RangeError, match="decimal mark"):
        LogShape(",", ",")
    assert list(tmp_path.iterdir()) == []
