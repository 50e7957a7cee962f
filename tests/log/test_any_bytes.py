"""No bytes whatever end in a traceback, and any table in any dialect comes back equal or is refused."""

import datetime as dt
import io
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from writing import rows, table

from decay.errors import LogError
from decay.log import read_log
from decay.quantities import PRESSURE_UNITS

SEEDS = [path.read_bytes() for path in sorted((Path(__file__).parent / "broken").iterdir())] + [table(rows()).encode()]
CALM = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


def survives(data: bytes) -> None:
    try:
        log = read_log(io.BytesIO(data))
    except LogError:
        return
    assert sum(note.rows for note in log.notes) == log.rows - len(log.time)


@CALM
@given(st.binary(max_size=300))
def test_any_bytes(data):
    survives(data)


@settings(CALM, max_examples=300)
@given(st.sampled_from(SEEDS), st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255), st.integers(0, 3)),
                                        min_size=1, max_size=12))
def test_mutated(data, changes):
    buffer = bytearray(data)
    for place, byte, kind in changes:
        at = place % (len(buffer) + 1)
        if kind == 0:
            buffer[at : at + 1] = bytes([byte])
        elif kind == 1:
            buffer.insert(at, byte)
        elif kind == 2:
            del buffer[at : at + byte]
        else:
            buffer[at:at] = bytes([[44, 59, 9, 34, 10, 13, 0, 46][byte % 8]])
    survives(bytes(buffer))


@CALM
@given(st.lists(st.integers(1, 20_000), min_size=8, max_size=40), st.sampled_from([",", ";", "\t", "|"]),
       st.sampled_from(sorted(PRESSURE_UNITS)), st.sampled_from(["%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%H:%M:%S"]),
       st.sampled_from(["\n", "\r\n", "\r"]), st.sampled_from(["utf-8", "utf-16", "utf-8-sig"]), st.integers(1, 60))
def test_comes_back(values, mark, unit, form, end, encoding, every):
    moments = [dt.datetime(2026, 3, 14, 9) + dt.timedelta(seconds=every * i) for i in range(len(values))]
    body = [(m.strftime(form), str(v)) for m, v in zip(moments, values, strict=True)]
    text = table(body, ("Time", f"Absolute pressure ({unit})"), mark, end)
    try:
        log = read_log(io.BytesIO(text.encode(encoding)))
    except LogError:
        return
    if len(log.time) == len(values):
        np.testing.assert_allclose(log.pressure, np.array(values) * PRESSURE_UNITS[unit], rtol=1e-9)
        np.testing.assert_allclose(log.time, every * np.arange(len(values)))
    else:  # only a sentinel may go, and it is said
        assert {note.code for note in log.notes if note.rows} == {"sentinel-missing"}
