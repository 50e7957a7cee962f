"""Reads dates and clock times that are all written alike, digit by digit and a whole column at once."""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from decay.arrays import FloatArray
from decay.log import stamps

_MONTHS = {int.from_bytes(name, "big"): number + 1 for number, name in enumerate(
    (b"jan", b"feb", b"mar", b"apr", b"may", b"jun", b"jul", b"aug", b"sep", b"oct", b"nov", b"dec"))}
_WIDTH = {"b": 3, "Y": 4, "m": 2, "d": 2, "y": 2, "H": 2, "I": 2, "M": 2, "S": 2, "p": 2}
_LENGTHS = np.array([0, 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_Fields = dict[str, tuple[int, int]]


def seconds(cells: list[str], form: str) -> FloatArray | None:
    """Return the seconds of each cell since 1970, or since midnight where no date stands.

    Parameters
    ----------
    cells : list of str, length n
        Cells of one column. [-]
    form : str
        How they are written, in the letters of ``strptime``. [-]

    Returns
    -------
    ndarray, shape (n,), or None
        Seconds; ``None`` where one cell or more is written otherwise, so that each must be looked at. [s]

    Examples
    --------
    >>> seconds(["01.02.1970 00:00", "01.02.1970 00:10"], "%d.%m.%Y %H:%M").tolist()
    [2678400.0, 2679000.0]
    >>> seconds(["31.02.1970 00:00"], "%d.%m.%Y %H:%M") is None
    True
    """
    if not cells:
        return None
    try:
        text = "".join(cells).encode("ascii")
    except (TypeError, UnicodeEncodeError):
        return None
    width = len(cells[0])
    fields = _fields(form, cells[0])
    if fields is None or len(text) != width * len(cells):
        return None
    grid = np.frombuffer(text, dtype=np.uint8).reshape(len(cells), width)
    digits = {at for name, (begin, end) in fields.items() if name not in "pb" for at in range(begin, end)}
    free = digits | set(range(*fields.get("p", (0, 0)))) | set(range(*fields.get("b", (0, 0))))
    for at in range(width):
        column = grid[:, at]
        if at in digits:
            if int(column.min()) < 48 or int(column.max()) > 57:
                return None
        elif at not in free and not bool((column == column[0]).all()):
            return None
    return _seconds(grid, fields, stamps.offset(cells[0][max(end for _, end in fields.values()) :]))


@lru_cache(maxsize=64)
def _fields(form: str, cell: str) -> _Fields | None:
    """Return where each field stands in a cell, or ``None`` where the form has no fixed places."""
    fields: _Fields = {}
    at = 0
    for letter, literal in re.findall(r"%(.)|([^%])", form):
        if literal:
            if cell[at : at + 1] != literal:
                return None
            at += 1
        elif letter == "f":
            digits = re.match(r"[0-9]{1,9}", cell[at:])
            if digits is None:
                return None
            fields["f"] = (at, at + digits.end())
            at += digits.end()
        elif letter == "z":
            if re.fullmatch(r"Z|[+-][0-9]{2}(?::?[0-9]{2})?", cell[at:]) is None:
                return None
            at = len(cell)
        elif letter in _WIDTH:
            fields[letter] = (at, at + _WIDTH[letter])
            at += _WIDTH[letter]
        else:
            return None
    return fields if at == len(cell) else None


def _seconds(grid: NDArray[np.uint8], fields: _Fields, zone_offset: float) -> FloatArray | None:
    hour = _number(grid, fields, "H")
    if "I" in fields:
        hour = _number(grid, fields, "I")
        half = grid[:, fields["p"][0]] | 32 if "p" in fields else np.zeros(len(grid), dtype=np.uint8)
        last = grid[:, fields["p"][1] - 1] | 32 if "p" in fields else half
        if not bool(np.isin(half, (97, 112)).all() and (last == 109).all()) or hour.min() < 1 or hour.max() > 12:
            return None
        hour = hour % 12 + np.where(half == 112, 12, 0).astype(np.int32)
    minute, second = _number(grid, fields, "M"), _number(grid, fields, "S")
    if hour.max() > 23 or minute.max() > 59 or second.max() > 59:
        return None
    total: FloatArray = (hour * 3600 + minute * 60 + second).astype(np.float64)
    if "f" in fields:
        total += _number(grid, fields, "f") / 10.0 ** (fields["f"][1] - fields["f"][0])
    if "d" in fields:
        day = _days(grid, fields)
        if day is None:
            return None
        total += day * 86400.0
    return total - zone_offset


def _days(grid: NDArray[np.uint8], fields: _Fields) -> FloatArray | None:
    places = [at for name in ("Y", "y", "m", "b", "d") if name in fields for at in range(*fields[name])]
    if bool((grid[:, places] == grid[0, places]).all()):
        grid = grid[:1]  # one date throughout
    year = _number(grid, fields, "Y") if "Y" in fields else _number(grid, fields, "y") + 2000
    day = _number(grid, fields, "d")
    month = _month(grid, fields["b"][0]) if "b" in fields else _number(grid, fields, "m")
    if month.min() < 1 or month.max() > 12 or day.min() < 1 or bool((day > _LENGTHS[month]).any()):
        return None
    is_leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    if bool(((month == 2) & (day == 29) & ~is_leap).any()) or int(year.min()) < 1:
        return None
    begin = ((year - 1970) * 12 + month - 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    days: FloatArray = (begin + day - 1).astype(np.float64)
    return days


def _month(grid: NDArray[np.uint8], at: int) -> NDArray[np.int32]:
    """Return the month that three letters name; 0 where they name none."""
    letters = (grid[:, at : at + 3] | 32).astype(np.int32)
    code, place = np.unique((letters[:, 0] << 16) + (letters[:, 1] << 8) + letters[:, 2], return_inverse=True)
    numbers = np.array([_MONTHS.get(int(value), 0) for value in code], dtype=np.int32)
    month: NDArray[np.int32] = numbers[place.reshape(-1)]
    return month


def _number(grid: NDArray[np.uint8], fields: _Fields, name: str) -> NDArray[np.int32]:
    value = np.zeros(len(grid), dtype=np.int32)
    for at in range(*fields.get(name, (0, 0))):
        value = value * 10 + (grid[:, at].astype(np.int32) - 48)
    return value
