"""No bytes whatever end in a traceback or lose a row unsaid."""

import io
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from writing import rows, table

from decay.errors import LogError
from decay.log import read_log

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


@settings(CALM, max_examples=200)
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
