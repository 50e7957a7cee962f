"""The volume behind the closed valve: of tubes, from parts, by expansion of gas, and the bound that a pull gives."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
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
    """A tube as it was read."""

    volume: Interval  # what it holds; both ends are the value where one size was told [m³]
    words: str  # as the user wrote it, with what was taken from a table


def read_tube(text: str) -> Tube:
    """Return a tube from its outside diameter, wall and length, or from its bore and length.

    Parameters
    ----------
    text : str
        ``"3/8 in OD x 0.032 in wall x 25 ft"``; ``"3/8 in x 25 ft"`` for copper; ``"9.5 mm bore x 15 m"``.

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
    run = quantities.read_length(_LENGTH.sub("", length).strip())
    if _BORE.search(diameter):
        if middle:
            raise UnitError(f"{text!r} gives a bore and a wall, and a bore needs none: write it like {TUBE_EXAMPLE}")
        bore = quantities.read_length(_BORE.sub("", diameter).strip())
        return Tube(_exactly(_volume(bore, run, text, TUBE_EXAMPLE)), text)
    outside = quantities.read_length(_OUTSIDE.sub("", diameter).strip())
    if middle:
        wall = quantities.read_length(_WALL.sub("", middle[0]).strip())
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
    return Tube(_exactly(_volume(*hose_sizes(text), text, HOSE_EXAMPLE)), text)


def hose_sizes(text: str) -> tuple[float, float]:
    """Return bore and length of a hose. [m]

    Raises
    ------
    UnitError
        If it is not a bore and a length, or an outside diameter.

    Examples
    --------
    >>> hose_sizes("6 mm x 1.5 m")
    (0.006, 1.5)
    """
    ends = _parts(text, HOSE_EXAMPLE)
    if len(ends) != 2 or re.search(r"\b(od|outer|outside)\b", ends[0], re.IGNORECASE):
        raise UnitError(f"{text!r} is not a bore and a length, and gas fills the bore: write it like {HOSE_EXAMPLE}")
    bore = quantities.read_length(_OUTSIDE.sub("", _BORE.sub("", ends[0])).strip())
    return bore, quantities.read_length(_LENGTH.sub("", ends[1]).strip())


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


PART_EXAMPLE = '"receiver 1.2 L"'


def part(text: str) -> Interval:
    """Return the volume of a named part.

    Parameters
    ----------
    text : str
        A name and a volume, or a volume alone: ``"receiver 1.2 L"``, ``"coil 0.8 L +- 20 %"``.

    Returns
    -------
    Interval
        Volume; without a stated uncertainty both ends are the value. [m³]

    Raises
    ------
    UnitError, RangeError
        As for `decay.quantities.read_volume`.

    Examples
    --------
    >>> round(part("receiver 1.2 L").value * 1000, 3)
    1.2
    """
    if re.search(r"\bat most\b|\bup to\b|[<≤]", text, re.IGNORECASE):
        raise UnitError(f"{text!r} is only a bound, and bounds cannot be added up: write it like {PART_EXAMPLE}")
    match = re.search(r"(?:^|\s)(\d[^a-zA-Z]*\s*[a-zA-Z].*)$", text)
    if match is None:
        raise UnitError(f"{text!r} has no volume: write it like {PART_EXAMPLE}")
    return quantities.read_volume(match[1])


def from_parts(tubes: Sequence[str] = (), parts: Sequence[str] = (), spread: float = 0.0) -> Interval:
    """Return the sum of tubes and parts; count the rig's hoses and gauge tree too.

    Parameters
    ----------
    tubes, parts : sequence of str
        As for `decay.impact.tubes.read_tube` and `part`.
    spread : float
        Relative uncertainty of every one that states none of its own. [-]

    Returns
    -------
    Interval
        The sum; the half widths are added, because nominal sizes tend to err the same way. [m³]

    Raises
    ------
    UnitError, RangeError
        If there is nothing to add, one of them cannot be read, or the spread is not between 0 and 1.

    Examples
    --------
    >>> total = from_parts(["9.5 mm bore x 15 m"], ["receiver 1.2 L"], spread=0.1)
    >>> round(total.value * 1000, 3), round(total.low * 1000, 3), round(total.high * 1000, 3)
    (2.263, 2.037, 2.49)
    """
    if not tubes and not parts:
        raise UnitError(f"there is nothing to add: state tubes like {TUBE_EXAMPLE} or parts like {PART_EXAMPLE}")
    if not 0 <= spread < 1:
        raise RangeError(f'the uncertainty lies between 0 and 100 %, got {spread * 100:g} %: write "10 %"')
    known = [part(text) for text in parts]
    each = [v if v.width > 0 else spread_over(v, spread) for v in known]
    each += [spread_over(read_tube(text).volume, spread) for text in tubes]
    return Interval(sum(v.value for v in each), sum(v.low for v in each), sum(v.high for v in each))


