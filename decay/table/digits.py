"""Numbers as people and meters write them, and the smallest change that their digits can show."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import compress

import numpy as np
from numpy.typing import NDArray

from decay.arrays import BoolArray, FloatArray, IntArray, median

Cells = FloatArray | list[str]
"""A column: numbers where all of it is numbers, ``nan`` where a cell is empty; else the text of each cell."""
LONGEST_CELL = 200  # characters; a longer cell is no number, and patterns take long over it
_GAPS = "'’ _\u00a0\u2009\u202f"  # between thousands
_TEN = r"\s?[x×*·]\s?10\s?(?:\^|\*\*)?([-+−]?\d+)"
_CORE = rf"[-+−]?(?:\d[\d.,{_GAPS}]*\d|\d|[.,]\d+|\d[.,])(?:[eE][-+]?\d+|[dD][-+]\d+|{_TEN.replace('([', '(?:[')})?"
_GAP, _POWER = re.compile(rf"[{_GAPS}]"), re.compile(_TEN + "$")
# Groups of three before the decimal mark, and behind it: 5'10 is no number.
_GAPPED = re.compile(rf"[-+−]?\d{{1,3}}(?:[{_GAPS}]\d{{3}})*(?:[.,]\d*|[.,]\d{{3}}(?:[{_GAPS}]\d{{1,3}})+)?")
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_NUMBER = re.compile(rf"^\s*(?:(?P<label>.*[A-Za-zµ°)][^\d]*?)[:=]\s*)?(?P<number>{_CORE})\s*(?P<unit>[^\d:;/]*)$")
_PLAIN = re.compile(r"^[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?$")
_SIMPLE = r"[-+]?(?:[0-9]++(?:\.[0-9]*+)?|\.[0-9]++)(?:[eE][-+]?[0-9]++)?"
_GROUPED = r"[-+]?[0-9]{1,3}(?:,[0-9]{3})++(?:\.[0-9]*+)?"
_ONE_SIMPLE = re.compile(_SIMPLE)
_ALL_PLAIN = re.compile(rf"(?:(?:{_SIMPLE})?\n)*+")
_ALL_GROUPED = re.compile(rf"(?:(?:{_SIMPLE}|{_GROUPED})?\n)*+")
_ENDS = re.compile(r"^([^0-9.,+\-\n]*)([-+]?[.,]?[0-9][0-9.,]*(?:[eE][-+]?[0-9]+)?)([^0-9\n]*)$")
# The last group has three figures, those before it may have two, as in India: 7,60,000.
_THOUSANDS_COMMA = re.compile(r"^[-+−]?(?:\d{1,3}(?:,\d{3})+|\d{1,2}(?:,\d{2})+,\d{3})(?:\.\d*)?$")
_THOUSANDS_POINT = re.compile(r"^[-+−]?\d{1,3}(?:\.\d{3})+(?:,\d*)?$")
_MULTIPLES = (1000, 500, 250, 200, 100, 50, 25, 20, 10, 5, 4, 2)
_NEARLY_ALL = 0.995
_FEWEST = 8
_HELD = 8  # readings, on average, of each number that stays long enough to show that the next is one step away
_ENOUGH = 6
COARSEST = 0.12  # of the reading: a gauge of two digits steps by a tenth at the start of a decade
_NO_BAND = -10_000
_PIECE = 1 << 16
_SEEN, _CHANGES = 4000, 20_000  # readings of a third of a decade that are looked at
_RUNGS, _STAYED = 4, 2  # numbers equally far apart, and those of them that stay, from which on they are a ladder
_EQUAL = 2e-3  # share by which their distances may differ: digits lost in a change of unit
_HUGE = 1e30  # larger numbers mean none
_LONGEST = 100  # characters of a number
_NOISY = 12  # printed digits from which on the last may be the noise of binary arithmetic


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell that holds a number: its value, what stands before and behind it, and its last digit."""

    value: float  # the number [-]
    label: str = ""  # words before the number, as in ``Pressure: 50.8 mbar``
    unit: str = ""  # words behind the number


def number_in(text: str, decimal: str = ".") -> Cell | None:
    """Return the number in a cell, or ``None`` where the cell holds none.

    Examples
    --------
    >>> number_in("1,013.5").value, number_in(" Pressure: 50.8 mbar").unit, number_in("3,5", ",").value
    (1013.5, 'mbar', 3.5)
    >>> number_in("OL") is None
    True
    """
    return _parse(text, decimal) if len(text) <= LONGEST_CELL else None


