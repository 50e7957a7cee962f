"""Cells that are written alike, digit by digit and a whole column at once: where they stand, numbers, and dates.

Whatever is written otherwise gives ``None``, so that each cell is looked at: nothing here ever guesses.
"""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from decay.arrays import FloatArray, IntArray
from decay.constants import DAY
from decay.table import stamps

Bytes = NDArray[np.uint8]
MOST_DIGITS = 15  # of a number: so many are exact in a float, and so is each power of ten that divides them
WIDEST = 40  # characters of a cell
_POWERS = np.array([float(f"1e{power}") for power in range(MOST_DIGITS + 3)])
_NEWLINE, _RETURN, _BLANK, _TAB = b"\n\r \t"
_PLUS, _MINUS, _POINT = b"+-."
_MONTHS = {int.from_bytes(name, "big"): number + 1 for number, name in enumerate(
    (b"jan", b"feb", b"mar", b"apr", b"may", b"jun", b"jul", b"aug", b"sep", b"oct", b"nov", b"dec"))}
_WIDTH = {"b": 3, "Y": 4, "m": 2, "d": 2, "y": 2, "H": 2, "I": 2, "M": 2, "S": 2, "p": 2}
_LENGTHS = np.array([0, 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
WORD = 8  # bytes of a word
_NOUGHTS = np.uint64(0x3030303030303030)
_ABOVE_NINE = np.uint64(0x7676767676767676)  # added to a byte of 10 and more, sets its highest bit
_HIGHEST_BITS = np.uint64(0x8080808080808080)
_LETTERS = "pb"  # fields that are no digits
_Fields = dict[str, tuple[int, int]]


def places(text: Bytes, delimiter: str, width: int, rows: int) -> tuple[IntArray, IntArray] | None:
    """Return where each cell of some lines begins and ends.

    Parameters
    ----------
    text : ndarray of uint8
        Whole lines, each with its end. [-]
    delimiter : str
        Separator of fields; ``" "`` for runs of blanks.
    width : int
        Fields of each line. [-]
    rows : int
        Lines. [-]

    Returns
    -------
    begin, end : ndarray of int, shape (rows, width)
        Places in the text; ``None`` where a line has more fields or fewer. [-]
    """
    is_end = text == _NEWLINE
    if delimiter == " ":
        is_mark = is_end | (text == _BLANK) | (text == _TAB) | (text == _RETURN)
        edge = np.flatnonzero(np.diff(np.concatenate(([True], is_mark)).astype(np.int8)))
        if len(edge) != 2 * rows * width:
            return None
        begin, end = edge[::2].reshape(rows, width), edge[1::2].reshape(rows, width)
        line = np.flatnonzero(is_end)
        is_whole = bool((begin[1:, 0] > line[:-1]).all()) and bool((end[:, -1] <= line).all())
        return (begin, end) if is_whole else None
    mark = np.flatnonzero(is_end | (text == ord(delimiter)))
    if len(mark) != rows * width:
        return None
    end = mark.reshape(rows, width)
    if not bool((text[end[:, -1]] == _NEWLINE).all()):  # as many ends as rows: then no other mark is one
        return None
    begin = np.concatenate(([0], mark[:-1] + 1)).reshape(rows, width)
    last = end[:, -1]
    has_return = (last > begin[:, -1]) & (text[last - 1] == _RETURN)
    if has_return.any():
        end[:, -1] -= has_return
    return begin, end


def cut(text: Bytes, begin: IntArray, size: int) -> Bytes:
    """Return so many characters of each cell from where it begins, shape (n, size); the text goes on long enough."""
    windows = np.ndarray((len(text) - size + 1,), dtype=f"V{size}", buffer=text, strides=(1,))
    return windows[begin].view(np.uint8).reshape(len(begin), size)


def numbers_in(text: Bytes, begin: IntArray, end: IntArray, decimal: str) -> FloatArray | None:
    """Return the numbers of cells with digits and at most one sign and decimal mark, ``nan`` where one is empty.

    Parameters
    ----------
    text : ndarray of uint8
        The text, `WORD` characters before its first cell and `WIDEST` behind its last. [-]
    begin, end : ndarray of int, shape (n,)
        Where each cell stands. [-]
    decimal : str
        Decimal mark.

    Returns
    -------
    ndarray, shape (n,), or None
        The numbers, each the float that is nearest to what is written. [any unit]
    """
    size = end - begin
    widest = int(size.max())
    if widest == 0:
        return np.full(len(begin), np.nan)
    if widest > MOST_DIGITS + 2:
        return None
    if int(size.min()) > 0 and widest <= WORD:
        values = _short_numbers(text, end, size, ord(decimal))
        if values is not None:
            return values
    mark = ord(decimal)
    first = text[begin]
    is_signed = (first == _MINUS) | (first == _PLUS)
    total = np.zeros(len(begin), dtype=np.int64)
    behind = np.zeros(len(begin), dtype=np.int8)  # digits behind the decimal mark
    count = np.zeros(len(begin), dtype=np.int8)
    is_behind = np.zeros(len(begin), dtype=bool)
    for at in range(widest):
        here = text[begin + at]
        is_inside = at < size
        is_digit = (here - np.uint8(48) < 10) & is_inside
        is_other = is_inside & ~is_digit
        if is_other.any():
            is_mark = is_other & (here == mark) & ~is_behind
            if bool((is_other & ~is_mark & ~(is_signed if at == 0 else False)).any()):
                return None
            is_behind |= is_mark
        total = np.where(is_digit, total * 10 + (here - np.uint8(48)), total)
        count += is_digit
        behind += is_digit & is_behind
    is_empty = size == 0
    is_minus = is_signed & (first == _MINUS) & ~is_empty
    # A sign or a mark alone, more digits than a float holds, and the zero that has a sign are for the careful way.
    is_open = (~is_empty & (count == 0)) | (count > MOST_DIGITS) | (is_minus & (total == 0))
    if is_open.any():
        return None
    found: FloatArray = np.where(is_minus, -total, total) / _POWERS[behind]
    found[is_empty] = np.nan
    return found


def _short_numbers(text: Bytes, end: IntArray, size: IntArray, mark: int) -> FloatArray | None:
    """Return numbers of at most eight characters whose decimal mark, if any, stands at one place from the right.

    The eight characters before each cell's end are one word of the machine, the last character its highest byte: all
    digits are then handled at once, in pairs, fours and eights.
    """
    word = np.ndarray((len(text) - 7,), dtype="<u8", buffer=text, strides=(1,))[end - WORD]
    before = (WORD - size).astype(np.uint64) * np.uint64(8)  # bits that belong to what stands before the cell
    last = text[end[0] - size[0] : end[0]]
    at = np.flatnonzero(last == mark)
    behind = 0
    if len(at) == 1:
        behind = len(last) - 1 - int(at[0])
        if not bool((text[end - 1 - behind] == mark).all()) or bool((size <= behind + 1).any()):
            return None
        kept = np.uint64((1 << 64) - (1 << 8 * (WORD - behind))) if behind else np.uint64(0)
        word = (word & kept) | ((word << np.uint64(8)) & ~kept)
        before += np.uint64(8)
    inside = np.where(before < 64, ~np.uint64(0) << (before & np.uint64(63)), np.uint64(0))
    word = (word ^ _NOUGHTS) & inside
    if bool((((word + _ABOVE_NINE) | word) & _HIGHEST_BITS).any()):
        return None
    word = (word * np.uint64(10) + (word >> np.uint64(8))) & np.uint64(0x00FF00FF00FF00FF)
    word = (word * np.uint64(100) + (word >> np.uint64(16))) & np.uint64(0x0000FFFF0000FFFF)
    word = (word * np.uint64(10000) + (word >> np.uint64(32))) & np.uint64(0xFFFFFFFF)
    values: FloatArray = word.astype(np.float64) / _POWERS[behind]
    return values


def seconds_of(cells: list[str], form: str) -> FloatArray | None:
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
    >>> seconds_of(["01.02.1970 00:00", "01.02.1970 00:10"], "%d.%m.%Y %H:%M").tolist()
    [2678400.0, 2679000.0]
    >>> seconds_of(["31.02.1970 00:00"], "%d.%m.%Y %H:%M") is None
    True
    """
    if not cells:
        return None
    try:
        text = "".join(cells).encode("ascii")
    except (TypeError, UnicodeEncodeError):
        return None
    width = len(cells[0])
    if width == 0 or len(text) != width * len(cells):
        return None
    return seconds_in(np.frombuffer(text, dtype=np.uint8).reshape(len(cells), width), form)


def seconds_in(grid: Bytes, form: str) -> FloatArray | None:
    """Return the seconds that dates and clock times of one width tell, as `seconds_of` does.

    Parameters
    ----------
    grid : ndarray of uint8, shape (n, width)
        Their characters. [-]
    form : str
        How they are written. [-]

    Returns
    -------
    ndarray, shape (n,), or None
        Seconds; ``None`` where one is written otherwise. [s]
    """
    first = grid[0].tobytes().decode("ascii", "replace")
    fields = _fields(form, first)
    if fields is None:
        return None
    rows = np.ascontiguousarray(grid.T)  # one for each place in the cells
    moves = [not bool((row == row[0]).all()) for row in rows]
    found: dict[str, NDArray[np.int32]] = {}
    free = set(range(len(rows)))
    for name, (begin, end) in fields.items():
        free -= set(range(begin, end))
        if name in _LETTERS:
            continue
        value: int | NDArray[np.int32] = 0
        for at in range(begin, end):
            digit = rows[at] - np.uint8(48)
            if int((digit if moves[at] else digit[0]).max()) > 9:
                return None
            value = value * 10 + (digit.astype(np.int32) if moves[at] else int(digit[0]))
        found[name] = np.asarray(value, dtype=np.int32)
    if any(moves[at] for at in free):
        return None
    zone = stamps.offset(first[max(end for _, end in fields.values()) :])
    return _seconds(grid, fields, found, zone)


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


def _seconds(grid: Bytes, fields: _Fields, found: dict[str, NDArray[np.int32]], zone: float
             ) -> FloatArray | None:
    zero = np.asarray(0, dtype=np.int32)
    hour = found.get("H", zero)
    if "I" in fields:
        hour = found["I"]
        half = grid[:, fields["p"][0]] | 32 if "p" in fields else np.zeros(len(grid), dtype=np.uint8)
        last = grid[:, fields["p"][1] - 1] | 32 if "p" in fields else half
        if not bool(np.isin(half, (97, 112)).all() and (last == 109).all()) or hour.min() < 1 or hour.max() > 12:
            return None
        hour = hour % 12 + np.where(half == 112, 12, 0).astype(np.int32)
    minute, second = found.get("M", zero), found.get("S", zero)
    if hour.max() > 23 or minute.max() > 59 or second.max() > 59:
        return None
    total: FloatArray = np.zeros(len(grid)) + (hour * 3600 + minute * 60 + second)
    if "f" in fields:
        total += found["f"] / 10.0 ** (fields["f"][1] - fields["f"][0])
    if "d" in fields:
        day = _days(grid, fields, found)
        if day is None:
            return None
        total += day * DAY
    return total - zone


def _days(grid: Bytes, fields: _Fields, found: dict[str, NDArray[np.int32]]) -> FloatArray | None:
    year = found["Y"] if "Y" in fields else found["y"] + 2000
    day = found["d"]
    month = found["m"] if "b" not in fields else _month(grid, fields["b"][0])
    if month.min() < 1 or month.max() > 12 or day.min() < 1 or bool((day > _LENGTHS[month]).any()):
        return None
    is_leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    if bool(((month == 2) & (day == 29) & ~is_leap).any()) or int(year.min()) < 1:
        return None
    begin = ((year - 1970) * 12 + month - 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    days: FloatArray = (begin + day - 1).astype(np.float64)
    return days


def _month(grid: Bytes, at: int) -> NDArray[np.int32]:
    """Return the month that three letters name; 0 where they name none."""
    letters = (grid[:, at : at + 3] | 32).astype(np.int32)
    code, place = np.unique((letters[:, 0] << 16) + (letters[:, 1] << 8) + letters[:, 2], return_inverse=True)
    numbers = np.array([_MONTHS.get(int(value), 0) for value in code], dtype=np.int32)
    month: NDArray[np.int32] = numbers[place.reshape(-1)]
    return month
