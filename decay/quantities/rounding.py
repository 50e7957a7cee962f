"""How many digits a number and its interval may keep."""

from __future__ import annotations

import math
from collections.abc import Callable


def rounded(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return a number and its interval with the digits that the interval lets it keep.

    Parameters
    ----------
    value, low, high : float
        Estimate and interval; an end may be infinite. [unit]

    Returns
    -------
    tuple of str
        The three numbers. Without a finite width three significant digits are kept.

    Notes
    -----
    The half width stands for the uncertainty: two digits where its three leading digits are 100 to 354, one from 355
    to 949, and two of what is then 1000. One more is kept where the number itself would else read as zero. The ends
    are rounded outwards: an interval as it is written holds all that it holds.

    Examples
    --------
    >>> rounded(0.827, 0.708, 0.946)
    ('0.83', '0.70', '0.95')
    >>> rounded(0.827, 0.460, 1.194)
    ('0.8', '0.4', '1.2')
    >>> rounded(35.0, 0.0, 800.0)
    ('40', '0', '800')
    >>> rounded(1e-6, 0.0, 0.449)
    ('0.00', '0.00', '0.45')

    References
    ----------
    .. [1] Particle Data Group, *Review of Particle Physics*, Introduction, section 5.3 "Rounding".
    """
    sides = [abs(end - value) for end in (low, high) if math.isfinite(end)]
    half = sum(sides) / len(sides) if sides else 0.0
    if half > 0:
        exponent = math.floor(math.log10(half))
        leading = round(half / 10.0**exponent * 100)
        places = 1 - exponent if leading <= 354 else -exponent
    elif value == 0 or not math.isfinite(value):
        places = 0
    else:
        places = 2 - math.floor(math.log10(abs(value)))

    if half > 0 and round(value, places) == 0 and round(value, places + 1) != 0:
        places += 1  # a number that is not nothing is not written as nothing for want of one digit

    def text(x: float) -> str:
        return f"{round(x, places) + 0.0:.{max(places, 0)}f}" if math.isfinite(x) else f"{x:g}"

    return text(value), text(outward(low, places, math.floor)), text(outward(high, places, math.ceil))


def outward(end: float, places: int, towards: Callable[[float], int]) -> float:
    """Return an end of an interval, rounded to a decimal place away from its middle.

    Parameters
    ----------
    end : float
        The end; infinite ones stay. [unit]
    places : int
        Decimal places; negative rounds tens or hundreds. [-]
    towards : callable
        `math.floor` for a low end, `math.ceil` for a high one.

    Returns
    -------
    float
        The rounded end. What lies within a billionth of a step of a round number is that number. [unit]
    """
    if not math.isfinite(end):
        return end
    scaled = end * 10.0**places
    nearest = round(scaled)
    whole = nearest if abs(scaled - nearest) < 1e-9 * max(abs(scaled), 1.0) else towards(scaled)
    return whole / 10.0**places
