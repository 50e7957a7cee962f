"""Normal, chi-squared and Student's distribution as plain numbers, as far as fits ask for them."""

from __future__ import annotations

from scipy.special import chdtrc, chdtri, ndtr, ndtri, stdtrit


def normal_probability(x: float) -> float:
    """Return the probability that a standard normal value lies below x."""
    return float(ndtr(x))


def normal_quantile(probability: float) -> float:
    """Return the value below which a standard normal one lies with a probability between 0 and 1."""
    return float(ndtri(probability))


def chi_squared_tail(freedom: int, x: float) -> float:
    """Return the probability that chi-squared of so many degrees of freedom is larger than x."""
    return float(chdtrc(freedom, x))


def chi_squared_quantile(freedom: int, probability: float) -> float:
    """Return the value below which chi-squared of so many degrees of freedom lies with a probability."""
    return float(chdtri(freedom, 1.0 - probability))


def students_quantile(freedom: float, probability: float) -> float:
    """Return the value below which Student's t lies with a probability."""
    return float(stdtrit(freedom, probability))
