"""Names that move the cursor, files that are none, settings of nonsense: refused or spelled out, never obeyed."""

from __future__ import annotations

import io
import os
import signal
import stat
import time
from pathlib import Path

import pytest

from decay.errors import CriterionError, LogError
from decay.files import drafted
from decay.judge.criteria import load_criterion
from decay.log import ReadOptions
from decay.system import System
from decay.watch import Watcher, follow
from decay.watch.follow import MOST_UNREAD
from decay.watch.tail import LONGEST_LINE, FileTail, StreamTail
from decay_cli.console import ExitCode

from ..forked import ended, piped, started

ESCAPES = "\x1b[2J\x1b]0;title\x07\u202egnp"
ROWS = [f"2026-03-14T09:{i // 6:02d}:{i % 6 * 10:02d},{300 + i % 3}" for i in range(120)]
LOG = "\n".join(("time,p [micron]", *ROWS, ""))


class Deaf:
    """A place to show a watch that shows nothing."""

    def show(self, status):
        pass

    def wait(self, why):
        pass

    def note(self, text):
        pass


def tame(text: str) -> bool:
    return all(c == "\n" or c.isprintable() for c in text)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names")
@pytest.mark.parametrize("through_link", [False, True])
def test_only_a_regular_file_is_ever_replaced(tmp_path, through_link):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    target = pipe
    if through_link:
        target = tmp_path / "link"
        target.symlink_to(pipe)
    with pytest.raises(OSError, match="no regular file"), drafted(target, replace=True) as draft:
        draft.write_text("x")
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted({"pipe", target.name})


def test_a_link_to_a_regular_file_is_followed_and_the_file_replaced(tmp_path):
    (tmp_path / "old").write_text("old")
    (tmp_path / "link").symlink_to(tmp_path / "old")
    with drafted(tmp_path / "link", replace=True) as draft:
        draft.write_text("new")
    assert (tmp_path / "old").read_text() == "new"
    assert (tmp_path / "link").is_symlink()


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="an endless device")
def test_a_watch_follows_files_and_no_devices(tmp_path):
    with pytest.raises(LogError, match="device or a pipe"):
        FileTail("/dev/zero").poll()
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(LogError, match="decay watch -"):
        FileTail(pipe).poll()


def test_a_stream_without_end_is_given_up(monkeypatch):
    class Endless:
        def read(self, size: int) -> bytes:
            return b"1,2\n" * (size // 4)

    monkeypatch.setattr("decay.watch.tail.LARGEST", 1 << 20)
    tail = StreamTail(Endless())  # type: ignore[arg-type]

    def follow() -> None:
        for _ in range(10_000):
            tail.poll()

    with pytest.raises(LogError, match="too long for a log"):
        follow()


def test_a_stream_of_words_or_of_one_line_without_end_is_given_up_early():
    words = StreamTail(io.BytesIO(b"y\n" * (MOST_UNREAD // 2 + 1)))
    with pytest.raises(LogError, match="no line looks like a row"):
        follow(words, Watcher(System(), None), ReadOptions(), Deaf(), every=0.01, clock=time.monotonic,
               sleep=time.sleep)
    line = StreamTail(io.BytesIO(b"\0" * (LONGEST_LINE + 1)))
    with pytest.raises(LogError, match="a line has more than"):
        follow(line, Watcher(System(), None), ReadOptions(), Deaf(), every=0.01, clock=time.monotonic,
               sleep=time.sleep)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names")
def test_a_pipe_that_nobody_writes_to_is_told_and_idleness_ends_a_watch_of_it(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    with piped() as (said, err), started(("analyze", "pipe.csv", "--no-plot"), tmp_path, stderr=err) as waiting:
        assert "pipe.csv, a pipe: until the program that writes to it ends" in said.readline()
        time.sleep(0.5)  # between its word and its wait a signal is only noted: Python looks at it when the wait ends
        waiting.send_signal(signal.SIGTERM)
        assert waiting.wait(30) == ExitCode.INTERRUPTED
    with piped() as (nothing, _):  # its input stays open, and a thread waits for it
        idle = ended(("watch", "-", "--every", "0.1 s", "--until-idle", "0.3 s"), tmp_path, stdin=nothing)
    assert idle.returncode == ExitCode.UNREADABLE
    assert "no whole line has come" in idle.stderr


@pytest.mark.parametrize(
    "arguments",
    [("analyze", ESCAPES), (ESCAPES,), ("analyze", "log.csv", f"--{ESCAPES}"),
     ("analyze", "log.csv", "--criterion", ESCAPES),
     ("analyze", "log.csv", "--gauge", ESCAPES, "--no-plot"), ("explain", ESCAPES), ("help", ESCAPES)],
    ids=["file", "command", "option", "criterion", "gauge", "code", "topic"],
)  # fmt: skip
def test_nothing_that_moves_the_cursor_reaches_the_terminal(tmp_path, arguments):
    (tmp_path / "log.csv").write_text(LOG)
    done = ended(arguments, tmp_path)
    assert done.returncode != 0
    assert done.stderr
    assert tame(done.stderr), repr(done.stderr)
    assert tame(done.stdout), repr(done.stdout)


def test_headings_and_keys_are_spelled_out(tmp_path):
    (tmp_path / "log.csv").write_text(LOG.replace("p [micron]", f"p{ESCAPES} [micron]"))
    done = ended(("analyze", "log.csv", "--no-plot"), tmp_path)
    assert tame(done.stdout + done.stderr)
    key = "".join(f"\\u{ord(c):04x}" for c in ESCAPES)
    (tmp_path / "own.toml").write_text(f'"{key}" = 1\n')
    done = ended(("analyze", "log.csv", "--no-plot", "--criterion", "own.toml"), tmp_path)
    assert done.returncode == 2
    assert tame(done.stdout + done.stderr)


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 50_000, "a." * 4_000 + "b = 1", "a = " + "9" * 10_000, "#" * (2 << 20), "\x00",
     'hold = "1e308 min"', 'hold = "20 min"\nfail_above = "1e308 micron"\npass_up_to = "1e307 micron"',
     'hold = "20 min"\ntarget = "2000 Torr"'],
    ids=["deep", "dotted", "long number", "huge", "nul", "ages", "no line", "above the air"],
)  # fmt: skip
def test_a_criterion_of_nonsense_is_refused(tmp_path, text):
    (tmp_path / "own.toml").write_text(text)
    with pytest.raises(CriterionError):
        load_criterion(tmp_path / "own.toml")


def test_a_criterion_that_is_a_device_is_refused():
    with pytest.raises(CriterionError):
        load_criterion("/dev/zero" if Path("/dev/zero").exists() else "no-such.toml")
