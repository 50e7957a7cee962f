"""The loop of a watch on a clock of its own: nothing here sleeps."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from decay.errors import LogError
from decay.judge.criteria import load_criterion
from decay.log import ReadOptions
from decay.log.reader import read_log
from decay.phases.phase import Kind
from decay.quantities import read_allowance
from decay.system import System
from decay.watch import Decision, FileTail, Watcher, follow
from decay.watch.follow import OPEN_AGAIN, log_as_it_stands, replay

HEAD = "elapsed [s],pressure [micron]\n"


class Paper:
    """Keeps what a watch shows."""

    def __init__(self):
        self.seen, self.waits, self.notes = [], [], []

    def show(self, status):
        self.seen.append(status)

    def wait(self, why):
        self.waits.append(why)

    def note(self, text):
        self.notes.append(text)


class Clock:
    """A clock that a sleep sets forward; whoever writes the log acts while the watch sleeps."""

    def __init__(self, acts=()):
        self.now, self.acts = 0.0, list(acts)

    def __call__(self):
        return self.now

    def sleep(self, seconds):
        self.now += seconds
        if self.acts:
            self.acts.pop(0)()


def job(rate, hold_minutes):
    """Return the rows of a pull of 20 min and a hold that jumps and rises at a rate [micron/min], synthetic."""
    def pressure(t):
        if t < 1200:
            return 759000 * math.exp(-t / 40) + 60 + 40 * math.exp(-t / 300)
        return 60 + 12 * -math.expm1((1200 - t) / 5) + rate * (t - 1200) / 60

    return [f"{t},{pressure(t) + 0.7 * math.sin(1.7 * t):.1f}\n" for t in range(0, 1200 + 60 * hold_minutes, 2)]


def watched(path, acts, *, allow=None, until_idle=20.0):
    paper, clock = Paper(), Clock(acts)
    watcher = Watcher(System(ambient=296.15, allow=None if allow is None else read_allowance(allow)), load_criterion())
    source = FileTail(path)
    follow(source, watcher, ReadOptions(), paper, every=2.0, until_idle=until_idle, clock=clock, sleep=clock.sleep)
    return paper, source, watcher, clock


def append(path, text):
    def act():
        with path.open("a") as file:
            file.write(text)
    return act


def in_parts(lines, size):
    return ["".join(lines[i : i + size]) for i in range(0, len(lines), size)]


def test_a_leak_is_followed_to_its_decision(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEAD)
    parts = in_parts(job(20.0, 20), 60)
    paper, *_ = watched(path, [append(path, part) for part in parts], allow="2 micron/min")
    assert paper.seen[0].phase.kind is not Kind.HOLD
    last = paper.seen[-1]
    assert last.phase.kind is Kind.HOLD
    assert abs(last.phase.start - 1200) <= 6
    assert last.decision is Decision.SHOWN
    assert last.look.leak.low > 2 * 0.1333 / 60
    looks = [s.look for s in paper.seen if s.is_new_look]
    assert [look.number for look in looks] == list(range(1, len(looks) + 1))
    assert all(b.length >= 1.25 * a.length - 1e-9 for a, b in pairwise(looks))
    assert not paper.notes


def test_it_ends_when_the_log_stands_still_and_not_before(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEAD + "".join(job(5.0, 3)))
    *_, clock = watched(path, [lambda: None] * 3 + [append(path, "1380,75.0\n")], until_idle=10.0)
    assert clock.now == pytest.approx(8.0 + 10.0)


def test_a_log_that_cannot_be_read_yet_is_waited_for(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("made by hand\n")
    paper, *_ = watched(path, [append(path, HEAD), append(path, "".join(job(5.0, 3)))])
    assert paper.waits
    assert len(paper.seen) == 1


@pytest.mark.parametrize("is_repeated", [True, False], ids=["header again", "no header"])
def test_a_rotation_in_the_hold_does_not_break_it(tmp_path, is_repeated):
    path = tmp_path / "log.csv"
    lines = job(20.0, 20)
    path.write_text(HEAD + "".join(lines[:800]))

    def rotate():
        path.rename(tmp_path / "log.1")
        path.write_text((HEAD if is_repeated else "") + "".join(lines[800:1000]))

    paper, *_ = watched(path, [rotate, append(path, "".join(lines[1000:]))])
    assert "rotated" in paper.notes[0]
    last = paper.seen[-1]
    assert abs(last.phase.start - 1200) <= 6
    assert last.phase.duration == pytest.approx(1198, abs=6)


def test_a_clock_that_begins_anew_leaves_the_earlier_part_out(tmp_path):
    path = tmp_path / "log.csv"
    lines = job(20.0, 20)
    path.write_text(HEAD + "".join(lines))
    again = job(5.0, 6)

    def begin_anew():
        path.write_text(HEAD + "".join(again))

    paper, source, watcher, _ = watched(path, [begin_anew])
    assert any("began anew" in note for note in paper.notes)
    log = log_as_it_stands(source, ReadOptions(), watcher, paper)
    assert len(log.time) == len(again)
    assert paper.seen[-1].phase.duration < 400


def test_a_last_line_without_an_end_is_never_read(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEAD + "".join(job(20.0, 5)) + "1500,1")  # of 172.0
    paper, source, watcher, _ = watched(path, [])
    assert source.has_half_line
    assert log_as_it_stands(source, ReadOptions(), watcher, paper).time[-1] == 1498.0


def test_a_file_that_is_no_file_is_an_error(tmp_path):
    with pytest.raises(LogError):
        watched(tmp_path, [])


def test_a_replay_polls_only_where_there_may_be_news(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEAD + "".join(job(20.0, 20)))
    log, paper = read_log(path), Paper()
    replay(log, Watcher(System(ambient=296.15), load_criterion(), ranks_tests=False), paper, 2.0)
    times = [status.time for status in paper.seen]
    assert times[-1] == log.time[-1]
    assert all(0.0 < later - now <= max(OPEN_AGAIN, 0.5 * 1200.0) for now, later in pairwise(times))
    assert len(times) < len(log.time) / 8
    looks = [status.look for status in paper.seen if status.is_new_look]
    # A look is taken at the poll at which it is due, as a watch that polls every two seconds does.
    assert all(1.25 * a.length <= b.length <= 1.25 * a.length + 4.0 for a, b in pairwise(looks))
