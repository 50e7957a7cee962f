"""The decision threshold and the detection limit of an estimate, from its standard uncertainty at zero."""

from __future__ import annotations

from statistics import NormalDist

from decay.errors import RangeError


def critical_value(u0: float, alpha: float = 0.05, degrees_of_freedom: int | None = None) -> float:
    r"""Return the smallest estimate that counts as seen, :math:`L_C = z_{1-\alpha} u_0`.

    Parameters
    ----------
    u0 : float
        Standard uncertainty of the estimate where the truth is zero. [unit of the estimate]
    alpha : float
        Accepted rate of false alarms. [-]
    degrees_of_freedom : int, optional
        Of the uncertainty where it was estimated from few readings: Student's quantile replaces the normal one. [-]

    Returns
    -------
    float
        Decision threshold. [unit of the estimate]

    Raises
    ------
    RangeError
        If the uncertainty is negative, a rate is not between 0 and 0.5, or there are no degrees of freedom.

    Examples
    --------
    Currie's paired blank, B = 100 counts:

    >>> round(critical_value((2 * 100)**0.5), 1)
    23.3

    References
    ----------
    .. [1] Currie, *Anal. Chem.* 40 (1968) 586; ISO 11929.
    """
    return _quantile(alpha, degrees_of_freedom) * _checked(u0)


def minimum_detectable_value(
    u0: float, alpha: float = 0.05, beta: float = 0.05, degrees_of_freedom: int | None = None
) -> float:
    r"""Return the smallest true value that would be seen, :math:`L_D = (z_{1-\alpha} + z_{1-\beta}) u_0`.

    Parameters
    ----------
    u0 : float
        Standard uncertainty of the estimate, taken as constant between zero and the limit. [unit of the estimate]
    alpha : float
        Accepted rate of false alarms. [-]
    beta : float
        Accepted rate of misses. [-]
    degrees_of_freedom : int, optional
        Of the uncertainty where it was estimated from few readings: Student's quantile replaces the normal one. [-]

    Returns
    -------
    float
        Detection limit; 3.29 times the uncertainty at 5 % and 5 %. [unit of the estimate]

    Raises
    ------
    RangeError
        If the uncertainty is negative, a rate is not between 0 and 0.5, or there are no degrees of freedom.

    Examples
    --------
    >>> round(minimum_detectable_value(1.0), 2)
    3.29

    References
    ----------
    .. [1] Currie, *Anal. Chem.* 40 (1968) 586; ISO 11929.
    """
    return (_quantile(alpha, degrees_of_freedom) + _quantile(beta, degrees_of_freedom)) * _checked(u0)


def _quantile(rate: float, degrees_of_freedom: int | None) -> float:
    if not 0 < rate < 0.5:
        raise RangeError(f"an error rate lies between 0 and 0.5, got {rate:g}")
    if degrees_of_freedom is None:
        return NormalDist().inv_cdf(1.0 - rate)
    if degrees_of_freedom < 1:
        raise RangeError(f"degrees of freedom must be at least one, got {degrees_of_freedom}")
    from scipy.special import stdtrit  # here: planning alone does not need scipy

    return float(stdtrit(degrees_of_freedom, 1.0 - rate))


def _checked(u0: float) -> float:
    if u0 < 0:
        raise RangeError(f"a standard uncertainty is not negative, got {u0:g}")
    return u0
