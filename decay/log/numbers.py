"""Numbers as people and meters write them: decimal comma, thousands, a label before, a unit behind."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from decay.arrays import FloatArray

LONGEST_CELL = 200  # characters; a longer cell is no number, and patterns take long over it
_CORE = r"[-+−]?(?:\d[\d.,'’  ]*\d|\d|[.,]\d+|\d[.,])(?:[eE][-+]?\d+)?"
_NUMBER = re.compile(rf"^\s*(?:(?P<label>.*[A-Za-zµ°)][^\d]*?)[:=]\s*)?(?P<number>{_CORE})\s*(?P<unit>[^\d:;/]*)$")
_PLAIN = re.compile(r"^[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?$")
_SIMPLE = r"[-+]?(?:[0-9]++(?:\.[0-9]*+)?|\.[0-9]++)(?:[eE][-+]?[0-9]++)?"
_GROUPED = r"[-+]?[0-9]{1,3}(?:,[0-9]{3})++(?:\.[0-9]*+)?"
_ALL_PLAIN = re.compile(rf"(?:(?:{_SIMPLE})?\n)*+")
_ALL_GROUPED = re.compile(rf"(?:(?:{_SIMPLE}|{_GROUPED})?\n)*+")
_ENDS = re.compile(r"^([^0-9.,+\-\n]*)([-+]?[.,]?[0-9][0-9.,]*(?:[eE][-+]?[0-9]+)?)([^0-9\n]*)$")
_THOUSANDS_COMMA = re.compile(r"^[-+−]?\d{1,3}(?:,\d{3})+(?:\.\d*)?$")
_THOUSANDS_POINT = re.compile(r"^[-+−]?\d{1,3}(?:\.\d{3})+(?:,\d*)?$")


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell that holds a number: its value, what stands before and behind it, and its last digit.

    Parameters
    ----------
    value : float
        The number. [-]
    label : str
        Words before the number, as in ``Pressure: 50.8 mbar``.
    unit : str
        Words behind the number.
    """

    value: float
    label: str = ""
    unit: str = ""


def parse(text: str, decimal: str = ".") -> Cell | None:
    """Return the number in a cell, or ``None`` where the cell holds none.

    Examples
    --------
    >>> parse("1,013.5").value, parse(" Pressure: 50.8 mbar").unit, parse("3,5", ",").value
    (1013.5, 'mbar', 3.5)
    >>> parse("OL") is None
    True
    """
    return _parse(text, decimal) if len(text) <= LONGEST_CELL else None


@lru_cache(maxsize=65536)
def _parse(text: str, decimal: str) -> Cell | None:
    match = _NUMBER.match(text.strip().strip('"'))
    if match is None:
        return None
    core = re.sub(r"['’  ]", "", match["number"]).replace("−", "-")
    mantissa, mark, exponent = core.partition("e" if "e" in core else "E")
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
    if ends is None or parse(first, decimal) is None:
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
    match = _NUMBER.match(text.strip().strip('"')) if len(text) <= LONGEST_CELL else None
    return match["number"] if match is not None else None


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


def last_digit(text: str) -> float:
    """Return the size of the last digit of a plain number with a decimal point. [-]

    Examples
    --------
    >>> last_digit("9.260E+02"), last_digit("15")
    (0.1, 1.0)
    """
    mantissa, _, exponent = text.strip().lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(f"1e{(int(exponent) if exponent else 0) - decimals}")
