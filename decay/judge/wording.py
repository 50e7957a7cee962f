"""Numbers in words: pressures, rates, times and masses rounded to what they know, in the units of the trade."""

from __future__ import annotations

import math

from decay.interval import Interval
from decay.quantities import MICRON, rounded

MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0
YEAR = 365.25 * DAY
GRAM = 1e-3
MICRON_PER_MINUTE = MICRON / MINUTE


def number(x: float, digits: int = 3) -> str:
    """Return a number with that many significant digits, thousands marked, without an exponent where it can be read.

    Examples
    --------
    >>> number(12345.6), number(0.034567), number(2.0), number(2.7e-7, 2)
    ('12,300', '0.0346', '2', '2.7e-7')
    """
    if not math.isfinite(x):
        return "unlimited" if x > 0 else str(x)
    if x == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(x)))
    if places > 6:
        mantissa, exponent = f"{x:.{digits - 1}e}".split("e")
        return f"{mantissa}e{int(exponent)}"
    rounded = round(x, places)
    text = f"{rounded:,.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_interval(interval: Interval, unit: float, name: str) -> str:
    """Return an estimate with its interval, rounded to the decimal place that the interval knows.

    Examples
    --------
    >>> with_interval(Interval(2.3456, 1.9876, 2.9012), 1.0, "micron/min")
    '2.3 micron/min (2.0 to 2.9)'
    """
    value, low, high = (x / unit for x in (interval.value, interval.low, interval.high))
    shown = [_grouped(text) for text in rounded(value, low, high)]
    return f"{shown[0]} {name}" if low == high else f"{shown[0]} {name} ({shown[1]} to {shown[2]})"


def _grouped(text: str) -> str:
    """Return a number's text with its thousands marked; an open end in words."""
    if text == "inf":
        return "unlimited"
    whole, dot, decimals = text.partition(".")
    return f"{int(whole):,}{dot}{decimals}" if abs(int(whole)) >= 1000 else text


def pressure(p: float) -> str:
    """Return a pressure [Pa] in micron."""
    return f"{number(p / MICRON)} micron"


def rate(r: float) -> str:
    """Return a rate of rise [Pa/s] in micron per minute."""
    return f"{number(r / MICRON_PER_MINUTE, 2)} micron/min"


def rate_interval(r: Interval) -> str:
    """Return a rate of rise [Pa/s] with its interval in micron per minute."""
    return with_interval(r, MICRON_PER_MINUTE, "micron/min")


def duration(t: float) -> str:
    """Return a time [s] in the unit that reads best."""
    if t < 2 * MINUTE:
        return f"{number(t, 2)} s"
    if t < 3 * HOUR:
        return f"{number(t / MINUTE, 2)} min"
    if t < 2 * DAY:
        return f"{number(t / HOUR, 2)} h"
    if t < 2 * YEAR:
        return f"{number(t / DAY, 2)} days"
    return f"{number(t / YEAR, 2)} years"


def clock(t: float) -> str:
    """Return a time in the log [s] as h:mm:ss.

    Examples
    --------
    >>> clock(4021.0)
    '1:07:01'
    """
    minutes, seconds = divmod(round(t), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"


def celsius(kelvin: float) -> str:
    """Return a temperature [K] in degrees Celsius."""
    return f"{number(kelvin - 273.15 + 0.0)} °C"


def chance(probability: float) -> str:
    """Return a probability [-] in the steps of 5 % to which calibration knows it.

    Examples
    --------
    >>> chance(0.62), chance(0.99), chance(0.004)
    ('about 60 %', 'above 95 %', 'below 5 %')
    """
    if probability >= 0.95:
        return "above 95 %"
    return "below 5 %" if probability <= 0.05 else f"about {min(max(5 * round(20 * probability), 5), 95)} %"


def clean_minutes(t: float) -> float:
    """Return a time [s] rounded up to one that a person would set on a timer. [s]

    Examples
    --------
    >>> clean_minutes(700.0) / 60, clean_minutes(6000.0) / 60
    (15.0, 120.0)
    """
    for minutes in (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 360, 480, 720, 960, 1440):
        if t <= minutes * MINUTE:
            return minutes * MINUTE
    return math.ceil(t / DAY) * DAY if math.isfinite(t) else t


def grams_a_year(loss: float) -> float:
    """Return a loss [kg/s] in grams a year. [g/a]"""
    return loss / GRAM * YEAR
