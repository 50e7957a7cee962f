"""A growing file, read whole line by whole line, whatever the writer does to it."""

from __future__ import annotations

import io
import time

import pytest

from decay.errors import LogError
from decay.watch.tail import FileTail, StreamTail, whole_lines

HEAD = b"time,pressure [micron]\n"


def rows(first, last, rate=0.5):
    return b"".join(b"%d,%.1f\n" % (i, 100 + rate * i) for i in range(first, last))


def test_a_half_written_last_line_waits_for_its_end(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(HEAD + b"0,100.0\n5,31")
    tail = FileTail(path)
    assert tail.poll()
    assert tail.segments() == [HEAD + b"0,100.0\n"]
    assert tail.has_half_line
    assert not tail.poll()
    with path.open("ab") as file:
        file.write(b"2")
    assert not tail.poll()  # longer, but no further line
    with path.open("ab") as file:
        file.write(b".0\n")
    assert tail.poll()
    assert tail.segments() == [HEAD + b"0,100.0\n5,312.0\n"]
    assert not tail.has_half_line


def test_a_file_that_does_not_exist_yet_is_waited_for(tmp_path):
    tail = FileTail(tmp_path / "later.csv")
    assert not tail.poll()
    (tmp_path / "later.csv").write_bytes(HEAD)
    assert tail.poll()


def test_rotation_by_renaming_keeps_what_was_read(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(HEAD + rows(0, 5))
    tail = FileTail(path)
    tail.poll()
    path.rename(tmp_path / "log.csv.1")
    assert not tail.poll()  # between the two steps
    path.write_bytes(HEAD + rows(5, 9))
    assert tail.poll()
    assert tail.segments() == [HEAD + rows(0, 5), HEAD + rows(5, 9)]
    assert "rotated" in tail.notes[0]


@pytest.mark.parametrize("is_longer", [False, True])
def test_truncation_keeps_what_was_read_even_where_the_new_text_is_longer(tmp_path, is_longer):
    path = tmp_path / "log.csv"
    path.write_bytes(HEAD + rows(0, 5))
    tail = FileTail(path)
    tail.poll()
    new = HEAD + rows(5, 30 if is_longer else 7)
    with path.open("r+b") as file:
        file.truncate(0)
        file.write(new)
    assert tail.poll()
    assert tail.segments() == [HEAD + rows(0, 5), new]


def test_truncation_to_nothing_waits_for_what_comes(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(HEAD + rows(0, 5))
    tail = FileTail(path)
    tail.poll()
    path.write_bytes(b"")
    assert not tail.poll()
    assert tail.segments() == [HEAD + rows(0, 5)]
    path.write_bytes(HEAD + rows(5, 8))
    assert tail.poll()
    assert len(tail.segments()) == 2


def test_a_file_written_anew_as_a_whole_only_grew(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(HEAD + rows(0, 5))
    tail = FileTail(path)
    tail.poll()
    other = tmp_path / "new.csv"
    other.write_bytes(HEAD + rows(0, 8))
    other.replace(path)
    assert tail.poll()
    assert tail.segments() == [HEAD + rows(0, 8)]
    assert tail.notes == []


def test_a_folder_and_a_packed_file_are_errors(tmp_path):
    with pytest.raises(LogError):
        FileTail(tmp_path).poll()
    (tmp_path / "log.csv.gz").write_bytes(b"\x1f\x8b\x08\x00abc\n")
    with pytest.raises(LogError, match="packed"):
        FileTail(tmp_path / "log.csv.gz").poll()


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be", "utf-16", "utf-8"])
def test_whole_lines_in_any_encoding(encoding):
    whole = "a,b\n1,ਊ\n".encode(encoding)  # U+0A0A holds two bytes that look like line feeds
    assert whole_lines(whole + "2,30"[: 2 if encoding != "utf-16" else 0].encode(encoding)) == whole


def test_lines_ended_by_carriage_returns_alone():
    assert whole_lines(b"1,2\r3,4\r5") == b"1,2\r3,4\r"


def test_a_stream_ends():
    tail = StreamTail(io.BytesIO(HEAD + b"1,2"))
    for _ in range(500):
        if tail.is_ended or not tail.poll():
            time.sleep(0.002)
        if tail.is_ended:
            break
    tail.poll()
    assert tail.is_ended
    assert tail.segments() == [HEAD]
    assert tail.has_half_line
