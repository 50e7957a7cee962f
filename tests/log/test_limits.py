"""Monsters are refused early: packed bombs, endless lines, NUL bytes, a million columns, deep quotes; at once."""

import gzip
import io
import os
import time
import tracemalloc

import pytest
from writing import read_text, rows, table

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from decay.table import source, workbook

LONGEST = 2.0  # s of processor time
PLAIN = table(rows()).encode()


def read_or_refuse(data: bytes) -> PressureLog | str:
    try:
        return read_log(io.BytesIO(data))
    except LogError as error:
        return str(error)


@pytest.fixture(autouse=True)
def _soon():
    before = time.process_time()
    yield
    assert time.process_time() - before < LONGEST


def test_packed_bomb_of_one_line():
    bomb = gzip.compress(b"0" * (1 << 26), 1)
    assert len(bomb) < 1 << 21
    tracemalloc.start()
    with pytest.raises(LogError, match="more than 1048576 characters"):
        read_log(io.BytesIO(bomb))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 16 << 20


def test_packed_bomb_of_many_lines(monkeypatch):
    monkeypatch.setattr(workbook, "LARGEST_UNPACKED", 1 << 24)
    bomb = gzip.compress(b"1,2\n" * (1 << 24), 1)
    tracemalloc.start()
    with pytest.raises(LogError, match="grows too large"):
        read_log(io.BytesIO(bomb))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20 << 20


@pytest.mark.skipif(os.name != "posix", reason="the file system may not know sparse files")
@pytest.mark.parametrize("start", [b"", b"time,micron\n0,100\n1,101\n"])
def test_endless_line_in_a_file(tmp_path, start):
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.write(start)
        file.truncate(source.LARGEST - 1)
    tracemalloc.start()
    with pytest.raises(LogError, match="more than 1048576 characters"):
        read_log(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 16 << 20


def test_endless_line_in_a_stream():
    class Endless(io.RawIOBase):
        def readable(self) -> bool:
            return True

        def readinto(self, buffer) -> int:
            buffer[:] = b"7" * len(buffer)
            return len(buffer)

    with pytest.raises(LogError, match="more than 1048576 characters"):
        read_log(io.BufferedReader(Endless()))


def test_too_large(tmp_path, monkeypatch):
    monkeypatch.setattr(source, "LARGEST", 1 << 12)
    with pytest.raises(LogError, match="too large for a log"):
        read_text(tmp_path, PLAIN + b"0,1\n" * 2000)
    monkeypatch.undo()
    monkeypatch.setattr(source, "MOST_LINES", 1000)
    with pytest.raises(LogError, match="more than 1000 lines"):
        read_text(tmp_path, PLAIN + b"0,1\n" * 2000)


def test_long_lines(tmp_path):
    with pytest.raises(LogError, match=r"line 24(.|\n)*the line has 400000 characters"):
        read_text(tmp_path, PLAIN + b"1," * 200_000)


@pytest.mark.parametrize("columns", [2500, 1_000_000])
def test_many_columns(columns):
    with pytest.raises(LogError, match=r"fields|characters"):
        read_log(io.BytesIO((b"1," * columns + b"\n") * 3))


def widest(factor):
    """Return two thousand gauges as a table, each with a factor of its own."""
    header = ",".join(["Elapsed (s)", *(f"Gauge {i} (micron)" for i in range(1900))])
    lines = [",".join([str(i), *(str((500 - i) * factor(k)) for k in range(1900))]) for i in range(40)]
    return io.BytesIO("\n".join([header, *lines, ""]).encode())


def test_two_thousand_gauges_that_read_the_same_are_one():
    assert [note.code for note in read_log(widest(lambda k: 1)).notes] == ["columns-same"]


def test_two_thousand_gauges_that_do_not_must_be_told_apart_by_the_user():
    with pytest.raises(LogError, match="--gauge"):
        read_log(widest(lambda k: 1 + 3 * (k % 2)))


def test_one_of_two_thousand_gauges_can_be_named():
    assert read_log(widest(lambda k: 1), ReadOptions(gauge="Gauge 7 (micron)")).rows == 40


@pytest.mark.parametrize("where", [0, 100, len(PLAIN)])
def test_nul_bytes(where):
    log = read_log(io.BytesIO(PLAIN[:where] + b"\x00" * 100 + PLAIN[where:]))
    assert len(log.time) >= 21
    assert "nul-bytes" in [note.code for note in log.notes]


@pytest.mark.parametrize("quotes", [b'"' * 40_000, b'"' * 40_001, b'"\n' * 30, b'",' * 900, b"'\"" * 9000])
@pytest.mark.parametrize("at_line", [0, 1, 12, 23])
def test_deep_quotes(quotes, at_line):
    lines = PLAIN.splitlines(keepends=True)
    log = read_log(io.BytesIO(b"".join([*lines[:at_line], quotes + b"\n", *lines[at_line:]])))
    assert len(log.time) == 22


PATTERNS = ["(" * 90_000, "sampl" * 18_000, "1" * 90_000, "1." * 45_000, "a:" * 45_000, "every 1" * 12_000,
            "1 " * 45_000, "vac g" * 18_000, "1-" * 45_000, "in hg " * 15_000, "#" * 90_000, "e5" * 45_000]  # fmt: skip


@pytest.mark.parametrize("pattern", PATTERNS, ids=[p[:6].strip() for p in PATTERNS])
def test_long_cells(pattern):
    """No pattern may take long over a cell of many characters, wherever it stands."""
    head, *body = PLAIN.decode().splitlines()
    for lines in ([pattern, head, *body], [head + "," + pattern, *(f"{line},x" for line in body)],
                  [head, *body[:9], f"{body[9]},{pattern}", *body[10:]],
                  [head, *body[:9], f"{body[9][:19]},{pattern}", *body[10:]], [head, *body, pattern],
                  [head + ",Unit", *(f"{line},{pattern if i % 3 else 'micron'}" for i, line in enumerate(body))]):
        found = read_or_refuse("\n".join(lines).encode())
        assert len(found) < 6000 if isinstance(found, str) else len(found.time) >= 21


def test_over_range_in_every_other_row():
    lines = "".join(f"{i},{'OL' if i % 2 else 5000 - i // 4}\n" for i in range(20_000))
    log = read_log(io.BytesIO(f"Elapsed (s),micron\n{lines}".encode()))
    assert log.rows == 20_000
