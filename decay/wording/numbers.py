"""Numbers in words: the units of the trade, and how many digits each number earns."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from decay.constants import DAY, HOUR, MICRON, MINUTE, YEAR, ZERO_CELSIUS
from decay.interval import Interval
from decay.quantities import rounded, upward
from decay.wording.spoken import rate_size, rate_unit, size, unit

MICRON_PER_MINUTE = MICRON / MINUTE
GRAM_PER_YEAR = 1e-3 / YEAR
OUNCE_PER_YEAR = 0.028349523125 / YEAR  # avoirdupois, exact


def number(x: float, digits: int = 3) -> str:
    """Return a number with so many significant digits, thousands marked, exponents only where they help.

    Examples
    --------
    >>> number(12345.6), number(0.0345678), number(2.0), number(2.34567e-6)
    ('12,300', '0.0346', '2', '2.35e-6')
    """
    if math.isnan(x):
        return "unknown"
    if math.isinf(x):
        return "no limit" if x > 0 else "no lower limit"
    if x == 0:
        return "0"
    exponent = math.floor(math.log10(abs(x)))
    if exponent < -3 or exponent > 6:
        return scientific(x, digits)
    text = with_decimals(x, digits - 1 - exponent)
    return text.rstrip("0").rstrip(".") if "." in text else text


def scientific(x: float, digits: int = 2) -> str:
    """Return a number as ``2.3e-6``, of so many significant digits, without padding in the exponent.

    Examples
    --------
    >>> scientific(2.34567e-06), scientific(0.0)
    ('2.3e-6', '0')
    """
    if x == 0:
        return "0"
    mantissa, exponent = f"{x:.{digits - 1}e}".split("e")
    return f"{mantissa}e{int(exponent)}"


def with_decimals(x: float, places: int) -> str:
    """Return a number rounded to a decimal place (negative: tens, hundreds), thousands marked, never a minus zero.

    Examples
    --------
    >>> with_decimals(1234.5, -2), with_decimals(-0.004, 2)
    ('1,200', '0.00')
    """
    return f"{round(x, places) + 0.0:,.{max(places, 0)}f}"


def span(interval: Interval, unit: float = 1.0) -> tuple[str, str, str]:
    """Return an estimate [SI], divided by a unit, and the two ends of its interval as texts of one precision.

    Examples
    --------
    >>> span(Interval(2.3456, 1.9876, 2.9012))
    ('2.3', '1.9', '3.0')
    >>> span(Interval(4e-7, 1e-7, 2e-6))
    ('4e-7', '1e-7', '2.0e-6')
    """
    ends = [x / unit for x in (interval.value, interval.low, interval.high)]
    largest = max((abs(x) for x in ends if math.isfinite(x)), default=0.0)
    exponent = math.floor(math.log10(largest)) if largest > 0 else 0
    # Between a thousandth and a million numbers are read as they stand.
    power = exponent if exponent < -3 or exponent > 6 else 0
    value, low, high = (_thousands(text, power) for text in rounded(*(x / 10.0**power for x in ends)))
    return value, low, high


def _thousands(text: str, power: int) -> str:
    """Mark the thousands of a rounded number and put its power of ten behind it."""
    x = float(text)
    if not math.isfinite(x):
        return number(x)
    places = len(text.partition(".")[2])
    if power and x:
        lead = math.floor(math.log10(abs(x)))
        return f"{x / 10.0**lead:.{max(places + lead, 0)}f}e{power + lead}"
    if power:
        return "0"
    return f"{x:,.{places}f}"


def with_interval(interval: Interval, unit: float, name: str) -> str:
    """Return an estimate [SI] with its interval, in a unit of such a size [SI] and name.

    Examples
    --------
    >>> with_interval(Interval(2.3456, 1.9876, 2.9012), 1.0, "micron/min")
    '2.3 micron/min (1.9 to 3.0)'
    """
    value, low, high = span(interval, unit)
    if low == high == value:
        return f"{value} {name}"
    return f"{value} {name} ({low} to {high})"


def pressure(p: float) -> str:
    """Return a pressure [Pa] in the unit of answers."""
    return "over range" if math.isnan(p) else f"{pressure_number(p)} {unit()}"


def pressure_number(p: float, digits: int = 3) -> str:
    """Return a pressure [Pa] as a number in the unit of answers, without its name."""
    return number(p / size(), digits)


def pressure_interval(p: Interval) -> str:
    """Return a pressure [Pa] with its interval in the unit of answers."""
    return with_interval(p, size(), unit())


def rate_interval(r: Interval) -> str:
    """Return a rate of rise [Pa/s] with its interval in the unit of answers per minute."""
    return with_interval(r, rate_size(), rate_unit())


def rate_ends(r: Interval) -> tuple[str, str]:
    """Return both ends of a rate of rise [Pa/s] as numbers in the unit of answers per minute."""
    return span(r, rate_size())[1:]


def rate(r: float) -> str:
    """Return a rate of rise [Pa/s] in the unit of answers per minute, two digits."""
    if math.isinf(r):
        return "any rate"
    return f"{rate_number(r)} {rate_unit()}"


def up(x: float) -> str:
    """Return a bound from above as a number of two digits, rounded up.

    Examples
    --------
    >>> up(93.4), up(2.0)
    ('94', '2')
    """
    return number(upward(x), 2)


def rate_number(r: float) -> str:
    """Return a rate of rise [Pa/s] as a number of two digits in the unit of answers per minute."""
    return number(r / rate_size(), 2)


def bound(r: float) -> str:
    """Return a rate [Pa/s] above which something holds, in the unit of answers: two digits, rounded up.

    Examples
    --------
    >>> bound(0.931 * MICRON_PER_MINUTE), bound(90.01 * MICRON_PER_MINUTE), bound(2.0 * MICRON_PER_MINUTE)
    ('0.94 micron/min', '91 micron/min', '2 micron/min')
    """
    return rate(upward(r / rate_size()) * rate_size())


def bound_number(r: float) -> str:
    """Return such a rate [Pa/s] as a number without its unit."""
    return rate_number(upward(r / rate_size()) * rate_size())


def rate_low(r: Interval) -> str:
    """Return the lower end of a rate of rise [Pa/s], as `rate_interval` writes it."""
    return f"{rate_ends(r)[0]} {rate_unit()}"


def rate_high(r: Interval) -> str:
    """Return the upper end of a rate of rise [Pa/s], as `rate_interval` writes it; rounded up like `bound`."""
    return "any rate" if math.isinf(r.high) else f"{rate_ends(r)[1]} {rate_unit()}"


def loss_interval(loss: Interval) -> str:
    """Return a loss of refrigerant [kg/s] with its interval in grams a year."""
    return with_interval(loss, GRAM_PER_YEAR, "g/year")


def loss_range(*losses: Interval) -> str:
    """Return the losses [kg/s] that some intervals hold together in grams a year, as `loss_interval` writes their ends.

    Examples
    --------
    >>> laminar, molecular = (Interval(x, 0.7 * x, 1.31 * x).scaled(GRAM_PER_YEAR) for x in (5000.0, 200.0))
    >>> loss_interval(molecular), loss_interval(laminar), loss_range(laminar, molecular)
    ('200 g/year (140 to 270)', '5,000 g/year (3,500 to 6,600)', '140 to 6,600 g/year')
    """
    low = min(losses, key=lambda loss: loss.low)
    return f"{span(low, GRAM_PER_YEAR)[1]} to {loss_high(*losses)}"


def loss_high(*losses: Interval) -> str:
    """Return the largest loss [kg/s] that some intervals hold in grams a year, as `loss_interval` writes it."""
    high = max(losses, key=lambda loss: loss.high)
    return f"{span(high, GRAM_PER_YEAR)[2]} g/year"


def loss_highs(*losses: Interval) -> str:
    """Return the upper ends of losses [kg/s] as a range in grams a year, as `loss_interval` writes them."""
    least, most = (span(each(losses, key=lambda loss: loss.high), GRAM_PER_YEAR)[2] for each in (min, max))
    return f"{most} g/year" if least == most else f"{least} to {most} g/year"


def between(one: float, other: float) -> str:
    """Return two losses [kg/s] that are bounds, one by either law of flow, in grams a year: two digits, rounded up.

    Examples
    --------
    >>> between(7301.0 * GRAM_PER_YEAR, 204.0 * GRAM_PER_YEAR)
    '210 to 7,400 g/year'
    """
    low_text, high_text = (up(loss / GRAM_PER_YEAR) for loss in sorted((one, other)))
    return f"{low_text} g/year" if low_text == high_text else f"{low_text} to {high_text} g/year"


def duration(t: float) -> str:
    """Return a length of time [s] in the unit that reads best.

    Examples
    --------
    >>> duration(45.0), duration(1800.0), duration(9e3), duration(3.2e6), duration(float("inf"))
    ('45 s', '30 min', '150 min', '37 days', 'never')
    """
    if math.isinf(t):
        return "never"
    if math.isnan(t):
        return "unknown"
    for limit, long, name in (
        (120.0, 1.0, "s"),
        (3 * HOUR, MINUTE, "min"),
        (3 * DAY, HOUR, "h"),
        (2 * YEAR, DAY, "days"),
        (1000 * YEAR, YEAR, "years"),
    ):
        if t < limit:
            return f"{number(t / long, 3 if t / long >= 100 else 2)} {name}"
    return "over 1000 years"


def durations(one: float, other: float) -> str:
    """Return two lengths of time [s] as a range, the unit once where both have it.

    Examples
    --------
    >>> durations(9e6, 1.2e6), durations(60.0, 1800.0), durations(60.0, 60.0)
    ('14 to 104 days', '60 s to 30 min', '60 s')
    """
    short, long = (duration(t) for t in sorted((one, other)))
    value, _, unit = short.partition(" ")
    is_shared = value[0].isdigit() and long.endswith(f" {unit}")
    return short if short == long else f"{value if is_shared else short} to {long}"


def clock(t: float) -> str:
    """Return a time in the log [s] as hours, minutes and seconds since its first row.

    Examples
    --------
    >>> clock(59.6), clock(3723.0)
    ('0:01:00', '1:02:03')
    """
    seconds = round(t)
    return f"{seconds // 3600}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"


def celsius(kelvin: float) -> str:
    """Return a temperature [K] in degrees Celsius."""
    return f"{number(kelvin - ZERO_CELSIUS + 0.0)} °C"


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


def chance(probability: float) -> str:
    """Return a probability [-] in the steps of 5 % to which calibration knows it.

    Examples
    --------
    >>> chance(0.62), chance(0.99), chance(0.004)
    ('about 60 %', 'over 95 %', 'under 5 %')
    """
    if probability >= 0.95:
        return "over 95 %"
    return "under 5 %" if probability <= 0.05 else f"about {min(max(5 * round(20 * probability), 5), 95)} %"


def moment(t: float, started: str | None = None) -> str:
    """Return a time in the log [s] since its first row, and by its clock where the first row tells one, ISO 8601.

    Examples
    --------
    >>> moment(3723.0), moment(3723.0, "2026-03-02T09:15:00")
    ('1:02:03', '1:02:03 (10:17:03)')
    """
    if started is None:
        return clock(t)
    return f"{clock(t)} ({time_of_day(t, started)})"


def time_of_day(t: float, started: str) -> str:
    """Return a time in the log [s] by the clock that its first row shows, ISO 8601, in whole seconds."""
    return (datetime.fromisoformat(started) + timedelta(seconds=round(t))).strftime("%H:%M:%S")
