"""What a person may write behind --hold, and what a report prints."""

from __future__ import annotations

import click
import numpy as np
import pytest

from decay import PressureLog
from decay_cli.options import StretchType, moment_in, stretch_in

HOUR = 3600.0


def log(started: str | None = None, clock_start: float | None = None, length: float = 2 * HOUR) -> PressureLog:
    time = np.arange(0.0, length + 1, 10.0)
    n = len(time)
    return PressureLog("made", time, np.ones(n), np.arange(n), np.zeros(n, bool), np.ones(n), "g", "Pa", n,
                       started=started, clock_start=clock_start)


def said(text: str, of: PressureLog) -> tuple[float, float]:
    return stretch_in(StretchType().convert(text, None, None), of)


@pytest.mark.parametrize(("text", "start", "end"), [
    ("300..1500", 300, 1500), ("5 min..25 min", 300, 1500), ("41..66 min", 2460, 3960), ("41 min..66", 2460, 3960),
    ("0..66 min", 0, 3960), ("42 min..", 2520, 7200), ("42 min..end", 2520, 7200), ("..end", 0, 7200),
    ("..25 min", 0, 1500), ("last 30 min", 5400, 7200), ("Last 30 min", 5400, 7200), ("first 20 min", 0, 1200),
    ("0:41:00..1:05:55", 2460, 3955), ("0:41:00 (09:41:00)..1:05:55 (10:05:55)", 2460, 3955),
    ("1 h..1 h 5 min", 3600, 3900),
    ("41 min to 66 min", 2460, 3960), ("41..66 minutes", 2460, 3960), ("0.5..1 h", 1800, 3600),
    ("41 min – end", 2460, 7200),
])  # fmt: skip
def test_since_the_first_row(text: str, start: float, end: float) -> None:
    assert said(text, log()) == (start, end)


MORNING = log("2026-03-18T09:00:00")
AFTERNOON = log(clock_start=14 * HOUR + 30 * 60)


@pytest.mark.parametrize(("text", "of", "start", "end"), [
    ("9:41..10:05:55", MORNING, 2460, 3955), ("0:41:00..1:05:55", MORNING, 2460, 3955),
    ("9:41 AM..10:06 am", MORNING, 2460, 3960), ("9:41..10:06 a.m.", MORNING, 2460, 3960),
    ("10:05..end", MORNING, 3900, 7200),
    ("2:45 PM..3:10 PM", AFTERNOON, 900, 2400), ("2:45..3:10 PM", AFTERNOON, 900, 2400),
    ("14:45..15:10", AFTERNOON, 900, 2400),
    ("23:50..0:10", log("2026-03-18T23:30:00"), 1200, 2400),
    ("11:50 PM..12:10 AM", log(clock_start=23.5 * HOUR), 1200, 2400),
])  # fmt: skip
def test_by_the_clock(text: str, of: PressureLog, start: float, end: float) -> None:
    assert said(text, of) == (start, end)


@pytest.mark.parametrize(("text", "of", "why"), [
    ("2:45 PM..3:10 PM", log(), "no clock"), ("13:45 PM..end", MORNING, "not a time of day"),
    ("9:61..10:00", MORNING, "not a time of day"), ("1:00..1:30", log("2026-03-18T00:30:00"), "may be"),
    ("5 apples..6 apples", log(), "Use:"),
    ("20:00..20:10", MORNING, r"its clock runs from \d\d:\d\d:00 to"),
    ("300", log(), "not a stretch"), ("..", log(), "not a stretch"),
    ("1..2..3", log(), "not a stretch"), ("-1..300", log(), "no moment"), ("nan..300", log(), "no moment"),
])  # fmt: skip
def test_refused(text: str, of: PressureLog, why: str) -> None:
    with pytest.raises(click.UsageError, match=why) as caught:
        said(text, of)
    assert "last 20 min" in str(caught.value)


def test_a_log_that_grows_knows_no_last_row() -> None:
    assert moment_in("9:41", "2026-03-18T09:00:00") == 2460
