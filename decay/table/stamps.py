"""Dates and clock times as text: what one cell says, and how a whole column is written."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from decay.arrays import FloatArray
from decay.constants import DAY, HOUR, MINUTE
from decay.errors import LogError
from decay.table.read_options import Note
from decay.table.stamp_words import familiar

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_ISO = r"(?P<iy>\d{4})(?P<is>[-/._])(?P<im>\d{1,2})(?P=is)(?P<id>\d{1,2})"
_LOCAL = r"(?P<a>\d{1,2})(?P<ls>[-/._])(?P<b>\d{1,2})(?P=ls)(?P<ly>\d{4}|\d{2})"
_NAMED = r"(?P<nd>\d{1,2})(?P<ns>[-/ ._])(?P<nm>[A-Za-z]{3,9})\.?,?(?P=ns)(?P<ny>\d{4}|\d{2})"
_NAMED_US = r"(?P<um>[A-Za-z]{3,9})\.? (?P<ud>\d{1,2}),? (?P<uy>\d{4})"
_COMPACT = r"(?P<cy>(?:19|20)\d\d)(?P<cm>\d\d)(?P<cd>\d\d)"
_DATE = rf"(?:{_ISO}|{_LOCAL}|{_NAMED}|{_NAMED_US}|{_COMPACT})"
_TIME = (
    r"(?P<pre>[AaPp][Mm])?\s*(?P<h>\d{1,4})(?P<ts>[:_h.])(?P<m>\d{2})(?:(?P<ts2>[:_m.])(?P<s>\d{2})"
    r"(?:s?|(?P<fs>[.,:])(?P<f>\d{1,9})))?\s*(?P<post>[AaPp]\.?[Mm]\.?)?"
)
_COMPACT_TIME = r"(?P<kh>\d\d)(?P<km>\d\d)(?P<ks>\d\d)(?:\.(?P<kf>\d{1,9}))?"
# A zone by its letters tells no offset for sure (IST is three); where they change, the clock steps, and that shows.
_ZONE = r"\s*(?:(?P<zone>Z|z|UTC|GMT|[+-](?:0\d|1[0-4])(?::?[0-5]\d)?)|(?P<lettered>[A-Z]{2,4}T))?"
_FULL = re.compile(rf"^(?:[A-Za-z]{{2,9}},? )?{_DATE}(?:(?P<sep>[T ,_-]+)(?:{_TIME}|{_COMPACT_TIME}){_ZONE})?$")
_DIGITS_ALONE = re.compile(rf"^{_COMPACT}{_COMPACT_TIME}$")
# Days that are counted, or those of the year: three digits before a clock are never part of it.
_CLOCK = re.compile(rf"^(?P<days>\d+\s*d(?:ays?)?[ ,]\s*|\d{{3}} +)?{_TIME}$")
# As C's ctime and the date command of Unix write a date, the year last; and a clock in words, blanks between them.
_YEAR_LAST = re.compile(r"^(?:[A-Za-z]{3},? )?([A-Za-z]{3}) +(\d{1,2}) (\d\d:\d\d:\d\d(?:\.\d+)?) (?:[A-Z]{3,4} )?"
                        r"(\d{4})$")
_IN_WORDS = re.compile(r"^(\d+) ?h(?:ours?|rs?)?,? (\d{1,2}) ?m(?:in(?:utes?|s)?)?,? (\d{1,2}) ?s(?:ec(?:onds?|s)?)?$")
LONGEST_STAMP = 60  # characters
_ORDERS = {"dmy": (0, 1, 2), "mdy": (1, 0, 2), "ymd": (2, 1, 0)}
_POINTED, _FOUR = re.compile(r"\d{1,2}([.-])\d\d\1\d\d$"), re.compile(r"\d{1,3}:\d\d:\d\d:\d\d$")
_CLOCKS: dict[str, Callable[[str], str]] = {
    "points": lambda text: re.sub(r"^(\d{1,2})[.-](\d\d)[.-](\d\d)$", r"\1:\2:\3", text),
    "days": lambda text: re.sub(r"^(\d{1,3}):(\d\d:\d\d:\d\d)$", r"\1d \2", text),
}
_DECIDING, _MOSTLY = 40, 0.9  # cells of a column that tell which, and the share that must be of one form
_DATE_PART = 8  # characters at the start of a cell that hold day and month, whatever the form


@dataclass(frozen=True, slots=True)
class Stamp:
    """What one cell says about time."""

    # Seconds since 1970 in the stamp's own clock (zone removed), or since midnight where no date stands [s]
    seconds: float
    # Which of the two stand in the cell
    has_date: bool
    has_clock: bool
    zone: str = ""  # offset as written, or empty


def looks_like_time(text: str) -> bool:
    """Return whether a cell is a date, a time of day, or both."""
    return read_stamp(text) is not None or read_stamp(text, "mdy") is not None


def read_stamp(text: str, order: str = "dmy") -> Stamp | None:
    """Return what a cell says, with ``order`` for dates written in digits with the year last.

    Examples
    --------
    >>> read_stamp("03-Aug-2023 13:15:27").seconds
    1691068527.0
    >>> read_stamp("2026_04_20-PM04_53_23").seconds % 86400
    60803.0
    >>> read_stamp("512") is None
    True
    """
    return _read(text, order) if 4 <= len(text) <= LONGEST_STAMP else None


@lru_cache(maxsize=65536)
def _read(text: str, order: str) -> Stamp | None:
    text = text.strip().strip('"')
    if len(text) < 4:
        return None
    if order in _CLOCKS:
        text, order = _CLOCKS[order](text), "dmy"
    found = _as_written(text, order)
    if found is None and (other := familiar(text)) is not None:
        found = _as_written(other, order)
    return found


def _as_written(text: str, order: str) -> Stamp | None:
    if _DIGITS_ALONE.match(text):
        text = f"{text[:8]}T{text[8:]}"
    text = _IN_WORDS.sub(lambda at: f"{at[1]}:{at[2]:0>2}:{at[3]:0>2}", _YEAR_LAST.sub(r"\1 \2, \4 \3", text))
    match = _FULL.match(text)
    if match is None:
        match = _CLOCK.match(text)
        if match is None or (match["ts"] == "." and match["s"] is None) or match["ts"] not in (":", "h", "_", "."):
            return None
        if match["ts"] == "." and match["ts2"] == ":":  # days, a point and a clock
            return None
        if match["ts"] != ":" and match["s"] is None and match["post"] is None and match["pre"] is None:
            return None
        seconds = _clock(match)
        if seconds is None:
            return None
        days = re.match(r"\d+", match["days"] or "0")
        return Stamp(seconds + DAY * int(days.group() if days else 0), False, True)
    day = _date(match, order)
    if day is None:
        return None
    if match["sep"] is None:
        # 20240101 alone may be any number: a compact date needs its clock beside it.
        return Stamp(day, True, False) if match["cy"] is None else None
    seconds = _clock(match)
    if seconds is None or seconds >= 86401:
        return None
    zone = match["zone"] or ""
    return Stamp(day + seconds - offset(zone), True, True, zone)


def _date(match: re.Match[str], order: str) -> float | None:
    if match["iy"]:
        parts = match["iy"], match["im"], match["id"]
    elif match["a"]:
        three = match["a"], match["b"], match["ly"]
        if order == "ymd" and len(match["ly"]) == 4:
            order = "dmy"
        day, month, year = (three[i] for i in _ORDERS[order])
        parts = year, month, day
    elif match["nd"]:
        parts = match["ny"], match["nm"], match["nd"]
    elif match["um"]:
        parts = match["uy"], match["um"], match["ud"]
    else:
        parts = match["cy"], match["cm"], match["cd"]
    year, month, day = parts
    if not month.isdigit():
        if month[:3].lower() not in _MONTHS:
            return None
        month = str(_MONTHS.index(month[:3].lower()) + 1)
    full = int(year) + (2000 if len(year) == 2 else 0)
    try:
        return float((dt.date(full, int(month), int(day)) - dt.date(1970, 1, 1)).days * 86400)
    except ValueError:
        return None


def _clock(match: re.Match[str]) -> float | None:
    if match.re is _FULL and match["kh"]:
        hour, minute, second = int(match["kh"]), int(match["km"]), int(match["ks"])
        fraction = match["kf"]
    else:
        hour, minute, second = int(match["h"]), int(match["m"]), int(match["s"] or 0)
        fraction = match["f"]
    half = (match["pre"] or match["post"] or "").replace(".", "").lower()
    if half:
        if not 1 <= hour <= 12 and hour != 0:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    if minute > 59 or second > 60:
        return None
    return hour * 3600.0 + minute * 60.0 + second + (float("0." + fraction) if fraction else 0.0)


def offset(zone: str) -> float:
    """Return the distance from UTC that a zone states, such as ``+02:00``; 0 for ``Z`` and none. [s]"""
    digits = re.sub(r"\D", "", zone)
    if not digits:
        return 0.0
    size = int(digits[:2]) * 3600.0 + int(digits[2:4] or 0) * 60.0
    return -size if zone.startswith("-") else size


def local_parts(text: str) -> tuple[str, str, str, str] | None:
    """Return the two short numbers, the year and the separator of a date in digits with the year last."""
    match = _FULL.match(text.strip()) if len(text) <= LONGEST_STAMP else None
    if match is None and len(text) <= LONGEST_STAMP and (other := familiar(text)) is not None:
        match = _FULL.match(other)
    return (match["a"], match["b"], match["ly"], match["ls"]) if match is not None and match["a"] else None


def strptime_format(text: str, order: str) -> str | None:
    """Return the format that reads a column whose cells look like this one, or ``None`` for the slow way."""
    text = text.strip()
    match = _FULL.match(text)
    if match is None:
        match = _CLOCK.match(text)
        if match is None or match["days"] or match["pre"] or len(match["h"]) > 2:
            return None
        return _clock_format(match)
    if match["um"] or match["pre"] or match["kh"] or match["lettered"] or not text[0].isdigit():
        return None
    if match["iy"]:
        sep = match["is"]
        date = f"%Y{sep}%m{sep}%d"
    elif match["a"]:
        year = "%Y" if len(match["ly"]) == 4 else "%y"
        three = {"dmy": ("%d", "%m", year), "mdy": ("%m", "%d", year), "ymd": (year, "%m", "%d")}
        date = match["ls"].join(three["dmy" if order == "ymd" and year == "%Y" else order])
    elif match["nd"]:
        month = "%b" if len(match["nm"]) == 3 else "%B"
        date = match["ns"].join(("%d", month, "%Y" if len(match["ny"]) == 4 else "%y"))
    else:
        date = "%Y%m%d"
    if match["sep"] is None:
        return date
    clock = _clock_format(match)
    if clock is None:
        return None
    zone = match["zone"] or ""
    if zone and not zone.startswith(("+", "-", "Z")):
        return None
    return date + match["sep"] + clock + ("%z" if zone else "")


def _clock_format(match: re.Match[str]) -> str | None:
    if match["post"] and "." in match["post"]:
        return None
    form = ("%I" if match["post"] else "%H") + match["ts"] + "%M"
    if match["s"]:
        form += match["ts2"] + "%S"
    if match["f"]:
        if match["fs"] != ".":
            return None
        form += ".%f"
    if match["post"]:
        gap = re.search(r"(\s*)[AaPp][Mm]", match.group(0))
        form += (gap.group(1) if gap else "") + "%p"
    return form


@dataclass(frozen=True, slots=True)
class DateForm:
    """How the dates and clock times of a column are written."""

    order: str  # ``dmy``, ``mdy`` or ``ymd``, for dates in digits with the year last
    fast: str | None  # format with which the column is read in one pass; ``None`` where each cell is read by itself
    # Whether clock, date and offset stand in the cells
    timed: bool
    dated: bool
    zoned: bool
    started: str | None  # date and time of the first row, ISO 8601
    notes: tuple[Note, ...] = ()  # what was decided


def clock_order(cells: list[str], name: str, column: str) -> str | None:
    """Return how clocks of a column are read that a single cell does not tell from dates or fractions, if it has such.

    ``"points"`` for ``12.30.05`` where the cells go on like a clock and not like dates; ``"days"`` for
    ``0:00:12:05`` where it is days, and no hundredths, that make even steps.

    Raises
    ------
    LogError
        If both would.
    """
    few = [cell.strip() for cell in cells[:_DECIDING]]
    if sum(map(bool, map(_POINTED.match, few))) > _MOSTLY * len(few):
        return "points" if len(set(few)) > 0.5 * len(few) else None
    if len(few) < 3 or sum(map(bool, map(_FOUR.match, few))) <= _MOSTLY * len(few):
        return None
    parts = np.array([[int(part) for part in cell.split(":")] for cell in few if _FOUR.match(cell)], dtype=np.float64)
    if parts[:, 3].max() > 59:
        return None
    as_days, as_hundredths = (evenness(parts @ np.array(sizes)) for sizes in (
        (DAY, HOUR, MINUTE, 1.0), (HOUR, MINUTE, 1.0, 0.01)))
    if as_days == as_hundredths:
        raise LogError(name, f'"{few[0]}" may be days and a clock, or a clock with hundredths of a second',
                       "Expected times that tell.", "Export them as h:mm:ss.", column=column)
    return "days" if as_days > as_hundredths else None


def evenness(seconds: FloatArray) -> float:
    """Return the share of the steps between times [s] that are as long as the middle one. [-]"""
    change = np.round(np.diff(seconds), 3)
    return float(np.mean(change == np.median(change)))


def form_of(sample: list[str], name: str, column: str, day_first: bool | None) -> DateForm:
    """Return how a column of dates or clock times is written.

    Raises
    ------
    LogError
        If day and month cannot be told apart.
    """
    clocks = clock_order(sample, name, column)
    order, notes, open_order = _order(sample, name, column, day_first) if clocks is None else (clocks, [], False)
    marks: list[tuple[str, Stamp]] = []
    for cell in sample:
        said = read_stamp(cell, order)
        if said is not None:
            marks.append((cell, said))
            if said.has_clock:
                break
    if not marks:
        return DateForm(order, None, False, False, False, None, tuple(notes))
    first, mark = marks[-1] if marks[-1][1].has_clock else marks[0]
    fast = None if order in _CLOCKS else strptime_format(first, order)
    started = None
    if mark.has_date and not open_order:
        begin = marks[0][1]
        local = begin.seconds + offset(begin.zone)
        first_moment = stamp_after(dt.datetime(1970, 1, 1), local)
        started = first_moment and first_moment + ("Z" if begin.zone in {"z", "Z", "UTC", "GMT"} else begin.zone)
    return DateForm(order, fast, mark.has_clock, mark.has_date, bool(mark.zone), started, tuple(notes))


def stamp_after(begin: dt.datetime, seconds: float) -> str | None:
    """Return date and time some seconds after another, ISO 8601, or ``None`` beyond the calendar."""
    try:
        return (begin + dt.timedelta(seconds=seconds)).isoformat()
    except (OverflowError, ValueError):
        return None


def _changes(cells: list[str]) -> list[str]:
    """Return the cells whose date part differs from the cell before or behind: the others tell nothing of the order."""
    heads = [cell[:_DATE_PART] if cell[:1].isdigit() else cell for cell in cells]
    return [cell for at, cell in enumerate(cells)
            if at in (0, len(cells) - 1) or heads[at] != heads[at - 1] or heads[at] != heads[at + 1]]


def _order(sample: list[str], name: str, column: str, day_first: bool | None) -> tuple[str, list[Note], bool]:
    """Return the order of day, month and year, what to say of it, and whether it stays open."""
    if sum(cell[:4].isdigit() for cell in sample) > 0.5 * len(sample):  # the year first: a cell cut short tells nothing
        return "dmy", [], False
    parts = {cell: found for cell in _changes(sample) if (found := local_parts(cell)) is not None}
    local = list(parts)
    if not local:
        return "dmy", [], False
    if day_first is not None:
        return ("dmy" if day_first else "mdy"), [], False
    _, _, year, mark = parts[local[0]]
    short = len(year) == 2 and mark == "-"
    orders = ["dmy", "mdy", "ymd"] if short else ["dmy", "mdy"]
    possible = [order for order in orders if all(read_stamp(cell, order) is not None for cell in local)]
    if not possible:  # one damaged cell must not decide
        counts = {order: sum(read_stamp(cell, order) is not None for cell in local) for order in orders}
        possible = [max(counts, key=lambda order: counts[order])]
    if len(possible) == 1:
        return possible[0], [], False
    days = list(dict.fromkeys(parts[cell][:3] for cell in local))
    if len(days) == 1:
        if "." in local[0] and "dmy" in possible and not short:
            return "dmy", [], False
        if len(set(days[0])) < 3 and days[0][0] == days[0][1]:
            return possible[0], [], short
        text = f'"{local[0]}" may be day or month first; all rows have this date, so no time depends on it. ' \
               "--day-first or --month-first states it."
        return possible[0], [Note("date-order-open", text)], True
    spans = {}
    for order in possible:
        seconds = np.array([read_stamp(cell, order).seconds for cell in local])  # type: ignore[union-attr]
        spans[order] = float(np.sum(np.abs(np.diff(seconds))))
    best = sorted(possible, key=lambda order: spans[order])
    if spans[best[1]] < 5 * spans[best[0]]:
        raise LogError(name, f'"{local[0]}" may be day first or month first, and the rows do not show which',
                       "Expected dates whose order shows.", "Add --day-first or --month-first.", column=column)
    words = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}[best[0]]
    text = f'Dates such as "{local[0]}" were read {words}, because the rows then follow on. ' \
           "--day-first or --month-first overrides."
    return best[0], [Note("date-order-guessed", text)], False
