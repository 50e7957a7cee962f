"""Turns bins with correlated noise into independent ones of unit variance, without their common constant."""

from __future__ import annotations

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from decay.arrays import FloatArray


class Whitening:
    """One covariance, factored once for all the models that are put to the same bins.

    Parameters
    ----------
    covariance : ndarray, shape (k, k)
        Covariance of the bin means. [Pa²]
    """

    def __init__(self, covariance: FloatArray) -> None:
        self.covariance = covariance
        k = len(covariance)
        self._inverse = solve_triangular(cholesky(covariance, lower=True), np.eye(k), lower=True)
        self._constant = self._inverse.sum(axis=1)
        self._weight = float(self._constant @ self._constant)

    def white(self, curves: FloatArray) -> FloatArray:
        """Return curves over the bins, shape (k,) or (k, m), in units of their noise. [-]"""
        return np.asarray(self._inverse @ curves)

    def free_of_constant(self, curves: FloatArray) -> FloatArray:
        """Return whitened curves, shape (k,) or (k, m), with the best constant taken out of each. [-]"""
        white = self._inverse @ curves
        share = self._constant @ white / self._weight
        return np.asarray(white - (np.outer(self._constant, share) if white.ndim == 2 else self._constant * share))

    def constant_of(self, curve: FloatArray) -> float:
        """Return the constant that fits a curve over the bins, shape (k,), best. [unit of the curve]"""
        return float(self._constant @ (self._inverse @ curve) / self._weight)
