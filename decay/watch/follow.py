"""The loop of a watch: poll, read, look, show, until the log stands still or ends; clock and sleep are the caller's."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

import numpy as np

from decay.errors import LogError
from decay.log import ReadOptions
from decay.log.pressure_log import PressureLog
from decay.log.reader import read_log
from decay.watch.look import Status
from decay.watch.sequence import Watcher
from decay.watch.tail import Source

MOST_UNREAD = 1 << 22
"""What is longer and still no log will never be one: a day of words at one reading a second. [bytes]"""
OPEN_AGAIN = 60.0
"""Time in the log after which a replay looks again for a closed valve: a hold's first look comes later. [s]"""
_PER_READING = ("time", "pressure", "line", "is_over_range", "step", "temperature")


class Screen(Protocol):
    """Where a watch shows what it sees."""

    def show(self, status: Status) -> None:
        """Show what is known now."""
        ...

    def wait(self, why: str) -> None:
        """Show that there is nothing to read yet, and why."""
        ...

    def note(self, text: str) -> None:
        """Show a remark that stays."""
        ...


class _Named(io.BytesIO):
    def __init__(self, data: bytes, name: str) -> None:
        super().__init__(data)
        self.name = name


def follow(
    source: Source,
    watcher: Watcher,
    options: ReadOptions,
    screen: Screen,
    *,
    every: float,
    until_idle: float = math.inf,
    clock: Callable[[], float],
    sleep: Callable[[float], None],
) -> None:
    """Follow a log until it ends or has stood still for a time.

    Parameters
    ----------
    source : Source
        The log that grows.
    watcher : Watcher
        Takes the looks.
    options : ReadOptions
        How to read the log.
    screen : Screen
        Where to show it.
    every : float
        Time between polls; longer where reading takes more than half of it. [s]
    until_idle : float
        Time without a new line after which to return. [s]
    clock : callable
        Tells the time. [s]
    sleep : callable
        Waits for a time. [s]

    Raises
    ------
    LogError
        If the source itself cannot be read, or is too long to become a log; one that cannot be read *yet* is waited
        for.
    """
    last_change = clock()
    told = 0
    while True:
        is_over = source.is_ended  # before the poll: what is there now is then all there will be
        began = clock()
        if source.poll():
            last_change = began
            try:
                status = watcher.see(log_as_it_stands(source, options, watcher, screen))
            except LogError as problem:
                if sum(map(len, source.segments())) > MOST_UNREAD:
                    raise
                screen.wait(problem.found)
            else:
                if status is not None:
                    screen.show(status)
        elif source.why_nothing:
            screen.wait(source.why_nothing)
        for text in source.notes[told:]:
            screen.note(text)
        told = len(source.notes)
        if is_over or clock() - last_change >= until_idle:
            return
        # A day's log takes a while to read: leave the machine more time than is taken from it.
        sleep(max(every, 2.0 * (clock() - began)))


def log_as_it_stands(source: Source, options: ReadOptions, watcher: Watcher, screen: Screen) -> PressureLog:
    """Return the log as it stands, earlier files of a rotation in front where their clock goes on.

    A last line without its end is left out, whatever comes after: half a number is a wrong one, and one reading less
    does no harm.

    Parameters
    ----------
    source : Source
        The log that grows.
    options : ReadOptions
        How to read it.
    watcher : Watcher
        Told where the clock has begun anew.
    screen : Screen
        Told so as well.

    Raises
    ------
    LogError
        If there is no log in it (yet).
    """
    if source.why_nothing:
        raise LogError(source.name, "there is no such file", "Expected a log that a logger writes to.",
                       "Check the name, or start the logger first.")
    parts = source.segments()
    if not any(parts):
        raise LogError(source.name, "no whole line has come", "Expected a log that a logger writes to.",
                       "Start the logger first, or wait longer with --until-idle.")
    if len(parts) == 1:
        return read_log(_Named(parts[0], source.name), options)
    try:
        joined = read_log(_Named(b"".join(parts), source.name), options)
    except LogError:
        joined = None
    if joined is not None and all(note.code != "time-disorder" for note in joined.notes):
        return joined
    latest = read_log(_Named(parts[-1], source.name), options)
    source.forget_earlier()
    watcher.begin_anew()
    screen.note("The clock of the log began anew with the new file: what came before is left out.")
    return latest


def replay(log: PressureLog, watcher: Watcher, screen: Screen, step: float) -> None:
    """Show a finished log as a watch would have seen it grow; in between are polls only where there may be news.

    Parameters
    ----------
    log : PressureLog
        The whole log. [s, Pa]
    watcher : Watcher
        Takes the looks.
    screen : Screen
        Where to show them.
    step : float
        Time in the log from one poll to the next. [s]
    """
    polls = np.append(np.arange(log.time[0] + step, log.time[-1], step), log.time[-1])
    counts = np.searchsorted(log.time, polls, side="right")
    at = 0
    while at < len(polls):
        status = watcher.see(upto(log, int(counts[at])))
        if status is not None:
            screen.show(status)
        # No poll brings news before a reading has come; the last one of all is never passed over.
        news = max(at + _polls_to_news(status, step), int(np.searchsorted(counts, counts[at], side="right")))
        at = max(min(news, len(polls) - 1), at + 1)


def _polls_to_news(status: Status | None, step: float) -> int:
    """Return after how many polls there may be news: a look that is due, half the way to it, or a valve closed. [-]"""
    if status is None:
        return 1
    if status.next_look is None:
        return max(1, int(OPEN_AGAIN / step))
    return max(1, math.ceil(0.5 * (status.next_look - status.phase.duration) / step))


def upto(log: PressureLog, count: int) -> PressureLog:
    """Return the first so many readings of a log."""
    cut = {name: getattr(log, name)[:count] for name in _PER_READING if getattr(log, name) is not None}
    others = {name: pressure[:count] for name, pressure in log.other_gauges.items()}
    marks = tuple(mark for mark in log.marks if mark.time <= cut["time"][-1])
    return replace(log, **cut, other_gauges=others, marks=marks)
