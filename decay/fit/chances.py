"""Normal, chi-squared and Student's distribution as far as fits ask for them: a library loads longer than a log takes.

Probabilities and quantiles are good to eleven figures; a test holds them against `scipy.special`.
"""

from __future__ import annotations

import math

_CLOSER = 8
"""Newton's steps towards a quantile; three are usual. [-]"""
_MANY = 2000.0
"""Degrees of freedom from which on the expansion about the normal quantile is as good as the integral. [-]"""
_TERMS = 400
_SMALL = 1e-300


def normal_probability(x: float) -> float:
    """Return the probability that a standard normal value lies below x."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def normal_quantile(probability: float) -> float:
    """Return the value below which a standard normal one lies with a probability between 0 and 1.

    References
    ----------
    .. [1] Abramowitz and Stegun, *Handbook of Mathematical Functions*, 26.2.23, for the first guess.
    """
    tail = min(probability, 1.0 - probability)
    t = math.sqrt(-2.0 * math.log(tail))
    x = t - (2.515517 + t * (0.802853 + t * 0.010328)) / (1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)))
    for _ in range(_CLOSER):
        step = (normal_probability(-x) - tail) * math.sqrt(2.0 * math.pi) * math.exp(0.5 * x * x)
        x += step / (1.0 - 0.5 * x * step)  # Halley's: the density bends
        if abs(step) <= 1e-15 * abs(x):
            break
    return math.copysign(x, probability - 0.5)


def chi_squared_tail(freedom: int, x: float) -> float:
    """Return the probability that chi-squared of so many degrees of freedom is larger than x.

    References
    ----------
    .. [1] Abramowitz and Stegun, *Handbook of Mathematical Functions*, 26.4.4 and 26.4.5.
    """
    half = 0.5 * x
    if half > 700.0:
        return 0.0
    is_odd = freedom % 2 == 1
    term = math.exp(-half) * (math.sqrt(half / math.pi) * 2.0 if is_odd else 1.0)
    total = math.erfc(math.sqrt(half)) if is_odd else 0.0
    for i in range(freedom // 2):
        total += term
        term *= half / (i + (1.5 if is_odd else 1.0))
    return min(total, 1.0)


def chi_squared_quantile(freedom: int, probability: float) -> float:
    """Return the value below which chi-squared of one or two degrees of freedom lies with a probability."""
    return normal_quantile(0.5 * (1.0 - probability)) ** 2 if freedom == 1 else -2.0 * math.log1p(-probability)


def students_quantile(freedom: float, probability: float) -> float:
    """Return the value below which Student's t lies with a probability of more than one half.

    References
    ----------
    .. [1] Abramowitz and Stegun, *Handbook of Mathematical Functions*, 26.7.1 and, from many degrees of freedom on and
       for the first guess, 26.7.5.
    """
    z = normal_quantile(probability)
    t = _expanded(z, freedom)
    if freedom >= _MANY:
        return t
    log_scale = math.lgamma(0.5 * (freedom + 1.0)) - math.lgamma(0.5 * freedom)
    low, high = z, math.inf  # its tails are longer than those of a normal value
    for _ in range(200):
        if not low < t < high:
            t = 2.0 * low if math.isinf(high) else 0.5 * (low + high)
        missed = 0.5 * _beta_share(0.5 * freedom, freedom / (freedom + t * t)) - (1.0 - probability)
        low, high = (t, high) if missed > 0.0 else (low, t)
        density = math.exp(log_scale - 0.5 * (freedom + 1.0) * math.log1p(t * t / freedom)) / math.sqrt(
            math.pi * freedom)
        step = missed / density
        t += step
        if abs(step) <= 4e-15 * t:
            break
    return t


def _expanded(z: float, freedom: float) -> float:
    square = z * z
    terms = (
        (square + 1.0) / 4.0,
        ((5.0 * square + 16.0) * square + 3.0) / 96.0,
        (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0,
        ((((79.0 * square + 776.0) * square + 1482.0) * square - 1920.0) * square - 945.0) / 92160.0,
    )
    return z * (1.0 + sum(term / freedom**power for power, term in enumerate(terms, 1)))


def _beta_share(a: float, x: float) -> float:
    """Return the regularised incomplete beta function of a and one half, by its continued fraction (26.5.8)."""
    b = 0.5
    if x >= 1.0:
        return 1.0
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - _fraction(b, a, 1.0 - x)
    return _fraction(a, b, x)


def _fraction(a: float, b: float, x: float) -> float:
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)) / a
    upper, lower = 1.0, 1.0 / _apart(1.0 - (a + b) * x / (a + 1.0))
    value = lower
    for m in range(1, _TERMS):
        for share in (m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
                      -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))):
            lower = 1.0 / _apart(1.0 + share * lower)
            upper = _apart(1.0 + share / upper)
            value *= lower * upper
        if abs(lower * upper - 1.0) < 1e-15:
            break
    return front * value


def _apart(value: float) -> float:
    return value if abs(value) > _SMALL else _SMALL
