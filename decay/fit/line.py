"""A straight line by ordinary or weighted least squares, with its uncertainties."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.errors import FitError


@dataclass(frozen=True, slots=True)
class StraightLine:
    """The line ``y = intercept + slope x``.

    Parameters
    ----------
    slope, intercept : float
        Estimates. [unit of y over unit of x, unit of y]
    slope_error, intercept_error : float
        Their standard errors. [as above]
    covariance : float
        Of slope and intercept. [product of their units]
    residual_deviation : float
        Residual standard deviation; with weights it has no unit. [unit of y]
    n : int
        Points. [-]
    """

    slope: float
    intercept: float
    slope_error: float
    intercept_error: float
    covariance: float
    residual_deviation: float
    n: int

    def at(self, x: float) -> float:
        """Return the line's value at ``x``. [unit of y]"""
        return self.intercept + self.slope * x

    def error_at(self, x: float) -> float:
        """Return the standard error of the line's value at ``x``. [unit of y]"""
        variance = self.intercept_error**2 + x**2 * self.slope_error**2 + 2.0 * x * self.covariance
        return float(np.sqrt(max(variance, 0.0)))


def straight_line(x: FloatArray, y: FloatArray, sigma: FloatArray | None = None) -> StraightLine:
    """Return the least-squares line.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Points. [any]
    sigma : ndarray, shape (n,), optional
        Relative standard deviations of ``y``; only their ratios count, the scale comes from the residuals.
        [unit of y]

    Returns
    -------
    StraightLine
        Estimates and their uncertainties, with n - 2 degrees of freedom.

    Raises
    ------
    FitError
        If there are fewer than three points, they share one ``x``, or a sigma is not positive.

    Examples
    --------
    >>> line = straight_line(np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 3.0, 5.0, 7.0]))
    >>> round(line.slope, 9), round(line.intercept, 9)
    (2.0, 1.0)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), H.3.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if x.size < 3:
        raise FitError(f"a line with its uncertainty needs at least three points, got {x.size}")
    if sigma is not None and np.any(np.asarray(sigma) <= 0):
        raise FitError("standard deviations must be positive")
    weight = np.ones_like(x) if sigma is None else 1.0 / np.asarray(sigma, dtype=np.float64) ** 2
    total = float(weight.sum())
    # About the centre of gravity the sums lose no digits to a large offset of x.
    x_mean, y_mean = float(weight @ x) / total, float(weight @ y) / total
    spread = float(weight @ (x - x_mean) ** 2)
    if spread == 0:
        raise FitError("all points share one x: there is no slope")
    slope = float(weight @ ((x - x_mean) * (y - y_mean))) / spread
    intercept = y_mean - slope * x_mean
    residuals = (y - y_mean) - slope * (x - x_mean)
    variance = float(weight @ residuals**2) / (x.size - 2)
    return StraightLine(
        slope=slope,
        intercept=intercept,
        slope_error=float(np.sqrt(variance / spread)),
        intercept_error=float(np.sqrt(variance * (1.0 / total + x_mean**2 / spread))),
        covariance=-variance * x_mean / spread,
        residual_deviation=float(np.sqrt(variance)),
        n=int(x.size),
    )