def spread_over(volume: Interval, spread: float) -> Interval:
    """Return a volume with the spread of sizes that state none, or its own where that is wider.

    Parameters
    ----------
    volume : Interval
        As it was read. [m³]
    spread : float
        Relative uncertainty. [-]

    Returns
    -------
    Interval
        The wider of both. [m³]
    """
    low, high = volume.value * (1.0 - spread), volume.value * (1.0 + spread)
    return Interval(volume.value, min(volume.low, low), max(volume.high, high))


def by_expansion(
    vessel: Interval, vessel_before: float, system_before: float, after: float, accuracy: float = 0.0
) -> Interval:
    r"""Return the volume that dry gas from a known vessel fills, :math:`V = V_k (p_k - p) / (p - p_s)`.

    Parameters
    ----------
    vessel : Interval
        The known volume, with the hose up to the closed valve. [m³]
    vessel_before, system_before : float
        Absolute pressures before the valve between them opens. [Pa]
    after : float
        Absolute pressure of both after it, at rest and at the first temperature. [Pa]
    accuracy : float
        Relative accuracy of the pressures. [-]

    Returns
    -------
    Interval
        Volume of the system. Each pressure is let err by itself; the effects combine in quadrature, on a log scale.
        [m³]

    Raises
    ------
    RangeError
        If the pressure after does not lie between the two before, clear of both by the accuracy.

    Notes
    -----
    Valid for: an ideal gas, no leak and no refrigerant that dissolves in oil or condenses; use dry nitrogen through a
    regulator and stay below the system's stated pressure.

    Examples
    --------
    One litre at 2 bar shared with an empty system settles at 0.5 bar:

    >>> round(by_expansion(Interval(0.001, 0.001, 0.001), 2e5, 0.0, 0.5e5).value * 1000, 6)
    3.0

    References
    ----------
    .. [1] Boyle's law; "static expansion" in any vacuum text.
    """
    if vessel.low <= 0:
        raise RangeError('the known vessel must be known, and larger than zero: write it like "1 L +- 1 %"')
    if not min(vessel_before, system_before) < after < max(vessel_before, system_before):
        raise RangeError("the pressure after must lie between the two before: one of the readings is wrong")

    def size(known: float, first: float, system: float, last: float) -> float:
        up, down = first - last, last - system
        if up * down <= 0:
            raise RangeError("the pressures lie too close together for their accuracy: use a larger pressure step")
        return known * up / down

    value = size(vessel.value, vessel_before, system_before, after)
    down, up = [math.log(vessel.value / vessel.low)], [math.log(vessel.high / vessel.value)]
    pressures = (vessel_before, system_before, after)
    for which in range(3):
        changes = []
        for sign in (-1.0, 1.0):
            shifted = [p * (1 + sign * accuracy) if i == which else p for i, p in enumerate(pressures)]
            changes.append(math.log(size(vessel.value, *shifted) / value))
        down.append(max(-min(changes), 0.0))
        up.append(max(*changes, 0.0))
    return Interval(value, value * math.exp(-math.hypot(*down)), value * math.exp(math.hypot(*up)))


def upper_bound(speed: float, time_constant: Interval) -> float:
    r"""Return the largest volume that a pull allows, :math:`V \le S \tau`.

    Parameters
    ----------
    speed : float
        The pump's rated speed. [m³/s]
    time_constant : Interval
        Of the first, fast fall of the pressure in the system. [s]

    Returns
    -------
    float
        Upper bound of the volume, system and rig together. [m³]

    Raises
    ------
    RangeError
        If speed or time constant is not positive.

    Notes
    -----
    The pressure falls with :math:`\tau = V / S_{eff}`, and hoses and valve cores can only leave less than the rated
    speed: :math:`S_{eff} \le S`. So :math:`V = S_{eff} \tau \le S \tau`. It is an upper bound and no estimate: behind a
    narrow hose the true volume may be several times smaller. A loss computed from it is an upper bound as well.

    Examples
    --------
    >>> round(upper_bound(0.002, Interval(4.0, 3.5, 4.5)) * 1000, 6)
    9.0
    """
    if speed <= 0 or time_constant.value <= 0:
        raise RangeError('speed and time constant must be larger than zero: write the speed like "6 cfm"')
    return speed * time_constant.high