@lru_cache(maxsize=65536)
def _parse(text: str, decimal: str) -> Cell | None:
    match = _match(text)
    if match is None:
        return None
    mantissa, mark, exponent = _ungrouped(match["number"]).partition("e")
    if not mantissa:
        return None
    if decimal == ",":
        if _THOUSANDS_POINT.match(mantissa) and ("," in mantissa or mantissa.count(".") > 1):
            mantissa = mantissa.replace(".", "")
        elif _THOUSANDS_COMMA.match(mantissa) and ("." in mantissa or mantissa.count(",") > 1):
            mantissa = mantissa.replace(",", "")
        mantissa = mantissa.replace(",", ".")
    elif _THOUSANDS_COMMA.match(mantissa):
        mantissa = mantissa.replace(",", "")
    try:
        value = float(mantissa + mark + exponent)
    except ValueError:
        return None
    return Cell(value, (match["label"] or "").strip(), match["unit"].strip(" \t.,()[]\"'"))


def _match(text: str) -> re.Match[str] | None:
    """Return the match of a cell with a number; powers of ten that stand raised are lowered, where there are such."""
    text = text.strip().strip('"')
    return _NUMBER.match(text if text.isascii() else text.translate(_RAISED))


def _ungrouped(number: str) -> str:
    """Return a written number with an ``e`` before its power of ten and no gaps; empty where gaps part no thousands."""
    core = _POWER.sub(r"e\1", number).replace("−", "-").lower().replace("d", "e")
    if _GAP.search(core) is None:
        return core
    return _GAP.sub("", core) if _GAPPED.fullmatch(core.partition("e")[0]) else ""


def alike(cells: list[str], decimal: str) -> tuple[FloatArray, str, str] | None:
    """Return the numbers of cells written alike, and the words before and behind each; ``None`` where they differ.

    Examples
    --------
    >>> values, before, behind = alike(["1,013 mbar", "998 mbar"], ".")
    >>> values.tolist(), behind.strip()
    ([1013.0, 998.0], 'mbar')
    """
    first = next((cell for cell in cells if cell), "")
    ends = _ENDS.match(first) if len(first) <= LONGEST_CELL else None
    if ends is None or number_in(first, decimal) is None:
        return None
    before, behind = ends[1], ends[3]
    text = "\n".join(["", *cells, ""])
    for words, shown in ((before, "\n" + before), (behind, behind + "\n")):
        if words and text.count(shown) != len(cells):
            return None
    text = text.replace(behind + "\n", "\n").replace("\n" + before, "\n")[1:]
    if decimal == "," and "." not in text:
        text = text.replace(",", ".")
    elif decimal == "." and "," in text and _ALL_GROUPED.fullmatch(text):
        text = text.replace(",", "")
    if (before or behind) and (text.startswith("\n") or "\n\n" in text):  # words alone
        return None
    values = plain(text.split("\n")[:-1])
    if values is None or (decimal == "," and _ALL_GROUPED.fullmatch(text) is None):
        return None
    return values, before, behind


def digits_of(text: str) -> str | None:
    """Return the number in a cell as it is printed, without label and unit."""
    match = _match(text) if len(text) <= LONGEST_CELL else None
    return _ungrouped(match["number"]) if match is not None else None


def is_number(text: str) -> bool:
    """Return whether a cell is a bare number in either notation."""
    text = text.strip()
    if len(text) > LONGEST_CELL:
        return False
    return bool(_PLAIN.match(text) or _THOUSANDS_COMMA.match(text) or _THOUSANDS_POINT.match(text))


def plain(cells: list[str]) -> FloatArray | None:
    """Return the numbers of cells that are all plain, with a decimal point, or empty (``nan``); else ``None``.

    Examples
    --------
    >>> plain(["1.5", "", "-2e3"]).tolist(), plain(["1.5", "OL"])
    ([1.5, nan, -2000.0], None)
    """
    if not _ALL_PLAIN.fullmatch("\n".join([*cells, ""])):
        return None
    return np.array([cell or "nan" for cell in cells], dtype=np.float64)


def numbers(cells: Cells, decimal: str) -> FloatArray:
    """Return the numbers of a column; ``nan`` where a cell holds none."""
    if not isinstance(cells, list):
        return cells
    together = alike(cells, decimal)
    if together is not None:
        return together[0]
    values = np.full(len(cells), np.nan)
    for row, text in enumerate(cells):
        if decimal == "." and _ONE_SIMPLE.fullmatch(text):
            values[row] = float(text)
        elif text and (cell := number_in(text, decimal)) is not None:
            values[row] = cell.value
    return values


def texts(cells: Cells) -> list[str]:
    """Return cells as text, empty where a cell holds nothing."""
    if isinstance(cells, list):
        return cells
    return ["" if value != value else str(value).removesuffix(".0") for value in cells.tolist()]


def some_of(cells: Cells, rows: BoolArray) -> Cells:
    """Return some rows of a column."""
    return list(compress(cells, rows.tolist())) if isinstance(cells, list) else cells[rows]


