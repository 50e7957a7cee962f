"""What a tube holds: by outside diameter and wall, as the trade names tubes; by the walls of copper; or by its bore."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from decay import quantities
from decay.errors import RangeError, UnitError
from decay.interval import Interval

TUBE_EXAMPLE = '"3/8 in OD x 0.032 in wall x 25 ft" or "9.5 mm bore x 15 m"'
HOSE_EXAMPLE = '"6 mm bore x 1.5 m"'
INCH = 0.0254
COPPER = {
    0.125: (0.030,),
    0.1875: (0.030,),
    0.250: (0.030, 0.025),
    0.3125: (0.032,),
    0.375: (0.032, 0.030),
    0.500: (0.032, 0.035),
    0.625: (0.035, 0.040),
    0.750: (0.035, 0.042),
    0.875: (0.045,),
    1.125: (0.050,),
    1.375: (0.055,),
    1.625: (0.060,),
    2.125: (0.070,),
}
"""Walls of copper tube for air conditioning and refrigeration field service by outside diameter, the annealed coil
first, then the drawn straight length where it differs. [in] Drawn: ASTM B280-20, table 1 (read). Annealed: a handbook
page's copy of ASTM B280 (read)."""
_MATCH = 0.004  # of the diameter: 9.5 and 9.52 mm are 3/8 in
_BORE = re.compile(r"\b(bore|id|inner|inside)\b(?:\s+diameter\b)?", re.IGNORECASE)
_OUTSIDE = re.compile(r"\b(od|outer|outside)\b(?:\s+diameter\b)?|\bdiameter\b|\bcopper\b|\btube\b", re.IGNORECASE)
_WALL = re.compile(r"\b(wall|thick|thickness)\b", re.IGNORECASE)
_LENGTH = re.compile(r"\b(long|length)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Tube:
    """A tube as it was read.

    Parameters
    ----------
    volume : Interval
        What it holds; both ends are the value where one size was told. [m³]
    words : str
        As the user wrote it, with what was taken from a table.
    """

    volume: Interval
    words: str


def read_tube(text: str) -> Tube:
    """Return a tube from its outside diameter, wall and length, or from its bore and length.

    Parameters
    ----------
    text : str
        ``"3/8 in OD x 0.032 in wall x 25 ft"``; ``"3/8 in x 25 ft"`` for copper; ``"9.5 mm bore x 15 m"``.

    Returns
    -------
    Tube
        What it holds.

    Raises
    ------
    UnitError
        If the sizes cannot be told apart, or an outside diameter that is none of the copper tubes' lacks its wall.
    RangeError
        If the sizes make no sense.

    Notes
    -----
    The trade names tubes by their outside diameter: a diameter is a bore only where it says so. Without a wall it is
    taken as refrigeration copper by `COPPER`, whose two tempers make the interval.

    Examples
    --------
    >>> tube = read_tube("3/8 in x 25 ft")
    >>> round(tube.volume.value * 1000, 4), tube.words
    (0.3735, '3/8 in x 25 ft (outside diameter; copper by ASTM B280, wall 0.032 or 0.030 in)')
    """
    diameter, *middle, length = _parts(text, TUBE_EXAMPLE)
    run = quantities.length(_LENGTH.sub("", length).strip())
    if _BORE.search(diameter):
        if middle:
            raise UnitError(f"{text!r} gives a bore and a wall, and a bore needs none: write it like {TUBE_EXAMPLE}")
        bore = quantities.length(_BORE.sub("", diameter).strip())
        return Tube(_exactly(_volume(bore, run, text, TUBE_EXAMPLE)), text)
    outside = quantities.length(_OUTSIDE.sub("", diameter).strip())
    if middle:
        wall = quantities.length(_WALL.sub("", middle[0]).strip())
        if 2.0 * wall >= outside:
            raise RangeError(f"{text!r} has no bore left: diameter, wall and length come in this order, like "
                             f"{TUBE_EXAMPLE}")
        return Tube(_exactly(_volume(outside - 2.0 * wall, run, text, TUBE_EXAMPLE)), text)
    size = min(COPPER, key=lambda inches: abs(inches * INCH - outside))
    if abs(size * INCH - outside) > _MATCH * outside:
        raise UnitError(
            f"{text!r} gives an outside diameter that is no size of ASTM B280 copper, so its wall is not known: write "
            f"it like {TUBE_EXAMPLE}"
        )
    walls = COPPER[size]
    held = [_volume((size - 2.0 * wall) * INCH, run, text, TUBE_EXAMPLE) for wall in walls]
    named = " or ".join(f"{wall:.3f}" for wall in walls)
    words = f"{text} (outside diameter; copper by ASTM B280, wall {named} in)"
    return Tube(Interval(held[0], min(held), max(held)), words)


def read_hose(text: str) -> Tube:
    """Return a hose from its bore and length: hoses are named by the bore.

    Parameters
    ----------
    text : str
        ``"6 mm bore x 1.5 m"``, ``"1/4 in x 5 ft"``.

    Returns
    -------
    Tube
        What it holds.

    Raises
    ------
    UnitError
        If it is not a bore and a length, or an outside diameter.
    RangeError
        If the sizes make no sense.

    Examples
    --------
    >>> round(read_hose("6 mm x 1.5 m").volume.value * 1e6, 2)
    42.41
    """
    ends = _parts(text, HOSE_EXAMPLE)
    if len(ends) != 2 or re.search(r"\b(od|outer|outside)\b", ends[0], re.IGNORECASE):
        raise UnitError(f"{text!r} is not a bore and a length, and gas fills the bore: write it like {HOSE_EXAMPLE}")
    bore = quantities.length(_OUTSIDE.sub("", _BORE.sub("", ends[0])).strip())
    return Tube(_exactly(_volume(bore, quantities.length(_LENGTH.sub("", ends[1]).strip()), text, HOSE_EXAMPLE)), text)


def _parts(text: str, example: str) -> list[str]:
    parts = re.split(r"\s+(?:x|by)\s+|\s*[×*]\s*", text.strip(), flags=re.IGNORECASE)
    if len(parts) not in (2, 3):
        raise UnitError(f"{text!r} is not a diameter and a length: write it like {example}")
    return parts


def _volume(bore: float, run: float, text: str, example: str) -> float:
    if bore >= run:
        raise RangeError(f"{text!r} is wider than long: the diameter comes first, like {example}")
    return math.pi * bore**2 * run / 4.0


def _exactly(volume: float) -> Interval:
    return Interval(volume, volume, volume)
