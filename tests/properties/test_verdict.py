"""The same readings in other units and dialects: the same verdict, and the same numbers to rounding."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from decay import read_log
from decay.pipeline import Ahead, analyze_log
from decay.report.document import document, dumps

STARTED = datetime(2026, 3, 14, 8, 30)
# How many places the point moves: the digits stay, so the readings are the same and not merely close.
SCALES = {"Pa": {"Pa": 0, "hPa": 2, "mbar": 2, "kPa": 3, "bar": 5}, "micron": {"micron": 0, "mmHg": 3},
          "mTorr": {"mTorr": 0, "Torr": 3}}
# Both are read into the same seconds and pressures but for the last bit of each, and every number follows from these.
# Profiles and searches stop by themselves at a relative 1e-9 or so.
ROUNDING = 1e-6


@st.composite
def jobs(draw):
    """Return what makes an invented pull and hold: leak [micron/min], damp [micron], length of the hold [s], seed."""
    return (draw(st.sampled_from([0.0, 0.3, 1.0, 3.0, 12.0])), draw(st.sampled_from([0.0, 100.0, 500.0])),
            draw(st.sampled_from([600.0, 1800.0])), draw(st.integers(0, 999)))


def digits_of(job, unit):
    """Return the readings of a job as a gauge shows them in a unit."""
    leak, damp, length, seed = job
    pull, hold = np.arange(0.0, 900.0, 5.0), np.arange(0.0, length, 5.0)
    pulled = 150.0 + 8000.0 * np.exp(-pull / 120.0)
    held = pulled[-1] + 20.0 * -np.expm1(-hold / 6.0) + leak * hold / 60.0 - damp * np.expm1(-hold / 400.0)
    noise = np.random.default_rng(seed).normal(0.0, 0.7, len(pull) + len(hold))
    size, step = (0.133322, Decimal("0.1")) if unit == "Pa" else (1.0, Decimal(1))
    return [Decimal(round(size * float(p) / float(step))) * step for p in np.concatenate((pulled, held)) + noise]


@st.composite
def shapes(draw):
    """Return how a log is written."""
    mark, comma = draw(st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", ".")]))
    return {"mark": mark, "comma": comma, "end": draw(st.sampled_from(["\n", "\r\n"])),
            "time": draw(st.sampled_from(["elapsed", "iso", "epoch"])), "coding": draw(
                st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])), "quoted": draw(st.booleans())}


def written(digits, unit, places, *, mark=",", comma=".", end="\n", time="elapsed", coding="utf-8", quoted=False):
    """Return the bytes of a log."""
    rows = [("time [s]" if time == "elapsed" else "time", f"pressure [{unit}]")]
    for number, value in enumerate(digits):
        moment = 5 * number
        told = {"elapsed": str(moment), "iso": (STARTED + timedelta(seconds=moment)).isoformat(),
                "epoch": str(1773477000 + moment)}[time]
        rows.append((told, f"{value.scaleb(-places):f}".replace(".", comma)))
    quote = '"' if quoted else ""
    return (end.join(mark.join(f"{quote}{field}{quote}" for field in row) for row in rows) + end).encode(coding)


def judged(folder, data, ahead):
    path = folder / "log.csv"
    path.write_bytes(data)
    return json.loads(dumps(document(analyze_log(read_log(path), ahead=ahead))))


def compare(one, other, where=""):
    """Hold two documents against each other: words alike, numbers to rounding."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), where
        for name in one:
            compare(one[name], other[name], f"{where}.{name}")
    elif isinstance(one, list):
        assert len(one) == len(other), where
        for number, pair in enumerate(zip(one, other, strict=True)):
            compare(*pair, f"{where}[{number}]")
    elif isinstance(one, float) and not isinstance(one, bool):
        # A growth is the difference of two misfits of some hundreds each, and may be all rounding.
        assert other == pytest.approx(one, rel=ROUNDING, abs=1e-9 if where.endswith("growth") else 1e-12), where
    else:
        assert one == other, where


@settings(derandomize=True, max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(job=jobs(), shape=shapes(), units=st.sampled_from([(one, two) for one in SCALES for two in SCALES[one]]),
       ahead=st.sampled_from([Ahead.ODDS, Ahead.ODDS, Ahead.TESTS]))  # the tests take longer than all before them
def test_other_units_and_dialects_change_nothing(tmp_path, job, shape, units, ahead):
    unit, other = units
    digits = digits_of(job, unit)
    plain = judged(tmp_path, written(digits, unit, 0), ahead)
    same = judged(tmp_path, written(digits, other, SCALES[unit][other], **shape), ahead)
    assert plain["holds"]
    # What was read is told as it was read: these speak of the file, not of the job.
    for found in (plain, same):
        found.pop("log")
    compare(plain, same)