def step_sizes(values: FloatArray, printed: list[str], decimal: str) -> FloatArray:
    """Return the step at each reading, in the unit of the readings.

    Within each third of a decade the readings tell the step: it is the largest multiple of the printed digit of
    which (nearly) all of them are whole multiples, or the smallest difference of which all differences are.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings; ``nan`` allowed. [any unit]
    printed : list of str
        Cells as printed, a sample of them. [-]
    decimal : str
        Decimal mark. [-]

    Returns
    -------
    step : ndarray, shape (n,)
        Step at each reading. [unit of values]
    """
    band = _bands(values)
    known, scales = _digits(printed, decimal)
    step = np.empty(len(values))
    floor = min(known) if known else 0
    lowest = int(band.min(initial=0))
    for level in (np.flatnonzero(np.bincount(band - lowest)) + lowest).tolist():
        here = np.flatnonzero(band == level)
        base = _digit_at(floor if level == _NO_BAND else level // 3, known, scales) if known else _fallback(values)
        step[here] = base if level == _NO_BAND else base * _factor(values, here, base)
    _widen_to_ladder(values, step)
    return step


def _widen_to_ladder(values: FloatArray, step: FloatArray) -> None:
    """Take the distance between the rungs as the step where the numbers of a log stand like rungs of a ladder.

    A gauge whose step is large beside the pressure shows few numbers in any third of a decade, and in another unit
    none of them is round: but all of them stand equally far apart, and it stays on some of them.
    """
    seen = values[:: len(values) // _SEEN + 1]
    kinds, often = np.unique(seen[np.isfinite(seen) & (np.abs(seen) < _HUGE)], return_counts=True)
    if len(kinds) < _RUNGS:
        return
    apart = np.diff(kinds)
    is_same = np.abs(np.diff(apart)) <= _EQUAL * apart[1:]
    ends = np.flatnonzero(np.diff(np.concatenate(([False], is_same, [False])).astype(np.int8)))
    for first, end in ends.reshape(-1, 2).tolist():
        last = end + 1  # so many distances in a row join one rung more, and one more
        if last - first + 1 < _RUNGS or np.count_nonzero(often[first : last + 1] >= _HELD) < _STAYED:
            continue
        distance = median(apart[first:last])
        with np.errstate(invalid="ignore"):
            inside = (values >= kinds[first] - 0.5 * distance) & (values <= kinds[last] + 0.5 * distance)
        step[inside] = np.maximum(step[inside], distance)


def _bands(values: FloatArray) -> NDArray[np.int16]:
    """Return the third of a decade of each reading; in pieces, so that a long log is not held several times."""
    band = np.full(len(values), _NO_BAND, dtype=np.int16)
    for at in range(0, len(values), _PIECE):
        size = np.abs(values[at : at + _PIECE])
        usable = np.isfinite(size) & (size > 0)
        size[~usable] = 1.0
        band[at : at + _PIECE] = np.where(usable, np.floor(3 * np.log10(size) + 1e-9), _NO_BAND).astype(np.int16)
    return band


def _factor(values: FloatArray, here: IntArray, base: float) -> FloatArray | float:
    """Return how many printed digits make one step of the readings ``here``, for all or for each."""
    with np.errstate(over="ignore", invalid="ignore"):
        counts = np.round(values[here[:: len(here) // _SEEN + 1]] / base)
        counts = counts[np.isfinite(counts)]
        kinds, often = _kinds(counts)
        least = 1.0
        if len(kinds) >= _FEWEST:
            share = np.bincount((np.abs(counts) % 1000).astype(np.int64), minlength=1000) / len(counts)
            factor = 1
            if share[::2].sum() > _NEARLY_ALL or share[::5].sum() > _NEARLY_ALL:  # else no multiple of theirs either
                factor = next(m for m in _MULTIPLES if share[::m].sum() > _NEARLY_ALL)
            behind = here[:_CHANGES]
            behind = behind[behind > 0]
            least = max(float(factor), _of_differences(np.abs(values[behind] - values[behind - 1]) / base))
        return _of_held(values, here, base, kinds, often, least)


def _kinds(counts: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return which numbers there are, rising, and how often each."""
    ordered = np.sort(counts)
    first = np.flatnonzero(np.concatenate((np.ones(len(ordered[:1]), dtype=bool), ordered[1:] != ordered[:-1])))
    return ordered[first], np.diff(first, append=len(ordered))


def _of_held(values: FloatArray, here: IntArray, base: float, kinds: FloatArray, often: IntArray, least: float
             ) -> FloatArray | float:
    """Return the step of each reading where some are held: those next to them in size are then one step away."""
    is_held = often >= _HELD
    if not is_held.any():
        return least
    if len(kinds) == 1:  # the readings in time before and after it, where they were held as well
        sides = [values[max(int(here[0]) - _HELD, 0) : int(here[0])], values[int(here[-1]) + 1 :][:_HELD]]
        gaps = np.array([abs(float(side[0]) / base - float(kinds[0])) for side in sides
                         if len(side) == _HELD and np.ptp(side) == 0] or [0.0])
        gap = np.array([np.min(gaps)])
    else:
        between = np.where(is_held[1:] & is_held[:-1], np.diff(kinds), 0.0)
        gap = np.minimum(np.append(between, np.inf), np.append(np.inf, between))
    gap = np.where(gap <= COARSEST * np.abs(kinds), np.round(gap), 0.0)
    if not (gap > least).any():
        return least
    nearest = np.minimum(np.searchsorted(kinds, np.round(values[here] / base)), len(kinds) - 1)
    steps: FloatArray = np.maximum(gap, least)[nearest]
    return steps


def _of_differences(change: FloatArray) -> float:
    """Return the smallest difference if all others are its multiples (a converted reading), else 1."""
    steps = np.round(change[np.isfinite(change)])
    steps = steps[steps > 0]
    if len(steps) < 12:
        return 1.0
    least = float(steps.min())
    if least < 2:
        return 1.0
    ratio = steps / least
    slack = np.where(least <= 4, 0.0, 1.0)
    fits = np.abs(steps - least * np.round(ratio)) <= slack
    small = ratio < 2.5  # far multiples fit anything: enough of the differences must be one or two steps
    return least if fits.mean() > 0.99 and small.mean() > 0.3 else 1.0


def _digits(printed: list[str], decimal: str) -> tuple[dict[int, float], bool]:
    """Return the size of the last meaningful digit by decade, and whether it scales with the decade.

    In a decade with enough different readings the finest digit that is not a padding zero counts; where no decade
    has enough, the finest digit of all. It scales where numbers are written with significant digits instead of
    with a fixed number of decimals. More than eight significant digits are no gauge's.
    """
    texts = {text.strip() for text in printed}
    if decimal == ",":
        texts = {text.replace(",", ".") for text in texts}
    cells = {text: cell for text in texts if (cell := _cell(text)) is not None}
    found = list(cells.values())
    is_scientific = any("e" in text or "E" in text for text in cells)
    decades: dict[int, list[float]] = {}
    for size, _, bare in found:
        if size > 0:
            decades.setdefault(math.floor(math.log10(size) + 1e-12), []).append(bare)
    known = {decade: max(min(digits), 10.0 ** (decade - 7)) for decade, digits in decades.items()
             if len(digits) >= _ENOUGH}
    if known or not found:
        return known, is_scientific or len(set(known.values())) > 1
    if is_scientific and decades:
        _, best, bare = min((bare / size, size, bare) for size, _, bare in found if size > 0)
        return {math.floor(math.log10(best) + 1e-12): bare}, True
    top = max(size for size, _, _ in found)
    return {0: max(min(whole for _, whole, _ in found), 1e-7 * top or 1e-300)}, False


def _digit_at(decade: int, known: dict[int, float], scales: bool) -> float:
    """Return the last digit in a decade: the nearest known one's, scaled with the decade where it does so."""
    near = min(known, key=lambda d: (abs(d - decade), d))
    # Numbers that mean none reach beyond what a float holds.
    power = min(max(decade - near, -300), 300) if scales else 0
    return min(max(known[near] * 10.0**power, 1e-300), 1e300)


def _cell(text: str) -> tuple[float, float, float] | None:
    """Return the size of a number, its last digit, and its last digit that is not a padding zero."""
    if text.isdigit() and text.isascii() and len(text) < _NOISY:
        return float(text), 1.0, 1.0
    try:
        value = float(text) if len(text) < _LONGEST else math.nan
    except ValueError:
        return None
    if not math.isfinite(value):
        return None
    if len(text) > _NOISY:
        text = _without_noise(text, value)
    mantissa, _, exponent = text.lower().partition("e")
    power = int(exponent) if exponent else 0
    decimals = mantissa.partition(".")[2]
    return abs(value), _power(power - len(decimals)), _power(power - len(decimals.rstrip("0")))


@lru_cache(maxsize=1024)
def _power(exponent: int) -> float:
    return float(f"1e{max(min(exponent, 300), -300)}")


def _without_noise(text: str, value: float) -> str:
    """Return a number without the digits that only binary arithmetic made: 0.16999999999999998 is 0.17."""
    if sum(map(str.isdigit, text.lower().partition("e")[0].lstrip("+-0."))) <= _NOISY:
        return text
    short = f"{value:.12g}"
    with np.errstate(over="ignore"):
        single = np.float32(value)
    return str(single) if float(single) == value and len(str(single)) < len(short) else short


def _fallback(values: FloatArray) -> float:
    change = np.abs(np.diff(values[np.isfinite(values)]))
    change = change[change > 0]
    return float(change.min()) if len(change) else 1.0
