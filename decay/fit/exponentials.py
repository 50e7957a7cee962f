"""Least squares for sums of exponentials, with the linear part solved exactly at every step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from decay.arrays import FloatArray, frozen
from decay.errors import FitError


@dataclass(frozen=True, slots=True, eq=False)
class ExponentialFit:
    """A fitted sum of exponentials.

    Parameters
    ----------
    coefficients : ndarray, shape (m,)
        Constant and slope, where asked for, then one amplitude for each rate. [unit of y, unit of y per unit of x]
    rates : ndarray, shape (q,)
        Rates of decay. [1 / unit of x]
    standard_errors : ndarray, shape (m + q,)
        Of the coefficients, then of the rates. [as these]
    misfit : float
        Weighted sum of squared residuals. [unit of y squared]
    """

    coefficients: FloatArray
    rates: FloatArray
    standard_errors: FloatArray
    misfit: float

    def __post_init__(self) -> None:
        for name in ("coefficients", "rates", "standard_errors"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def fit_exponentials(
    x: FloatArray,
    y: FloatArray,
    start: FloatArray,
    *,
    constant: bool = False,
    line: bool = False,
    saturating: bool = False,
    weight: FloatArray | None = None,
) -> ExponentialFit:
    r"""Fit `y = [c] + [r x] + sum a_k exp(-b_k x)`, or with `1 - exp(-b_k x)` where saturating.

    Only the rates are searched for, on a log scale; at each trial the coefficients are the linear least-squares
    solution (variable projection), so no start values are needed for them.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Data. [any]
    start : ndarray, shape (q,)
        Start values of the rates, positive. [1 / unit of x]
    constant, line : bool
        Whether a constant and a slope belong to the model.
    saturating : bool
        Whether the exponentials rise to a plateau instead of decaying.
    weight : ndarray, shape (n,), optional
        Weights of the squared residuals. [-]

    Returns
    -------
    ExponentialFit
        Estimates with standard errors from the full Jacobian at the solution.

    Raises
    ------
    FitError
        If there are not more data than parameters, or the search does not converge.

    References
    ----------
    .. [1] Golub and Pereyra, "The differentiation of pseudo-inverses and nonlinear least squares problems whose
       variables separate", SIAM Journal on Numerical Analysis 10 (1973) 413-432.
    """
    root = np.sqrt(weight) if weight is not None else np.ones_like(x)
    unknowns = len(start) * 2 + constant + line
    if len(x) <= unknowns:
        raise FitError(f"{len(x)} values cannot carry {unknowns} parameters")

    def design(rates: FloatArray) -> FloatArray:
        waves = np.exp(-np.outer(x, rates))
        columns = [np.ones_like(x)] * constant + [x] * line
        shapes = 1.0 - waves if saturating else waves
        return np.asarray(root[:, None] * np.column_stack((*columns, shapes)))

    target = root * y

    def solve(rates: FloatArray) -> FloatArray:
        return np.asarray(np.linalg.lstsq(design(rates), target, rcond=None)[0], dtype=np.float64)

    def residual(log_rates: FloatArray) -> FloatArray:
        rates = np.exp(log_rates)
        return np.asarray(design(rates) @ solve(rates) - target)

    found = least_squares(
        residual, np.log(start), jac="3-point", method="trf", xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac"
    )
    if not found.success:
        raise FitError(f"the exponential fit did not converge: {found.message}")
    sign = 1.0 if saturating else -1.0

    def slopes(rates: FloatArray, coefficients: FloatArray) -> FloatArray:
        by_rate = sign * root[:, None] * x[:, None] * np.exp(-np.outer(x, rates)) * coefficients[constant + line :]
        return np.column_stack((design(rates), by_rate))

    rates = np.exp(found.x)
    coefficients = solve(rates)
    misfit = float(2 * found.cost)
    # The search took differences for derivatives and stops where they drown in rounding; these here are exact.
    for _ in range(3):
        jacobian = slopes(rates, coefficients)
        rest = target - design(rates) @ coefficients
        tried = rates + np.linalg.lstsq(jacobian, rest, rcond=None)[0][len(coefficients) :]
        if not (np.all(np.isfinite(tried)) and np.all(tried > 0.0)):
            break
        amplitudes = solve(tried)
        left = float(np.sum((target - design(tried) @ amplitudes) ** 2))
        if not left <= misfit * (1.0 + 1e-9):
            break
        rates, coefficients, misfit = tried, amplitudes, left
    jacobian = slopes(rates, coefficients)
    # Columns of unit length first: amplitudes and rates may differ by many orders of magnitude.
    norms = np.linalg.norm(jacobian, axis=0)
    _, triangle = np.linalg.qr(jacobian / norms)
    inverse = np.linalg.inv(triangle)
    variance = misfit / (len(x) - unknowns)
    errors = np.sqrt(variance * np.sum(inverse**2, axis=1)) / norms
    return ExponentialFit(coefficients, rates, errors, misfit)
