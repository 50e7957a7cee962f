"""The number and the unit in a text, and what is said with an example where they make no sense."""

from __future__ import annotations

import math
import re

from decay.errors import RangeError, UnitError
from decay.quantities.units import PRESSURE_UNITS

_EXAMPLES = {
    "volume": ('"3.2 L"', "mL, L, cm3, m3, in3, ft3, gal"),
    "mass": ('"650 g"', "g, kg, oz, lb"),
    "temperature": ('"24 degC"', "degC, degF, K"),
    "pressure": ('"500 micron"', ", ".join(PRESSURE_UNITS)),
    "length": ('"1.5 m"', "mm, cm, m, in, ft"),
    "duration": ('"20 min"', "s, min, h, day, yr"),
    "flow": ('"6 cfm"', "cfm, L/min, L/s, m3/h"),
    "power": ('"20 W"', "W"),
    "fraction": ('"10 %"', "%"),
    "allowance": (
        '"5 g/yr", "2 micron/min" or "1e-5 mbar*L/s"',
        "g/yr, oz/yr, micron/min, Pa/s, mbar*L/s, Pa*m3/s, micron*L/s, atm*cc/s, sccm",
    ),
}
# Beyond these a number is a slip of the pen, not a refrigeration circuit. [SI]
_SENSE = {
    "volume": (1e-7, 1e4),
    "mass": (1e-6, 1e6),
    "temperature": (170.0, 500.0),
    "length": (1e-6, 1e5),
    "flow": (1e-9, 1e3),
    "power": (1e-3, 1e6),
}

_NUMBER = re.compile(
    r"\s*(?P<sign>[+-]?)(?:(?P<whole>\d+)[\s-]+)?"
    r"(?:(?P<top>\d+)\s*/\s*(?P<bottom>\d+)|(?P<plain>(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?))"
    r"\s*(?P<unit>.*?)\s*",
    re.DOTALL,
)


def number_and_unit(text: str, kind: str) -> tuple[float, str]:
    """Return the number and the unit's text.

    Parameters
    ----------
    text : str
        A whole number with a fraction, a fraction or a decimal number, and a unit: ``"1 1/8 in"``, ``"3.2 L"``.
    kind : str
        What it is meant to be: it chooses the example.

    Returns
    -------
    tuple of float and str
        Number [that unit] and unit.

    Raises
    ------
    UnitError
        If there is no number or no unit, or the number can be read two ways.
    RangeError
        If the number is not finite.
    """
    match = _NUMBER.fullmatch(text.replace("−", "-"))
    example, choices = _EXAMPLES[kind]
    if match is None:
        raise UnitError(f"{text!r} does not start with a number: write it like {example}")
    if match["top"]:
        if int(match["bottom"]) == 0:
            raise UnitError(f"{text!r} divides by zero: write it like {example}")
        number = int(match["top"]) / int(match["bottom"]) + int(match["whole"] or 0)
    else:
        plain = match["plain"]
        if re.fullmatch(r"\d{1,3},\d{3}", plain) and not plain.startswith("0"):
            joined, decimal = plain.replace(",", ""), plain.replace(",", ".")
            raise UnitError(f"the comma in {text!r} can be read two ways: write {joined} or {decimal}")
        if match["whole"]:
            raise UnitError(f"{text!r} has two numbers: write it like {example}")
        number = float(plain.replace(",", "."))
    if not math.isfinite(number):
        raise RangeError(f"{text!r} is too large to mean anything: write it like {example}")
    if not match["unit"]:
        raise UnitError(f"{text!r} has no unit: write it like {example}. Units known here: {choices}")
    return (-number if match["sign"] == "-" else number), match["unit"]


def sensible(number: float, text: str, kind: str) -> float:
    """Return a number that makes sense for its kind.

    Parameters
    ----------
    number : float
        The quantity. [SI unit of its kind]
    text : str
        As the user wrote it.
    kind : str
        What it is.

    Returns
    -------
    float
        The same. [SI unit of its kind]

    Raises
    ------
    RangeError
        If it lies beyond all practice.
    """
    low, high = _SENSE[kind]
    if not low <= number <= high:
        why = "it must be larger than zero" if number <= 0 and kind != "temperature" else "that is beyond all practice"
        raise out_of_range(text, kind, why)
    return number


def wrong_unit(text: str, unit: str, kind: str) -> UnitError:
    """Return the error of a unit that is not one of the kind's, with an example that works."""
    example, choices = _EXAMPLES[kind]
    what = {"flow": "a pumping speed", "fraction": "a share"}.get(kind, f"a {kind}")
    what = "a leak that can be allowed" if kind == "allowance" else what
    return UnitError(
        f"{text!r}: {unit!r} is not the unit of {what}: write it like {example}. "
        f"Units known here: {choices}"
    )


def out_of_range(text: str, kind: str, why: str) -> RangeError:
    """Return the error of a number that cannot be right, with an example that works."""
    return RangeError(f"{text!r} cannot be right, {why}: write it like {_EXAMPLES[kind][0]}")
