"""A stretch of a log as a person says it, or as a report prints it, as seconds since the first row."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from decay.constants import DAY
from decay.errors import DecayError, RangeError

if TYPE_CHECKING:
    from decay.log import PressureLog

STRETCHES = (
    '10:05..10:25 or "2:45 PM..3:10 PM" (clock of the log), 10:05..end, "last 20 min", "41..66 min", 0:41:00..1:05:55 '
    "or 300..1500 (since the first row)"
)
_CLOCK = re.compile(r"(\d{1,3}):(\d{2})(?::(\d{2}(?:\.\d+)?))?\s*([ap])?\.?(?:m\.?)?", re.IGNORECASE)
_BESIDE = re.compile(r"\s*\([^)]*\)$")  # a report prints 1:02:03 (10:17:03): since the first row, and by the clock
_APART = re.compile(r"\s*(?:\.{2,}|…|–|—|\s(?:to|until|till)\s)\s*", re.IGNORECASE)
_BY_CLOCK, _SINCE = "by the clock", "since the first row"
_END = {"", "end", "the end", "now"}


def parse_stretch(text: str) -> tuple[str, str]:
    """Return both ends of START..END, each a time since the first row (seconds, or with a unit) or a clock time.

    Without END, or with ``end`` for it, the stretch goes on to the last reading, as does ``last 30 min``; without START
    it begins with the first row.

    Raises
    ------
    RangeError
        If it is no stretch.
    """
    words = text.strip()
    short = re.fullmatch(r"(?:the\s+)?(last|first)\s+(\S.*)", words, re.IGNORECASE)
    if short is not None:
        return (f"last {short[2]}", "end") if short[1].lower() == "last" else ("0", short[2])
    parts = _APART.split(words.removeprefix("from "))
    if len(parts) != 2 or not any(parts):
        raise RangeError(f'"{text}" is not a stretch of the log. Examples that work: {STRETCHES}.')
    start, end = (_BESIDE.sub("", part.strip()) for part in parts)
    return _with_unit(start or "0", end), "end" if end.lower() in _END else _with_unit(end, start)


def _with_unit(text: str, other: str) -> str:
    """Return one end with the unit, or the half of the day, that only the other end states."""
    unit = re.fullmatch(r"[-+]?\d+(?:[.,]\d+)?\s*([A-Za-zµ]+)", other)
    if unit is not None and re.fullmatch(r"\d+(?:[.,]\d+)?", text) and float(text.replace(",", ".")) != 0:
        return f"{text} {unit[1]}"
    half = _CLOCK.fullmatch(other)
    own = _CLOCK.fullmatch(text)
    if half is not None and half[4] and own is not None and not own[4] and 1 <= int(own[1]) <= 12:
        return f"{text} {half[4]}m"
    return text


def stretch_of(hold: tuple[str, str], log: PressureLog) -> tuple[float, float]:
    """Return a stretch as times since the first row.

    Parameters
    ----------
    hold : tuple of str
        What `parse_stretch` made of it.
    log : PressureLog
        The log. [s]

    Returns
    -------
    tuple of float
        Start and end. [s]

    Raises
    ------
    RangeError
        As for `moment_of`.
    """
    last = float(log.time[-1])
    begin = _start_of_day(log.started) if log.started is not None else log.clock_start
    if hold[0].startswith("last "):
        return max(last - _duration(hold[0].removeprefix("last ")), 0.0), last
    start = _meanings(hold[0], begin, last)
    end = {"end": last} if hold[1] == "end" else _meanings(hold[1], begin, last)
    both = set(start) & set(end)
    if len(both) == 1 and len(start) + len(end) > 2:  # one end tells in which way the other is meant
        start, end = ({way: meant[way] for way in both} for meant in (start, end))
    first, final = _one(hold[0], start), _one(hold[1], end)
    if final < first and set(end) == {_BY_CLOCK}:
        final += DAY
    slack = log.sampling if len(log.time) > 1 else 0.0
    if set(start) | set(end) == {_BY_CLOCK} and begin is not None and not first <= final <= last + slack:
        ends = (begin + float(log.time[0]), begin + last)
        raise RangeError(f'the log has no stretch "{hold[0]}..{hold[1]}": its clock runs from '
                         f"{' to '.join(_clock_of(t) for t in ends)}. Use: {STRETCHES}.")
    return first, final


def moment_of(text: str, started: str | None, last: float = float("inf"), clock_start: float | None = None) -> float:
    """Return one end of a stretch as time since the first row.

    Parameters
    ----------
    text : str
        Seconds, a duration with units, ``h:mm:ss`` since the first row, or a clock time.
    started : str or None
        Date and time of the first row.
    last : float
        Time of the last row: ``h:mm:ss`` that the log's clock does not show is taken as reports print it, since the
        first row. [s]
    clock_start : float, optional
        Time of day of the first row, where the log has a clock without dates. [s]

    Returns
    -------
    float
        Time since the first row. [s]

    Raises
    ------
    RangeError
        If it is none of these, or may be two of them.
    """
    begin = _start_of_day(started) if started is not None else clock_start
    return _one(text, _meanings(text, begin, last))


def _one(text: str, meant: dict[str, float]) -> float:
    values = list(meant.values())
    if len(values) > 1 and abs(values[0] - values[1]) >= 1.0:
        raise RangeError(f'"{text}" may be the clock of the log or the time since its first row. Say '
                         f"{values[0]:.0f} or {values[1]:.0f} seconds since the first row, or use: {STRETCHES}.")
    return values[0]


def _start_of_day(started: str) -> float:
    """Return the time of day of an ISO 8601 moment. [s]"""
    from datetime import datetime

    begin = datetime.fromisoformat(started)
    return 3600.0 * begin.hour + 60.0 * begin.minute + begin.second + 1e-6 * begin.microsecond


def _meanings(text: str, begin: float | None, last: float) -> dict[str, float]:
    """Return what one end may mean: by the clock of the log, or since its first row. [s]"""
    try:
        seconds = float(text)
    except ValueError:
        pass
    else:
        if not seconds >= 0.0:  # nor is "nan" a moment
            raise RangeError(f'"{text}" is no moment of the log. Use: {STRETCHES}.')
        return {_SINCE: seconds}
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return {_SINCE: _duration(text)}
    hour, minute, second = int(match[1]), int(match[2]), float(match[3] or 0.0)
    half = (match[4] or "").lower()
    is_time_of_day = hour < 24 and (not half or 1 <= hour <= 12)
    if minute > 59 or second >= 61 or (half and not is_time_of_day):
        raise RangeError(f'"{text}" is not a time of day. Use: {STRETCHES}.')
    if half:
        hour = hour % 12 + 12 * (half == "p")
    since = 3600.0 * hour + 60.0 * minute + second
    if begin is None:
        if half:
            raise RangeError(f'"{text}" is a time of day, but the log has no clock. Use: {STRETCHES}.')
        return {_SINCE: since}
    if not is_time_of_day:
        return {_SINCE: since}
    after = (since - begin) % DAY  # a time before the first row belongs to the next day: the log passed midnight
    if half or last == float("inf") or since > last:
        return {_BY_CLOCK: after}
    return {_SINCE: since} if after > last else {_BY_CLOCK: after, _SINCE: since}


def _clock_of(t: float) -> str:
    """Return a time of day [s] as a clock shows it."""
    seconds = round(t) % int(DAY)
    return f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"


def _duration(text: str) -> float:
    """Return a duration, also one of several parts: ``1 h 5 min``. [s]"""
    from decay import quantities

    parts = re.findall(r"\d+(?:[.,]\d+)?\s*[A-Za-z]+\.?", text)
    try:
        if len(parts) > 1 and re.sub(r"[\s,]|and", "", "".join(parts)) == re.sub(r"[\s,]|and", "", text):
            return sum(quantities.read_duration(part) for part in parts)
        return quantities.read_duration(text)
    except DecayError as problem:
        raise RangeError(f"{problem} Use: {STRETCHES}.") from problem
