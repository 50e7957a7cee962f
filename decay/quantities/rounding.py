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
        The three numbers, the ends rounded outward: as it is written the interval still holds. Without a finite width
        three significant digits are kept.

    Notes
    -----
    The half width stands for the uncertainty: two digits where its three leading digits are 100 to 354, one from 355
    to 949, and two of what is then 1000. One more is kept where the number itself would else read as zero.

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

    return text(value), text(_outward(low, places, math.floor)), text(_outward(high, places, math.ceil))


def _outward(end: float, places: int, step: Callable[[float], int]) -> float:
    """Return an end rounded down or up to a decimal place; what lies within a billionth of a step of one is that."""
    if not math.isfinite(end):
        return end
    scaled = end * 10.0**places
    nearest = round(scaled)
    return (nearest if abs(scaled - nearest) < 1e-9 * max(abs(scaled), 1.0) else step(scaled)) / 10.0**places


def upward(end: float, digits: int = 2) -> float:
    """Return a bound from above, rounded up to so many significant digits: as it is written it still holds.

    Parameters
    ----------
    end : float
        The bound; what is not positive and finite stays. [unit]
    digits : int
        Significant digits. [-]

    Returns
    -------
    float
        The rounded bound. What lies within a billionth of a step of a round number is that number. [unit]

    Examples
    --------
    >>> upward(93.4), upward(0.4744), upward(2.0)
    (94.0, 0.48, 2.0)
    """
    if not math.isfinite(end) or end <= 0.0:
        return end
    places = digits - 1 - math.floor(math.log10(end))
    scaled = end * 10.0**places
    nearest = round(scaled)
    whole = nearest if abs(scaled - nearest) < 1e-9 * scaled else math.ceil(scaled)
    return round(whole / 10.0**places, max(places, 0))
