"""The model's tests of itself: misfit, runs of equal sign, memory, and an upward bend that no source can make."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import chdtrc, ndtr

from decay.arrays import FloatArray


def misfit_probability(misfit: float, freedom: int) -> float:
    """Return the probability of so large a weighted sum of squares if the noise model holds.

    Parameters
    ----------
    misfit : float
        Weighted sum of squares. [-]
    freedom : int
        Degrees of freedom. [-]

    Returns
    -------
    float
        Upper tail of chi-squared. [-]
    """
    return float(chdtrc(freedom, misfit))


def runs_probability(residuals: FloatArray) -> float:
    """Return the probability of so few runs of equal sign among independent residuals.

    Parameters
    ----------
    residuals : ndarray, shape (k,)
        Whitened residuals in order of time. [-]

    Returns
    -------
    float
        One-sided probability, normal approximation with continuity correction. [-]

    References
    ----------
    .. [1] Wald and Wolfowitz, "On a test whether two samples are from the same population", Annals of Mathematical
       Statistics 11 (1940) 147-162.
    """
    positive = residuals > 0
    n1, n2 = int(np.count_nonzero(positive)), int(np.count_nonzero(~positive))
    n = n1 + n2
    if n1 == 0 or n2 == 0 or n < 3:
        return 1.0
    runs = 1 + int(np.count_nonzero(positive[1:] != positive[:-1]))
    mean = 1 + 2 * n1 * n2 / n
    variance = 2 * n1 * n2 * (2 * n1 * n2 - n) / (n**2 * (n - 1))
    if variance <= 0:
        return 1.0
    return float(ndtr((runs + 0.5 - mean) / math.sqrt(variance)))


def lag_one_correlation(residuals: FloatArray) -> float:
    """Return the lag-one autocorrelation of residuals in order of time. [-]"""
    centred = residuals - residuals.mean()
    total = float(centred @ centred)
    return float(centred[1:] @ centred[:-1] / total) if total > 0 else 0.0


def one_sided_growth_probability(growth: float) -> float:
    """Return the probability that freeing one non-negative coefficient lowers the misfit so much by chance.

    Half of the time the coefficient stays at its bound, hence half of chi-squared's tail (Self and Liang 1987).
    """
    # Less than this is the rounding of two misfits that are equal, and which of them is smaller is chance.
    return 0.5 * float(chdtrc(1, growth)) if growth > 1e-9 else 1.0
